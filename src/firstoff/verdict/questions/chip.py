"""Tool: is the chip neither rubbing nor too thick, with run-out and the feed override?"""

from __future__ import annotations

import math

from firstoff.facts.fact import Fact, Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.loads.grid_doubt import TIME, time_power
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Form, Scale, of
from firstoff.verdict.load_forms import demand_of, log_best, log_form, worst_of
from firstoff.verdict.override import override_bands
from firstoff.verdict.question import Answer, Check, Finding, Limit, Question, Risk
from firstoff.verdict.stretches import candidates, cut_program, doubts_of, tool_words, with_loads
from firstoff.verdict.words import duration

QUESTION = Question("chip", Risk.TOOL, "Neither rubbing nor too thick, with run-out and the override?")
RUBBING_TIME = "machine.practice.rubbing_time"
RUN_OUT_SHARE = "machine.practice.run_out_share"
LN_UM = math.log(1000.0)
"""µm in one mm, as a logarithm."""
WORTH_A_WORD = 0.005
"""Part of a tool's cutting time that is worth a word."""
LEAST_RUB_S = 0.1
"""A shorter run is how every cut begins and ends: its first chip is thin."""
FEWEST_SHARING = 2
"""A single edge has nobody to share its chip with: run-out only makes the tool a little wider."""


def find(case: Case, facts: Leaning) -> Finding:
    """The thickest chip against what edge and gullets take, the thin end against the least that cuts, run-out against feed per edge."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    thick: list[Limit] = []
    thin: list[Limit] = []
    runs: list[Limit] = []
    shared: list[Limit] = []
    for stretch in stretches:
        thick += _too_thick(case, facts, stretch)
        least = _least_chip(facts, stretch)
        if least is not None:
            thin += _too_thin(case, facts, stretch, *least)
            runs += _long_rub(case, facts, stretch, told.likely.after.grid.cell_mm)
        shared += _run_out(case, facts, stretch)
    bands = override_bands(facts, QUESTION, stretches)
    checks = (
        Check(Scale.RATIO, "µm", tuple(thick), (), _clear(case, facts, thick, thin) or _of_taps(stretches)),
        Check(Scale.RATIO, "µm", tuple(thin), (), " ".join(band.words for band in bands if band.words)),
        Check(Scale.RATIO, "s", tuple(runs), ()),
        Check(
            Scale.RATIO, "", tuple(shared), (), at_most=Answer.CARE
        ),  # the chip of the edge that cuts is judged above
    )
    return Finding(checks, tuple(dict.fromkeys(needs)), (*_bracket(case), *doubts_of(stretches)))


def _too_thick(case: Case, facts: Leaning, stretch: Stretch) -> list[Limit]:
    chips = list(candidates(stretch, Quantity.CHIP))
    if not chips:
        return []
    most = facts.number(f"tools.{stretch.name}.max_chip")
    if most is None:
        return []
    shared = "" if facts.setting_if_known(f"tools.{stretch.name}.kind") == "drill" else ", run-out in it"
    limits = []
    for each in chips:
        demand = demand_of(each, facts)
        if demand is not None:
            place, chip = case.place(each.move), case.units.fine(each.value)
            what = (
                f"Line {place.line}: the chip of {tool_words(stretch.name, stretch.tool)} is {chip} thick{shared}; "
                f"it takes {case.units.fine(most.value)}."
            )
            do = f"Lower F, or raise S, by a factor of {max(each.value / most.value, 1.0) * 1.2:.1f}."
            limits.append(Limit(place, demand + LN_UM, of(most) + LN_UM, what, do))
    return limits


def _least_chip(facts: Leaning, stretch: Stretch) -> tuple[Form, float] | None:
    """(logarithm, best estimate) of the least chip that cuts, mm: a part of the edge's own radius. Not asked of taps, whose pitch is given."""
    if not list(candidates(stretch, Quantity.THIN)):
        return None
    radius = facts.number(f"tools.{stretch.name}.edge_radius")
    material = facts.setting("job.material")
    ratio = facts.number(f"materials.{material}.min_chip_ratio") if material is not None else None
    if radius is None or ratio is None:
        return None
    form = of(radius) + of(ratio)
    return form, log_best(form, facts)


def _too_thin(case: Case, facts: Leaning, stretch: Stretch, least: Form, least_mm: float) -> list[Limit]:
    """The chip that a tenth of the cutting time stays below, against the least that cuts: one slow corner is no rubbing."""
    limits = []
    for each in candidates(stretch, Quantity.THIN):
        chip = demand_of(each, facts)
        if chip is not None:
            place = case.place(each.move)
            what = (
                f"Line {place.line}: the chip of {tool_words(stretch.name, stretch.tool)} is {case.units.fine(each.value)} where it is "
                f"thin; below {case.units.fine(least_mm)} its edge rubs{_for_how_long(stretch)}."
            )
            do = "Raise F, lower S, take more width, or a tool with fewer or sharper edges."
            limits.append(Limit(place, least + LN_UM, chip + LN_UM, what, do))
    return limits


