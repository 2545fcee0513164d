"""Simple cuts reckoned by hand, put to the whole tool: what a machinist would expect of them, and what would make one laugh.

The closed forms are those of the reference notes on cutting (section 4, chip geometry; section 5, bending; Altintas, Manufacturing
Automation, 2nd ed., ch. 2, from memory); rules are common practice where no source stands beside them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstoff import workflows
from firstoff.facts.derived import BEARS, STEEL, TWISTED_CORE
from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.verdict.examination import Examination
from firstoff.verdict.words import ShopUnits, part

from .conftest import NOW, swap

KC, AT, MC, PUSH = 900.0, 0.05, 0.25, 0.4
MATERIAL = f"""
[material.al-6082]
temper = "T6"
kc = {{ value = "{KC:g}(72) N/mm^2", at = "{AT} mm", evidence = "measured" }}
mc = {{ value = "{MC}(3)", evidence = "measured" }}
radial_ratio = {{ value = "{PUSH}(1)", evidence = "measured" }}
axial_ratio = {{ value = "0.25(5)", evidence = "measured" }}
modulus = {{ value = "70(2) GPa", evidence = "handbook" }}
coolant = ["flood"]
"""
DC = 5.990
"""Of em6 in the small shop; three edges."""

Cut = Callable[..., Examination]


@pytest.fixture
def cut(shop: Callable[..., Path], tmp_path: Path) -> Cut:
    """`cut(body, "torque", …)`: the small shop with one tool and these lines as its program, asked some questions."""

    def run(body: str, *questions: str, speed: int = 20000, tool: int = 1, job: str = "", **changes: Callable[[str], str]) -> Examination:  # fmt: skip
        program = f"G21 G17 G40 G49 G90 G94\nG80\nG54\nT{tool} M6\nS{speed} M3\nG4 P3\nG0 X-12 Y-12\nG43 H{tool} Z20\nM8\n{body}\nG0 Z20\nM9\nM5\nM30\n"
        job_of = changes.pop("job_text", str)
        folder = shop(program=lambda _: program, job=lambda text: job_of(text) + job, **changes)
        (tmp_path / "materials.toml").write_text(MATERIAL)
        return workflows.judge(workflows.prepare(folder, now=NOW), only=questions)

    return run


def stretch_of(found: Examination) -> Stretch:
    loads = found.case.followed.loads  # type: ignore[union-attr]
    return next(one for one in loads.stretches if one.volume_mm3 > 0)


def worst(found: Examination, quantity: Quantity) -> float:
    return max(abs(one.value) for one in stretch_of(found).candidates[quantity])


def on_line(found: Examination, number: int, column: str) -> float:
    """The greatest load of the program's line as written in the body of `cut` (1 = its first)."""
    loads = found.case.followed.loads  # type: ignore[union-attr]
    return float(getattr(loads, column)[found.case.moves.line == number + 9].max())


# --- what stands beside a cut is not cut -------------------------------------------------------------------------------------


def test_a_pocket_in_levels_costs_as_much_on_its_last_level_as_on_its_second(cut: Cut) -> None:
    """The corners of each level are the walls of all levels before: the tool comes to them, and never cuts them again."""
    ring = "G1 X37 F1800\nG1 Y20\nG1 X13\nG1 Y13"
    levels = [f"G0 X13 Y13\nG1 Z-{depth} F300\n{ring}\nG0 Z1" for depth in range(1, 9)]
    found = cut("G0 X13 Y13\nG0 Z1\n" + "\n".join(levels), "torque", "power")
    first, last = ([3 + 7 * level + line for line in (2, 3, 4)] for level in (1, 7))  # 0.2 mm stand on the first
    for one, other in zip(first, last, strict=True):
        assert on_line(found, other, "force_n") == pytest.approx(on_line(found, one, "force_n"), rel=0.10)
        assert on_line(found, other, "power_w") == pytest.approx(on_line(found, one, "power_w"), rel=0.10)


