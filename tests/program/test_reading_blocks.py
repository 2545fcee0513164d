"""What one block does and in which order (NISTIR 6556, Table 8), and what hangs on the control."""

from __future__ import annotations

import math

import numpy as np
import pytest

from firstoff.errors import InputError
from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.program.control import Control
from firstoff.program.moves import DEPENDS, FAULT, NO_TOOL, Flag, Kind, What
from firstoff.program.reading import Start, read_text
from tests.program.reading_of import events, faults, kinds, read, told

HEAD = "G21 G17 G90 G94 G40 G49 G80 G54"
UNSURE = int(Flag.UNSURE)


# --- the control -------------------------------------------------------------------------------------------------------


def test_the_machine_answers_before_its_base_and_is_remembered() -> None:
    facts = FactSet(
        {"machine.control.arc_tolerance": Fact("machine.control.arc_tolerance", 0.02, 0.0, "mm")},
        {
            "machine.control.after_g80": Setting("machine.control.after_g80", "rapid"),
            "machine.control.own_m_codes.31": Setting("machine.control.own_m_codes.31", "nothing moves"),
            "machine.axis.x.name": Setting("machine.axis.x.name", "X"),
        },
    )
    control = Control.of(facts, "plain")
    assert control.base == "plain"
    assert control.answer("after_g80") == "rapid"
    assert control.answer("arc_tolerance") == 0.02
    assert control.answer("dwell_p") is None
    assert control.answer("g28_axes") == "named"
    assert control.own_code(31) == "nothing moves"
    assert control.own_code(33) is None
    assert list(control.used) == [
        "machine.control.after_g80",
        "machine.control.arc_tolerance",
        "machine.control.own_m_codes.31",
    ]


def test_the_machines_base_outranks_the_command_line() -> None:
    facts = FactSet({}, {"machine.control.base": Setting("machine.control.base", "rs274ngc")})
    assert Control.of(facts, "plain").report
    assert Control.of(None, None).base == "plain"
    with pytest.raises(InputError, match="no such base"):
        Control.of(None, "other")


@pytest.mark.parametrize("key", sorted(CONTROL_KEYS))
def test_every_key_has_an_answer_or_is_open(key: str) -> None:
    for base in ("plain", "rs274ngc"):
        answer = Control.of(None, base).answer(key)
        words = CONTROL_KEYS[key].words
        assert answer is None or answer in words


def test_a_control_that_says_nothing_wrong_is_not_asked_for_what_does_not_matter() -> None:
    reading = read_text(f"{HEAD}\nS100 M3\nG0 X1 Y1 Z1\nG1 X2 F60\nG4 P0\nG0 Z9 M5\nM30\n", "a", Control.of())
    assert not faults(reading)
    assert reading.control_used == ()


# --- order -------------------------------------------------------------------------------------------------------------


def test_a_tool_change_stops_the_spindle_before_m3_of_its_block() -> None:
    reading = read(HEAD, "S500 M3", "T4 M6 M3", "G0 X1", "X2", "M30")
    assert [(event.what, event.number) for event in reading.events if event.what in (What.SPINDLE, What.TOOL_CHANGE)] == [
        (What.SPINDLE, 3), (What.SPINDLE, 0), (What.TOOL_CHANGE, 4), (What.SPINDLE, 3),
    ]  # fmt: skip
    assert [bool(flags & Flag.RESTORED) for flags in reading.moves.flags] == [True, False]
    assert reading.moves.tool.tolist() == [4, 4]


def test_tools_by_the_control() -> None:
    assert read(HEAD, "T4", "G0 X1", "M30").moves.tool[0] == NO_TOOL
    assert read(HEAD, "T4", "G0 X1", "M30", t_alone="changes").moves.tool[0] == 4
    assert read(HEAD, "T4 M6", "G0 X1", "M30", m6="ignored").moves.tool[0] == NO_TOOL
    assert "none was named" in told(read(HEAD, "M6", "G0 X1", "M30"))
    assert "T is a whole number" in told(read(HEAD, "T-1 M6", "M30"))


@pytest.mark.parametrize(("way", "speeds"), [("before", [0.0]), ("after", [10.0])])
def test_m5_in_a_cutting_block_hangs_on_the_control(way: str, speeds: list[float]) -> None:
    lines = (HEAD, "S600 M3 M8", "G1 X1 F60 M5 M9", "M30")
    assert read(*lines, m5_when=way).moves.spindle_per_s.tolist() == speeds
    assert [p.fact for p in faults(read(*lines))] == ["machine.control.m5_when"]
    assert not faults(read(HEAD, "S600 M3 M8", "G0 X1 M5 M9", "M30"))


