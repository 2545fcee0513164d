"""The five good programs of the demo shop and its warm-up, written for its machine."""

from __future__ import annotations

from firstoff.write.blocks import Arc, Block, Blocks, Coolant, Line
from firstoff.write.contouring import Chamfer, Contour, chamfer, contour
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.finishing import BallFinish, ball_finish, dome
from firstoff.write.language import Language
from firstoff.write.outline import Edge, circle, rectangle
from firstoff.write.pocketing import Pocket, Slot, Trochoid, pocket, slot
from firstoff.write.program import Program, Section, write_program
from firstoff.write.text import text_of
from firstoff.write.tooling import Cut, Heights, Spindle, Tool, come_down, go_up, parts
from firstoff.write.touching import TouchCheck
from firstoff.write.warming import WarmUp, warm_up

CUSP_MM = 0.0065
"""Height that two rows of the dome leave between them."""
RUN_UP_S = 4.5
"""Waited for after M3: the machine takes 3.4(2) s."""

FACE16 = Tool(1, "face16", 16.0)
EM6 = Tool(2, "em6", 6.0)
EM3 = Tool(3, "em3", 3.0)
DR25 = Tool(5, "dr25", 2.5)
CH90 = Tool(6, "ch90", 6.0)
B4 = Tool(7, "b4", 4.0)
DR42 = Tool(9, "dr42", 4.2)
EM15 = Tool(10, "em15", 1.5)


def logger_lid(language: Language) -> str:
    """60 × 40 mm in aluminium; zero at the finished top, front left."""
    high = Heights(safe_z_mm=12.0, approach_z_mm=3.0)
    outside, inside = rectangle((0, 0), (60, 40), 5), rectangle((15, 12), (45, 28), 5)
    faced = face(Face(-2, 62, -2, 42, 0.3, 0.0, 0.3, 9.0), FACE16, Cut(1400, 400), high)
    clearing = Pocket(15, 45, 12, 28, 0.0, -3.5, 0.15, lane_mm=12.0)
    cleared = pocket(clearing, Trochoid(0.5, 0.3, 4.0), EM6, Cut(1500, 600), high)
    cut6 = Cut(1200, 600)
    walls = contour(Contour(inside, 0.0, -3.5, 3.5, 3.0, inside=True), EM6, cut6, high)
    rough = contour(Contour(outside, 0.0, -5.2, 2.6, 3.5, allowance_mm=0.2), EM6, cut6, high)
    around = contour(Contour(outside, 0.0, -5.2, 5.2, 3.5), EM6, cut6, high)
    cut3, recess = Cut(900, 400), rectangle((15.9, 33.4), (44.1, 37.6), 2.1)
    label = slot(Slot((18, 35.5), (42, 35.5), 3.9, 0.0, -1.2), Trochoid(0.35, 0.2, 2.0), EM3, cut3, high)
    rim = contour(Contour(recess, 0.0, -1.2, 1.2, 0.5, 0.5, inside=True), EM3, cut3, high)
    holes = drill(Holes(((6, 6), (54, 6), (54, 34), (6, 34)), 0.0, -8.0, 2.5), DR25, Cut(360, 360), high)
    edge = chamfer(Chamfer(outside, 0.0, 0.3, lead_radius_mm=2.5), CH90, Cut(1300, 400), high)
    flood = Coolant.FLOOD
    sections = (
        Section(FACE16, Spindle(14000, RUN_UP_S, coolant=flood), (faced,)),
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (cleared, walls, rough, around)),
        Section(EM3, Spindle(24000, RUN_UP_S, coolant=flood), (label, rim)),
        Section(DR25, Spindle(9000, RUN_UP_S, coolant=flood), (holes,)),
        Section(CH90, Spindle(18000, RUN_UP_S, coolant=flood), (edge,)),
    )
    remarks = ("LID OF THE LOGGER, AL 6082-T6", "ZERO: FINISHED TOP, FRONT LEFT CORNER. JAWS AT Z-6 OR LOWER")
    return write_program(Program("LOGGER-LID", sections, high.safe_z_mm, remarks=remarks), language)