def test_a_floor_finished_between_standing_walls_is_a_thin_cut(cut: Cut) -> None:
    """Both passes are the same slot, 3 mm deep and then 0.1 mm: all forces go with the depth."""
    found = cut("G0 X5 Y15\nG0 Z1\nG1 Z-3 F300\nG1 X45 F1800\nG0 Z1\nG0 X5 Y15\nG1 Z-3.1 F300\nG1 X45 F1800", "torque")
    rough, fine = (on_line(found, line, "force_n") for line in (4, 8))
    assert fine == pytest.approx(rough * 0.1 / 3.0, rel=0.25)


# --- closed forms, from the program's text to the answer ----------------------------------------------------------------------


def mean_power_w(depth: float, feed_per_edge: float, enter: float, leave: float, speed: int, edges: int = 3) -> float:
    """Mean of kc·h^(1-mc) over the arc, h = fz·sin φ; torque N/(2π)·R·depth·∫, power 2πn·torque."""
    phi = np.linspace(enter, leave, 20001)
    chip = np.maximum(feed_per_edge * np.sin(phi), 1e-12)
    force = KC * chip * (chip / AT) ** -MC
    torque = edges / (2 * math.pi) * DC / 2 * depth * float(np.trapezoid(force, phi))
    return 2 * math.pi * speed / 60 * torque * 1e-3


def test_a_slot_needs_the_power_of_its_closed_form(cut: Cut) -> None:
    found = cut("G0 X-6 Y15\nG0 Z1\nG1 Z-2.8 F2000\nG1 X56 F1800", "power")
    answered = found.answer("power")
    assert answered.demand is not None
    assert answered.demand.value == pytest.approx(mean_power_w(3.0, 0.03, 0, math.pi, 20000), rel=0.01)
    # kc within 8 %, the model within 10 %, a new edge within 3 %, mc within 0.03·ln(50/30): no more than 15 % in all.
    assert answered.demand.u / answered.demand.value < 0.15


@pytest.mark.parametrize("climb", [True, False])
def test_a_side_cut_needs_the_power_and_has_the_chip_of_its_closed_form(cut: Cut, climb: bool) -> None:
    """ae 1.5: φ = acos(1 - 2·ae/D), hmax = 2·fz·√(q(1-q)); the width is known to half a cell of 0.15 mm."""
    y = 31 + DC / 2 - 1.5
    way = ("X-6", "X56") if climb else ("X56", "X-6")
    found = cut(f"G0 {way[0]} Y{y:.3f}\nG0 Z1\nG1 Z-5.8 F2000\nG1 {way[1]} F1800", "power", "chip")
    arc, q = math.acos(1 - 2 * 1.5 / DC), 1.5 / DC
    assert worst(found, Quantity.POWER) == pytest.approx(mean_power_w(6.0, 0.03, 0, arc, 20000), rel=0.06)
    even = 2 * 0.03 * math.sqrt(q * (1 - q))
    assert even < worst(found, Quantity.CHIP) < even + 0.003 * math.sin(math.pi / 3) + 0.0005  # and run-out 3 µm


def test_a_wall_is_left_standing_where_climb_milling_pushes_the_tool_off(cut: Cut) -> None:
    """Climb milling pushes the cutter away from its wall (Altintas ch. 2; common practice); stiffness of tool, holder, spindle and frame
    add as springs in series: 24 mm out, 14 mm of flutes as a rod of 0.8 DC, pushed at the height the force acts at."""
    wall = '[[feature]]\nwhat = "outside"\nkind = "wall"\nsize = "30.4 mm"\ntol = "0.2 mm"\n'
    y = 31 + DC / 2 - 0.6
    found = cut(f"G0 X-6 Y{y:.3f}\nG0 Z1\nG1 Z-5.8 F2000\nG1 X56 F1800", "size", job=wall)
    push = max(stretch_of(found).candidates[Quantity.WALL], key=lambda one: one.value)
    assert push.value > 0
    reach, core, shank = 24.0 - push.lever_mm, math.pi * (0.8 * DC) ** 4 / 64, math.pi * 6.0**4 / 64
    flutes = 14.0 - push.lever_mm
    tool = (flutes**3 / core + (reach**3 - flutes**3) / shank) / (3 * tool_modulus(found))
    bend = push.value * (tool + 1 / 12e3 + 1 / 12e3 + 1 / 9e3)
    whole = next(one for one in found.answer("size").margins if "In all" in one.what)
    value = whole.demand.at(lambda path: found.facts.facts[path].value)
    assert abs(value) == pytest.approx(
        2 * bend * 1000 - 3.0, abs=0.2
    )  # both walls of the size; run-out turns 3 µm more