def test_speed_changes_while_it_turns_are_events() -> None:
    reading = read(HEAD, "M3", "G1 X1 F60", "S600", "X2", "S600", "M4 S300", "X3", "M5", "S900", "M30")
    assert [event.value for event in events(reading, What.SPINDLE)][1:] == [10.0, -5.0, 0.0]
    assert math.isnan(events(reading, What.SPINDLE)[0].value)
    assert reading.moves.spindle_per_s.tolist()[1:] == [10.0, -5.0]
    assert math.isnan(reading.moves.spindle_per_s[0])


def test_coolant_and_overrides() -> None:
    reading = read(HEAD, "M7 M8", "G1 X1 F60", "M9", "X2", "M49", "X3", "M48", "X4", "M13 S100", "X5", "M30")
    wet = [int(flags) & int(Flag.MIST | Flag.FLOOD) for flags in reading.moves.flags]
    assert wet == [3, 0, 0, 0, 2]
    assert [event.number for event in events(reading, What.COOLANT)] == [3, 0, 2]
    assert [bool(flags & Flag.NO_OVERRIDE) for flags in reading.moves.flags] == [False, False, True, False, False]


def test_exact_stop_for_a_mode_and_for_one_block() -> None:
    reading = read(HEAD, "G61", "G1 X1 F60", "G64 P0.02", "X2", "G9 X3", "X4", "M30")
    assert [bool(flags & Flag.EXACT_STOP) for flags in reading.moves.flags] == [True, False, True, False]
    assert reading.final.path_mode == "G64 P0.02"


# --- feed --------------------------------------------------------------------------------------------------------------


def test_inverse_time_gives_each_block_its_own_feed() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z0", "G93 G1 X30 Y40 F2", "G2 X30 Y40 I10 J0 F1", "G94 G1 X0 F60", "M30")
    assert not faults(reading)
    assert reading.moves.feed_mm_per_s[1] == pytest.approx(50 * 2 / 60)
    assert reading.moves.feed_mm_per_s[2] == pytest.approx(2 * math.pi * 10 / 60)
    assert reading.moves.flags[1] & Flag.INVERSE_TIME
    assert reading.moves.feed_mm_per_s[3] == 1.0


def test_feed_per_turn() -> None:
    reading = read(HEAD, "S600 M3", "G95 G1 X10 F0.1", "G94 X20", "F60 X30", "M30")
    assert reading.moves.feed_mm_per_s[0] == pytest.approx(1.0)
    assert reading.moves.flags[0] & Flag.PER_REV
    assert math.isnan(reading.moves.feed_mm_per_s[1])
    assert "since G94 changed what it counts" in told(reading)


def test_a_feed_must_be_given_positive_and_in_one_unit() -> None:
    assert "no feed was given" in told(read(HEAD, "G1 X1", "X2", "M30"))
    assert len(faults(read(HEAD, "G1 X1", "X2", "M30"))) == 1
    assert not faults(read(HEAD, "G1 X1", "M2", base="rs274ngc"))
    assert "the feed is zero" in told(read(HEAD, "G1 X1 F0", "M30"))
    assert "a negative feed" in told(read(HEAD, "G1 X1 F-5", "M30"))
    assert "changes the unit" in told(read(HEAD, "G1 X1 F60", "G20 F10 X2", "M30"))
    assert "since G20 changed the unit" in told(read(HEAD, "G1 X1 F60", "G20", "X2", "M30"))
    assert "lathes" in told(read(HEAD, "G96 S100 M3", "M30"))


# --- compensation ------------------------------------------------------------------------------------------------------

TOOL = Start(diameters_mm={1: 6.0})