def cable_clip(language: Language) -> str:
    """32 × 18 mm in aluminium with a shelf, a slot right through and two deep holes; zero at the finished top, front left."""
    high = Heights(safe_z_mm=12.0, approach_z_mm=3.0)
    faced = face(Face(-1, 33, -1, 19, 0.4, 0.0, 0.4, 9.0), FACE16, Cut(1400, 400), high)
    cut6 = Cut(1300, 600)
    outside = rectangle((0, 0), (32, 18), 3)
    rough = contour(Contour(outside, 0.0, -5.5, 2.8, 3.5, allowance_mm=0.2), EM6, cut6, high)
    around = contour(Contour(outside, 0.0, -5.5, 5.5, 3.5), EM6, cut6, high)
    holes = drill(Holes(((8, 3.5), (8, 14.5)), 0.0, -11.5, 2.5), DR25, Cut(360, 360), high)
    flood = Coolant.FLOOD
    sections = (
        Section(FACE16, Spindle(14000, RUN_UP_S, coolant=flood), (faced,)),
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (rough, around, _shelf(cut6, high))),
        Section(EM3, Spindle(24000, RUN_UP_S, coolant=flood), (_open_slot(Cut(1000, 300), Cut(600, 300), high),)),
        Section(DR25, Spindle(9000, RUN_UP_S, coolant=flood), (holes,)),
    )
    remarks = ("CLIP OF THE CABLE, AL 6082-T6", "ZERO: FINISHED TOP, FRONT LEFT CORNER. JAWS AT Z-6.8 OR LOWER")
    return write_program(Program("CABLE-CLIP", sections, high.safe_z_mm, remarks=remarks), language)


def _shelf(cut: Cut, high: Heights) -> Blocks:
    """The right end taken down to Z-2.5 from X32 to X22, two millimetres at a time, every pass climb milling."""
    blocks: list[Block] = []
    for x in (33.0, 31.0, 29.0, 27.0, 25.0):
        blocks += come_down(x, 23.0, -2.5, cut, high)
        blocks += [Line(cut.feed_mm_per_min, y_mm=-5.0), go_up(high)]
    return tuple(blocks)


def _open_slot(rough: Cut, last: Cut, high: Heights) -> Blocks:
    """A slot from side to side, 3.5 wide and 6 deep: down its middle in two passes, then along each wall over its whole height."""
    left, right = -3.5, 35.5
    blocks: list[Block] = []
    for depth in (3.0, 6.0):
        blocks += [*come_down(left, 9.0, -depth, rough, high), Line(rough.feed_mm_per_min, x_mm=right), go_up(high)]
    for start, end, y in ((left, right, 8.75), (right, left, 9.25)):
        blocks += [*come_down(start, y, -6.0, last, high), Line(last.feed_mm_per_min, x_mm=end), go_up(high)]
    return tuple(blocks)


def sensor_cap(language: Language, cusp_mm: float = CUSP_MM, chord_mm: float = 0.0) -> str:
    """Ø30 in POM out of a 9 mm plate, a skin of 0.3 left under it; zero at the top of the plate, in its middle. `chord_mm`: the circles of the
    cut-out as lines of that length."""
    high = Heights(safe_z_mm=15.0, approach_z_mm=3.0)
    pad = BallFinish(dome((0, 0), -0.1, 45.0), -8, 8, -8, 8, -2.0, 0.005, cusp_mm)
    domed = ball_finish(pad, B4, Cut(1500, 400), high)
    bored = bore(Bore((0, 0), 8.0, 0.0, -8.7, 0.8), EM6, Cut(1200, 500), high)
    cut_out = contour(Contour(circle((0, 0), 30), 0.0, -8.7, 3.0, 2.5), EM6, Cut(1600, 500), high)
    if chord_mm > 0:
        cut_out = _in_chords(cut_out, chord_mm)
    holes = drill(Holes(((26, -18), (26, 18), (-26, 18), (-26, -18)), 0.0, -8.0, 2.5), DR25, Cut(480, 480), high)
    check = TouchCheck(0.0, 0.0, stock_top_z_mm=0.0, gap_mm=10.0, stock_doubt_mm=0.3)
    sections = (
        Section(B4, Spindle(24000, RUN_UP_S), (domed,), check),
        Section(DR25, Spindle(8000, RUN_UP_S), (holes,)),
        Section(EM6, Spindle(20000, RUN_UP_S), (bored, cut_out)),
    )
    remarks = ("CAP OF THE PRESSURE SENSOR, POM", "ZERO: TOP OF THE PLATE, MIDDLE. CLAMPS UP TO Z6")
    return write_program(Program("SENSOR-CAP", sections, high.safe_z_mm, remarks=remarks), language)