def tool_modulus(found: Examination) -> float:
    return found.facts.facts["tools.em6.modulus"].value


# --- cuts that every shop makes --------------------------------------------------------------------------------------------------


PLAIN_TOOL = swap('condition = "new"\nedge_radius = { value = "4(1) µm", evidence = "measured" }\nrun_out = { value = "3(1) µm", evidence = "measured" }', 'condition = "used"\nmaterial = "carbide"')  # fmt: skip
ONE_KW = swap(
    '[["3000 1/min", "0.3 kW"], ["20000 1/min", "2.0 kW"], ["28000 1/min", "2.0 kW"]]',
    '[["3000 1/min", "0.15 kW"], ["20000 1/min", "1.0 kW"], ["28000 1/min", "1.0 kW"]]',
)


@pytest.mark.parametrize(
    ("material", "speed", "feed"), [("al-6082", 20000, 1800), ("steel-s235", 8000, 480)], ids=["aluminium", "steel"]
)
def test_a_tenth_of_the_width_at_one_diameter_deep_asks_nothing_of_one_kilowatt(
    shop: Callable[..., Path], material: str, speed: int, feed: int
) -> None:
    """Handbook constants, a used tool of which little is known: 0.2 kW in aluminium, less in steel (common practice; the edges' peaks come
    a thousand times a second, and no rotor follows them)."""
    y = 31 + 3 - 0.6
    program = f"G21 G17 G90 G94\nG54\nT1 M6\nS{speed} M3\nG4 P3\nG0 X-6 Y{y}\nG43 H1 Z20\nM8\nG0 Z1\nG1 Z-5.8 F2000\nG1 X56 F{feed}\nG0 Z20\nM9\nM5\nM30\n"
    job = swap('material = "al-6082"', f'material = "{material}"')
    folder = shop(program=lambda _: program, tools=PLAIN_TOOL, machine=ONE_KW, job=job)
    found = workflows.judge(
        workflows.prepare(folder, now=NOW), only=["torque", "power", "duty", "strength", "chip", "holding"]
    )
    assert {one.question.id: one.answer.value for one in found.answers} == dict.fromkeys(
        ("torque", "power", "duty", "strength", "chip", "holding"), "clear"
    )


def test_a_rating_for_minutes_holds_for_seconds(cut: Cut) -> None:
    """A slot of 1.2 kW for two seconds on a spindle of 1.0 kW for ever and 2.4 kW for four minutes of ten (IEC 60034-1, S6)."""
    rated = '["28000 1/min", "1.0 kW"]]\npower_s6 = { points = [["20000 1/min", "2.4 kW"]], on_share = "40 %", cycle = "10 min" }'
    body = "G0 X-4 Y15\nG0 Z1\nG1 Z-5.8 F2000\nG1 X54 F1800"
    short = cut(body, "power", "torque", machine=lambda text: ONE_KW(text).replace('["28000 1/min", "1.0 kW"]]', rated))
    assert [short.answer(one).answer.value for one in ("power", "torque")] == ["clear", "clear"]
    assert "S6" in short.answer("power").places[0].what
    without = cut(body, "power", machine=ONE_KW)
    assert without.answer("power").answer.value == "stop"


def test_a_load_between_its_two_ratings_is_summed_where_they_cross(cut: Cut) -> None:
    """1 kW for ever and 1.25 kW for 40 % of 10 minutes: 240 s of the second are 300 s of the first, and 375 s by the square of torque."""
    rated = '["28000 1/min", "1.0 kW"]]\npower_s6 = { points = [["20000 1/min", "1.25 kW"]], on_share = "40 %", cycle = "10 min" }'
    found = cut(
        "G0 X-2 Y15\nG0 Z1\nG1 Z-0.1 F500\nG1 X53 F192",
        "duty",
        machine=lambda text: ONE_KW(text).replace('["28000 1/min", "1.0 kW"]]', rated),
    )
    windows = [duty.window_s for duty in found.case.followed.loads.duties]  # type: ignore[union-attr]
    assert windows == pytest.approx([1.0, 10.0, 60.0, 240.0, 300.0, 375.0, 600.0])


