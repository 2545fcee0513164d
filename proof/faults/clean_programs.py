"""Four clean programs more, written for the demo's machine and each held against its drawing: what the demo's good jobs do not do.

Invented here. Sizes are chosen so that every question that is asked is clear on the demo's machine.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from manifold3d import Manifold as Solid

from firstoff.demo.programs import CH90, DR25, DR42, EM3, EM6, FACE16, RUN_UP_S
from firstoff.write.blocks import Coolant, ReturnTo
from firstoff.write.contouring import Chamfer, Contour, chamfer, contour
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.language import Language
from firstoff.write.outline import circle, rectangle
from firstoff.write.pocketing import Pocket, Slot, Trochoid, pocket, slot
from firstoff.write.program import Program, Section, write_program
from firstoff.write.tooling import Cut, Heights, Spindle

SIDES = 120
DRILL_POINT_DEG = 140.0


@dataclass(frozen=True, slots=True)
class CleanJob:
    """A job by its texts and its drawing."""

    name: str
    words: str
    program: Callable[[Language], str]
    job: str
    drawing: Callable[[], bytes]


# --- drawings ------------------------------------------------------------------------------------------------------------


def _block(x: tuple[float, float], y: tuple[float, float], z: tuple[float, float]) -> Solid:
    return Solid.cube((x[1] - x[0], y[1] - y[0], z[1] - z[0])).translate((x[0], y[0], z[0]))


def _round(x: float, y: float, across: float, z: tuple[float, float]) -> Solid:
    return Solid.cylinder(z[1] - z[0], across / 2, across / 2, SIDES).translate((x, y, z[0]))


def _drilled(x: float, y: float, across: float, tip: float, top: float) -> Solid:
    high = across / 2 / math.tan(math.radians(DRILL_POINT_DEG / 2))
    point = Solid.cylinder(high, 0.001, across / 2, SIDES).translate((x, y, tip))
    return point + _round(x, y, across, (tip + high, top))


def _rounded(x: tuple[float, float], y: tuple[float, float], radius: float, z: tuple[float, float]) -> Solid:
    middles = [(u, v) for u in (x[0] + radius, x[1] - radius) for v in (y[0] + radius, y[1] - radius)]
    return Solid.batch_hull([_round(u, v, 2 * radius, z) for u, v in middles])


def _stl(solid: Solid) -> bytes:
    """Binary STL."""
    mesh = solid.to_mesh()
    corners = np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]
    rows = np.zeros(len(corners), np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("colour", "<u2")]))
    rows["corners"] = corners
    return b"drawing, mm".ljust(80) + len(rows).to_bytes(4, "little") + rows.tobytes()


# --- valve plate: faced, a pocket with its walls, drilled by both cycles; vice ---------------------------------------------

PLATE_G81 = ((5.0, 5.0), (45.0, 5.0), (45.0, 31.0), (5.0, 31.0))
PLATE_G83 = ((5.0, 18.0), (45.0, 18.0), (25.0, 4.5), (25.0, 31.5))


def valve_plate(language: Language) -> str:
    """50 × 36 mm, zero at the finished top, front left."""
    high = Heights(safe_z_mm=12.0, approach_z_mm=3.0)
    faced = face(Face(0, 50, 0, 36, 0.3, 0.0, 0.3, 9.0), FACE16, Cut(1400, 400), high)
    cleared = pocket(Pocket(12, 38, 10, 26, 0.0, -4.0, 0.15, lane_mm=12.0), Trochoid(0.5, 0.3, 4.0), EM6, Cut(1500, 600), high)  # fmt: skip
    inside = rectangle((12, 10), (38, 26), 4)
    walls = contour(Contour(inside, 0.0, -4.0, 4.0, 2.5, inside=True), EM6, Cut(1200, 600), high)
    thin = drill(Holes(PLATE_G81, 0.0, -6.0, None), DR25, Cut(360, 360), high)
    thick = drill(Holes(PLATE_G83, 0.0, -9.0, 3.0, ReturnTo.APPROACH), DR42, Cut(420, 420), high)
    flood = Coolant.FLOOD
    sections = (
        Section(FACE16, Spindle(14000, RUN_UP_S, coolant=flood), (faced,)),
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (cleared, walls)),
        Section(DR25, Spindle(9000, RUN_UP_S, coolant=flood), (thin,)),
        Section(DR42, Spindle(6500, RUN_UP_S, coolant=flood), (thick,)),
    )
    return write_program(Program("VALVE-PLATE", sections, high.safe_z_mm), language)


def valve_plate_drawing() -> bytes:
    solid = _block((0, 50), (0, 36), (-12, 0)) - _rounded((12, 38), (10, 26), 4, (-4, 1))
    for x, y in PLATE_G81:
        solid -= _drilled(x, y, 2.5, -6, 1)
    for x, y in PLATE_G83:
        solid -= _drilled(x, y, 4.2, -9, 1)
    return _stl(solid)


VALVE_PLATE_JOB = """\
program = "program.nc"
material = "al-6082"
target = "drawing.stl"