def clamp_ring(language: Language) -> str:
    """Ø40/Ø18 in aluminium out of an 8 mm plate; zero at the bottom of the plate, in its middle."""
    high = Heights(safe_z_mm=22.0, approach_z_mm=11.0)
    cut6 = Cut(1500, 600)
    middle = slot(Slot((0, 0), (0, 0), 18.0, 8.0, -0.3), Trochoid(0.5, 0.3, 4.2), EM6, cut6, high)
    at = ((14.5, 0.0), (-7.25, 12.557), (-7.25, -12.557))
    holes = drill(Holes(at, 8.0, -1.3, 3.0), DR42, Cut(420, 420), high)
    edge = chamfer(Chamfer(circle((0, 0), 40), 8.0, 0.4), CH90, Cut(1300, 400), high)
    outside = Contour(circle((0, 0), 40), 8.0, -0.3, 2.1, 4.0, 9.5, compensated=True)
    cut_out = contour(outside, EM6, Cut(1000, 500), high)
    flood = Coolant.FLOOD
    sections = (
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (middle,)),
        Section(DR42, Spindle(6500, RUN_UP_S, coolant=flood), (holes,)),
        Section(CH90, Spindle(18000, RUN_UP_S, coolant=flood), (edge,)),
        Section(EM6, Spindle(20000, RUN_UP_S, coolant=flood), (cut_out,)),
    )
    remarks = ("RING OF THE CABLE CLAMP, AL 6082-T6", "ZERO: BOTTOM OF THE PLATE, MIDDLE. D2 BELONGS TO em6")
    return write_program(Program("CLAMP-RING", sections, high.safe_z_mm, remarks=remarks), language)


def vent_plug(language: Language) -> str:
    """Ø24 in POM; zero at the top of the blank, in its middle."""
    high = Heights(safe_z_mm=12.0, approach_z_mm=3.5)
    shoulder = contour(Contour(circle((0, 0), 24), 0.0, -7.0, 3.5, 2.5), EM6, Cut(1600, 500), high)
    vent = slot(Slot((-6, 0), (6, 0), 2.2, 0.0, -1.0), Trochoid(0.15, 0.1, 1.0), EM15, Cut(700, 250), high)
    sections = (
        Section(EM6, Spindle(20000, RUN_UP_S), (shoulder,)),
        Section(EM15, Spindle(26000, RUN_UP_S), (vent,)),
    )
    remarks = ("PLUG WITH VENT, POM", "ZERO: TOP OF THE BLANK, MIDDLE")
    return write_program(Program("VENT-PLUG", sections, high.safe_z_mm, remarks=remarks), language)


def _in_chords(blocks: Blocks, chord_mm: float) -> Blocks:
    """Level arcs written as short lines."""
    written: list[Block] = []
    at = (0.0, 0.0)
    for block in blocks:
        if isinstance(block, Arc) and block.z_mm is None:
            edge = Edge(at, (block.x_mm, block.y_mm), (block.centre_x_mm, block.centre_y_mm), block.clockwise)
            count = parts(edge.length_mm, chord_mm)
            written += [Line(block.feed_mm_per_min, *edge.at(k / count)) for k in range(1, count + 1)]
        else:
            written.append(block)
        x, y = getattr(block, "x_mm", None), getattr(block, "y_mm", None)
        at = (at[0] if x is None else x, at[1] if y is None else y)
    return tuple(written)


def warming_up(language: Language) -> str:
    """The warm-up of the demo machine: twelve minutes, the axes strolling well inside their travel and clear of the rack."""
    steps = ((4000.0, 3.0), (9000.0, 3.0), (16000.0, 3.0), (24000.0, 3.0))
    return text_of(warm_up(WarmUp(steps, ((40.0, 30.0, -20.0), (230.0, 190.0, -50.0)))), language)