def test_a_drill_takes_a_thirtieth_of_its_diameter_a_turn(cut: Cut) -> None:
    """2.5 to 3 mm in aluminium at 0.03 D a turn, the feed that drill makers print (common practice)."""
    found = cut("G0 X10 Y10\nG81 X10 Y10 Z-8 R3 F1000\nG80", "chip", "torque", speed=11000, tool=2)
    assert found.answer("chip").answer.value == "clear"
    # Torque kc·f·D²/8 with the chip that a lip of 140 degrees cuts (cutting notes; tool makers' handbooks, from memory).
    turn, lip = 1000 / 11000, 1000 / 11000 / 2 * math.sin(math.radians(70))
    torque = KC * (lip / AT) ** -MC * turn * 3.0**2 / 8
    assert worst(found, Quantity.TORQUE) == pytest.approx(torque, rel=0.03)


def test_what_drills_is_told_without_a_depth_and_a_width(cut: Cut) -> None:
    found = cut("G0 X10 Y10\nG81 X10 Y10 Z-8 R3 F9000\nG80", "cuts", "torque", "strength", speed=3000, tool=2)
    for question in ("cuts", "torque"):
        assert "wide" not in found.answer(question).why
    assert found.answer("torque").answer.value == "stop"
    assert found.answer("torque").do.startswith("Feed less here, drill a smaller hole first,")


def test_a_plunge_is_told_as_one_and_not_by_a_depth_of_tenths(cut: Cut) -> None:
    found = cut("G0 X10 Y10\nG0 Z1\nG1 Z-3 F600\nZ2", "torque")
    assert "T1 (em6), going straight down, needs up to" in found.answer("torque").places[0].what


def test_run_out_takes_no_chip_from_an_edge_that_goes_straight_down(cut: Cut) -> None:
    found = cut("G0 X20 Y15\nG0 Z1\nG1 Z-2 F150\nG1 Z1 F2000", "chip", "strength")
    answered = found.answer("chip")
    assert answered.answer.value == "clear"
    assert not any("run-out of" in place.what for place in answered.places)
    assert found.answer("strength").why  # it says that nothing bends it


def test_a_small_cutter_with_more_run_out_than_feed_is_care_and_no_stop(cut: Cut) -> None:
    """Cutters of 1 mm run at 4 µm an edge in collets that run out by 6: one edge does the work (common practice)."""
    small = swap('DC = { value = "5.990(4) mm", evidence = "measured" }\nZEFP = 3\nAPMX = "14 mm"\nDMM = "6 mm"', 'DC = "1.00 mm"\nZEFP = 2\nAPMX = "2 mm"\nDMM = "3 mm"')  # fmt: skip
    found = cut("G0 X-2 Y15\nG0 Z1\nG1 Z-0.1 F500\nG1 X53 F192", "chip", speed=24000, tools=lambda text: small(text).replace('run_out = { value = "3(1) µm"', 'run_out = { value = "8(1) µm"', 1))  # fmt: skip
    answered = found.answer("chip")
    assert answered.answer.value == "care"
    assert "run-out" in answered.why


# --- what a shop need not state ----------------------------------------------------------------------------------------------------


def test_a_cutter_is_made_to_hundredths(cut: Cut) -> None:
    """Makers grind end mills to h10 or e8: 0 to 0.05 mm under size (common practice). Half a millimetre is the doubt of a ruler."""
    found = cut(
        "G0 X-6 Y15\nG0 Z1\nG1 Z-1 F2000\nG1 X20 F1800", "strength",
        tools=swap('DC = { value = "5.990(4) mm", evidence = "measured" }', 'DC = "6 mm"'),
    )  # fmt: skip
    fact = found.facts.facts["tools.em6.DC"]
    assert 0.01 <= fact.u <= 0.05


