"""What is in force while a program runs, and what a program starts from.

The numbers live in the two arrays that the kernel works on too (`_kernels`): both layers read and change the same state. What only
Python ever needs stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from firstoff.program import _kernels as k
from firstoff.program.moves import NO_LENGTH, NO_TOOL, Base, Flag

Point = tuple[float, float, float]

MM_PER_UNIT = {0: 1.0, 20: 25.4, 21: 1.0}
"""mm a program unit; lengths stay in the file's own unit as long as none is stated."""


@dataclass(frozen=True, slots=True)
class Start:
    """Where the machine stands and what its registers hold before the first block; nothing is known unless given."""

    position_mm: Point | None = None
    """Gauge point in the machine frame."""
    origins_mm: Mapping[int, Point] = field(default_factory=dict)
    """By `Base`: machine position of the gauge point at the origin, for systems and home positions."""
    lengths_mm: Mapping[int, float] = field(default_factory=dict)
    """By H register."""
    diameters_mm: Mapping[int, float] = field(default_factory=dict)
    """By D register."""
    parameters: Mapping[int, float] = field(default_factory=dict)
    """By number: what the control holds before the program sets anything."""
    block_delete: bool | None = None
    """The switch; None asks the control's facts."""


class _Whole:
    """A whole number of the state, kept in `State.whole`."""

    def __init__(self, row: int) -> None:
        self.row = row

    def __get__(self, state: State, _owner: type | None = None) -> int:
        return int(state.whole[self.row])

    def __set__(self, state: State, value: int) -> None:
        state.whole[self.row] = value


class _Real:
    """A real number of the state, kept in `State.real`."""

    def __init__(self, row: int) -> None:
        self.row = row

    def __get__(self, state: State, _owner: type | None = None) -> float:
        return float(state.real[self.row])

    def __set__(self, state: State, value: float) -> None:
        state.real[self.row] = value


class State:
    """Modal state. Codes are ten times the G code where they may have a tenth, else the number itself."""

    line = _Whole(k.LINE)
    spoken_line = _Whole(k.SPOKEN_LINE)
    moves = _Whole(k.MOVES)
    blocks = _Whole(k.BLOCKS)
    motion = _Whole(k.MOTION)
    last_straight = _Whole(k.STRAIGHT_MOTION)
    plane = _Whole(k.PLANE)
    distance = _Whole(k.DISTANCE)
    units = _Whole(k.UNITS)
    units_asked = _Whole(k.UNITS_ASKED)
    units_stated = _Whole(k.UNITS_STATED)
    """1: the program itself named a unit."""
    feed_mode = _Whole(k.FEED_MODE)
    feed_asked = _Whole(k.FEED_ASKED)
    flags = _Whole(k.FLAGS)
    tool = _Whole(k.TOOL)
    comp_register = _Whole(k.COMP_REGISTER)
    frame = _Whole(k.FRAME)
    lost = _Whole(k.LOST)
    blind = _Whole(k.BLIND)
    found_line = _Whole(k.FOUND_LINE)
    restore = _Whole(k.RESTORE)
    stated = _Whole(k.STATED)
    relied = _Whole(k.RELIED)
    relied_line = _Whole(k.RELIED_LINE)
    z_waits = _Whole(k.Z_WAITS)
    unit = _Real(k.UNIT)
    feed = _Real(k.FEED)
    f = _Real(k.F)
    s = _Real(k.S)
    spindle = _Real(k.SPINDLE)
    arc_tolerance = _Real(k.ARC_TOLERANCE)

    def __init__(self) -> None:
        self.whole = np.zeros(k.WHOLES, np.int64)
        self.real = np.zeros(k.REALS)
        self.line = 1
        self.motion = -1
        self.plane = 17
        self.distance = 90
        self.feed_mode = 94
        self.tool = NO_TOOL
        self.comp_register = -1
        self.unit = 1.0
        self.feed = self.f = self.s = math.nan
        self.feed_gone = ""
        """Why a feed that was given counts no more."""
        self.turning = 0
        """Direction of the spindle: 1 clockwise, -1 counter-clockwise, 0 stopped."""
        self.selected_tool: int | None = None
        self.length = NO_LENGTH
        self.d_register: int | None = None
        self.comp = 40
        self.system = Base.G54
        self.path_mode = "none"
        self.return_mode = 98
        self.arc_centres = "incremental"
        self.arc_centres_stated = False
        self.written_registers: set[int] = set()
        """Tool registers that the program itself wrote with G10: what they hold is not followed."""
        self.cycle = Cycle()
        self.holes = 0
        self.veil: set[str] = set()
        """Modes in force that change what axis words mean and that are not followed, such as G68."""
        self.stopped = False
        self.ended_by = ""

    def position(self, axis: int) -> float:
        """Programmed coordinate of an axis, in the frame of `axis_frame`."""
        return float(self.real[k.X + axis])

    def axis_frame(self, axis: int) -> int:
        """Row of the frame in which `axis` was last given."""
        return int(self.whole[k.X_FRAME + axis])

    def stand(self, axis: int, coordinate_mm: float, frame: int) -> None:
        """The axis stands at `coordinate_mm` of `frame`, without a move."""
        self.real[k.X + axis] = coordinate_mm
        self.whole[k.X_FRAME + axis] = frame

    def set_units(self, code: int) -> None:
        """G20, G21 or 0 = not stated; a feed that was given keeps its number (NISTIR 6556, 3.5.7)."""
        self.units = code
        self.unit = MM_PER_UNIT[code]
        if self.feed_mode == 94:
            self.feed = self.f * self.unit / 60.0

    def forget_feed(self, why: str) -> None:
        """The feed given before counts no more: the next cut needs its own."""
        if not math.isnan(self.f):
            self.feed_gone = why
        self.f = self.feed = math.nan
        self.feed_asked = 0

    def turn(self, direction: int) -> None:
        """The spindle turns one way, or stops."""
        self.turning = direction
        self.spindle = direction * self.s / 60.0 if direction else 0.0

    def flag(self, flag: Flag, on: bool) -> None:
        self.flags = self.flags | flag if on else self.flags & ~flag


@dataclass(slots=True)
class Cycle:
    """What sticks from one canned-cycle block to the next (NISTIR 6556, 3.5.16), mm in the frame of the block."""

    code: int = 0
    """Ten times the G code; 0 = no cycle is active."""
    words: dict[str, float] = field(default_factory=dict)
    """R, depth and what else the cycle uses, by letter; the depth is under the letter of the plane's normal."""
    initial: float = math.nan
    """Coordinate along the normal just before this series of cycles."""
    initial_frame: int = -1
    levels: tuple[float, float, int] | None = None
    """R plane, bottom and their frame, as last worked out."""
