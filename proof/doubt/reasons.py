"""Why a figure misses its goal, by situation and question: found by looking at the machines that miss."""

from __future__ import annotations

REASONS: dict[tuple[str, str], str] = {
    ("side", "holding"): (
        "the study's own doing: a push over a grip is a sum of ten logarithms, and ten even ranges make a sum that is likelier in its middle. A "
        "reading far out is then nearer the middle in truth, so what is called 15 % comes true oftener and what is called 60 % more rarely. *Side, wider "
        "truth* draws them from twice the range, and is called as it comes true."
    ),
    ("side, finer truth", "torque"): (
        "chances are called too high. The worst station of a steady cut is the one at which the cells show the widest cut: a 1.5 mm wide pass "
        "on cells of 0.2 mm comes out 4 % too strong in power and 3 % in peak torque against cells a third as large. It errs towards care; "
        "the band holds it, because the width's own doubt is in it. *Side* has the same cells on both sides, and is called as it comes true. "
        "A mean over some way would be nearer the truth in a steady cut and too mild where a cut is short or really has a peak; it was left."
    ),
    ("side, finer truth", "power"): "as torque.",
    ("side, helix in doubt", "size"): (
        "a weakness that stands. The push at the wall is what parts of either sign leave, and goes with the helix through which edge stands where, in "
        "jumps. Its doubt is one power of the helix (a mean over a tenth of it, and 5° is more), and of each pass only the places of the greatest pushes "
        "at best estimates are kept: with another helix or radial ratio another place, or the other sign, is the greatest. In mm the doubt of a product of "
        "factors is taken to first order. So of those called under 1 % some in a hundred go over."
    ),
    ("step", "step"): (
        "two means of few readings (five and three) added: draws from t are exact for each alone and wide for their sum (Behrens and Fisher's "
        "problem), whatever the two spreads are. *Step, lengths well known* has the same sum with many readings. Effective degrees of freedom would be "
        "narrower and are not exact either: the wide band stays."
    ),
    ("corner", "keep_out"): (
        "the gap past a corner is the larger of two, and the band is that of the larger. The chance stays that of the nearer face alone, which is "
        "pierced sooner than the corner is entered: too high near the corner."
    ),
    ("finish", "spindle"): (
        "the run-up is a mean of three readings. A band by Student's t holds the truth as often as it says, but its tails allow any spread; here nobody writes "
        "down a mean whose spread is above a sixth of it. So what is called 11 % comes true in 6, and what is called 90 % in 95: the answer is less sure than it could be."
    ),
}