@pytest.mark.parametrize(("diameter", "clutch_nm"), [(3.0, 0.5), (4.0, 1.2), (6.0, 4.0), (8.0, 8.0)])
def test_a_tap_twists_off_at_about_twice_what_its_clutch_is_set_to(diameter: float, clutch_nm: float) -> None:
    """Settings of the clutches of tapping chucks (common practice)."""
    core, bears = TWISTED_CORE["tap"][0] * diameter, BEARS[STEEL][0]
    breaks = bears / math.sqrt(3) * math.pi * core**3 / 16 / 1000
    assert breaks == pytest.approx(2 * clutch_nm, rel=0.25)


# --- words -----------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "said"),
    [(5.5e-6, "under 0.1 µm"), (0.00094, "0.9 µm"), (0.0151, "15 µm"), (0.45, "450 µm"), (7.3, "7.3 mm"), (-0.0025, "-2.5 µm"), (0.0, "0 µm")],
)  # fmt: skip
def test_no_figure_is_finer_than_a_gauge_or_larger_than_a_length(mm: float, said: str) -> None:
    assert ShopUnits(inch=False).fine(mm) == said


def test_a_share_that_is_not_none_is_not_called_none() -> None:
    assert [part(share) for share in (0.0, 0.001, 0.02, 1.3)] == ["0%", "under 1%", "2%", "130%"]


# --- finishing passes and thin walls --------------------------------------------------------------------------------------------


ROUGH_AND_FINE = """G0 X-6 Y{rough:.3f}
G0 Z1
G1 Z-5.8 F2000
G1 X56 F1800
G0 Z20
M9
M5
T3 M6
S20000 M3
G4 P3
G0 X-6 Y{fine:.3f}
G43 H3 Z20
M8
G0 Z1
G1 Z-5.8 F2000
G1 X56 F1800"""
"""T1 leaves some of a wall to T3, the same cutter kept for finishing."""
KEPT_FOR_FINISHING = '[[pocket]]\nnumber = 3\ntool = "em6f"\n'


def with_finisher(text: str) -> str:
    own = text[text.index("[tool.em6]") : text.index("[tool.dr3]")]
    return text + own.replace("[tool.em6]", "[tool.em6f]").replace("64.150", "66.210") + KEPT_FOR_FINISHING


@pytest.mark.parametrize(("leaves", "expected"), [(0.03, "care"), (-1.0, "stop")], ids=["finishing", "beside the part"])
def test_a_finishing_tool_that_takes_hundredths_is_no_tool_that_cuts_nothing(
    cut: Cut, leaves: float, expected: str
) -> None:
    """Three hundredths are less than a cell of the stock; a tool that passes a millimetre beside it is at a wrong place."""
    wall = 31 + DC / 2 - 2.0
    body = ROUGH_AND_FINE.format(rough=wall, fine=wall - leaves)
    found = cut(body, "cuts", tools=with_finisher, job_text=swap('2 = "dr3"', '2 = "dr3"\n3 = "em6f"'))
    answered = found.answer("cuts")
    assert answered.answer.value == expected, answered.why
    assert "T3" in answered.why


DRILLED_AND_TAPPED = """G0 X10 Y10
G81 X10 Y10 Z-8 R3 F900
G80
G0 Z20
M9
M5
T3 M6
S3000 M3
G4 P3
G0 X10 Y10
G43 H3 Z20
M8
G84 X10 Y10 Z-5 R3 F{feed:.0f}
G80"""


