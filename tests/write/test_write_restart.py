"""Restart from a tool: what comes after is what the program itself does, or nothing is written."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.demo.programs import clamp_ring, logger_lid, sensor_cap, vent_plug
from firstoff.errors import InputError
from firstoff.program.moves import DEPENDS, FAULT, Kind, Reading, What
from firstoff.program.reading import Start, read_text
from firstoff.write.blocks import Coolant
from firstoff.write.drilling import Bore, Holes, bore, drill
from firstoff.write.facing import Face, face
from firstoff.write.language import Language
from firstoff.write.program import Program, Section, write_program
from firstoff.write.restarting import LASTING, Restart, restart
from firstoff.write.tooling import Cut, Heights, Spindle, Tool

from .test_write_read_back import control

MM = Language(dwell_unit="s")
HIGH = Heights(12.0, 3.0)
CUT = Cut(1200.0, 300.0)
FACE16, EM6, DR = Tool(1, "face16", 16.0), Tool(2, "em6", 6.0), Tool(5, "dr25", 2.5)


def whole(language: Language = MM) -> str:
    sections = (
        Section(
            FACE16,
            Spindle(12000, 3.0, coolant=Coolant.FLOOD),
            (face(Face(0, 40, 0, 30, 0.3, 0, 0.3, 10), FACE16, CUT, HIGH),),
        ),
        Section(EM6, Spindle(22000, 3.0, coolant=Coolant.MIST), (bore(Bore((20, 15), 9, 0, -4, 0.5), EM6, CUT, HIGH),)),
        Section(DR, Spindle(9000, 3.0), (drill(Holes(((5, 5), (35, 25)), 0, -6, 2), DR, CUT, HIGH),)),
        Section(EM6, Spindle(20000, 3.0), (bore(Bore((8, 8), 8, 0, -3, 0.5), EM6, CUT, HIGH),)),
    )
    return write_program(Program("LID", sections, 12.0), language)


def feeds(reading: Reading) -> np.ndarray:
    return np.flatnonzero(np.isin(reading.moves.kind, [Kind.FEED, Kind.ARC]))


def restarted(text: str, where: Restart, language: Language = MM, base: str = "plain") -> tuple[Reading, str, Reading]:
    old = read_text(text, "part.nc", control(base))
    new = restart(old, where, language, control(base))
    return old, new, read_text(new, "part.nc", control(base))


@pytest.mark.parametrize("base", ["plain", "rs274ngc"])
@pytest.mark.parametrize("language", [MM, Language(units="inch", dwell_unit="s")])
@pytest.mark.parametrize("where", [Restart(1), Restart(2), Restart(5), Restart(2, 2, run_up_s=4.0)])
def test_a_restart_cuts_what_was_left_and_nothing_else(where: Restart, language: Language, base: str) -> None:
    old, text, new = restarted(whole(language), where, language, base)
    assert [p for p in new.problems if p.kind in (FAULT, DEPENDS)] == []
    after, rest = feeds(new), feeds(old)[-len(feeds(new)) :]
    for name in ("kind", "end_mm", "feed_mm_per_s", "spindle_per_s", "tool"):
        assert np.array_equal(getattr(new.moves, name)[after], getattr(old.moves, name)[rest], equal_nan=True), name
    assert np.array_equal(new.moves.flags[after] & LASTING, old.moves.flags[rest] & LASTING)
    assert new.moves.tool[after[0]] == where.tool
    lines = text.splitlines()
    assert lines[0] == lines[-1] == "%"


def test_the_preamble_says_everything_before_the_tool_goes_down() -> None:
    _, text, new = restarted(whole(), Restart(2))
    head = text.splitlines()[:12]
    assert head == [
        "%", "(RESTART FROM T2, LINE 31 OF part.nc)", "G21 G17 G40 G49 G90 G94 G64", "G80", "G53 G0 Z0.0", "M9", "M5", "T2 M6", "G54 G90",
        "S22000 M3", "G0 X20.0 Y15.0", "G0 G43 Z12.0 H2",
    ]  # fmt: skip
    first = feeds(new)[0]
    before = new.moves.end_mm[:first]
    assert np.nanmin(before[new.frames.base[new.moves.frame[:first, 2], 2] == 1, 2]) >= HIGH.approach_z_mm


def test_the_second_use_of_a_tool_is_another_place() -> None:
    _, first, _ = restarted(whole(), Restart(2))
    _, second, _ = restarted(whole(), Restart(2, 2))
    assert "G0 X20.0 Y15.0" in first.splitlines()[:14]
    assert "G0 X8.0 Y8.0" in second.splitlines()[:14]


def hand(*lines: str) -> str:
    return "\n".join(["%", "G21 G17 G40 G49 G90 G94 G54", "G53 G0 Z0.", *lines, "M30", "%"]) + "\n"


FIRST = ("T1 M6", "S9000 M3", "G0 X0. Y0.", "G43 H1 Z10.", "G1 Z-1. F100.", "X10.", "G0 Z10.", "G53 G0 Z0.", "M5")
SECOND = ("T2 M6", "S8000 M3", "G0 X5. Y5.", "G43 H2 Z10.", "G1 Z-1. F200.", "Y10.", "G0 Z10.", "M5")


def test_a_feed_left_by_the_tool_before_is_said_again() -> None:
    second = [line.replace(" F200.", "") for line in SECOND]
    _, text, new = restarted(hand(*FIRST, *second), Restart(2))
    assert "F100.0" in text.splitlines()
    assert new.moves.feed_mm_per_s[feeds(new)[0]] == pytest.approx(100 / 60)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (hand(*FIRST, "G91", *SECOND), "hangs on something said before"),
        (hand(*FIRST, "T2 M6 S8000", *SECOND[1:]), "more than change the tool"),
        (hand(*FIRST[:3], "G92 X1.", *FIRST[3:], *SECOND), "shift"),
        (hand("G10 L2 P1 X10. Y10. Z-50.", *FIRST, *SECOND), "writes offsets"),
        (hand("#1=5.", *FIRST, *SECOND[:2], "G0 X#1 Y5.", *SECOND[3:]), "calls, jumps or counts"),
        (hand(*FIRST, "T2 M6", *SECOND[2:]), "spindle stands still at every cut"),
        (hand(*FIRST, *SECOND[:4], "G1 Z-1. U3. F200."), "not understood"),
        (hand(*FIRST), "does not change to this tool"),
        (hand(*FIRST, *SECOND[:4]), "cuts nothing"),
    ],
)
def test_what_a_restart_cannot_say_again_is_refused(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told):
        restarted(text, Restart(2))


def test_the_tools_that_are_there_are_named() -> None:
    with pytest.raises(InputError, match=r"T1 \(line 10\), T2 \(line 31\)"):
        restarted(whole(), Restart(7))


def test_a_check_with_the_spindle_off_stays_one() -> None:
    old = read_text(sensor_cap(MM), "part.nc", control("plain"))
    new = read_text(restart(old, Restart(7), MM, control("plain")), "part.nc", control("plain"))
    stop = next(event for event in new.events if event.what is What.STOP)
    assert not any(
        event.what is What.SPINDLE and event.value != 0 and event.before <= stop.before for event in new.events
    )


def test_every_section_of_the_demo_programs_can_be_restarted() -> None:
    start = Start(diameters_mm={2: 5.991})
    for written in (logger_lid(MM), sensor_cap(MM), clamp_ring(MM), vent_plug(MM)):
        old = read_text(written, "part.nc", control("plain"), start)
        uses: dict[int, int] = {}
        for change in (event for event in old.events if event.what is What.TOOL_CHANGE):
            uses[change.number] = uses.get(change.number, 0) + 1
            text = restart(old, Restart(change.number, uses[change.number]), MM, control("plain"), start)
            assert len(feeds(read_text(text, "part.nc", control("plain"), start))) > 0
        assert sum(uses.values()) >= 2
