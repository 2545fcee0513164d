"""Machine: does every move stay inside the travel?"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import NO_TOOL, Base
from firstoff.verdict.case import AXES, Case, best, extremes
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.positions import gauge_in_machine
from firstoff.verdict.question import Along, Check, Finding, Limit, Question, Risk

Extremes = tuple[tuple[int, int, float], ...]
"""(frame row, move, programmed value) of the farthest moves: see `extremes`."""
QUESTION = Question("travel", Risk.MACHINE, "Does every move stay inside the travel?")


def find(case: Case, facts: Leaning) -> Finding:
    """The farthest move of each axis, each way, in each frame; on the span alone where the work zero is not known."""
    limits: list[Limit] = []
    for axis, name in enumerate(AXES):
        if not bool((case.moving & np.isfinite(case.low_mm[:, axis])).any()):
            continue
        low = facts.number(f"machine.axis.{name}.travel.low")
        high = facts.number(f"machine.axis.{name}.travel.high")
        if low is None or high is None:
            continue
        lowest, highest = (tuple(extremes(case, case.moving & case.sure, axis, far)) for far in (False, True))
        limits += _ends(case, facts, axis, False, lowest, low) + _ends(case, facts, axis, True, highest, high)
        limits += _spans(case, facts, axis, lowest, highest, (low, high))
    nearest = min((-best(facts.facts, limit.demand) for limit in limits), default=0.0)
    clear = (
        "Nothing goes anywhere near an end."
        if not limits
        else f"Every axis stays inside; the nearest end is {case.units.length(max(nearest, 0.0))} away."
    )
    return Finding((Check(Scale.DIFFERENCE, "mm", tuple(limits), (), clear),), case.lost)


def _ends(case: Case, facts: Leaning, axis: int, highest: bool, reached_by: Extremes, end: Fact) -> list[Limit]:
    letter = AXES[axis].upper()
    limits = []
    for row, move, value in reached_by:
        base = int(case.reading.frames.base[row, axis])
        if base in (Base.START, Base.UNKNOWN):
            continue
        gauge = gauge_in_machine(case, facts, row, axis, NO_TOOL)
        if gauge is None:
            continue
        reached = gauge + value
        overrun = reached - of(end) if highest else of(end) - reached
        beyond = best(facts.facts, overrun)
        if beyond <= 0 and _read_off_the_same_scale(case, row, axis, gauge):
            continue
        place = case.place(move)
        at, stop = case.units.length(best(facts.facts, reached)), case.units.length(end.value)
        if beyond > 0:
            what = f"Line {place.line}: machine {letter} would go to {at}; travel ends at {stop}, {case.units.length(beyond)} past the end."
        else:
            what = f"Line {place.line}: {letter} comes within {case.units.length(-beyond)} of its end at {stop}."
        do = _advice(case, facts, axis, highest, beyond)
        sure = _read_off_the_same_scale(case, row, axis, gauge)
        along = _all_of(case, row, axis, highest, value, beyond if sure else math.inf)
        limits.append(Limit(place, overrun, exact(0.0), what, do, along))
    return limits


def _all_of(case: Case, row: int, axis: int, highest: bool, farthest: float, less: float) -> Callable[[], Along]:
    """Every move of a frame row on one axis, one way, that goes less far than the farthest by no more than `less`."""

    def along() -> Along:
        values = case.high_mm[:, axis] if highest else case.low_mm[:, axis]
        mine = np.flatnonzero(case.moving & case.sure & np.isfinite(values) & (case.moves.frame[:, axis] == row))
        sign = 1.0 if highest else -1.0
        mine = mine[sign * (farthest - values[mine]) < less]
        return case.along(mine, sign * values[mine], sign * farthest)

    return along


def _advice(case: Case, facts: Leaning, axis: int, highest: bool, beyond: float) -> str:
    """Shift the part where there is room for it; where there is none the program is meant for another place, unit or mode."""
    letter, units = AXES[axis].upper(), case.units
    low, high = (facts.number(f"machine.axis.{AXES[axis]}.travel.{end}") for end in ("low", "high"))
    length = high.value - low.value if low is not None and high is not None else 0.0
    span = _span(case, axis) if beyond > 0 else 0.0
    if beyond > 0 and span > length:
        return f"No work zero will do: {letter} needs {units.length(span)}, the axis has {units.length(length)}. Look at this line, its unit and G90 or G91."
    if axis == 2:
        way = "lower" if highest else "higher"
        return f"First look at the Z of this line and at the length called. If they are meant, set the part {units.length(max(beyond, 0.0) + 1.0)} {way}, and touch off again."
    way = "minus" if highest else "plus"
    return f"Shift the part {units.length(max(beyond, 0.0) + 1.0)} to {letter} {way} and touch off again; never change the number alone."


def _span(case: Case, axis: int) -> float:
    """From the lowest to the highest place that the program goes to on an axis, whatever frames they are in, mm."""
    usable = case.moving & case.sure & np.isfinite(case.low_mm[:, axis])
    if not bool(usable.any()):
        return 0.0
    return float(case.high_mm[usable, axis].max() - case.low_mm[usable, axis].min())


def _read_off_the_same_scale(case: Case, row: int, axis: int, gauge: Form) -> bool:
    """A place named in machine coordinates, or home, was read off the scale that the travel is written in: no doubt lies between them."""
    frames = case.reading.frames
    base = int(frames.base[row, axis])
    named_in_machine = base == Base.MACHINE and not gauge.terms and frames.shift_mm[row, axis] == 0.0
    return named_in_machine or base in (Base.G28, Base.G30)


def _spans(
    case: Case, facts: Leaning, axis: int, lowest: Extremes, highest: Extremes, ends: tuple[Fact, Fact]
) -> list[Limit]:
    """Where the work zero is not known, the program's span must at least fit between the ends."""
    low, high = ends
    bottoms = {row: value for row, _, value in lowest}
    limits = []
    for row, move, top in highest:
        base = int(case.reading.frames.base[row, axis])
        offset = f"job.offset.{Base(base).name.replace('_', '.')}.at.{AXES[axis]}"
        if not Base.G54 <= base <= Base.G59_3 or offset not in facts.missing:
            continue
        span = top - bottoms[row]
        place = case.place(move)
        what = (
            f"{AXES[axis].upper()} needs {case.units.length(span)} of the {case.units.length(high.value - low.value)} "
            "there is; the work zero is not known, so only the span was held against the travel."
        )
        limits.append(
            Limit(
                place,
                exact(span) - (of(high) - of(low)),
                exact(0.0),
                what,
                "Turn the part, or make it in two settings.",
            )
        )
    return limits