@pytest.mark.parametrize(("diameter", "pitch", "expected"), [(3.0, 0.5, "stop"), (3.5, 0.6, "clear")])
def test_a_tap_in_a_hole_of_its_own_width_cuts_no_thread(
    cut: Cut, diameter: float, pitch: float, expected: str
) -> None:
    """dr3 drills 3 mm: the hole of an M3.5 of 0.6 (2.9 by ISO 261 and 724, from memory), and no core hole of an M3."""

    def with_tap(text: str) -> str:
        own = text[text.index("[tool.dr3]") : text.index("[tool.em4]")]
        tap = (
            own.replace("[tool.dr3]", "[tool.tp]")
            .replace('"drill"', '"tap"')
            .replace('SIG = "140 deg"', f'TP = "{pitch} mm"')
        )
        return text + tap.replace('DC = "3.0 mm"', f'DC = "{diameter} mm"') + '[[pocket]]\nnumber = 3\ntool = "tp"\n'

    body = DRILLED_AND_TAPPED.format(feed=3000 * pitch)
    found = cut(body, "cuts", tool=2, tools=with_tap, job_text=swap('2 = "dr3"', '2 = "dr3"\n3 = "tp"'))
    answered = found.answer("cuts")
    assert answered.answer.value == expected, (answered.why, answered.needs)
    assert expected == "clear" or "as wide as the tap itself: it cuts no thread" in answered.why


RIB = '[[feature]]\nwhat = "rib"\nkind = "wall"\nsize = "1 mm"\ntol = "0.1 mm"\n'


def rib(tool_y: float, depth: float, back: bool) -> str:
    ends = ("X56", "X-6") if back else ("X-6", "X56")
    return f"G0 Z2\nG0 {ends[0]} Y{tool_y:.3f}\nG1 Z-{depth:.1f} F2000\nG1 {ends[1]} F1800"


def test_a_rib_of_one_by_nine_in_light_layers_comes_out_within_a_tenth(cut: Cut) -> None:
    """1 mm thick and 9 mm high in aluminium, roughed 0.2 mm too thick on each side and finished from the top down, 1.5 mm at a time: a cut
    that shops make (common practice). Each layer pushes the rib just over its foot."""
    lines = []
    for beside in (0.7, 0.5):
        for level in range(6):
            depth = 1.5 * (level + 1)
            lines += [rib(15 - beside - DC / 2, depth, False), rib(15 + beside + DC / 2, depth, True)]
    # What roughing leaves on the far side of its slots is no wall of the rib.
    found = cut("\n".join(lines), "size", job=RIB + 'at = ["-2 mm .. 52 mm", "14 mm .. 16 mm", "-9 mm .. 0 mm"]\n')
    assert found.case.followed.surfaces.thin_walls  # type: ignore[union-attr]
    answered = found.answer("size")
    assert answered.answer.value in ("clear", "care"), answered.why
    assert answered.demand is not None
    assert abs(answered.demand.value) < 50


def test_a_foil_beside_a_slot_is_not_given_a_figure(cut: Cut) -> None:
    """What is left between two slots 9 mm deep is 0.3 mm thick: it gives way, and a bend of a decimetre is nonsense."""
    body = rib(15 - 0.15 - DC / 2, 9.0, False) + "\n" + rib(15 + 0.15 + DC / 2, 9.0, True)
    answered = cut(body, "size", job=RIB).answer("size")
    assert answered.answer.value in ("unjudged", "stop")
    assert answered.demand is None or answered.demand.high95 < 3000
    assert any("gives way" in place.what and "not worked out" in place.what for place in answered.places)


def test_a_chamfer_is_a_surface_that_a_cutter_left(cut: Cut) -> None:
    cutter = '\n[tool.ch90]\nkind = "chamfer"\nDC = "6.00(1) mm"\nSIG = "90 deg"\nZEFP = 2\nAPMX = "3 mm"\nDMM = "6 mm"\nOHX = "20.0(3) mm"\nLF = { value = "60.0(1) mm", evidence = "measured" }\nholder = [["16 mm", "20 mm"]]\n[[pocket]]\nnumber = 3\ntool = "ch90"\n'  # fmt: skip
    found = cut(
        "G0 X-6 Y-3\nG0 Z2\nG1 Z-2.5 F2000\nG1 X56 F1200", "finish", tool=3, job='[ask]\nfinish_rz = "8 µm"\n',
        tools=lambda text: text + cutter, job_text=swap('2 = "dr3"', '2 = "dr3"\n3 = "ch90"'),
    )  # fmt: skip
    assert "No surface that stands" not in found.answer("finish").why
