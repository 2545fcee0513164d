"""Size: springs in series against published and closed forms, and how errors of force, run-out and diameter add up."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff import workflows
from firstoff.facts.fact import Fact, FactSet, Shape, Word
from firstoff.loads.cut_loads import Candidate, Quantity
from firstoff.removal.swept import Floor, ThinWall
from firstoff.verdict.bending import as_length, in_series, springs_at, wall_spring
from firstoff.verdict.case import Case, best
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import path_kept, size, step

from .conftest import NOW
from .synthetic import ask, candidate, case_of, followed_case, mask, move_of, number, stretch, told

Shop = Callable[..., Path]
NEWTON_PER_UM = 1000.0
TOOL = {"modulus": 580e3, "core_ratio": 0.8, "DC": 6.0, "OHX": 24.0, "APMX": 14.0, "DMM": 6.0, "run_out": 0.006,
        "holder_stiffness": 12e3}  # fmt: skip


def shop_facts(**changes: float | None) -> tuple[Fact, ...]:
    """Everything that gives way in the small shop, exact; None takes one away."""
    facts = {f"tools.em6.{key}": value for key, value in TOOL.items()}
    facts |= {"machine.spindle.stiffness": 9e3, "machine.frame.stiffness": 5e3, "materials.al-6082.modulus": 70e3}
    facts |= changes
    return tuple(number(path, value, unit="") for path, value in facts.items() if value is not None)


def facts_of(**tool: float) -> FactSet:
    return told(FactSet(), *(number(f"tools.a.{key}", value) for key, value in tool.items()))


def rod(**tool: float) -> float:
    """Stiffness of the tool alone, N/µm."""
    known = facts_of(**{"modulus": 580e3, "core_ratio": 0.8, "holder_stiffness": 1e12, **tool})
    known = told(known, number("machine.spindle.stiffness", 1e12), number("machine.frame.stiffness", 1e12))
    at = Candidate(0, (0.0, 0.0, 0.0), 1.0, (), 1.0, 1.0, 0.01, 1.0, 1.0, way=(1.0, 0.0, 0.0))
    springs = springs_at(known.leaning(), "a", at)
    assert springs is not None
    return 1 / springs[-1].mm_per_n / NEWTON_PER_UM


# Reference notes on cutting, section 5 [C: computed there, E = 580 GPa]: solid rods, a fluted part of 0.8 D, and stepped tools.
STIFFNESS = [
    ({"core_ratio": 1.0, "DC": 3.0, "OHX": 12.0}, 4.004),
    ({"core_ratio": 1.0, "DC": 4.0, "OHX": 16.0}, 5.338),
    ({"core_ratio": 1.0, "DC": 6.0, "OHX": 20.0}, 13.837),
    ({"core_ratio": 0.8, "DC": 6.0, "OHX": 30.0}, 1.679),
    ({"core_ratio": 0.8, "DC": 8.0, "OHX": 30.0}, 5.307),
    ({"core_ratio": 0.8, "DC": 6.0, "APMX": 15.0, "OHX": 25.0, "DMM": 6.0}, 5.402),
    ({"core_ratio": 0.8, "DC": 3.0, "APMX": 9.0, "OHX": 25.0, "DMM": 6.0}, 2.552),
]


@pytest.mark.parametrize(("tool", "expected"), STIFFNESS)
def test_a_tool_is_as_stiff_as_the_stepped_rod_of_the_notes(tool: dict[str, float], expected: float) -> None:
    assert rod(**tool) == pytest.approx(expected, rel=5e-4)


def test_a_neck_makes_a_tool_softer_and_a_higher_push_makes_it_stiffer() -> None:
    plain = rod(DC=6.0, APMX=8.0, OHX=25.0, DMM=6.0)
    assert rod(DC=6.0, APMX=8.0, OHX=25.0, DMM=6.0, DN=5.0, LU=18.0) < plain


@given(
    values=st.fixed_dictionaries({"OHX": st.floats(12, 60), "DC": st.floats(2, 12), "modulus": st.floats(2e5, 6e5)}),
    moved=st.sampled_from(["OHX", "DC", "modulus", "core_ratio", "APMX"]),
)
def test_exponents_are_what_moving_a_fact_does(values: dict[str, float], moved: str) -> None:
    """The whole form, rebuilt with the fact moved by a thousandth, against the form's own gradient."""
    tool = {**TOOL, "DMM": 6.0, **values, "APMX": min(values["OHX"] * 0.6, 14.0)}

    def log_compliance(of: dict[str, float]) -> tuple[Form, float]:
        known = told(facts_of(**of), number("machine.spindle.stiffness", 9e3), number("machine.frame.stiffness", 5e3))
        at = Candidate(0, (0.0, 0.0, 0.0), 1.0, (), 1.0, 1.0, 0.01, 1.0, 1.0, lever_mm=1.0, way=(0.0, 1.0, 0.0))
        leaning = known.leaning()
        springs = springs_at(leaning, "a", at)
        assert springs is not None
        form = in_series(springs, leaning)
        return form, form.at(lambda path: math.log(known.facts[path].value))

    form, before = log_compliance(tool)
    _, after = log_compliance({**tool, moved: tool[moved] * 1.001})
    exponent = dict(form.terms).get(f"tools.a.{moved}", 0.0)
    assert after - before == pytest.approx(exponent * math.log(1.001), rel=5e-3, abs=1e-7)
    assert before == pytest.approx(math.log(_by_hand(tool)), abs=3e-3)  # a slice lies across the step