[tools]
1 = "face16"
2 = "em6"
5 = "dr25"
9 = "dr42"

[offset.G54]
at = { value = ["104.60(2) mm", "97.30(2) mm", "-158.90(2) mm"], evidence = "measured" }
zero = "finished top, front left corner"

[stock]
box = ["0.00(5) mm .. 50.00(5) mm", "0.00(5) mm .. 36.00(5) mm", "-12.00(5) mm .. 0.30(5) mm"]

[around]
highest_around = { value = "-5.0(1) mm", evidence = "measured" }
allowed_below  = { value = "-11.5 mm", evidence = "set" }

[holding]
kind = "vice"
force = { value = "2.2(3) kN", evidence = "measured" }
friction = "0.15(4)"
grip_height = { value = "7.0(1) mm", evidence = "measured" }
jaw_width = { value = "50.0(2) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"

[ask]
target_band = "0.25 mm"
"""


# --- guide block: zero at the bottom, contours with compensation; clamps ---------------------------------------------------


def guide_block(language: Language) -> str:
    """64 × 48 × 9 mm in POM: two round pockets, finished with compensation. Zero at the bottom, middle."""
    high = Heights(safe_z_mm=24.0, approach_z_mm=12.0)
    cleared = slot(Slot((-11, 0), (-11, 0), 15.6, 9.0, 4.0), Trochoid(0.5, 0.4, 5.0), EM6, Cut(1500, 600), high)
    finish = Contour(circle((-11, 0), 16), 9.0, 4.0, 1.7, 4.0, 3.5, inside=True, compensated=True)
    walls = contour(finish, EM6, Cut(1200, 500), high)
    second = slot(Slot((12, 0), (12, 0), 13.6, 9.0, 6.0), Trochoid(0.5, 0.4, 3.0), EM6, Cut(1500, 600), high)
    finish = Contour(circle((12, 0), 14), 9.0, 6.0, 1.5, 3.3, 3.2, inside=True, compensated=True)
    rings = contour(finish, EM6, Cut(1200, 500), high)
    holes = drill(Holes(((12, 0), (-25, 15), (25, 15), (25, -15), (-25, -15)), 9.0, 1.5, 2.5), DR25, Cut(480, 480), high)  # fmt: skip
    sections = (
        Section(EM6, Spindle(20000, RUN_UP_S), (cleared, walls, second, rings)),
        Section(DR25, Spindle(8000, RUN_UP_S), (holes,)),
    )
    return write_program(Program("GUIDE-BLOCK", sections, high.safe_z_mm), language)


def guide_block_drawing() -> bytes:
    solid = _block((-32, 32), (-24, 24), (0, 9)) - _round(-11, 0, 16, (4, 10))
    solid -= _round(12, 0, 14, (6, 10))
    for x, y in ((12, 0), (-25, 15), (25, 15), (25, -15), (-25, -15)):
        solid -= _drilled(x, y, 2.5, 1.5, 10)
    return _stl(solid)


GUIDE_BLOCK_JOB = """\
program = "program.nc"
material = "pom"
target = "drawing.stl"

[tools]
2 = "em6"
5 = "dr25"

[offset.G54]
at = { value = ["136.20(2) mm", "112.40(2) mm", "-170.30(2) mm"], evidence = "measured" }
zero = "bottom of the plate, in the middle between the clamps"

[stock]
box = ["-32.00(5) mm .. 32.00(5) mm", "-24.00(5) mm .. 24.00(5) mm", "0.00(5) mm .. 9.00(5) mm"]

[around]
highest_around = { value = "15.0(3) mm", evidence = "measured" }
allowed_below  = { value = "-0.5 mm", evidence = "set" }

[[fixture]]
name = "left clamp"
box = ["-45 mm .. -28.0(2) mm", "-6.0(3) mm .. 6.0(3) mm", "9 mm .. 15.0(3) mm"]

[[fixture]]
name = "right clamp"
box = ["28.0(2) mm .. 45 mm", "-6.0(3) mm .. 6.0(3) mm", "9 mm .. 15.0(3) mm"]

[holding]
kind = "clamps"
count = 2
force = { value = "0.9(2) kN", evidence = "measured" }
friction = "0.2(1)"
span = { value = "60.0(5) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"

[ask]
target_band = "0.25 mm"
"""


# --- bore plate: helices and round pockets; vice -------------------------------------------------------------------------------

BORES = ((10.0, 9.0, 9.0, -6.0), (10.0, 27.0, 9.0, -6.0), (44.0, 18.0, 10.0, -5.0))


def bore_plate(language: Language) -> str:
    """54 × 36 mm in aluminium: three helical bores and a round pocket, a chamfer round it. Zero at the top, front left."""
    high = Heights(safe_z_mm=14.0, approach_z_mm=3.0)
    bored = [bore(Bore((x, y), across, 0.0, z, 0.4), EM6, Cut(900, 400), high) for x, y, across, z in BORES]
    middle = slot(Slot((27, 18), (27, 18), 16.0, 0.0, -4.0), Trochoid(0.5, 0.3, 4.0), EM6, Cut(1500, 600), high)
    label = slot(Slot((38, 6), (48, 6), 3.9, 0.0, -1.2), Trochoid(0.35, 0.2, 2.0), EM3, Cut(900, 400), high)
    flood = Coolant.FLOOD
    sections = (
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (*bored, middle)),
        Section(EM3, Spindle(24000, RUN_UP_S, coolant=flood), (label,)),
    )
    return write_program(Program("BORE-PLATE", sections, high.safe_z_mm), language)


def bore_plate_drawing() -> bytes:
    solid = _block((0, 54), (0, 36), (-11, 0)) - _round(27, 18, 16, (-4, 1))
    for x, y, across, z in BORES:
        solid -= _round(x, y, across, (z, 1))
    solid -= Solid.batch_hull([_round(x, 6, 3.9, (-1.2, 1)) for x in (38, 48)])
    return _stl(solid)


BORE_PLATE_JOB = """\
program = "program.nc"
material = "al-6082"
target = "drawing.stl"

[tools]
2 = "em6"
3 = "em3"

[offset.G54]
at = { value = ["118.40(2) mm", "84.10(2) mm", "-160.20(2) mm"], evidence = "measured" }
zero = "top, front left corner"

[stock]
box = ["0.00(5) mm .. 54.00(5) mm", "0.00(5) mm .. 36.00(5) mm", "-11.00(5) mm .. 0.00(5) mm"]

[around]
highest_around = { value = "-4.0(1) mm", evidence = "measured" }
allowed_below  = { value = "-10.5 mm", evidence = "set" }

[holding]
kind = "vice"
force = { value = "2.2(3) kN", evidence = "measured" }
friction = "0.15(4)"
grip_height = { value = "6.5(1) mm", evidence = "measured" }
jaw_width = { value = "54.0(2) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"

[ask]
target_band = "0.25 mm"
"""


# --- terminal strip: many holes and a groove, one of each depth; vice ------------------------------------------------------------

ROW = tuple((8.0 + 9.0 * k, 6.0) for k in range(5))
DEEP_ROW = tuple((8.0 + 9.0 * k, 22.0) for k in range(5))


def terminal_strip(language: Language) -> str:
    """52 × 28 mm in aluminium: faced, a chamfered outline, two rows of holes. Zero at the finished top, front left."""
    high = Heights(safe_z_mm=13.0, approach_z_mm=3.0)
    faced = face(Face(-1, 53, -1, 29, 0.3, 0.0, 0.3, 9.0), FACE16, Cut(1400, 400), high)
    outside = rectangle((0, 0), (52, 28), 4)
    around = contour(Contour(outside, 0.0, -4.0, 4.0, 3.5), EM6, Cut(1200, 600), high)
    short = drill(Holes(ROW, 0.0, -7.0, None), DR42, Cut(420, 420), high)
    deep = drill(Holes(DEEP_ROW, 0.0, -11.0, 2.5), DR25, Cut(360, 360), high)
    edge = chamfer(Chamfer(outside, 0.0, 0.3, lead_radius_mm=2.5), CH90, Cut(1300, 400), high)
    flood = Coolant.FLOOD
    sections = (
        Section(FACE16, Spindle(14000, RUN_UP_S, coolant=flood), (faced,)),
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (around,)),
        Section(DR42, Spindle(6500, RUN_UP_S, coolant=flood), (short,)),
        Section(DR25, Spindle(9000, RUN_UP_S, coolant=flood), (deep,)),
        Section(CH90, Spindle(18000, RUN_UP_S, coolant=flood), (edge,)),
    )
    return write_program(Program("TERMINAL-STRIP", sections, high.safe_z_mm), language)


def terminal_strip_drawing() -> bytes:
    """Above Z−4 the strip, below it the rest of the blank, which a later clamping takes off."""
    solid = _rounded((0, 52), (0, 28), 4, (-4.5, -0.3))
    solid += Solid.batch_hull(
        [_rounded((0, 52), (0, 28), 4, (-0.31, -0.3)), _rounded((0.3, 51.7), (0.3, 27.7), 3.7, (-0.3, 0))]
    )
    solid += _block((-1, 53), (-1, 29), (-13, -4))
    for x, y in ROW:
        solid -= _drilled(x, y, 4.2, -7, 1)
    for x, y in DEEP_ROW:
        solid -= _drilled(x, y, 2.5, -11, 1)
    return _stl(solid)


TERMINAL_STRIP_JOB = """\
program = "program.nc"
material = "al-6082"
target = "drawing.stl"

[tools]
1 = "face16"
2 = "em6"
5 = "dr25"
6 = "ch90"
9 = "dr42"

[offset.G54]
at = { value = ["108.10(2) mm", "120.70(2) mm", "-158.60(2) mm"], evidence = "measured" }
zero = "finished top, front left corner"

[stock]
box = ["-1.00(5) mm .. 53.00(5) mm", "-1.00(5) mm .. 29.00(5) mm", "-13.00(5) mm .. 0.30(5) mm"]

[around]
highest_around = { value = "-5.5(1) mm", evidence = "measured" }
allowed_below  = { value = "-12.5 mm", evidence = "set" }

[holding]
kind = "vice"
force = { value = "2.2(3) kN", evidence = "measured" }
friction = "0.15(4)"
grip_height = { value = "7.0(1) mm", evidence = "measured" }
jaw_width = { value = "54.0(2) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"

[ask]
target_band = "0.25 mm"
"""


OWN_JOBS = (
    CleanJob(
        "valve-plate",
        "faced, a pocket and its walls, holes by G81 and by G83 with G99",
        valve_plate,
        VALVE_PLATE_JOB,
        valve_plate_drawing,
    ),
    CleanJob(
        "guide-block",
        "two pockets finished with G41, five holes, zero at the bottom, clamps",
        guide_block,
        GUIDE_BLOCK_JOB,
        guide_block_drawing,
    ),
    CleanJob("bore-plate", "helices, a round pocket, a slot", bore_plate, BORE_PLATE_JOB, bore_plate_drawing),
    CleanJob(
        "terminal-strip",
        "faced, an outline, two rows of holes, a chamfer",
        terminal_strip,
        TERMINAL_STRIP_JOB,
        terminal_strip_drawing,
    ),
)
