"""Every S and P case of the NC language, hand-worked from NISTIR 6556 and from common practice, read by our reader.

Source of all rows: the RS274/NGC report (Kramer, Proctor, Messina: The NIST RS274NGC Interpreter, Version 3, NISTIR 6556, 17 August 2000)
by the section that each case names, or common practice where it says so. S cases are read with the report to the letter; P cases, and
what custom says beside an S case, with the base `plain`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstoff.path.track import place
from firstoff.program.bounds import reach_of_moves
from firstoff.program.compensation import corner_centre
from firstoff.program.control import Control
from firstoff.program.moves import DEPENDS, FAULT, NO_TOOL, NOTE, Base, Kind, Problem, Reading
from firstoff.program.reading import Start, read_text

CASES = {case["id"]: case for case in json.loads((Path(__file__).parents[1] / "program" / "nc-cases.json").read_text())}
INCH = 25.4
ZERO = (0.0, 0.0, 0.0)
ORIGINS = dict.fromkeys((*range(Base.G54, Base.G59_3 + 1), Base.G28, Base.G30), ZERO)
ROUNDING = 1e-9
"""The cases give exact numbers; what is left is binary rounding."""
HAND = 5e-4
"""Last digit of what was worked out by hand (arc centres, sweeps, lengths)."""

ERRORS = {
    "S04": "more than one X", "S05": "one group", "S06": "G0 and G80 are of one group", "S07": "more than 4 M words",
    "S08": "inside a comment", "S09": "not closed", "S11a": "at most 5 digits", "S11b": "must come first", "S19": "no G code",
    "S20a": "no second %", "S20b": "without M2, M30", "S23": "both use the axis words", "S24b": "negative dwell", "S28": "P must be 1 to 9",
    "S38": "end is its start", "S39": "cannot reach", "S41": "without X and Y", "S42b": "differ by 0.004 mm; 0.002 mm",
    "S46": "without K and I", "S54a": "no Z", "S54c": "L must be", "S54d": "clockwise", "S54e": "Q must be positive",
    "S54f": "inverse time", "S55": "while G80", "S57b": "needs its own F", "S59a": "less than 0.254 mm", "S59b": "all axis words are missing",
    "S61": "shorter than the cutter's radius", "S62": "concave corner", "S63": "no G53", "S64": "D without G41", "S65": "no word of the language",
    "S66": "longer than 256", "S67": "negative spindle speed",
}  # fmt: skip
"""What our problem says where the case says `error`."""


def source_of(case: dict) -> str:
    return (
        case["source"]
        if "NISTIR" not in case["source"]
        else f"NISTIR 6556 (Kramer, Proctor, Messina, 2000) {case['source']}"
    )


def control(base: str, **said: str | float) -> Control:
    """A control whose end of file is no matter, because most cases are fragments without M2."""
    chosen = Control.of(None, base)
    chosen.said.update({"file_end": "accept"} | said)
    return chosen


def start_of(case: dict, **more: object) -> Start:
    """Machine at zero, all offsets zero, the case's own tool table."""
    setup = case.get("setup", "")
    length = re.search(r"slot (\d+): length ([\d.]+)", setup)
    diameter = re.search(r"slot (\d+) diameter ([\d.]+)", setup)
    lengths = {int(length[1]): float(length[2])} if length else {}
    diameters = {int(diameter[1]): float(diameter[2]) * INCH} if diameter else {}
    return Start(ZERO, ORIGINS, lengths, diameters, **more)  # type: ignore[arg-type]


def read_case(case: dict, base: str = "rs274ngc", program: list[str] | None = None, start: Start | None = None, **said: str | float) -> Reading:  # fmt: skip
    text = "\n".join(program or case["program"]) + "\n"
    asked = control(base, **said)
    if case["id"].startswith("S20"):
        del asked.said["file_end"]
    return read_text(text, case["id"], asked, start or start_of(case))


def faults(reading: Reading) -> list[Problem]:
    return [problem for problem in reading.problems if problem.kind != NOTE]


def machine_end_mm(reading: Reading, start: Start) -> np.ndarray:
    track = place(reading.moves, reading.arcs, reading.frames, start.origins_mm, start.lengths_mm)
    return track.end_mm[-1]


EXPECTED_END = [name for name, case in CASES.items() if "end" in case or "machine" in case or "machine_mm" in case]