def _by_hand(tool: dict[str, float]) -> float:
    """Series of springs with the stepped rod integrated numerically, ∫ x²/(E·I) dx: another way to the same."""
    steps = 4000
    length = tool["OHX"] - 1.0
    total = 0.0
    for n in range(steps):
        x = (n + 0.5) * length / steps
        diameter = tool["core_ratio"] * tool["DC"] if x + 1.0 < tool["APMX"] else tool["DMM"]
        total += x * x / (tool["modulus"] * math.pi * diameter**4 / 64) * length / steps
    return total + 1 / 9e3 + 1 / 5e3 + 1 / tool["holder_stiffness"]


def test_a_frame_gives_in_the_direction_across_the_wall() -> None:
    axes = [number(f"machine.frame.stiffness.{axis}", k) for axis, k in zip("xyz", (4e3, 8e3, 2e4), strict=True)]
    known = told(facts_of(**TOOL), number("machine.spindle.stiffness", 9e3), *axes)

    def frame(way: tuple[float, float, float]) -> float:
        at = Candidate(0, (0.0, 0.0, 0.0), 1.0, (), 1.0, 1.0, 0.01, 1.0, 1.0, way=way)
        springs = springs_at(known.leaning(), "a", at)
        assert springs is not None
        return springs[0].mm_per_n

    assert frame((1.0, 0.0, 0.0)) == pytest.approx(1 / 8e3)
    assert frame((0.0, 1.0, 0.0)) == pytest.approx(1 / 4e3)
    assert frame((0.6, 0.8, 0.0)) == pytest.approx(0.64 / 4e3 + 0.36 / 8e3)


def test_a_thin_wall_bends_as_a_plate_held_along_its_foot() -> None:
    # Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959 (from memory): far from its ends 0.168·F·h²/D; at an end twice that.
    words: dict[str, Word] = {"job.material": "al"}
    known = told(FactSet(), number("materials.al.modulus", 70e3), number("tools.em6.DC", 6.0), words=words)

    def spring(depth: float, lever: float, helix: float | None = 0.0) -> float:
        at = Candidate(0, (0.0, 0.0, 0.0), 1.0, (), 1.0, 1.0, 0.01, depth, 0.2, lever_mm=lever)
        more = () if helix is None else (number("tools.em6.FHA", math.radians(helix), unit="rad"),)
        found = wall_spring(told(known, *more).leaning(), "em6", ThinWall(1.0, 12.0, 80.0, 0, (0.0, 0.0)), at)
        assert found is not None
        return found.mm_per_n

    plate = 70e3 * 1.0**3 / (12 * (1 - 0.3**2))
    assert spring(12.0, 12.0) == pytest.approx(2 * 0.168 * 12.0**2 / plate, rel=0.02)
    # Cut in layers of 2 mm it is never higher than that over the tip; pushed at half its height its top moves 5/16 as far (textbooks).
    assert spring(2.0, 2.0) == pytest.approx(spring(12.0, 12.0) * (2.0 / 12.0) ** 2)
    assert spring(12.0, 6.0) == pytest.approx(spring(12.0, 12.0) * 5 / 16)
    # A straight edge is in the cut over its whole height at once. One of 45 degrees, 0.2 mm wide in a cutter of 6 mm, goes round by
    # acos(1 - 0.4/6) = 0.367 rad and up by 1.10 mm meanwhile: it pushes up to 0.55 mm below the top.
    at = 12.0 - 3.0 * math.acos(1 - 0.4 / 6) / 2
    assert spring(12.0, 1.0, 45.0) == pytest.approx(spring(12.0, 12.0) * at**2 * (36 - at) / (2 * 12.0**3))
    assert spring(1.0, 0.2, 45.0) == pytest.approx(spring(1.0, 0.5))  # in layers of less than that: as a straight one
    assert spring(12.0, 1.0, None) == pytest.approx(spring(12.0, 12.0))  # a helix that nobody knows


