"""Everything written is read back by our own reader: the same moves, no word in doubt, on and off where it must be, in both bases."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.program.bounds import reach_of_moves
from firstoff.program.control import Control
from firstoff.program.moves import DEPENDS, FAULT, Flag, Kind, Reading, What
from firstoff.program.reading import Start, read_text
from firstoff.write.blocks import Blocks, Coolant, ReturnTo
from firstoff.write.contouring import Chamfer, Contour, chamfer, contour
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.finishing import BallFinish, ball_finish, dome
from firstoff.write.language import Language
from firstoff.write.outline import circle, rectangle
from firstoff.write.pocketing import Pocket, Slot, Trochoid, pocket, slot
from firstoff.write.program import Program, Section, program_blocks
from firstoff.write.text import text_of
from firstoff.write.tooling import Cut, Heights, Spindle, Tool
from firstoff.write.touching import TouchCheck
from firstoff.write.warming import WarmUp, warm_up

from .tracing import extents, trace

HIGH = Heights(12.0, 3.0)
CUT = Cut(1200.0, 300.0)
EM6, FACE16, B4, DR = Tool(2, "em6", 6.0), Tool(1, "face16", 16.0), Tool(7, "b4", 4.0), Tool(5, "dr25", 2.5)
HOW = Trochoid(0.7, 0.4, 3.0)
SHAPE = rectangle((0, 0), (40, 25), 4)

OPERATIONS: dict[str, tuple[Tool, Callable[[], Blocks]]] = {
    "face": (FACE16, lambda: face(Face(0, 40, 0, 30, 0.4, 0.0, 0.25, 9.0), FACE16, CUT, HIGH)),
    "slot": (EM6, lambda: slot(Slot((2, 1), (22, 11), 9.0, 0.0, -4.0), HOW, EM6, CUT, HIGH)),
    "pocket": (EM6, lambda: pocket(Pocket(0, 36, 0, 22, 0.0, -4.0, 0.2), HOW, EM6, CUT, HIGH)),
    "contour": (EM6, lambda: contour(Contour(SHAPE, 0.0, -5.0, 2.5, 3.0), EM6, CUT, HIGH)),
    "compensated": (EM6, lambda: contour(Contour(SHAPE, 0.0, -5.0, 2.5, 4.0, 3.5, compensated=True), EM6, CUT, HIGH)),
    "inside": (EM6, lambda: contour(Contour(SHAPE, 0.0, -5.0, 2.5, 2.5, 1.0, inside=True), EM6, CUT, HIGH)),
    "chamfer": (EM6, lambda: chamfer(Chamfer(circle((7, 8), 26), 0.0, 0.4), EM6, CUT, HIGH)),
    "bore": (EM6, lambda: bore(Bore((5, 7), 9.0, 0.0, -6.3, 0.5), EM6, CUT, HIGH)),
    "drill": (DR, lambda: drill(Holes(((5, 5), (35, 5), (35, 20)), 0.0, -6.0), DR, CUT, HIGH)),
    "peck": (DR, lambda: drill(Holes(((5, 5), (35, 5)), 0.0, -6.0, 1.7, ReturnTo.APPROACH), DR, CUT, HIGH)),
    "ball": (B4, lambda: ball_finish(BallFinish(dome((0, 0), -0.1, 30), -6, 6, -5, 5, -2, 0.004, 0.02), B4, CUT, HIGH)),
}
BOTTOM = {
    "face": 0.0,
    "slot": -4.0,
    "pocket": -4.0,
    "bore": -6.3,
    "drill": -6.0,
    "peck": -6.0,
    "chamfer": -0.9,
    "ball": -2.0,
}
LANGUAGES = {
    "mm": Language(dwell_unit="s"),
    "three decimals": Language(dwell_unit="s", decimals=3, numbered=True, ends_with="M2"),
    "inch": Language(units="inch", dwell_unit="s"),
}
ROUNDED_MM = {"mm": 0.6e-4, "three decimals": 0.6e-3, "inch": 0.6e-5 * 25.4}


def control(base: str) -> Control:
    """A control that answers what the programs depend on and nothing else."""
    words = {"base": base, "dwell_p": "s", "rapid_path": "straight"}
    settings = {f"machine.control.{key}": Setting(f"machine.control.{key}", word) for key, word in words.items()}
    back_off = Fact("machine.control.peck_back_off", 0.3, 0.0, "mm")
    return Control.of(FactSet({back_off.path: back_off}, settings))


def read_back(text: str, base: str) -> Reading:
    return read_text(text, "part.nc", control(base), Start(diameters_mm={EM6.d: 5.99}))


def program(name: str, check: TouchCheck | None = None) -> Blocks:
    tool, operation = OPERATIONS[name]
    section = Section(tool, Spindle(18000, 3.0, coolant=Coolant.FLOOD), (operation(),), check)
    return program_blocks(Program(name, (section,), HIGH.safe_z_mm))


def doubts(reading: Reading) -> list[str]:
    return [f"{p.line}: {p.text}: {p.what}" for p in reading.problems if p.kind in (FAULT, DEPENDS)]


def plain_moves(reading: Reading) -> np.ndarray:
    """Indices of the rapids, feeds and arcs that stand in the text themselves."""
    moves = reading.moves
    return np.flatnonzero(np.isin(moves.kind, [Kind.RAPID, Kind.FEED, Kind.ARC]) & ((moves.flags & Flag.CYCLE) == 0))


@pytest.mark.parametrize("base", ["plain", "rs274ngc"])
@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("name", OPERATIONS)
def test_what_is_written_is_what_is_read(name: str, language: str, base: str) -> None:
    blocks = program(name)
    reading = read_back(text_of(blocks, LANGUAGES[language]), base)
    assert doubts(reading) == []
    rounded = ROUNDED_MM[language]
    wanted = [
        step
        for step in trace(blocks)
        if math.isnan(step.start[2]) or math.dist(step.start, step.end) > 2.5 * rounded or step.centre
    ]
    moves, kinds = reading.moves, {"rapid": Kind.RAPID, "feed": Kind.FEED, "arc": Kind.ARC}
    found = [
        i
        for i in plain_moves(reading)
        if i == 0 or not np.array_equal(moves.end_mm[i], moves.end_mm[i - 1]) or moves.arc[i] >= 0
    ]
    assert [moves.kind[i] for i in found] == [kinds[step.kind] for step in wanted]
    for i, step in zip(found, wanted, strict=True):
        known = [axis for axis in range(3) if not math.isnan(step.end[axis])]
        assert moves.end_mm[i, known] == pytest.approx(np.array(step.end)[known], abs=rounded)
        if step.centre is not None:
            row = moves.arc[i]
            assert reading.arcs.centre_mm[row] == pytest.approx(step.centre, abs=3 * rounded)
            assert reading.arcs.sweep_rad[row] == pytest.approx(step.sweep, abs=6 * rounded / step.radius + 1e-9)


@pytest.mark.parametrize("name", OPERATIONS)
def test_extents_read_back_are_those_predicted(name: str) -> None:
    blocks = program(name)
    reading = read_back(text_of(blocks, LANGUAGES["mm"]), "plain")
    moves = reading.moves
    low, high = reach_of_moves(moves, reading.arcs)
    cutting = np.isin(moves.kind, [Kind.FEED, Kind.ARC])
    if name in BOTTOM:
        assert low[cutting, 2].min() >= BOTTOM[name] - 0.6e-4
    if name not in ("drill", "peck"):
        for axis, (wanted_low, wanted_high) in enumerate(extents(trace(blocks))[:2]):
            assert low[cutting, axis].min() == pytest.approx(wanted_low, abs=1e-3)
            assert high[cutting, axis].max() == pytest.approx(wanted_high, abs=1e-3)


@pytest.mark.parametrize("name", OPERATIONS)
def test_spindle_coolant_and_length_are_on_at_every_cut_and_off_at_the_end(name: str) -> None:
    tool = OPERATIONS[name][0]
    reading = read_back(text_of(program(name), LANGUAGES["mm"]), "plain")
    moves, frames = reading.moves, reading.frames
    cutting = np.isin(moves.kind, [Kind.FEED, Kind.ARC])
    assert cutting.any()
    assert (moves.spindle_per_s[cutting] == 300.0).all()
    assert ((moves.flags[cutting] & Flag.FLOOD) > 0).all()
    assert (moves.tool[cutting] == tool.number).all()
    assert (frames.length[moves.frame[cutting, 2]] == tool.h).all()
    assert (moves.feed_mm_per_s[cutting] > 0).all()
    final = reading.final
    assert (final.spindle, final.coolant, final.comp, final.distance, final.ended_by) == (
        "off",
        "off",
        "G40",
        "G90",
        "M30",
    )
    dwells = np.flatnonzero(moves.kind == Kind.DWELL)
    assert moves.feed_mm_per_s[dwells].sum() == pytest.approx(3.0)
    assert dwells[0] < np.flatnonzero(cutting)[0]


def test_compensation_is_on_along_the_outline_and_off_elsewhere() -> None:
    reading = read_back(text_of(program("compensated"), LANGUAGES["mm"]), "plain")
    moves = reading.moves
    on = (moves.flags & Flag.COMP_LEFT) > 0
    arcs = moves.kind == Kind.ARC
    assert on[arcs].all()
    assert not on[moves.kind == Kind.RAPID].any()
    assert (moves.comp_register[on] == EM6.d).all()


def test_holes_are_read_as_holes() -> None:
    reading = read_back(text_of(program("peck"), LANGUAGES["mm"]), "plain")
    moves = reading.moves
    in_cycle = moves.parent >= 0
    assert len(set(moves.parent[in_cycle].tolist())) == 2
    assert moves.end_mm[in_cycle, 2].min() == -6.0
    depths = moves.end_mm[in_cycle & (moves.kind == Kind.FEED), 2]
    assert len(set(np.round(depths, 6).tolist())) == 6  # 9 mm from the approach height by 1.7


def test_the_touch_check_stops_with_words_before_anything_turns() -> None:
    blocks = program("face", TouchCheck(10.0, 8.0, 0.3, 1.5, 0.4))
    reading = read_back(text_of(blocks, LANGUAGES["mm"]), "plain")
    assert doubts(reading) == []
    stop = next(event for event in reading.events if event.what is What.STOP)
    starts = [event for event in reading.events if event.what is What.SPINDLE and event.value != 0]
    assert stop.before <= starts[0].before
    assert any("above the stock" in event.text for event in reading.events if event.what is What.MESSAGE)
    before = reading.moves.end_mm[: stop.before]
    systems = reading.frames.base[reading.moves.frame[: stop.before, 2], 2] == 1
    assert before[systems, 2].min() == pytest.approx(0.3 + 1.5)


@pytest.mark.parametrize("base", ["plain", "rs274ngc"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_warm_up_reads_back_in_machine_coordinates(language: str, base: str) -> None:
    corners = ((40.0, 30.0, -20.0), (230.0, 190.0, -50.0))
    text = text_of(warm_up(WarmUp(((4000, 1.0), (24000, 1.0)), corners)), LANGUAGES[language])
    reading = read_back(text, base)
    assert doubts(reading) == []
    moves = reading.moves
    assert set(moves.kind.tolist()) == {Kind.MACHINE, Kind.DWELL}
    assert moves.feed_mm_per_s[moves.kind == Kind.DWELL].sum() == pytest.approx(120)
    assert moves.end_mm[moves.kind == Kind.MACHINE, 2].min() == pytest.approx(-50, abs=1e-3)
    assert reading.final.spindle == "off"
