"""Whole programs: what is on at the first cut and off at the end, the touch check, the warm-up."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from firstoff.errors import InputError
from firstoff.write.blocks import (
    Arc,
    Block,
    Blocks,
    Change,
    Coolant,
    CoolantTo,
    Drill,
    Dwell,
    Halt,
    LengthOn,
    Line,
    Rapid,
    SpindleOff,
    SpindleOn,
)
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.language import Language
from firstoff.write.program import Program, Section, program_blocks, write_program
from firstoff.write.tooling import Cut, Heights, Spindle, Tool
from firstoff.write.touching import TouchCheck, touch_blocks
from firstoff.write.warming import WarmUp, warm_up

from .tracing import trace

HEIGHTS = Heights(12.0, 3.0)
CUT = Cut(1200.0, 300.0)
FACE16, EM6, DRILL = Tool(1, "face16", 16.0), Tool(2, "em6", 6.0), Tool(5, "dr25", 2.5)


def two_tools(check: TouchCheck | None = None) -> Program:
    faced = face(Face(0, 40, 0, 30, 0.3, 0.0, 0.3, 10), FACE16, CUT, HEIGHTS)
    bored = bore(Bore((20, 15), 9, 0, -4, 0.5), EM6, CUT, HEIGHTS)
    drilled = drill(Holes(((5, 5), (35, 25)), 0, -6, 2), DRILL, CUT, HEIGHTS)
    return Program(
        "LOGGER LID",
        (
            Section(FACE16, Spindle(12000, 4.0, coolant=Coolant.FLOOD), (faced,), check),
            Section(EM6, Spindle(22000, 4.0, coolant=Coolant.MIST), (bored,)),
            Section(DRILL, Spindle(9000, 4.0), (drilled,)),
        ),
        12.0,
    )


def states(blocks: Sequence[Block]) -> list[tuple[Block, bool, Coolant, int, bool]]:
    """(block, spindle on, coolant, tool, length on) as each block finds them."""
    spindle, coolant, tool, length = False, Coolant.OFF, 0, False
    found = []
    for block in blocks:
        if isinstance(block, SpindleOn):
            spindle = True
        elif isinstance(block, (SpindleOff, Change)):
            spindle = False
        if isinstance(block, Change):
            tool, length = block.number, False
        elif isinstance(block, CoolantTo):
            coolant = block.coolant
        elif isinstance(block, LengthOn):
            length = block.register == tool
        found.append((block, spindle, coolant, tool, length))
    return found


def test_the_spindle_turns_and_the_coolant_flows_at_every_cut_and_nothing_is_left_on() -> None:
    found = states(program_blocks(two_tools()))
    wanted = {1: Coolant.FLOOD, 2: Coolant.MIST, 5: Coolant.OFF}
    for block, spindle, coolant, tool, length in found:
        if isinstance(block, (Line, Arc, Drill)):
            assert spindle
            assert length
            assert coolant is wanted[tool]
        if isinstance(block, Change):
            assert coolant is Coolant.OFF
    assert found[-1][1:3] == (False, Coolant.OFF)


def test_the_tool_comes_down_only_after_the_run_up_and_over_its_place() -> None:
    blocks = program_blocks(two_tools())
    for at, block in enumerate(blocks):
        if isinstance(block, SpindleOn):
            assert isinstance(blocks[at + 1], Dwell)
            assert blocks[at + 1] == Dwell(4.0)
            across, down = blocks[at + 2], blocks[at + 3]
            assert isinstance(across, Rapid)
            assert across.z_mm is None
            assert isinstance(down, LengthOn)
            assert down.z_mm == 12.0
    for at, block in enumerate(blocks):
        if isinstance(block, Change):  # always with the gauge point at machine Z zero
            lifts = [b for b in blocks[:at] if isinstance(b, Rapid)]
            assert lifts[-1] == Rapid(z_mm=0.0, machine=True)


def test_the_text_begins_safely_and_ends() -> None:
    lines = write_program(two_tools(), Language(dwell_unit="s")).splitlines()
    assert lines[:2] == ["%", "(LOGGER LID)"]
    assert lines[-2:] == ["M30", "%"]
    start = lines.index("G21 G17 G40 G49 G90 G94 G64")
    assert lines[start + 1 : start + 3] == ["G80", "G53 G0 Z0.0"]
    assert lines[lines.index("T2 M6") : lines.index("T2 M6") + 7] == [
        "T2 M6", "G54 G90", "S22000 M3", "G4 P4.0", "G0 X20.0 Y15.0", "G0 G43 Z12.0 H2", "M7",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"sections": ()}, "no tool"),
        ({"system": "G60"}, "work system"),
        ({"safe_z_mm": 8.0}, "safe height"),
        ({"safe_z_mm": math.nan}, "safe_z_mm"),
    ],
)
def test_a_program_that_cannot_be_is_refused(change: dict[str, object], told: str) -> None:
    program = two_tools()
    values = {
        "title": program.title,
        "sections": program.sections,
        "safe_z_mm": program.safe_z_mm,
        "system": "G54",
    } | change
    with pytest.raises(InputError, match=told):
        program_blocks(Program(**values))  # type: ignore[arg-type]


def test_a_tool_number_beyond_every_table_is_refused() -> None:
    section = Section(Tool(100, "x", 6.0), Spindle(0.0, -1.0), ())
    with pytest.raises(InputError) as raised:
        program_blocks(Program("X", (section,), 12.0))
    assert len(raised.value.faults) == 6  # nothing to do, T, H, D, speed, run-up


# --- touch check ---

CHECK = TouchCheck(10.0, 8.0, 0.3, 10.0, 0.4)


def test_the_check_stands_still_above_the_stock_and_never_below_the_gap() -> None:
    blocks = program_blocks(two_tools(CHECK))
    halt = next(at for at, block in enumerate(blocks) if isinstance(block, Halt))
    assert not any(isinstance(block, SpindleOn) for block in blocks[:halt])
    before = trace(blocks[:halt])
    assert before[-1].end == (10.0, 8.0, 10.3)
    assert before[-1].kind == "feed"
    heights = [z for step in before for z in (step.start[2], step.end[2]) if not math.isnan(z)]
    assert min(heights) == pytest.approx(CHECK.stock_top_z_mm + CHECK.gap_mm)
    assert isinstance(blocks[halt + 1], Rapid)  # up before anything goes across
    assert blocks[halt + 1] == Rapid(z_mm=12.0)
    message = blocks[halt]
    assert isinstance(message, Halt)
    assert all(word in message.message for word in ("10 mm", "X10", "Y8", "T1 face16"))
    found = states(blocks)
    assert all(state[1] for state in found[halt + 1 :] if isinstance(state[0], (Line, Arc, Drill)))


@pytest.mark.parametrize(
    "wrong",
    [
        TouchCheck(0, 0, 0.3, gap_mm=0.0),
        TouchCheck(0, 0, 0.3, gap_mm=-1.0),
        TouchCheck(0, 0, 0.3, gap_mm=2.0, stock_doubt_mm=1.6),
        TouchCheck(0, 0, 3.0, gap_mm=10.0),
        TouchCheck(math.nan, 0, 0.3),
    ],
)
def test_a_check_that_could_touch_is_refused(wrong: TouchCheck) -> None:
    with pytest.raises(InputError):
        touch_blocks(wrong, EM6, 12.0)


# --- warm-up ---


def seconds(blocks: Blocks) -> float:
    return sum(block.seconds for block in blocks if isinstance(block, Dwell))


def test_the_warm_up_lasts_what_it_says_and_stays_up_while_it_goes_across() -> None:
    what = WarmUp(((4000, 2.0), (12000, 3.0), (24000, 5.0)), ((40, 40, -30), (260, 200, -60)), tool_number=8)
    blocks = warm_up(what)
    assert seconds(blocks) == pytest.approx(600)
    assert [block.speed_per_min for block in blocks if isinstance(block, SpindleOn)] == [4000, 12000, 24000]
    moves = [block for block in blocks if isinstance(block, Rapid)]
    assert all(block.machine for block in moves)
    height = 0.0
    for block in moves:
        assert (block.x_mm is None and block.y_mm is None) or height == 0.0
        height = height if block.z_mm is None else block.z_mm
    assert height == 0.0
    assert isinstance(blocks[-1], SpindleOff)
    halt = next(at for at, block in enumerate(blocks) if isinstance(block, Halt))
    assert halt < next(at for at, block in enumerate(blocks) if isinstance(block, SpindleOn))
    assert max(block.seconds for block in blocks if isinstance(block, Dwell)) <= 20.0


@pytest.mark.parametrize(
    "wrong",
    [WarmUp(()), WarmUp(((0, 2),)), WarmUp(((4000, -1),)), WarmUp(((4000, 1),), ((0, 0, 5), (1, 1, 0)))],
)
def test_a_warm_up_that_cannot_be_is_refused(wrong: WarmUp) -> None:
    with pytest.raises(InputError):
        warm_up(wrong)