# --- the question ------------------------------------------------------------------------------------------------------------


POWERS = {"model": 1.0, "out": 6.0, "in": -5.0}
"""Of facts of the tests, where they are there, in the force on the wall."""


def walled(shop: Shop, force: float, tol: float = 0.05, *more: Fact, what: str = "outside", **changes: object) -> Case:
    words = {"job.feature.0.what": what, "job.feature.0.tool": 1}
    known = changes.pop("known", shop_facts())
    case = case_of(shop(), number("job.feature.0.tol", tol), *known, *more, words=words)  # type: ignore[misc]
    move = move_of(case, "G1 Y30")
    exponents = tuple((path, power) for path, power in POWERS.items() if path in case.facts.facts)
    wall = candidate(case, move, force, exponents, lever_mm=1.0, way=(0.0, 1.0, 0.0))
    found = {Quantity.WALL: (wall,), Quantity.FLOOR: (candidate(case, move, 10.0),)}
    return followed_case(case, stretches=(stretch(case, 1, "em6", found),), **changes)


def compliance() -> float:
    return _by_hand(TOOL | {"OHX": 24.0})


def test_without_a_tolerance_nobody_asks(shop: Shop) -> None:
    assert "tolerance" in ask(size, case_of(shop()))[0].not_asked


def test_two_walls_are_off_twice_and_run_out_takes_its_part(shop: Shop) -> None:
    # Two walls, each pushed off by F·C and cut deeper by half of what the indicator reads; exact facts: no doubt at all.
    finding, answered = ask(size, walled(shop, 20.0))
    expected = 2 * 20.0 * compliance() - 0.006
    off = best_of(finding, answered)
    assert off == pytest.approx(expected * 1000, rel=1e-4)
    assert answered.answer is Answer.CLEAR if expected < 0.025 else Answer.STOP
    one, _ = ask(size, walled(shop, 20.0, what="side face, one wall"))
    assert best_of(one, answered) == pytest.approx(expected * 500, rel=1e-4)


def best_of(finding: object, answered: object) -> float:
    limit = finding.checks[0].limits[0]  # type: ignore[attr-defined]
    return limit.demand.const if not limit.demand.terms else limit.demand.at(lambda path: VALUES[path])


VALUES = {fact.path: fact.value for fact in shop_facts()}


def test_a_soft_tool_leaves_too_much_and_says_what_gives(shop: Shop) -> None:
    answered = ask(size, walled(shop, 60.0, tol=0.03))[1]
    assert answered.answer is Answer.STOP
    # Frame 5, spindle 9, holder 12 N/µm: 200 of 394 nm/N and what the tool adds, less than half.
    assert "the frame more than the others" in answered.why
    assert "is left of the outside" in answered.why
    assert "spring pass" in answered.do
    assert answered.places[0].place.line > 0


def test_a_wall_pulled_in_is_cut_too_deep(shop: Shop) -> None:
    answered = ask(size, walled(shop, -60.0, tol=0.03))[1]
    assert answered.answer is Answer.STOP
    assert "is taken of the outside" in answered.why


