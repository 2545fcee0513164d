"""Short ways to read a few lines in a test."""

from __future__ import annotations

from firstoff.program.control import Control
from firstoff.program.moves import NOTE, Base, Event, Kind, Problem, Reading, What
from firstoff.program.reading import Start, read_text

ANSWERS: dict[str, str | float] = {"file_end": "accept", "dwell_p": "s", "peck_back_off": 0.2}
"""Answered so that a test sees only what it is about."""


def read(*lines: str, base: str = "plain", start: Start | None = None, own: dict[int, str] | None = None, **said: str | float) -> Reading:  # fmt: skip
    """Read `lines`, from a machine that says `ANSWERS` and `said`."""
    control = Control.of(None, base)
    control.said.update(ANSWERS | said)
    control.own_m_codes.update(own or {})
    return read_text("\n".join(lines) + "\n", "lines.nc", control, start or Start())


def faults(reading: Reading) -> list[Problem]:
    """What a verdict would trip over."""
    return [problem for problem in reading.problems if problem.kind != NOTE]


def told(reading: Reading) -> str:
    return " | ".join(problem.what for problem in reading.problems)


def place(reading: Reading, row: int, axis: int) -> tuple[float, Base, float, int]:
    """(coordinate, base, shift, length register) of one axis at the end of a move."""
    frame = reading.moves.frame[row, axis]
    return (
        float(reading.moves.end_mm[row, axis]),
        Base(int(reading.frames.base[frame, axis])),
        float(reading.frames.shift_mm[frame, axis]),
        int(reading.frames.length[frame]) if axis == 2 else -1,
    )


def kinds(reading: Reading) -> list[str]:
    return [Kind(kind).name.lower() for kind in reading.moves.kind]


def events(reading: Reading, what: What) -> list[Event]:
    return [event for event in reading.events if event.what is what]
