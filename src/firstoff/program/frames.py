"""Origins while a program runs: work systems, shifts and tool lengths, kept as names with shifts, never as sums.

Each axis has its own origin, a `Place`: something with a name (`Base`) and a shift from it in mm. Only where two places hang on the
same name, or where `Start` gives numbers, can a coordinate of one be told in the other.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from firstoff.program.moves import NO_LENGTH, Base, Frames
from firstoff.program.state import Start, State

MOST_FRAMES = 32_000
"""Rows an i2 can number; a program that sets its zero this often is not a program of a person's."""

ROTARY = "a rotary axis"
"""Veil that hides where the part is, not where the machine is."""
UNKNOWN_ROW = 0
"""The frame of an axis whose position is not known."""


class Place(NamedTuple):
    """The origin of one axis."""

    base: int
    shift_mm: float = 0.0


class Row(NamedTuple):
    """One row of `Frames`."""

    places: tuple[Place, Place, Place]
    length: int
    system: int


@dataclass(slots=True)
class Offset:
    """A G92 offset of one axis. Where it was set from a place that hangs on another name than the system's, it holds only there."""

    shift_mm: float = 0.0
    pinned: Place | None = None
    system: int = -1
    """The system in which `pinned` holds."""

    @property
    def acts(self) -> bool:
        return self.shift_mm != 0.0 or self.pinned is not None


def _three_offsets() -> list[Offset]:
    return [Offset(), Offset(), Offset()]


