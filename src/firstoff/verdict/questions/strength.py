"""Tool: will it break?"""

from __future__ import annotations

from firstoff.facts.fact import Fact, Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.loads.drilling import lead_is_off
from firstoff.verdict.case import Case
from firstoff.verdict.forms import Scale, of
from firstoff.verdict.load_forms import is_nothing, log_best, worst_of
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Need, Question, Risk
from firstoff.verdict.stretches import asked, cut_program, doubts_of, tool_words, with_less, with_loads
from firstoff.verdict.tool_stress import Stress, bending, twisting
from firstoff.verdict.words import newton_metres, newtons, part, two_figures

QUESTION = Question("strength", Risk.TOOL, "Will it break?")
TURNED = ("drill", "tap")
"""Kinds that break by being twisted off."""
TURNING = (Quantity.TORQUE, Quantity.TAP_TORQUE)
NOT_LOOKED_AT = "Chipped edges, a drill that buckles, and a cut that rings were not looked at."


def find(case: Case, facts: Leaning) -> Finding:
    """Stress at the weakest section, from the peak of the force within a turn, against what the tool bears for long."""
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = with_loads(case, facts, told, needs)
    limits: list[Limit] = []
    for stretch in stretches:
        strength = facts.number(f"tools.{stretch.name}.strength")
        turned = facts.setting(f"tools.{stretch.name}.kind") in TURNED
        for each in asked(case, stretch, needs, *(TURNING if turned else (Quantity.BENDING,))):
            if is_nothing(each.value, each.exponents):
                continue
            stress = (twisting if turned else bending)(each, stretch.name, facts)
            if stress is not None and strength is not None:
                limits.append(_limit(case, stretch, each, stress, strength, turned))
            elif stress is None and not any(path.startswith(f"tools.{stretch.name}.") for path in facts.missing):
                needs.append(_contradicted(case, stretch, each))
    off = _off_pitch(case, facts, stretches)
    check = Check(Scale.RATIO, "N/mm²", tuple(limits), (), _clear(facts, limits))
    notes = (NOT_LOOKED_AT, *doubts_of(stretches)) if stretches else ()
    return Finding((check, Check(Scale.COUNT, "", (), tuple(off))), tuple(dict.fromkeys(needs)), notes)


def _off_pitch(case: Case, facts: Leaning, stretches: list[Stretch]) -> list[Counted]:
    """Taps that are fed by something else than their pitch a turn: they strip the thread or break, whatever their torque."""
    found = []
    for stretch in stretches:
        tapped = stretch.candidates.get(Quantity.TAP_TORQUE, ())
        pitch = facts.number(f"tools.{stretch.name}.TP") if tapped else None
        if pitch is not None:
            found += [_lead(case, stretch, each, pitch) for each in tapped if _is_off(case, each, pitch)]
    return found


def _is_off(case: Case, each: Candidate, pitch: Fact) -> bool:
    feed, turns = float(case.moves.feed_mm_per_s[each.move]), float(case.moves.spindle_per_s[each.move])
    return turns != 0 and lead_is_off(feed, turns, pitch.value)


def _lead(case: Case, stretch: Stretch, each: Candidate, pitch: Fact) -> Counted:
    turns = abs(float(case.moves.spindle_per_s[each.move]))
    place, lead = case.place(each.move), float(case.moves.feed_mm_per_s[each.move]) / turns
    fed, asks = case.units.length(lead), case.units.length(pitch.value)
    what = f"Line {place.line}: {tool_words(stretch.name, stretch.tool)} is fed {fed} a turn; its pitch is {asks}."
    return Counted(place, what, f"Feed {case.units.length(pitch.value * turns * 60)}/min at this speed.", Answer.STOP)


def _contradicted(case: Case, stretch: Stretch, each: Candidate) -> Need:
    line = int(case.moves.line[each.move])
    how = f"At line {line} the force acts {case.units.length(each.lever_mm)} above the tip, beyond what stands out: measure OHX and APMX."
    return Need(f"the overhang of {stretch.name}", "tools.toml OHX", how)


def _limit(case: Case, stretch: Stretch, each: Candidate, stress: Stress, strength: Fact, turned: bool) -> Limit:
    place = case.place(each.move)
    load = (
        newton_metres(each.value)
        if turned
        else f"{newtons(each.value)} at {case.units.length(each.lever_mm)} from its tip"
    )
    what = (
        f"Line {place.line}: {tool_words(stretch.name, stretch.tool)} is loaded with {load}: {two_figures(stress.value)} N/mm² {stress.words}; "
        f"it bears {two_figures(strength.value)} N/mm²."
    )
    shorter = "or take a sharper one." if turned else "clamp the tool shorter, or take a thicker one."
    do = f"{with_less(stretch)}, {shorter}"
    return Limit(place, stress.form, of(strength), what, do)


def _clear(facts: Leaning, limits: list[Limit]) -> str:
    worst = worst_of(limits, facts)
    if worst is None:
        return "Nothing bends or twists a tool by enough to matter."
    share = log_best(worst.demand - worst.capacity, facts)
    return f"The highest stress is {part(share)} of what the tool bears (line {worst.place.line})."
