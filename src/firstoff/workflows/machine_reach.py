"""Where a job stands in the machine and how far its program reaches there, from a quick read of the program: nothing is judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.errors import InputError
from firstoff.facts.fact import FactSet
from firstoff.facts.job import load_job
from firstoff.facts.shop import Shop
from firstoff.program.bounds import reach_of_moves
from firstoff.program.moves import NO_LENGTH, NO_TOOL, SYSTEM_NAMES, Kind, Reading
from firstoff.verdict.case import AXES, move_masks
from firstoff.verdict.positions import is_system, offset_path
from firstoff.verdict.stock_frame import stock_base
from firstoff.workflows import job_of_shop, prepare_job

LONGEST_BYTES = 400_000
"""A program longer than that takes more than a moment to read: its blank is drawn, its reach is told to be too long to look at."""
SIDEWAYS_MM = 0.002
Span = tuple[float, float]
Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Reach:
    """How far the tip goes in work systems whose zero is known, mm in the machine frame: where the gauge point would be if it were there."""

    spans: tuple[Span | None, Span | None, Span | None]
    """(low, high) of each axis; Z of moves with a length in force only."""
    rapid_z: float | None
    """The lowest rapid sideways."""


@dataclass(frozen=True, slots=True)
class JobPlace:
    """A job as it stands in the machine."""

    name: str
    facts: FactSet
    zeros: Mapping[str, Place]
    """Work systems that the job gives whole, in the machine frame."""
    stock_in: str
    """The system that stock and fixtures are written in."""
    reach: Reach | None
    tools: tuple[int, ...]
    """Numbers of the tools that the program calls."""
    why_not: str
    """Why there is no reach; empty where there is one."""


def job_place(shop: Shop, name: str) -> JobPlace:
    """Read a job's program, if it is short enough, and say where it goes. Raises `InputError` where there is no such job."""
    job = load_job(job_of_shop(shop, name), shop)
    zeros = _zeros(job.facts)
    named = job.facts.settings.get("job.stock.offset")
    first = str(named.value) if named is not None else next(iter(zeros), SYSTEM_NAMES[0])
    if not job.program.is_file() or job.program.stat().st_size > LONGEST_BYTES:
        why = "its program is too long to be looked at here" if job.program.is_file() else "its program is not there"
        return JobPlace(name, job.facts, zeros, first, None, (), why)
    try:
        reading = prepare_job(job).reading
    except InputError as error:
        return JobPlace(name, job.facts, zeros, first, None, (), error.faults[0].what if error.faults else "not read")
    base = SYSTEM_NAMES[stock_base(reading, job.facts) - 1]
    tools = tuple(int(one) for one in np.unique(reading.moves.tool) if one != NO_TOOL)
    reach = reach_in_machine(reading, zeros)
    return JobPlace(
        name, job.facts, zeros, base, reach, tools, "" if any(reach.spans) else "no zero of its program is known"
    )


def _zeros(facts: FactSet) -> dict[str, Place]:
    found: dict[str, Place] = {}
    for base, name in enumerate(SYSTEM_NAMES, 1):
        values = [facts.facts.get(offset_path(base, axis)) for axis in range(len(AXES))]
        if all(one is not None for one in values):
            x, y, z = (one.value for one in values if one is not None)
            found[name] = (x, y, z)
    return found


def reach_in_machine(reading: Reading, zeros: Mapping[str, Place]) -> Reach:
    """The extents of all moves in work systems with known zeros; moves to home and in the machine's own frame are not among them."""
    moving, _, sure = move_masks(reading.moves)
    low, high = reach_of_moves(reading.moves, reading.arcs)
    shift = np.stack([_shift(reading, zeros, axis) for axis in range(3)], axis=1)
    low, high = low + shift, high + shift  # NaN where the zero is not known
    told = reading.frames.length[reading.moves.frame[:, 2]] != NO_LENGTH
    known = [moving & sure & np.isfinite(low[:, axis]) & np.isfinite(high[:, axis]) for axis in range(3)]
    known[2] &= told
    x, y, z = (
        (float(low[one, axis].min()), float(high[one, axis].max())) if bool(one.any()) else None
        for axis, one in enumerate(known)
    )
    return Reach((x, y, z), _sideways_rapid(reading, known[2] & known[0] & known[1], low))


def _shift(reading: Reading, zeros: Mapping[str, Place], axis: int) -> NDArray[np.float64]:
    """What each move's programmed coordinate lacks of the machine's; NaN where nobody knows."""
    frames, rows = reading.frames, reading.moves.frame[:, axis]
    origins = {
        int(base): zeros[SYSTEM_NAMES[int(base) - 1]][axis]
        for base in np.unique(frames.base[:, axis])
        if is_system(int(base)) and SYSTEM_NAMES[int(base) - 1] in zeros
    }
    row = np.array([origins.get(int(base), np.nan) for base in frames.base[:, axis]], dtype=np.float64)
    shift: NDArray[np.float64] = (row + frames.shift_mm[:, axis])[rows]
    return shift


def _sideways_rapid(reading: Reading, known: NDArray[np.bool_], low: NDArray[np.float64]) -> float | None:
    moves = reading.moves
    rapid = np.flatnonzero(known & (moves.kind == Kind.RAPID))
    rapid = rapid[(rapid > 0)]
    rapid = rapid[known[rapid - 1]]
    if not rapid.size:
        return None
    moved = np.abs(moves.end_mm[rapid, :2] - moves.end_mm[rapid - 1, :2]).max(axis=1) > SIDEWAYS_MM
    return float(low[rapid[moved], 2].min()) if bool(moved.any()) else None
