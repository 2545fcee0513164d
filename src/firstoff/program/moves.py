"""What reading a program yields: moves, arcs, frames, events and problems, all frozen.

Nothing is baked in. A coordinate is the number the program wrote (in mm) together with the frame it was written in; work
offsets, home positions and tool lengths stay facts. The machine position of the spindle gauge point on axis k is

    end_mm[i, k] + shift_mm[f, k] + offset(base[f, k])  [+ length(length[f]) on Z]      with f = frame[i, k]

because each axis remembers the frame in which *it* was last given: after ``G55`` an axis that is not named again still
stands where ``G54`` put it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, IntFlag

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]


class Kind(IntEnum):
    """What a move is."""

    RAPID = 0
    FEED = 1
    ARC = 2
    DWELL = 3
    PROBE = 4
    TAP = 5  # feed in or out with the spindle locked to the axis
    HOME = 6  # leg of G28 or G30 to the stored position
    MACHINE = 7  # G53 block (rapid or feed: see Flag.FEEDING)


class Flag(IntFlag):
    """State that holds during a move."""

    MIST = 1
    FLOOD = 2
    EXACT_STOP = 4  # G61, G61.1 or G9
    COMP_LEFT = 8  # G41
    COMP_RIGHT = 16  # G42
    CYCLE = 32  # made by a canned cycle
    INVERSE_TIME = 64  # feed_mm_per_s holds the mean feed that the block's time implies
    PER_REV = 128  # G95: feed_mm_per_s is feed a turn times the speed
    UNSURE = 256  # position or meaning not trusted: a problem before this move lost it
    NO_OVERRIDE = 512  # M49
    FEEDING = 1024  # a MACHINE move made at feed
    RESTORED = 2048  # first move after a tool change


class Base(IntEnum):
    """What a frame's origin hangs on; a number, so that it fits in an array."""

    MACHINE = 0
    G54 = 1
    G55 = 2
    G56 = 3
    G57 = 4
    G58 = 5
    G59 = 6
    G59_1 = 7
    G59_2 = 8
    G59_3 = 9
    G28 = 20
    G30 = 21
    START = 30  # where the machine happens to stand when the program begins: never known
    UNKNOWN = 31  # after something that loses position


SYSTEM_NAMES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")

NO_LENGTH = -1
"""`Frames.length` where no length offset acts."""
NO_TOOL = -1
"""`Moves.tool` before any tool is known to be in the spindle."""


@dataclass(frozen=True, slots=True)
class Frames:
    """Origins by row. `base` i2[K, 3] of `Base`, `shift_mm` f8[K, 3] (G92, G52 and rewritten systems), `length` i4[K] (H
    register or `NO_LENGTH`), `system` i2[K] (`Base` of the work system that was active: for words, not for sums)."""

    base: NDArray[np.int16]
    shift_mm: Floats
    length: Ints
    system: NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Arcs:
    """Arcs by row: `centre_mm` f8[A, 2] in the plane's axes and the move's frame, `plane` u1[A] (17, 18, 19), `radius_mm`
    f8[A] at the start point, `sweep_rad` f8[A] (signed, counter-clockwise positive seen from the plane's positive normal, more
    than 2π for several turns), `rise_mm` f8[A] along the normal."""

    centre_mm: Floats
    plane: NDArray[np.uint8]
    radius_mm: Floats
    sweep_rad: Floats
    rise_mm: Floats


PLANE_AXES = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}
"""Axis numbers (first, second, normal) of each plane, so that first -> second is counter-clockwise (NISTIR 6556, 3.5.3)."""


@dataclass(frozen=True, slots=True)
class Moves:
    """One row a move, in the order of execution; all arrays read-only and C-contiguous.

    `start_mm` is the former move's `end_mm` in *its* frame; `start_frame` says which. A row's start is therefore
    `end_mm[i-1]`, `frame[i-1]`; row 0 starts at `Reading.start_mm` in `Base.START`, or NaN.
    """

    kind: NDArray[np.uint8]
    end_mm: Floats
    """f8[N, 3] as programmed, converted to mm (or left in the file's own unit where `Reading.units` is not stated)."""
    frame: NDArray[np.int16]
    """i2[N, 3] row of `Frames` for each axis."""
    arc: Ints
    """i4[N] row of `Arcs`, or -1."""
    feed_mm_per_s: Floats
    """f8[N]; NaN = a feed was never given; for DWELL the seconds of dwell."""
    spindle_per_s: Floats
    """f8[N] turns a second, negative counter-clockwise (M4), 0 stopped, NaN running at a speed never given."""
    tool: Ints
    """i4[N] T number in the spindle, or `NO_TOOL`."""
    comp_register: Ints
    """i4[N] D register while compensation is on, else -1."""
    flags: NDArray[np.uint16]
    line: Ints
    """i4[N] text line, counted from 1."""
    parent: Ints
    """i4[N] number of the canned-cycle hole (from 0, over the whole program) that made this move, else -1."""

    def __len__(self) -> int:
        return int(self.kind.size)


