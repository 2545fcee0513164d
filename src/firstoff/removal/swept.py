"""What following a program through its stock yields. Loads and the verdict read this; only `removal` makes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.assembly import Part
from firstoff.path.pieces import Stations
from firstoff.program.moves import Floats, Ints
from firstoff.removal.field import Field

ANGLES = 90
"""Directions round the front half of the cutter that engagement is sampled in, 2 degrees each: bin k covers −90 + 2k .. −88 + 2k
degrees from the way of travel seen from above, counter-clockwise positive."""
SLICES = 8
"""Rows of samples up the sloped part of an edge (ball, corner radius, taper, point), fitted to the height that is engaged."""
RINGS = 6
"""Rings of samples over the end face of a tool that goes down."""


@dataclass(frozen=True, slots=True)
class Engagement:
    """Which edge stands in material at each station of a chunk, sampled just before the station cuts. Rows that cut nothing are all 0.

    `side_mm` f4[M, ANGLES]: height of material along the straight, upright part of the edge (from where the sloped part ends), at most
    what is usable. `slope` f4[M, SLICES, ANGLES] 0..1: share of each slice of the sloped part that stands in material; slice k lies
    between `slope_z_mm` f4[M, SLICES + 1] above the tip. `end` f4[M, RINGS, ANGLES·2] 0..1: share of the end face in material, over
    the whole turn (bin k covers 2 degrees from −180), for stations that go down; what slopes has its front half in `slope`, so here it
    is filled only behind (beyond ±90). `profile.slice_radii` and `profile.ring_radii` give the radii of slices and rings. Straight down
    there is no way across: angles are then told from X. `volume_mm3` f8[M]: cells really taken away there.
    `axial_mm` f4[M], `radial_mm` f4[M]: depth of cut along the axis and width across the way. `making` i1[M]: bit 1 = makes a wall on
    its left, 2 = on its right, 4 = makes a floor.
    """

    stations: Stations
    side_mm: NDArray[np.float32]
    slope: NDArray[np.float32]
    slope_z_mm: NDArray[np.float32]
    end: NDArray[np.float32]
    volume_mm3: Floats
    axial_mm: NDArray[np.float32]
    radial_mm: NDArray[np.float32]
    making: NDArray[np.int8]


@dataclass(frozen=True, slots=True)
class Contact:
    """How near one part of the tool came to something it must not touch: the least signed gap of one tool's stretch."""

    move: int
    tool: int
    part: Part
    against: str
    """``stock`` or the name of a fixture."""
    gap_mm: float
    """Negative: into it."""
    u_grid_mm: float
    """Standard uncertainty that the grid brings."""
    upward: bool
    """The gap is parted along Z; else sideways."""
    fresh: bool
    """The stock there is still the blank's own face."""
    rapid: bool
    tip_mm: tuple[float, float, float]
    at_mm: tuple[float, float, float]
    """The place of the cell that is nearest."""


@dataclass(frozen=True, slots=True)
class FirstCut:
    """Where a tool first takes anything away after it was called."""

    tool: int
    called_by: int
    """First move made with it in the spindle."""
    move: int
    tip_mm: tuple[float, float, float]
    axial_mm: float
    radial_mm: float
    height_mm: float
    """Height of the stock's surface where it meets it, work frame."""


