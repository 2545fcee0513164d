"""Why a figure misses its goal, by situation and question: found by looking at the machines that miss."""

from __future__ import annotations

REASONS: dict[tuple[str, str], str] = {
    ("side", "holding"): (
        "not explained yet. Where 15 % is called 26 % go over (135 machines), between 40 and 90 % fewer than called; the band itself holds. "
        "Sliding and tipping are two checks with one grip, and only the chance of the one that is told is held against the truth."
    ),
    ("side, finer truth", "torque"): (
        "chances are called too high. The worst station of a steady cut is the one at which the cells show the widest cut: a 1.5 mm wide pass "
        "on cells of 0.2 mm comes out 4 % too strong in power and 3 % in peak torque against cells a third as large. It errs towards care; "
        "the band holds it, because the width's own doubt is in it. *Side* has the same cells on both sides, and is called as it comes true."
    ),
    ("side, finer truth", "power"): "as torque.",
    ("side, helix in doubt", "strength"): (
        "a defect that stands: loads do not carry the doubt of the helix angle (FHA), on which the peak of the side force hangs. Where it is "
        "known to 1°, as in *side*, nothing is missed."
    ),
    (
        "side, helix in doubt",
        "size",
    ): "as strength: the force that bends the tool at the wall hangs on the helix even more.",
    ("handbook", "torque"): (
        "whether the peak or the mean of a turn is held against the drive is one choice for a whole stretch, and hangs on the rotor's inertia, "
        "which nobody stated (taken by a rule, 60 %) and on kc. Of 70 machines looked at it is another choice in truth in 3, and these are 3 "
        "of the 4 that miss, by up to four times: mostly below the band (the peak was taken), now and then above. The choice is made at best estimates, "
        "one u to the careful side, and drawn with nothing. Power, whose demand is the mean, is covered."
    ),
    ("step", "step"): (
        "two means of few readings (five and three) added: draws from t are exact for each alone and wide for their sum (Behrens and Fisher's "
        "problem). *Step, lengths well known* has the same sum with many readings."
    ),
    ("corner", "keep_out"): (
        "the gap past a corner is the larger of two; the nearer face is followed alone, as a bound that holds in every draw. Truth can only lie "
        "further away."
    ),
}