def test_compensation_marks_its_moves_and_needs_a_diameter() -> None:
    reading = read(HEAD, "T1 M6", "G0 X0 Y0", "G41 D1 G1 X10 F60", "Y-20", "G40 X0", "M30", start=TOOL)
    assert not faults(reading)
    assert [bool(flags & Flag.COMP_LEFT) for flags in reading.moves.flags] == [False, True, True, False]
    assert reading.moves.comp_register.tolist() == [-1, 1, 1, -1]
    assert [p.fact for p in faults(read(HEAD, "G0 X0 Y0", "G41 D7 G1 X10 F60", "G40 X0", "M30"))] == [
        "tools.register.D7"
    ]
    assert read(HEAD, "T3 M6", "G0 X0 Y0", "G42 G1 X10 F60", "M30").moves.comp_register[1] == 3


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        (("G41 D1 G1 X2 F60", "G40 X0"), "shorter than the cutter's radius"),
        (("G41 D1 G1 X20 F60", "Y1", "X15"), "does not fit into this corner"),
        (("G41 D1 G1 X20 F60", "G3 X20 Y4 J2 I0", "G1 X10"), "smaller than the cutter's radius"),
        (("G41 D1", "G2 X20 Y0 I10 J0 F60"), "begins on an arc"),
        (("G41 D1 G1 X20 F60", "G40 G3 X30 Y10 I0 J10"), "ends on an arc"),
        (("G41 D1 G1 X20 F60", "G42 X30"), "is on already"),
        (("G41 D1 G1 X20 F60", "G55 X30"), "no change of work system"),
        (("G41 D1 G1 X20 F60", "G18"), "no other plane"),
        (("G41 D1 G1 X20 F60", "G28 Z0"), "no G28"),
        (("G41 D1 G1 X20 F60", "G92 X0"), "no G92"),
        (("G41 D1 G1 X20 F60", "G20"), "no change of unit"),
        (("G41 D1 G1 X20 F60", "G38.2 Z-9"), "no probing"),
        (("G18 G41 D1 G1 X20 F60",), "XY plane only"),
        (("D1",), "D without G41"),
    ],
)  # fmt: skip
def test_what_compensation_forbids(lines: tuple[str, ...], words: str) -> None:
    reading = read(HEAD, "G0 X0 Y0 Z0", *lines, "M30", start=TOOL)
    assert words in told(reading)
    assert faults(reading)


def test_outside_corners_and_wide_inside_corners_are_fine() -> None:
    outside = read(HEAD, "G0 X0 Y-20", "G41 D1 G1 Y0 F60", "Y50", "X50", "Y0", "X-20", "G40 Y-20", "M30", start=TOOL)
    assert not faults(outside)
    inside = read(HEAD, "G0 X20 Y20", "G41 D1 G1 Y0 F60", "X40", "Y40", "X0", "Y0", "X25", "G40 Y20", "M30", start=TOOL)
    assert not faults(inside)
    fault = read(
        HEAD, "G0 X20 Y20", "G41 D1 G1 Y0 F60", "X40", "Y40", "G40 X20", "M30", start=TOOL, comp_corner="fault"
    )
    assert "concave corner" in told(fault)
    wear = read(HEAD, "G0 X0 Y0", "G41 D1 G1 X1 F60", "Y1", "X0", "G40 Y-5", "M30", start=Start(diameters_mm={1: 0.0}))
    assert not faults(wear), "compensating for wear only: the lead-in may be short"


# --- flow, stops, own codes ---------------------------------------------------------------------------------------------


def test_own_codes_are_asked_for_and_believed() -> None:
    unknown = read(HEAD, "G0 X1 Y1 Z1", "M31", "X2 Y2", "Z2", "X3", "M30")
    assert [(p.kind, p.fact, p.judged_again_from) for p in faults(unknown)] == [
        (DEPENDS, "machine.control.own_m_codes.31", 5)
    ]
    known = read(HEAD, "G0 X1 Y1 Z1", "M31", "X2", "M30", own={31: "nothing moves"})
    assert not faults(known)
    assert [(event.number, event.text) for event in events(known, What.OWN_CODE)] == [(31, "nothing moves")]
    assert known.control_used == ("machine.control.own_m_codes.31",)
    moving = read(HEAD, "G0 X1 Y1 Z1", "M31", "X2", "M30", own={31: "moves the pallet"})
    assert faults(moving)
    assert moving.moves.flags[1] & UNSURE


@pytest.mark.parametrize(
    "comment", ["(FLIP PART)", "(turn the part over)", "(re-zero Z on the new top)", "(set zero again)"]
)
def test_a_stop_at_which_the_part_is_moved_parts_the_program(comment: str) -> None:
    for lines in ((f"M0 {comment}",), (comment, "M0"), ("M1", comment)):
        reading = read(HEAD, "G0 X1 Y1 Z1", *lines, "G0 X2 Y2 Z2", "M30")
        assert faults(reading)[0].judged_again_from == 0
        assert reading.moves.flags[-1] & UNSURE
    assert not faults(read(HEAD, "G0 X1 Y1 Z1", "M0 (check the clamps)", "G0 X2", "M30"))