@dataclass(frozen=True, slots=True)
class PerMove:
    """One row a move, f4[N] (f8 for volume)."""

    volume_mm3: Floats
    axial_mm: NDArray[np.float32]
    """Greatest axial depth of cut."""
    radial_mm: NDArray[np.float32]
    """Greatest width of cut. NaN where the sweep did not sample its edges (the smallest blank's)."""
    above_flute_mm: NDArray[np.float32]
    """How far above the usable edge (APMX) material was met at feed; 0 = never. NaN where APMX is not known. What stands at the very flank
    (`profile.SLIVER_MM`) does not count: the grid cannot tell it from the wall that the tool has cut."""
    dead_mm: NDArray[np.float32]
    """Deepest cut that the dead centre of the tool had to make while going down; 0 = none."""
    lowest_mm: NDArray[np.float32]
    """Lowest Z at which it took anything away, work frame; NaN where it took nothing."""
    cut_share: NDArray[np.float32]
    """Share of its way on which it took anything away."""
    beside_share: NDArray[np.float32] | None = None
    """Share of its way at feed on which stock stood beside the edge, within a cell: what lies nearer than that is not told from nothing.
    None where nobody looked."""
    standing_mm: NDArray[np.float32] | None = None
    """Greatest axial depth of cut of what stands farther within its flank than `profile.SLIVER_MM`. None where nobody looked."""
    across_mm: NDArray[np.float32] | None = None
    """Greatest width across the way of the cells that were cut: known to a cell only, but told by every sweep, sampled or not, so that two
    sweeps can be held against each other. None where nobody looked."""

    @property
    def compared_mm(self) -> NDArray[np.float32]:
        """f4[N] width as it is held against that of another sweep."""
        return self.radial_mm if self.across_mm is None else self.across_mm

    @property
    def wide_mm(self) -> NDArray[np.float32]:
        """f4[N] width as it is told: as sampled, or else that of the cells."""
        return np.where(np.isnan(self.radial_mm), self.compared_mm, self.radial_mm)


@dataclass(frozen=True, slots=True)
class Swept:
    """A program followed through one blank."""

    before: Field
    after: Field
    maker: Ints
    """i4[rows, columns] the move that last lowered a cell; -1 = nobody."""
    moves: PerMove
    contacts: tuple[Contact, ...]
    first_cuts: tuple[FirstCut, ...]
    residual: float
    """Largest relative difference, over windows of 5 mm of way and more, between volume taken and area swept: what the grid costs. NaN where edges were not sampled."""
    unfollowed: tuple[int, ...]
    """Moves of tools whose shape is not known: the stock is uncertain from the first of them on."""


@dataclass(frozen=True, slots=True)
class Floor:
    """A level part of the finished surface made by one tool in one frame of heights."""

    tool: int
    z_mm: float
    """Height of the tip that made it, work frame."""
    area_mm2: float
    move: int
    """One of the moves that made it."""
    at_mm: tuple[float, float]
    """A cell of it."""


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two floors of the same height by two tools (or one tool called twice) that lie side by side."""

    first: Floor
    second: Floor
    along_mm: float
    """Length of the border between them."""


@dataclass(frozen=True, slots=True)
class ThinWall:
    """Material that stands between two walls of the finished part."""

    thickness_mm: float
    height_mm: float
    length_mm: float
    move: int
    """The move that made its weaker side last."""
    at_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Piece:
    """A body that the last cut leaves: the part, or a slug that comes free."""

    volume_mm3: float
    lowest_mm: float
    held_area_mm2: float
    """Its area at the bottom of the blank: what table, tape or jaws can hold."""
    freed_by: int
    """The move that parted it from the rest; -1 if nothing was parted."""
    at_mm: tuple[float, float]
    at_rim: bool = True
    """Whether it reaches the rim of the blank seen from above, where clamps, screws and jaws hold; a body that does not stands within the cut."""


@dataclass(frozen=True, slots=True)
class Surfaces:
    """What is left at the end, read from heights and makers."""

    wall_moves: NDArray[np.bool_]
    """bool[N]: a wall made by this move still stands, over a part of its height at least."""
    floor_moves: NDArray[np.bool_]
    """bool[N]: a floor made by this move still stands."""
    cusp_moves: NDArray[np.bool_]
    """bool[N]: a sloped or curved surface made by this move still stands."""
    cusp_mm: NDArray[np.float32]
    """f4[N] side step to the neighbouring pass of that surface, mm; 0 where there is none."""
    floors: tuple[Floor, ...]
    meetings: tuple[Meeting, ...]
    thin_walls: tuple[ThinWall, ...]
    pieces: tuple[Piece, ...]
    untouched_top_mm2: float
    """Area of the blank's own top that nothing ever cut, inside the ground that was faced (0 where nothing faces)."""
    wall_side: NDArray[np.int8] | None = None
    """i1[N] on which side of the way the walls of `wall_moves` stand: 1 left, 2 right, 3 both, 0 none. None where nobody looked."""
    walls_mm: Floats | None = None
    """f8[N, 3, 2] least and greatest X, Y and Z of the walls that each move made, work frame; NaN where none. None where nobody looked."""