class What(IntEnum):
    """Kinds of `Event`."""

    TOOL_SELECT = 1  # T word; number = T
    TOOL_CHANGE = 2  # M6; number = T now in the spindle
    SPINDLE = 3  # M3 M4 M5 or S while running; value = signed turns a second (NaN: speed never given)
    COOLANT = 4  # number: 0 off, 1 mist, 2 flood, 3 both
    STOP = 5  # M0 M60; number = M
    OPTIONAL_STOP = 6  # M1
    END = 7  # M2 M30 M99 in main
    LENGTH = 8  # G43 H; number = H; G49: NO_LENGTH
    OFFSET_USED = 9  # G54..; number = Base
    OFFSET_WRITTEN = 10  # G10 L2 / L20; number = Base
    SHIFT = 11  # G92 / G52 set (value 1) or cleared (value 0); number = 92 or 52
    TABLE_WRITTEN = 12  # G10 L1 / L10 / L11: tool table; number = register
    PROBE = 13  # G38.x / G31
    OVERRIDE = 14  # M48 (value 1) / M49 (value 0)
    COMPENSATION = 15  # number 40 41 42; value = D
    OWN_CODE = 16  # M code of the builder that the machine explains
    MESSAGE = 17  # operator message in text
    BLOCK_DELETE = 18  # a block with "/" at its start; number 1 = was run, 0 = was skipped


@dataclass(frozen=True, slots=True)
class Event:
    """Something that is no move. `before` is the index of the first move made after it."""

    what: What
    before: int
    line: int
    number: int = 0
    value: float = 0.0
    text: str = ""


FAULT = "fault"
DEPENDS = "depends"
NOTE = "note"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in the text that was not read for certain.

    kind: ``fault`` = cannot be what was meant, or not in the language; ``depends`` = two readings, and `fact` names the
    missing `[control]` key; ``note`` = read by custom, worth knowing, no harm to the verdict.
    """

    line: int
    column: int
    text: str
    """The words concerned, as written."""
    what: str
    """One plain sentence: what is wrong, what is allowed, what to do."""
    kind: str = FAULT
    fact: str = ""
    """For ``depends``: the path of the missing fact, e.g. ``machine.control.after_g80``."""
    judged_again_from: int | None = None
    """If position was lost here: line from which every axis is certain again; 0 = never; None = not lost."""


@dataclass(frozen=True, slots=True)
class ModalState:
    """What is in force when the program ends."""

    motion: str
    """``G0`` .. ``G89``, ``G80`` or ``none``."""
    plane: str
    distance: str
    feed_mode: str
    units: str
    wcs: str
    comp: str
    length: int
    """H register or `NO_LENGTH`."""
    path_mode: str
    return_mode: str
    arc_centres: str
    spindle: str
    """``off``, ``cw`` or ``ccw``."""
    s_per_min: float
    """Last S, NaN if never given."""
    f: float
    """Last F in the program's own unit per minute, NaN if never given."""
    tool: int
    coolant: str
    """``off``, ``mist``, ``flood`` or ``both``."""
    overrides: bool
    shift_left: bool
    """G92 or G52 still shifts an axis."""
    ended_by: str
    """``M2``, ``M30``, ``%``, ``M99``, or ``text end``."""
    stopped: bool
    """An M0, M1 or M60 was met."""


@dataclass(frozen=True, slots=True)
class Reading:
    """Everything that reading one program yields."""

    file: str
    sha256: str
    lines: int
    """Text lines."""
    blocks: int
    """Blocks executed, loops unrolled."""
    text: tuple[str, ...]
    """The text lines, so that an answer can show the one it speaks of; includes supplied subprograms only by `Moves.line` of
    the call."""
    units: str
    """``mm``, ``inch`` or ``not stated`` (then lengths are in the file's own unit)."""
    moves: Moves
    arcs: Arcs
    frames: Frames
    events: tuple[Event, ...]
    problems: tuple[Problem, ...]
    final: ModalState
    """After the end: M2 and M30 reset much of the state (NISTIR 6556, 3.6.1)."""
    before_end: ModalState
    """Just before the end: what the program itself left on."""
    parameters: dict[int, float]
    """Numbered parameters that the program set, at the end."""
    end_mm: tuple[float | None, float | None, float | None]
    """Position at the end in the active system, file units; None where not known."""
    control_used: tuple[str, ...]
    """`machine.control.*` paths whose answer the machine gave and the reading used."""
    supplied: tuple[tuple[str, str], ...] = ()
    """Files beside the program that calls were answered from, and folders looked through for them, with their stamps (`Sources.stamps`)."""