def test_block_delete_is_asked_for() -> None:
    lines = (HEAD, "G0 X1", "/G0 X2", "M30")
    asked = read(*lines)
    assert [p.fact for p in faults(asked)] == ["machine.control.block_delete"]
    assert asked.end_mm[0] == 2.0
    skipped = read(*lines, block_delete="on")
    assert not faults(skipped)
    assert skipped.end_mm[0] == 1.0
    assert [event.number for event in events(skipped, What.BLOCK_DELETE)] == [0]


def test_a_value_that_cannot_be_worked_out_spoils_what_hangs_on_it() -> None:
    reading = read(HEAD, "G0 X1 Y1 Z1", "#5=#5041+1", "G0 X#5", "Y2 Z2", "X3", "X4", "M30", macro_family="macro")
    assert [p.line for p in faults(reading)] == [3, 4]
    assert faults(reading)[1].judged_again_from == 6
    assert not reading.moves.flags[-1] & UNSURE
    feed = read(HEAD, "G1 X1 F100", "F#5041", "X2", "M30", macro_family="macro")
    assert math.isnan(feed.moves.feed_mm_per_s[1]), "the old feed does not live on"


def test_setting_a_number_of_the_control_hides_everything_but_a_message() -> None:
    assert faults(read(HEAD, "#5221=10", "G0 X1", "M30"))[0].judged_again_from == 0
    assert faults(read(HEAD, "#3006=1", "G0 X1", "M30"))[0].judged_again_from is None


def test_parameters_in_a_block_are_read_before_they_are_set() -> None:
    reading = read(HEAD, "#3=15", "#3=6 G0 X#3", "Y#3", "M30")
    assert reading.moves.end_mm[:, 0].tolist() == [15, 15]
    assert reading.moves.end_mm[1, 1] == 6
    assert reading.parameters == {3: 6.0}


def test_moves_of_a_subprogram_in_this_file_keep_their_lines() -> None:
    reading = read(HEAD, "M98 P20 L2", "M30", "O20", "G91 G0 X1", "G90", "M99")
    assert reading.moves.line.tolist() == [5, 5]
    assert reading.blocks == 1 + 1 + 2 * 4 + 1
    assert not faults(reading)


def test_modal_groups_and_doubled_words() -> None:
    for line, words in (
        ("G90 G91 X1", "one group"), ("M3 M5", "one group"), ("M8 M9", "coolant on and off"), ("G0 X1 G28 Z0 G92 Y1", "two codes that use"),
        ("G1 G81 X1 Z-1 R1 F9", "only one kind of motion"), ("M3.5", "whole number"), ("G0 X1 H3", "nothing in this block uses H"), ("G0 X1 R3", "uses R"),
        ("M3 S100 P20", "uses P"), ("G5.1 Q1", "no G code"),
    ):  # fmt: skip
        reading = read(HEAD, line, "M30")
        assert words in told(reading), line
        assert any(p.kind == FAULT for p in faults(reading)), line
    assert not faults(read("G21 G0 G17 G40 G80 G90", "X1", "M30"))
    assert not faults(read(HEAD, "G0 G28 G91 Z0", "M30"))
    assert not faults(read(HEAD, "M3 S100 M8 M48 M7 M1", "M30"))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("G2 X10 Y0 R5 I5", "R and a centre in one block"), ("G2 X10 Y0", "without R and without I and J"), ("G2 R5", "without X and Y"), ("G2 X10 Y0 I0 J0", "no radius"),
        ("G2 X10 Y0 I5 K3", "K is no centre word of this plane"), ("G2 X10.2 Y0 I5", "some controls refuse"), ("G2 X12 Y0 I5", "differ by 2 mm"), ("G3 X0 Y0 R5", "whose end is its start"),
        ("G3 X8 Y6 I8 J0", "absolute centres it would fit"), ("G3 X10 Y0 I5 P1.5", "whole number"),
    ],
)  # fmt: skip
def test_arcs_that_cannot_be(line: str, words: str) -> None:
    reading = read(HEAD, "G0 X0 Y0 Z0 F60" if "X8" not in line else "G0 X2 Y0 Z0 F60", line, "G1 X20 Y20", "M30")
    assert words in told(reading)
    assert faults(reading)
    assert reading.moves.flags[1] & UNSURE or "without X and Y" in words
    assert not reading.moves.flags[-1] & UNSURE or "without X and Y" in words