def test_doubt_of_the_diameter_is_a_doubt_of_the_size(shop: Shop) -> None:
    wide = number("tools.em6.DC", 6.0, 0.02)
    answered = ask(size, walled(shop, 2.0, 0.05, wide))[1]
    assert answered.answer in (Answer.CARE, Answer.STOP)
    assert [share.fact for share in answered.doubt] == ["tools.em6.DC"]
    assert answered.demand is not None
    assert answered.demand.u == pytest.approx(20.0, rel=1e-3)  # across two walls it counts once whole


def test_the_odds_of_a_push_are_those_of_its_logarithm(shop: Shop) -> None:
    # 45 % on a log-normal push that takes half of what is allowed: 5.3 % (closed form), while the sum in µm would say less.
    force = 0.0125 / compliance() / 2
    model = number("model", 1.0, 0.45, "1", Shape.LOGNORMAL)
    exact_edge = shop_facts(**{"tools.em6.run_out": 1e-9})
    finding, answered = ask(size, walled(shop, force, 0.05, model, number("tools.em6.DC", 6.0), known=exact_edge))
    assert len(finding.checks[1].limits) == 1
    assert answered.any_chance == pytest.approx(0.053, abs=0.006)


def test_the_rest_of_two_parts_that_cancel_is_held_against_the_size_in_mm_alone(shop: Shop) -> None:
    """A push of 60 less 50 parts, each known to a tenth, is known to 7.8 of its 10: a normal sum, which may be of either sign. Its logarithm would
    reach 4.6 times as far in one case of forty (exp(1.96 · 0.78))."""
    force = 0.0125 / compliance() / 2
    parts = (number("out", 1.0, 0.1, "1"), number("in", 1.0, 0.1, "1"))
    exact_edge = shop_facts(**{"tools.em6.run_out": 1e-9})
    finding, answered = ask(size, walled(shop, force, 0.05, *parts, number("tools.em6.DC", 6.0), known=exact_edge))
    assert finding.checks[1].limits == ()
    assert answered.demand is not None
    assert answered.demand.u == pytest.approx(12.5 * math.hypot(0.6, 0.5), rel=1e-3)
    z = (25.0 - 12.5) / answered.demand.u
    assert answered.any_chance == pytest.approx(0.5 * math.erfc(z / math.sqrt(2)), abs=0.006)


@pytest.mark.parametrize(
    "path",
    ["machine.spindle.stiffness", "machine.frame.stiffness", "tools.em6.holder_stiffness", "tools.em6.modulus", "tools.em6.core_ratio",
     "tools.em6.run_out"],
)  # fmt: skip
def test_without_a_spring_nobody_can_say(shop: Shop, path: str) -> None:
    case = walled(shop, 5.0, known=shop_facts(**{path: None}))
    answered = ask(size, replace(case, facts=case.facts.without(path)))[1]
    assert answered.answer is Answer.UNJUDGED
    assert [need.fact for need in answered.needs] == [path]


def test_a_thin_wall_is_judged_at_its_own_line(shop: Shop) -> None:
    case = walled(shop, 10.0, tol=0.1)
    assert ask(size, case)[1].answer is Answer.CLEAR
    thin = ThinWall(0.3, 10.0, 30.0, move_of(case, "G1 X-5"), (0.0, 0.0))
    answered = ask(size, walled(shop, 10.0, tol=0.1, surfaces={"thin_walls": (thin,)}))[1]
    assert answered.answer is Answer.STOP
    assert "thin wall" in answered.why
    assert answered.places[0].place.line == int(case.moves.line[thin.move])


def test_a_wall_that_cannot_stand_the_push_gives_way_and_nobody_says_by_how_much(shop: Shop) -> None:
    case = walled(shop, 10.0, tol=0.1)
    foil = ThinWall(0.05, 10.0, 30.0, move_of(case, "G1 X-5"), (0.0, 0.0))
    for force, said in ((10.0, "aside by all of the"), (-10.0, "into its edge")):
        answered = ask(size, walled(shop, force, tol=0.1, surfaces={"thin_walls": (foil,)}))[1]
        assert answered.answer is Answer.STOP
        assert said in answered.why
        assert answered.demand is not None
        assert answered.demand.high95 <= 2 * 1000.0  # no more than the cut is wide, or the wall thick, at both walls


