"""What turns, what flows and where the tip stands at a line where somebody may want to put a hand in."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.program.moves import Event, What
from firstoff.verdict.case import AXES, Case

COOLANTS = {1: "mist", 2: "flood", 3: "mist and flood"}


@dataclass(frozen=True, slots=True)
class Running:
    """What the program has commanded up to a place; speed in 1/min (NaN where S was never given), 0 where the spindle stands."""

    per_min: float
    spindle_line: int
    coolant: str
    """Empty where nothing flows."""
    coolant_line: int

    @property
    def anything(self) -> bool:
        return self.per_min != 0 or bool(self.coolant)


def running_at(case: Case, move: int, until: Event | None = None) -> Running:
    """What is on when `move` begins; with `until`, what is on when that event comes."""
    speed, speed_line, coolant, coolant_line = 0.0, 0, 0, 0
    for event in case.reading.events:
        if event is until or event.before > move:
            break
        if event.what is What.SPINDLE:
            speed, speed_line = event.value * 60, event.line
        elif event.what is What.COOLANT:
            coolant, coolant_line = event.number, event.line
    return Running(abs(speed), speed_line, COOLANTS.get(coolant, "coolant" if coolant else ""), coolant_line)


def running_words(running: Running, with_lines: bool) -> str:
    """``spindle at 14000 since line 16, flood on since line 20``; empty where nothing runs."""

    def since(line: int) -> str:
        return f" since line {line}" if with_lines and line else ""

    parts = []
    if running.per_min != 0:
        told = f"at {running.per_min:.0f}" if math.isfinite(running.per_min) else "on, speed never given"
        parts.append(f"spindle {told}{since(running.spindle_line)}")
    if running.coolant:
        parts.append(f"{running.coolant} on{since(running.coolant_line)}")
    return " and ".join(parts)


def over_blank(case: Case, move: int, radius_mm: float | None) -> bool | None:
    """Whether the tool, where `move` ends, stands over the blank with any part of its edge; None where nobody can say."""
    moves, frames, facts = case.moves, case.reading.frames, case.facts.facts
    rows = moves.frame[move]
    if any(int(frames.base[rows[axis], axis]) != case.stock_base for axis in (0, 1)):
        return None
    x, y = (float(moves.end_mm[move, axis] + frames.shift_mm[rows[axis], axis]) for axis in (0, 1))
    if not np.isfinite([x, y]).all() or radius_mm is None:
        return None
    ends = [facts.get(f"job.stock.box.{axis}.{end}") for axis in AXES[:2] for end in ("low", "high")]
    known = [end.value for end in ends if end is not None]
    if len(known) == len(ends):
        away = math.hypot(max(known[0] - x, x - known[1], 0.0), max(known[2] - y, y - known[3], 0.0))
        return away < radius_mm
    diameter = facts.get("job.stock.cylinder.diameter")
    if diameter is None:
        return None
    at = [fact.value if (fact := facts.get(f"job.stock.cylinder.{axis}")) is not None else 0.0 for axis in AXES[:2]]
    return math.hypot(x - at[0], y - at[1]) < diameter.value / 2 + radius_mm