def test_helices_of_several_turns_and_centres_of_both_kinds() -> None:
    turns = read(HEAD, "G0 X10 Y0 Z0", "G3 X10 Y0 Z-6 I-10 P3 F60", "M30")
    assert not faults(turns)
    assert turns.arcs.sweep_rad[0] == pytest.approx(6 * math.pi)
    assert turns.arcs.rise_mm[0] == -6
    bare = read(HEAD, "G0 X10 Y0 Z0", "G3 Z-1 I-10 F60", "M30")
    assert not faults(bare)
    assert bare.arcs.sweep_rad[0] == pytest.approx(2 * math.pi)
    one = read(HEAD, "G90.1 G0 X2 Y0 Z0", "G2 X8 I5 F60", "M30")
    assert "need both" in told(one)
    stated = read(HEAD, "G0 X0 Y0 Z0", "G2 X10.2 Y0 I5 F60", "M30", arc_tolerance=0.5)
    assert not faults(stated)


def test_dwells_take_their_unit_from_the_control() -> None:
    assert read(HEAD, "G4 P2", "M30", dwell_p="ms").moves.feed_mm_per_s.tolist() == [0.002]
    assert kinds(read(HEAD, "G4 P2", "M30")) == ["dwell"]
    assert "P is missing" in told(read(HEAD, "G4", "M30"))
    reading = read(HEAD, "G0 X1", "G4 X5", "M30")
    assert "G4 with an axis word" in told(reading)
    assert reading.moves.kind.tolist() == [Kind.RAPID]


def test_what_was_never_stated_is_said_once() -> None:
    reading = read("G21", "G0 X1 Y1 Z1", "G81 X1 Z-1 R1 F60", "M30")
    note = next(p for p in reading.problems if "not stated" in p.what)
    assert note.line == 2
    for words in ("G90", "G17", "G94", "G98"):
        assert words in note.what
    assert not any(
        "not stated" in p.what for p in read("G21 G90 G17 G94 G98", "G0 X1 Y1 Z1", "G81 X1 Z-1 R1 F60", "M30").problems
    )


def test_axis_words_before_any_motion_code() -> None:
    reading = read("G21 G90", "X1 Y1 Z1", "G0 X2", "M30")
    assert "before any motion code" in told(reading)
    assert [bool(flags & UNSURE) for flags in reading.moves.flags] == [True, False]
    report = read("G21 G90", "X1 Y1 Z1", "G0 X2 Y2 Z2", "M2", base="rs274ngc")
    assert len(report.moves) == 1
    assert faults(report)[0].judged_again_from == 3


def test_messages_are_events() -> None:
    reading = read(HEAD, "(MSG, clear the chips)", "G0 X1 (msg,look)", "M30")
    assert [(event.line, event.text) for event in events(reading, What.MESSAGE)] == [
        (2, "clear the chips"),
        (3, "look"),
    ]


def test_arrays_are_frozen_and_of_the_promised_types() -> None:
    reading = read(HEAD, "G0 X0 Y0", "G2 X10 I5 F60", "M30")
    expected = {
        "kind": np.uint8,
        "end_mm": np.float64,
        "frame": np.int16,
        "arc": np.int32,
        "feed_mm_per_s": np.float64,
        "flags": np.uint16,
        "line": np.int32,
    }
    for name, dtype in expected.items():
        column = getattr(reading.moves, name)
        assert column.dtype == dtype
        assert column.flags.c_contiguous
        assert not column.flags.writeable


@pytest.mark.parametrize(
    "line",
    [
        "G0 X9999999999",
        "G1 Z-1234567890123456789 F60",
        "T9999999999 M6",
        "G9999999999",
        "M9999999999",
        "G0 X[10**300]",
        f"G0 X{'9' * 300}",
    ],
)
def test_absurd_numbers_are_refused(line: str) -> None:
    reading = read(HEAD, line, "M30")
    assert any(p.kind == FAULT for p in faults(reading))
    assert not np.isinf(reading.moves.end_mm).any()