@dataclass(slots=True)
class Origins:
    """Every origin in force, the table of frames made so far, and what is given of both at the start."""

    start: Start
    rows: list[Row] = field(default_factory=list)
    systems: dict[int, list[Place]] = field(default_factory=dict)
    """Systems that the program wrote; any other has its own name as its base."""
    g92: list[Offset] = field(default_factory=_three_offsets)
    g92_kept: list[Offset] | None = None
    """What G92.2 suspended and G92.3 brings back."""
    g52: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    g52_system: int | None = None
    """The only system that G52 shifts; None = all."""
    length_mm: float = 0.0
    """A length given in the program itself (G43.1)."""
    unknown_length: bool = False
    """The length in force is not known, not even by register."""
    full: bool = False
    """More frames were made than can be numbered; those that did not fit are `UNKNOWN_ROW`."""
    _index: dict[Row, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.row_of_base(Base.UNKNOWN, Base.G54)

    def place(self, system: int, axis: int) -> Place:
        """Origin of a work system, without shifts."""
        written = self.systems.get(system)
        return Place(system) if written is None else written[axis]

    def write(self, system: int, axis: int, place: Place) -> None:
        """G10: the program itself sets an origin."""
        self.systems.setdefault(system, [Place(system)] * 3)[axis] = place

    def active(self, state: State) -> Row:
        """The frame in which words are read now."""
        places = tuple(self._active_place(state, axis) for axis in range(3))
        return Row((places[0], places[1], places[2]), state.length, state.system)

    def _active_place(self, state: State, axis: int) -> Place:
        if state.veil - {ROTARY}:
            return Place(Base.UNKNOWN)
        if axis == 2 and self.unknown_length:
            return Place(Base.UNKNOWN)
        place = self.place(state.system, axis)
        offset = self.g92[axis]
        if offset.pinned is not None:
            place = offset.pinned if offset.system == state.system else Place(Base.UNKNOWN)
        shift = place.shift_mm + offset.shift_mm
        if self.g52_system in (None, state.system):
            shift += self.g52[axis]
        if axis == 2:
            shift += self.length_mm
        return Place(place.base, shift if place.base != Base.UNKNOWN else 0.0)

    def set_g92(self, state: State, axis: int, value_mm: float) -> bool:
        """The axis now reads `value_mm` where it stands, in this system and all others (NISTIR 6556, 3.5.18).

        False where the new origin cannot be told: it is unknown then.
        """
        offset = self.g92[axis] = Offset()
        frame = state.axis_frame(axis)
        new = self.active(state)
        apart = self.apart(axis, frame, self.row(new), by_start=True)
        if apart is not None:
            offset.shift_mm = state.position(axis) + apart - value_mm
            return True
        here = self.at(frame, axis)
        offset.system = state.system
        longer = self._longer(frame, axis, new.length)
        if here.base == Base.UNKNOWN or longer is None:
            offset.pinned = Place(Base.UNKNOWN)
            return False
        others = self.g52[axis] if self.g52_system in (None, state.system) else 0.0
        others += self.length_mm if axis == 2 else 0.0
        offset.pinned = Place(here.base, here.shift_mm + longer + state.position(axis) - value_mm - others)
        return True

    def set_here(self, state: State, system: int, axis: int, value_mm: float) -> bool:
        """G10 L20: the origin of `system` such that the axis, where it stands, reads `value_mm` in it. False: it is unknown now."""
        frame = state.axis_frame(axis)
        here = self.at(frame, axis)
        others = self.g92[axis].shift_mm + (self.g52[axis] if self.g52_system in (None, system) else 0.0)
        others += self.length_mm if axis == 2 else 0.0
        longer = self._longer(frame, axis, state.length)
        if here.base == Base.UNKNOWN or self.g92[axis].pinned is not None or longer is None:
            self.write(system, axis, Place(Base.UNKNOWN))
            return False
        self.write(system, axis, Place(here.base, here.shift_mm + longer + state.position(axis) - value_mm - others))
        return True

    def _longer(self, frame: int, axis: int, register: int) -> float | None:
        """By how much the length that acts in `frame` exceeds that in `register`, mm; None where nobody knows."""
        if axis != 2 or self.rows[frame].length == register:
            return 0.0
        old, new = self._length(self.rows[frame].length), self._length(register)
        return None if old is None or new is None else old - new

    def row(self, row: Row) -> int:
        """Number of a frame, made if it is new."""
        number = self._index.get(row)
        if number is None and len(self.rows) >= MOST_FRAMES:
            self.full = True
            return UNKNOWN_ROW
        if number is None:
            number = self._index[row] = len(self.rows)
            self.rows.append(row)
        return number

    def row_of_base(self, base: int, system: int, length: int = NO_LENGTH) -> int:
        """Number of the frame whose three origins are `base` itself."""
        return self.row(Row((Place(base), Place(base), Place(base)), length, system))

    def at(self, frame: int, axis: int) -> Place:
        return self.rows[frame].places[axis]

    def apart(self, axis: int, old: int, new: int, by_start: bool) -> float | None:
        """What to add to a coordinate of frame `old` to tell it in frame `new`, mm; None where nobody knows.

        `by_start` also uses the numbers of `Start`, which are estimates of facts; without it only what is certain counts.
        """
        if old == new:
            return 0.0
        a, b = self.at(old, axis), self.at(new, axis)
        if Base.UNKNOWN in (a.base, b.base):
            return None
        difference = a.shift_mm - b.shift_mm
        if a.base != b.base:
            origins = (self._origin(a.base, axis), self._origin(b.base, axis))
            if not by_start or origins[0] is None or origins[1] is None:
                return None
            difference += origins[0] - origins[1]
        if axis == 2 and self.rows[old].length != self.rows[new].length and not by_start:
            return None
        longer = self._longer(old, axis, self.rows[new].length)
        return None if longer is None else difference + longer

    def _origin(self, base: int, axis: int) -> float | None:
        if base == Base.MACHINE:
            return 0.0
        origin = self.start.origins_mm.get(base)
        return None if origin is None else origin[axis]

    def _length(self, register: int) -> float | None:
        return 0.0 if register == NO_LENGTH else self.start.lengths_mm.get(register)

    def frozen(self) -> Frames:
        """The table as arrays."""
        count = len(self.rows)
        base = np.array([[place.base for place in row.places] for row in self.rows], np.int16).reshape(count, 3)
        shift = np.array([[place.shift_mm for place in row.places] for row in self.rows], np.float64).reshape(count, 3)
        length = np.array([row.length for row in self.rows], np.int32)
        system = np.array([row.system for row in self.rows], np.int16)
        for array in (base, shift, length, system):
            array.setflags(write=False)
        return Frames(base, shift, length, system)