def test_beside_a_wide_cut_a_thin_wall_is_not_judged(shop: Shop) -> None:
    """In a slot most of the force is that of the front: it says nothing of what the rib beside feels."""
    case = walled(shop, 10.0, tol=0.1)
    move = move_of(case, "G1 Y30")
    rib = ThinWall(0.8, 10.0, 30.0, move, (0.0, 0.0))
    found = {Quantity.WALL: (candidate(case, move, 10.0, lever_mm=1.0, way=(0.0, 1.0, 0.0), radial_mm=6.0),)}
    surfaces = {"thin_walls": (rib,)}
    answered = ask(size, followed_case(case, stretches=(stretch(case, 1, "em6", found),), surfaces=surfaces))[1]
    assert answered.answer is Answer.UNJUDGED
    assert "0.80 mm thick" in answered.why


def test_a_feature_without_its_tolerance_is_asked_for(shop: Shop) -> None:
    for question, what in ((size, "bore"), (size, "shelf floor"), (step, "step"), (path_kept, "contour")):
        case = case_of(shop(), *shop_facts(), words={"job.feature.0.what": what, "job.feature.0.tool": 1})
        answered = ask(question, followed_case(case))[1]
        assert answered.answer is Answer.UNJUDGED, what
        assert "job.feature.0.tol" in [need.fact for need in answered.needs]
        others = ask(size if question is not size else step, followed_case(case))[0]
        assert others.not_asked  # it names the question that asks for it, and no other


def test_a_feature_that_nothing_makes_is_not_clear(shop: Shop) -> None:
    words = {"job.feature.0.what": "bore", "job.feature.0.tool": 2}
    case = case_of(shop(), number("job.feature.0.tol", 0.02), *shop_facts(), words=words)
    found = {Quantity.DRILL_THRUST: (candidate(case, move_of(case, "X40"), 80.0),)}
    answered = ask(size, followed_case(case, stretches=(stretch(case, 2, "dr3", found),)))[1]
    assert answered.answer is Answer.UNJUDGED
    assert "T2" in answered.why


def test_a_floor_is_as_doubtful_as_the_length_of_its_tool(shop: Shop) -> None:
    case = walled(shop, 5.0, tol=0.2, what="floor of the pocket")
    move = move_of(case, "G1 Y30")
    floor = Floor(1, -2.0, 300.0, move, (20.0, 10.0))
    told_case = walled(
        shop, 5.0, tol=0.2, what="floor of the pocket", surfaces={"floors": (floor,), "floor_moves": mask(case, move)}
    )
    answered = ask(size, told_case)[1]
    assert answered.answer is Answer.CLEAR, (answered.why, answered.needs)
    assert {share.fact for share in answered.doubt} == {"tools.em6.LF", "job.offset.G54.at.z"}
    # 10 N on 5 N/µm lift the tip by 2 µm; the zero is known to 30 µm and the length to 6.
    assert answered.demand is not None
    assert answered.demand.u == pytest.approx(math.hypot(30.0, 6.0), rel=0.05)
    tight = walled(shop, 5.0, tol=0.02, what="floor of the pocket", surfaces={"floors": (floor,)})
    assert ask(size, tight)[1].answer is Answer.STOP


def test_edges_that_pass_with_the_frames_own_frequency_are_care(shop: Shop) -> None:
    calm = walled(shop, 2.0, 0.2, number("machine.frame.first_mode", 90.0, unit="1/s"))
    assert ask(size, calm)[1].answer is Answer.CLEAR
    swinging = walled(shop, 2.0, 0.2, number("machine.frame.first_mode", 1000.0, unit="1/s"))
    answered = ask(size, swinging)[1]
    assert answered.answer is Answer.CARE  # 3 edges at 20 000 1/min pass 1000 times a second
    assert "swings" in answered.why


def test_a_length_in_mm_has_the_gradient_of_its_logarithm() -> None:
    known = told(FactSet(), number("a", 2.0), number("b", 5.0))
    form = Form(math.log(0.01) - 1.5 * math.log(2.0) + 0.5 * math.log(5.0), (("a", 1.5), ("b", -0.5)))
    length = as_length(form, known.leaning())
    assert best(known, length) == pytest.approx(0.01)
    assert dict(length.terms) == pytest.approx({"a": 0.01 * 1.5 / 2.0, "b": -0.01 * 0.5 / 5.0})


