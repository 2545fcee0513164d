"""docs/doubt.md and its plot from what was found."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from proof.doubt import next_trial, page
from proof.doubt.figures import Figures, figures
from proof.doubt.held_out import HeldOut
from proof.doubt.next_trial import Tried
from proof.doubt.reasons import REASONS
from proof.doubt.situations import ALL
from proof.doubt.study import Row
from proof.markdown import table

PLOT = Path("pictures") / "doubt-reliability.svg"


def write(found: Mapping[str, Any], docs: Path) -> None:
    """Write the page and its plot into a folder."""
    told = {situation.name: _figures(found[situation.name]["found"]) for situation in ALL if situation.name in found}
    (docs / PLOT.parent).mkdir(exist_ok=True)
    (docs / PLOT).write_text(page.reliability_plot(told))
    lines = [TOP, *_situations(), "## Coverage", COVERAGE, "", *table(page.coverage_rows(ALL, told)), ""]
    if REASONS:
        lines += ["**Notes.** Why figures miss their goal.", ""]
        lines += [f"{k}. *{name}, {question}*: {why}" for k, ((name, question), why) in enumerate(REASONS.items(), 1)]
        lines += [""]
    lines += ["## Reliability of the chances", RELIABILITY, "", f"![Reliability of the chances]({PLOT})", ""]
    lines += [*table(page.reliability_rows(ALL, told)), "", "All questions together:", ""]
    lines += [*table(_pooled(told)), ""]
    if "held out" in found:
        rows = [HeldOut(**row) for row in found["held out"]["found"]]
        covered, bare = sum(row.covered for row in rows), sum(row.covered_bare for row in rows)
        lines += ["## The models: one source held out", HELD_OUT.format(n=len(rows), covered=covered, bare=bare), ""]
        lines += [*table(page.held_out_rows(rows)), ""]
    if "measure next" in found:
        tried = [Tried(**row) for row in found["measure next"]["found"]]
        machines = len({row.machine for row in tried})
        lines += ["## Measure next", NEXT.format(machines=machines, asked=len(next_trial.ASKED)), ""]
        lines += [*table(page.versus_rows(next_trial.versus(tried))), ""]
    lines += [BOTTOM.format(commits=", ".join(sorted({part["commit"] for part in found.values()})))]
    (docs / "doubt.md").write_text("\n".join(lines) + "\n")


def _figures(told: Mapping[str, Any]) -> dict[str, Figures]:
    made = {question: figures([Row(*row) for row in rows]) for question, rows in told.items()}
    return {question: one for question, one in made.items() if one is not None}


def _situations() -> list[str]:
    rows = [["situation", "what it is", "questions"]]
    rows += [[one.name, one.about, ", ".join(one.questions)] for one in ALL]
    return ["", *table(rows), ""]


def _pooled(figures: page.Found) -> list[list[str]]:
    rows = [["called on average", "really over", "machines and questions"]]
    return rows + [
        [page.percent(one.called, 2), page.percent(one.seen, 2), f"{one.machines:,}"] for one in page.pooled(figures)
    ]


TOP = """# Is the doubt true?

Written by `make doubt` (`proof/doubt/`). Every answer states a band that should hold the truth 95 times in 100, and a chance that should
come true as often as it says. Here hidden machines are asked: their truth is drawn first, then what their shop writes down about it, and
the job is examined through `workflows` with what the shop has. The same job is then examined as it truly is, with no doubt at all, and
the two are held against each other.

**What the statement means.** The band speaks of the truth *given what was read*, for somebody who knew nothing before. So the truth is
drawn evenly, over ± 6 u (evenly in the logarithm where the doubt is one of factors; ± 12 u in *side, wider truth* and *corner*: a sum of even
ranges is even only far within them), and readings lie round it as they do in a shop: with
the spread that is stated, or as the mean of a few readings with the spread found in them. For few readings the true spread is drawn as
well, evenly in its logarithm over a factor of 16. With one spread for all machines a sum of two such means would be covered more often
than it says (98 % for the step below: the price of not knowing either spread).

**Where truth comes from.** The program runs with the registers that the shop wrote: a tool that is longer than its register cuts deeper.
In the work frame the truth is therefore examined as if all that stands there stood higher, with registers right. Gaps over clamps, floors,
steps and the target are worked out by hand from the errors drawn. Loads are examined anew with the true constants, on cells a third as
large where the cells' own doubt has a share in the band, with the blank's face anywhere within a cell. The models themselves are the same
on both sides: whether they are true is for *The models* below and for `truth.md`.

The question *tool* only counts, as do *understood*, *leftovers* and *today*: there is no band to test. *chips_out* is rules of the trade."""
COVERAGE = """
"Covered" is the part of the machines whose true (demand − capacity), at the place that was named, lies inside the stated 95 % band. The
other machines hang on something counted (a stop that no doubt would change) or have no such place in truth. `make doubt` asks 4000 machines
of every situation; how many were asked for this page stands in the table."""
RELIABILITY = """
A chance is that *any* place goes over. Machines are sorted by what was stated; p is the chance of bins so far off if all chances are true
(chi-square of the sum over each bin against the chances stated in it). Machine questions never state less than what a first-order sum
gives, and where it is in doubt which of two sums holds (the nearer face of a corner, a turn's peak or its mean) never less than that of the
one that is told, so small chances are meant to be called rather too large."""
HELD_OUT = """
Coverage above proves the sums. For the models each published source is taken for the truth in its turn, and the others make the
constants, by the shipped table's own rule. {covered} of {n} are covered by what is stated, and {bare} by the constants' doubt alone. What
is missed is the one measured edge-force pair for 6061, four times below every table (the shipped doubt of 6061 is widened for it: with it
in the pool the doubt is 58 %, and it is covered)."""
NEXT = """
{machines} hidden machines for which something was named, {asked} questions each, some facts missing. What is named first is made: each
fact that the trial covers is read anew, with the doubt that its line in `verdict.needs` declares, and the job is examined again. So is every
other trial of a fact that is missing or in doubt where something is not decided. Counted are the questions decided (clear or stop) after
less before, over the minutes of the trial; a trial can also undecide. Paired by machine, two-sided."""
BOTTOM = "Seeds are fixed. Figures of this page were found with the version(s) {commits}."