def _for_how_long(stretch: Stretch) -> str:
    if stretch.rubbing_s < WORTH_A_WORD * stretch.cutting_s or stretch.cutting_s <= 0:
        return ""
    return f", as it does for {stretch.rubbing_s / stretch.cutting_s:.0%} of its cutting time"


def _long_rub(case: Case, facts: Leaning, stretch: Stretch, cell_mm: float) -> list[Limit]:
    """The longest unbroken run below the least chip, as it is at best estimates: a pass that grazes grazes for any edge."""
    rule = facts.number(RUBBING_TIME)
    if rule is None or stretch.longest_rub_s < LEAST_RUB_S:
        return []
    feed = max((each.feed_mm_per_s for each in candidates(stretch, Quantity.THIN)), default=0.0)
    diameter = facts.number_if_known(f"tools.{stretch.name}.DC")
    power = 0.0 if diameter is None else time_power(cell_mm, diameter.value, feed * stretch.longest_rub_s)
    demand = log_form(stretch.longest_rub_s, ((TIME, power),), facts)
    if demand is None:
        return []
    place = case.place(stretch.first_move)
    what = (
        f"After line {place.line} {tool_words(stretch.name, stretch.tool)} rubs for {duration(stretch.longest_rub_s)} on end without a "
        "chip that cuts."
    )
    do = "Raise the feed of its slowest cuts, or take away what slows them: tight corners, short blocks, dwells in the cut."
    return [Limit(place, demand, of(rule), what, do)]


def _run_out(case: Case, facts: Leaning, stretch: Stretch) -> list[Limit]:
    """How far one edge stands out before the next, over the feed per edge where it is greatest: from one on, some edges never cut."""
    edges = facts.setting_if_known(f"tools.{stretch.name}.ZEFP")
    fed = _greatest_feed(stretch)
    if facts.setting_if_known(f"tools.{stretch.name}.kind") == "drill":
        return []  # its run-out makes the hole wide, not the chip
    if (
        not isinstance(edges, int)
        or edges < FEWEST_SHARING
        or fed is None
        or not list(candidates(stretch, Quantity.THIN))
    ):
        return []
    run_out, rule = facts.number(f"tools.{stretch.name}.run_out"), facts.number(RUN_OUT_SHARE)
    per_edge = _across(fed) / (abs(fed.turns_per_s) * edges)
    if run_out is None or rule is None or not per_edge > 0:
        return []
    share = run_out.value * math.sin(math.pi / edges) / per_edge
    if share <= 0:
        return []
    place = case.place(fed.move)
    what = (
        f"Line {place.line}: the run-out of {tool_words(stretch.name, stretch.tool)}, {case.units.fine(run_out.value)}, is {share:.0%} of "
        f"its feed per edge of {case.units.fine(per_edge)}: one edge takes what the others leave."
    )
    do = "Clean collet and taper and clock the tool in again, or raise the feed per edge."
    return [Limit(place, _share_form(run_out, share), of(rule), what, do)]


def _share_form(run_out: Fact, share: float) -> Form:
    return Form(math.log(share) - math.log(run_out.value), ((run_out.path, 1.0),))


def _greatest_feed(stretch: Stretch) -> Candidate | None:
    """Across: the edges of a tool that goes straight down share its chip by how they stand along the axis, not by its run-out."""
    chips = [one for one in candidates(stretch, Quantity.CHIP) if one.turns_per_s != 0 and _across(one) > 0]
    return max(chips, key=_across, default=None)


def _across(each: Candidate) -> float:
    """Feed across the axis, mm/s; all of it where nobody knows the way."""
    across = math.hypot(each.way[0], each.way[1])
    return each.feed_mm_per_s * (across if any(each.way) else 1.0)


def _bracket(case: Case) -> tuple[str, ...]:
    if case.cutting is None or not case.cutting.bracketed_by:
        return ()
    return (
        "The feed reached is only known as a bracket: the thick end was judged at its quickest, the thin end at its slowest.",
    )


def _of_taps(stretches: list[Stretch]) -> str:
    tapped = any(list(candidates(stretch, Quantity.TAP_TORQUE)) for stretch in stretches)
    return "The chip of a tap is given by its pitch, and was not looked at." if tapped else ""


def _clear(case: Case, facts: Leaning, thick: list[Limit], thin: list[Limit]) -> str:
    most, least = worst_of(thick, facts), worst_of(thin, facts)
    said = []
    if most is not None:
        chip, takes = (log_best(form, facts) / 1000.0 for form in (most.demand, most.capacity))
        said.append(
            f"The thickest chip is {case.units.fine(chip)} of {case.units.fine(takes)} (line {most.place.line})."
        )
    if least is not None:
        chip, rubs = (log_best(form, facts) / 1000.0 for form in (least.capacity, least.demand))
        said.append(f"The thin end is {case.units.fine(chip)}, rubbing begins at {case.units.fine(rubs)}.")
    return " ".join(said)