@pytest.mark.parametrize("name", [name for name in EXPECTED_END if name[0] == "S"])
def test_end_position_by_the_report(name: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    start = start_of(case, block_delete=False if name == "S21" else None)
    reading = read_case(case, start=start)
    assert not faults(reading)
    _hold_end(case, reading, start, truth)
    if "end_switch_on" in case:
        skipped = read_case(case, start=start_of(case, block_delete=True))
        assert skipped.end_mm == tuple(case["end_switch_on"][axis] for axis in "XYZ")


@pytest.mark.parametrize("name", [name for name in EXPECTED_END if name[0] == "P"])
def test_end_position_by_custom(name: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    start = start_of(case)
    reading = read_case(case, "plain", start=start)
    assert not faults(reading)
    _hold_end(case, reading, start, truth)


def _hold_end(case: dict, reading: Reading, start: Start, truth: Callable[..., None]) -> None:
    unit = INCH if reading.units == "inch" else 1.0
    machine = case.get("machine_mm", case.get("machine"))
    tolerance = case.get("tol", ROUNDING)
    for at, axis in enumerate("XYZ"):
        if "end" in case:
            got = reading.end_mm[at]
            assert got is not None
            assert math.isclose(got, case["end"][axis], abs_tol=tolerance), axis
        if machine is not None:
            got_mm = machine_end_mm(reading, start)[at]
            assert math.isclose(got_mm, machine[axis] * (1.0 if "machine_mm" in case else unit), abs_tol=tolerance), (
                axis
            )
    if "end" in case:
        expected = sum(case["end"][axis] for axis in "XYZ")
        got_sum = sum(value for value in reading.end_mm if value is not None)
    else:
        expected, got_sum = sum(machine[axis] for axis in "XYZ"), float(machine_end_mm(reading, start).sum())
    what = f"{case['title']}: X + Y + Z at the end (each axis is held too)"
    truth(f"nc-{case['id']}", what, source_of(case), expected, got_sum, 3 * tolerance, "program units")


@pytest.mark.parametrize("name", sorted(ERRORS))
def test_error_by_the_report(name: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    reading = read_case(case)
    found = [problem for problem in reading.problems if problem.kind == FAULT and ERRORS[name] in problem.what]
    truth(f"nc-{name}", f"error: {case['error']}", source_of(case), 1.0, float(len(found) > 0), 0.0, "reported")
    last = next(at for at in range(len(case["program"]), 0, -1) if case["program"][at - 1].strip())
    others = [problem for problem in faults(reading) if problem.line != last]
    assert not others, "the lines before the faulty one are clean"


def test_every_error_case_is_held() -> None:
    assert set(ERRORS) == {name for name, case in CASES.items() if "error" in case}


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "arc" in case])
def test_arc(name: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    reading = read_case(case, "rs274ngc" if name[0] == "S" else "plain")
    assert len(reading.arcs.radius_mm) == 1
    unit = INCH if reading.units == "inch" else 1.0
    arcs, expected = reading.arcs, case["arc"]
    got = {
        "centre": arcs.centre_mm[0] / unit,
        "radius": arcs.radius_mm[0] / unit,
        "sweep_deg": math.degrees(arcs.sweep_rad[0]),
        "plane_len": abs(arcs.radius_mm[0] * arcs.sweep_rad[0]) / unit,
        "path_len": math.hypot(arcs.radius_mm[0] * arcs.sweep_rad[0], arcs.rise_mm[0]) / unit,
    }
    for key, value in expected.items():
        assert np.allclose(got[key], value, atol=HAND, rtol=0), key
    key = next(iter(expected))
    truth(
        f"nc-{name}-arc",
        f"{case['title']}: {key}",
        source_of(case),
        float(np.sum(expected[key])),
        float(np.sum(got[key])),
        2 * HAND,
    )


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "extents" in case])
def test_extents_of_an_arc(name: str) -> None:
    reading = read_case(CASES[name])
    low, high = reach_of_moves(reading.moves, reading.arcs)
    for axis, (lowest, highest) in CASES[name]["extents"].items():
        at = "XYZ".index(axis)
        before = reading.moves.end_mm[0, at]  # the arc starts where the rapid before it ends
        assert math.isclose(min(low[-1, at], before), lowest, abs_tol=HAND)
        assert math.isclose(max(high[-1, at], before), highest, abs_tol=HAND)


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "moves" in case])
def test_moves_of_a_cycle(name: str) -> None:
    reading = read_case(CASES[name])
    inside = reading.moves.parent >= 0
    kinds = {Kind.RAPID: "rapid", Kind.FEED: "feed"}
    got = [[kinds[Kind(kind)], *end] for kind, end in zip(reading.moves.kind[inside], reading.moves.end_mm[inside].tolist(), strict=True)]  # fmt: skip
    assert got == CASES[name]["moves"]


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if "holes" in case])
def test_holes_of_a_cycle(name: str) -> None:
    reading = read_case(CASES[name])
    cut = (reading.moves.parent >= 0) & (reading.moves.kind == Kind.FEED)
    assert reading.moves.end_mm[cut].tolist() == CASES[name]["holes"]
    assert reading.moves.parent[cut].tolist() == list(range(len(CASES[name]["holes"])))