def boxed(shop: Shop, at: tuple[tuple[float, float], ...], kind: str = "wall") -> Answer:
    """T1 pushes one wall hard along X50 and another lightly along Y30; floors of it lie at -2 and at -5."""
    axes = [number(f"job.feature.0.at.{axis}.{end}", value) for axis, ends in zip("xyz", at, strict=True) for end, value in zip(("low", "high"), ends, strict=True)]  # fmt: skip
    words = {"job.feature.0.what": "outside", "job.feature.0.kind": kind, "job.feature.0.tool": 1}
    case = case_of(shop(), number("job.feature.0.tol", 0.05), *shop_facts(), *axes, words=words)
    hard, light = move_of(case, "G1 Y30"), move_of(case, "G1 X-5")
    heavy, little = (
        candidate(case, move, force, lever_mm=1.0, way=(0.0, 1.0, 0.0)) for move, force in ((hard, 300.0), (light, 5.0))
    )
    made = (stretch(case, 1, "em6", {Quantity.WALL: (heavy, little)}),)
    walls = np.full((len(case.moves), 3, 2), np.nan)
    walls[hard], walls[light] = ((47.0, 47.0), (0.0, 30.0), (-2.0, 0.0)), ((0.0, 47.0), (27.0, 27.0), (-2.0, 0.0))
    walls[hard - 1] = ((0.0, 47.0), (-2.0, -2.0), (-2.0, 0.0))  # a wall whose push is none of those that are kept
    surfaces = {"wall_moves": mask(case, hard, light, hard - 1), "walls_mm": walls}
    return ask(size, followed_case(case, stretches=made, surfaces=surfaces))[1].answer


def test_a_feature_with_a_place_is_judged_there_alone(shop: Shop) -> None:
    high = (-2.5, 0.5)
    assert boxed(shop, ((46.0, 48.0), (5.0, 20.0), high)) is Answer.STOP
    assert boxed(shop, ((5.0, 40.0), (26.0, 28.0), high)) is Answer.CLEAR
    assert (
        boxed(shop, ((5.0, 40.0), (-3.0, -1.0), high)) is Answer.CLEAR
    )  # it pushes no more than the least that is kept
    assert boxed(shop, ((5.0, 40.0), (26.0, 28.0), (-9.0, -5.0))) is Answer.UNJUDGED  # no wall is there
    assert boxed(shop, ((46.0, 48.0), (5.0, 30.0), high)) is Answer.STOP


def test_a_deep_first_cut_of_a_wall_counts_though_a_light_one_ends_it(shop: Shop) -> None:
    """5 mm deep along the edge, then 1 mm deeper along the same way: the wall over its foot is that of the first cut."""
    once = "G1 X50 F2000\nG1 Y30\nG1 X-5\nG1 Y-5\n"
    first = "G1 X-5 Y-3 F800\nG1 X56 F1200\nG0 Z10\nG0 X-5\nG0 Z1\n"
    asked = '\n[[feature]]\nwhat = "outside"\ntol = "0.1 mm"\ntool = 1\n'
    folder = shop(
        program=lambda text: text.replace("G1 Z-2 F800\n" + once, "G1 Z-5 F800\n" + first + "G1 Z-6 F800\n" + first),
        job=lambda text: text + asked,
    )
    found = workflows.judge(workflows.prepare(folder, now=NOW), only=["size"])
    case, told_of = found.case, found.case.followed
    assert isinstance(told_of, Followed)
    upper, lower = (move_of(case, "G1 X56 F1200", nth) for nth in (1, 2))
    walls = told_of.surfaces.wall_moves
    assert walls[upper]
    assert walls[lower]
    assert told_of.loads is not None
    pushes = {one.move: abs(one.value) for one in told_of.loads.stretches[0].candidates[Quantity.WALL]}
    assert pushes[upper] > pushes[lower]
    assert found.answer("size").places[0].place.line == int(case.moves.line[upper])