@pytest.mark.parametrize("name", ["S32a", "S32b", "S58", "S68", "S03", "S56a"])
def test_modal_state(name: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    reading = read_case(case)
    assert not faults(reading)
    final = reading.final
    got = {
        "motion": final.motion, "F": final.f, "S": final.s_per_min, "spindle": final.spindle, "tool": final.tool,
        "plane": final.plane, "distance": final.distance, "feed": final.feed_mode, "wcs": final.wcs, "comp": final.comp,
        "overrides": "on" if final.overrides else "off", "coolant": final.coolant, "units": final.units,
    }  # fmt: skip
    agreeing = sum(
        got[key] == (value.split(" ")[0] if isinstance(value, str) else value) for key, value in case["modal"].items()
    )
    truth(f"nc-{name}-modal", f"{case['title']}: states that agree", source_of(case), len(case["modal"]), agreeing, 0.0)


@pytest.mark.parametrize("name", ["S13", "S14"])
def test_parameters(name: str, truth: Callable[..., None]) -> None:
    reading = read_case(CASES[name])
    for number, value in CASES[name]["params"].items():
        truth(
            f"nc-{name}-params",
            f"#{number} at the end",
            source_of(CASES[name]),
            value,
            reading.parameters[int(number)],
            0.0,
        )


def test_s15_in_between() -> None:
    reading = read_case(CASES["S15"])
    assert math.isclose(reading.moves.end_mm[0, 0], 0.5, abs_tol=ROUNDING)  # "X is 0.5 after the second block"


def test_s24a_dwell(truth: Callable[..., None]) -> None:
    reading = read_case(CASES["S24a"])
    truth(
        "nc-S24a", "dwell", source_of(CASES["S24a"]), CASES["S24a"]["dwell_s"], reading.moves.feed_mm_per_s[0], 0.0, "s"
    )


def test_s34_stops_after_its_motion() -> None:
    reading = read_case(CASES["S34"])
    stop = next(event for event in reading.events if event.what == 5)
    assert reading.final.stopped
    assert stop.before == len(reading.moves) == 1


# --- what custom says beside the report --------------------------------------------------------------------------------


def test_s06_custom_keeps_g80_in_a_group_of_its_own() -> None:
    reading = read_case(CASES["S06"], "plain")
    assert not faults(reading)
    assert any("G80" in problem.what for problem in reading.problems)


@pytest.mark.parametrize(("radius", "accepted"), [("4.9999", True), ("4.9", False)])
def test_s39_custom_forgives_rounding_of_a_half_circle(radius: str, accepted: bool) -> None:
    reading = read_case(CASES["S39"], "plain", ["G21 G90 G0 X0 Y0", f"G2 X10 Y0 R{radius} F100"])
    assert (not faults(reading)) is accepted
    if accepted:
        assert np.allclose(reading.arcs.centre_mm[0], (5.0, 0.0), atol=ROUNDING)
        assert math.isclose(reading.arcs.sweep_rad[0], -math.pi)


def test_s41_custom_takes_a_bare_full_circle() -> None:
    reading = read_case(CASES["S41"], "plain")
    assert not faults(reading)
    low, high = reach_of_moves(reading.moves, reading.arcs)
    assert np.allclose([low[-1, 0], high[-1, 0], low[-1, 1], high[-1, 1]], [0.0, 10.0, -5.0, 5.0], atol=ROUNDING)


def test_s54c_custom_stores_the_cycle_and_drills_nothing() -> None:
    reading = read_case(CASES["S54c"], "plain")
    assert not faults(reading)
    assert not (reading.moves.parent >= 0).any()


def test_s55_custom_differs_so_the_control_is_asked() -> None:
    reading = read_case(CASES["S55"], "plain")
    assert [(problem.kind, problem.fact) for problem in faults(reading)] == [(DEPENDS, "machine.control.after_g80")]
    answered = read_case(CASES["S55"], "plain", after_g80="rapid")
    assert not faults(answered)
    assert answered.end_mm == (5.0, 1.0, 5.0)
    assert answered.control_used == ("machine.control.file_end", "machine.control.after_g80")[::-1]


def test_s59b_custom_lets_g1_and_f_stand_alone() -> None:
    reading = read_case(CASES["S59b"], "plain")
    assert not faults(reading)
    assert reading.final.motion == "G1"


def test_s62_custom_cuts_an_inside_corner_at_the_intersection(truth: Callable[..., None]) -> None:
    reading = read_case(CASES["S62"], "plain")
    assert not faults(reading)
    centre = corner_centre((10.0, 0.0), np.array([1.0, 0.0]), np.array([0.0, 1.0]), 0.5)
    truth(
        "nc-S62-practice",
        "tool centre at the corner, X − Y",
        "common practice (nc-cases S62)",
        9.0,
        centre[0] - centre[1],
        ROUNDING,
        "in",
    )
    assert np.allclose(centre, (9.5, 0.5), atol=ROUNDING)


# --- what hangs on the dialect -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(("family", "dialect"), [("none", "report"), ("macro", "macro dialects")])
def test_p08_fix_of_a_negative_number(family: str, dialect: str, truth: Callable[..., None]) -> None:
    case = CASES["P08"]
    reading = read_case(case, "plain", macro_family=family)
    assert not faults(reading)
    truth(
        f"nc-P08-{family}",
        f"FIX[-2.8], {dialect}",
        source_of(case),
        case["end_by_dialect"][dialect],
        reading.end_mm[0],
        0.0,
    )
    undecided = read_case(case, "plain")
    assert [problem.fact for problem in faults(undecided)] == ["machine.control.macro_family"]


@pytest.mark.parametrize(
    ("rule", "dialect"), [("units", "report and most PC controls"), ("least increment", "least-increment controls")]
)
def test_p09_number_without_a_point(rule: str, dialect: str, truth: Callable[..., None]) -> None:
    case = CASES["P09"]
    reading = read_case(case, "plain", whole_numbers=rule)
    name = "nc-P09-" + rule.split()[0]
    truth(
        name, f"X1000, {dialect}", source_of(case), case["end_by_dialect"][dialect], reading.end_mm[0], ROUNDING, "mm"
    )


@pytest.mark.parametrize(("unit", "dialect"), [("s", "report"), ("ms", "millisecond controls")])
def test_p10_dwell(unit: str, dialect: str, truth: Callable[..., None]) -> None:
    case = CASES["P10"]
    reading = read_case(case, "plain", dwell_p=unit)
    truth(
        f"nc-P10-{unit}",
        f"G4 P500, {dialect}",
        source_of(case),
        case["dwell_by_dialect"][dialect],
        reading.moves.feed_mm_per_s[0],
        0.0,
        "s",
    )
    undecided = read_case(case, "plain")
    assert [problem.fact for problem in faults(undecided)] == ["machine.control.dwell_p"]
    assert math.isnan(undecided.moves.feed_mm_per_s[0])


def test_p11_tapping_feed_over_speed_is_the_pitch(truth: Callable[..., None]) -> None:
    reading = read_case(CASES["P11"], "plain")
    assert not faults(reading)
    tap = reading.moves.kind == Kind.TAP
    pitch = reading.moves.feed_mm_per_s[tap] / np.abs(reading.moves.spindle_per_s[tap])
    truth(
        "nc-P11", "pitch of a tap, F / S", source_of(CASES["P11"]), CASES["P11"]["pitch_mm"], pitch[0], ROUNDING, "mm"
    )
    assert reading.moves.spindle_per_s[tap][0] == -reading.moves.spindle_per_s[tap][1] > 0


def test_p12_incremental_centres_are_an_error_there() -> None:
    program = [line.replace("G90.1", "G91.1") for line in CASES["P12"]["program"]]
    reading = read_case(CASES["P12"], "plain", program)
    assert any("differ by 4 mm" in problem.what and problem.kind == FAULT for problem in reading.problems)


@pytest.mark.parametrize(
    ("name", "words"), [("P16", "for ever"), ("P17", "until it ends"), ("P18", "O7777 is not supplied")]
)
def test_refused(name: str, words: str, truth: Callable[..., None]) -> None:
    case = CASES[name]
    reading = read_case(case, "plain")
    refused = [problem for problem in reading.problems if words in problem.what and problem.judged_again_from == 0]
    truth(
        f"nc-{name}",
        f"refused: {case['result']}",
        source_of(case) + " (refusal is ours)",
        1.0,
        float(len(refused)),
        0.0,
        "problems",
    )
    assert refused[0].kind == FAULT


def test_every_case_is_held_by_some_test() -> None:
    held = set(EXPECTED_END) | set(ERRORS) | {"S13", "S14", "S24a", "S32a", "S32b", "S58", "S68", "P08", "P09", "P10", "P11", "P16", "P17", "P18"}  # fmt: skip
    assert held == set(CASES)
    assert read_case(CASES["S01"]).final.tool == NO_TOOL
