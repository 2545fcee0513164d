"""Coordinates keep the frame they were given in: nothing is baked in, and what hangs on the unknown is never trusted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.path.track import place as place_in_machine
from firstoff.program.moves import NO_LENGTH, Base, Flag, What
from firstoff.program.reading import Start
from tests.program.reading_of import events, faults, kinds, place, read, told

HEAD = "G21 G17 G90 G94 G40 G49 G80"
UNSURE = int(Flag.UNSURE)


def test_each_axis_keeps_the_system_it_was_given_in() -> None:
    reading = read(HEAD, "G54 G0 X1 Y2 Z3", "G55 X4", "Y5", "M30")
    assert place(reading, 1, 0) == (4.0, Base.G55, 0.0, -1)
    assert place(reading, 1, 1) == (2.0, Base.G54, 0.0, -1)
    assert place(reading, 2, 1) == (5.0, Base.G55, 0.0, -1)
    assert reading.end_mm == (4.0, 5.0, None)
    assert not faults(reading)


def test_an_increment_counts_in_the_frame_where_the_axis_stands() -> None:
    reading = read(HEAD, "G54 G0 X1 Y2 Z3", "G55 G91 X10", "M30")
    assert place(reading, 1, 0) == (11.0, Base.G54, 0.0, -1)


def test_start_is_known_to_nobody() -> None:
    reading = read(HEAD, "G91 G0 X5", "G90 Y1", "M30")
    assert place(reading, 0, 0) == (5.0, Base.START, 0.0, -1)
    assert reading.end_mm == (None, 1.0, None)
    assert not (reading.moves.flags & UNSURE).any()


def test_length_goes_with_the_z_word_that_follows_it() -> None:
    reading = read(HEAD, "T3 M6", "G0 X0 Y0 Z50", "G43 H3 Z5", "X1", "G49", "X2", "G0 Z60", "M30")
    assert [place(reading, row, 2)[3] for row in range(5)] == [NO_LENGTH, 3, 3, 3, NO_LENGTH]
    assert [event.number for event in events(reading, What.LENGTH)] == [NO_LENGTH, 3, NO_LENGTH]  # the head has a G49
    assert place(reading, 3, 2)[0] == 5.0


def test_h0_is_no_length_and_g43_1_is_a_length_of_the_program() -> None:
    reading = read(HEAD, "G43 H0", "G0 Z5", "G43.1 Z30.5", "G0 Z5", "M30")
    assert place(reading, 0, 2) == (5.0, Base.G54, 0.0, NO_LENGTH)
    assert place(reading, 1, 2) == (5.0, Base.G54, 30.5, NO_LENGTH)


@pytest.mark.parametrize(("rule", "frame"), [("at once", NO_LENGTH), ("with next Z", 4)])
def test_g43_in_g91_hangs_on_when_it_acts(rule: str, frame: int) -> None:
    reading = read(HEAD, "G0 Z50", "G43 H4", "G91 Z-10", "M30", g43_acts=rule)
    assert place(reading, 1, 2) == (40.0, Base.G54, 0.0, frame)


def test_g92_shifts_every_system_by_the_same() -> None:
    reading = read(HEAD, "G0 X10", "G92 X2", "X3", "G55 X3", "G92.2", "X3", "G92.3", "X4", "G92.1", "X5", "M30")
    assert [place(reading, row, 0)[:3] for row in range(6)] == [
        (10.0, Base.G54, 0.0), (3.0, Base.G54, 8.0), (3.0, Base.G55, 8.0), (3.0, Base.G55, 0.0), (4.0, Base.G55, 8.0), (5.0, Base.G55, 0.0),
    ]  # fmt: skip


def test_g92_where_the_machine_happens_to_stand_hangs_on_that_place() -> None:
    reading = read(HEAD, "G92 X0 Y0 Z0", "G1 X5 F100", "Z-1", "M30")
    assert place(reading, 1, 0) == (5.0, Base.START, 0.0, -1)
    assert place(reading, 1, 2)[:3] == (-1.0, Base.START, 0.0)
    assert not faults(reading)
    lost = read(HEAD, "G92 X0", "G0 X1", "G55 X1", "M30")
    assert place(lost, 1, 0)[1] is Base.UNKNOWN
    assert lost.moves.flags[1] & UNSURE
    assert faults(lost)[0].judged_again_from == 0


def test_g52_shifts_and_is_taken_back() -> None:
    reading = read(HEAD, "G52 X5", "G0 X1 Y1", "G52 X0", "X1", "M30")
    assert place(reading, 0, 0) == (1.0, Base.G54, 5.0, -1)
    assert place(reading, 1, 0) == (1.0, Base.G54, 0.0, -1)
    one = read(HEAD, "G52 X5", "G55 G0 X1", "G54 X1", "M30", g52_scope="current")
    assert [place(one, row, 0)[1:3] for row in range(2)] == [(Base.G55, 0.0), (Base.G54, 5.0)]


def test_a_written_system_is_a_place_in_the_machine() -> None:
    reading = read(HEAD, "G0 X10", "G10 L2 P1 X100", "G0 X1", "G10 L20 P2 X7", "G55 X8", "M30")
    assert place(reading, 1, 0) == (1.0, Base.MACHINE, 100.0, -1)
    assert place(reading, 2, 0) == (8.0, Base.MACHINE, 94.0, -1)
    assert [(event.number, event.text) for event in events(reading, What.OFFSET_WRITTEN)] == [
        (Base.G54, "X"),
        (Base.G55, "X"),
    ]


def test_g10_in_g91_is_refused() -> None:
    reading = read(HEAD, "G91", "G10 L2 P1 X100", "G90 G0 X1", "M30")
    assert "adds on some controls" in told(reading)
    assert reading.moves.flags[0] & UNSURE


def test_g53_is_a_place_in_the_machine_for_one_block() -> None:
    reading = read(HEAD, "G43 H1 G0 Z5", "G53 G0 Z0", "X1", "Z2", "M30")
    assert kinds(reading) == ["rapid", "machine", "rapid", "rapid"]
    assert place(reading, 1, 2) == (0.0, Base.MACHINE, 0.0, NO_LENGTH)
    assert place(reading, 2, 2) == (0.0, Base.MACHINE, 0.0, NO_LENGTH)
    assert place(reading, 3, 2) == (2.0, Base.G54, 0.0, 1)
    kept = read(HEAD, "G43 H1 G0 Z5", "G53 G0 Z0", "M30", g53_length="kept")
    assert place(kept, 1, 2)[3] == 1
    assert "machine.control.g53_length" in kept.control_used
    assert "G53 while G91" in told(read(HEAD, "G0 X1", "G91 G53 Z0", "M30"))
    fed = read(HEAD, "G1 F60 X0", "G53 X5", "M30")
    assert fed.moves.flags[1] & Flag.FEEDING
    assert fed.moves.feed_mm_per_s[1] == 1.0


def test_home_goes_through_the_programmed_point() -> None:
    reading = read(HEAD, "G0 X1 Y1 Z1", "G28 Z9", "G91 G28 Z0", "G28 X0 Y0", "M30")
    assert kinds(reading) == ["rapid", "rapid", "home", "home", "home"]
    assert place(reading, 1, 2)[:2] == (9.0, Base.G54)
    assert place(reading, 2, 2)[:2] == (0.0, Base.G28)
    assert place(reading, 4, 0)[:2] == (0.0, Base.G28)
    assert reading.end_mm == (None, None, None)
    assert "in absolute mode first rapids to the programmed point: Z9" in told(reading)
    every = read(HEAD, "G0 X1 Y1 Z1", "G91 G28 Z0", "M30", g28_axes="all")
    assert [place(every, 1, axis)[1] for axis in range(3)] == [Base.G28] * 3
    assert place(read(HEAD, "G91 G30 Z0", "M30"), 0, 2)[1] is Base.G30
    assert "G30 P3" in told(read(HEAD, "G91 G30 P3 Z0", "M30"))


@pytest.mark.parametrize(("way", "moves"), [("direct", ["home"]), ("nothing", [])])
def test_a_bare_g28_hangs_on_the_control(way: str, moves: list[str]) -> None:
    assert kinds(read(HEAD, "G28", "M30", g28_bare=way)) == moves
    asked = read(HEAD, "G28", "G0 X1 Y1", "Z1", "X2", "M30")
    assert [(p.fact, p.judged_again_from) for p in faults(asked)] == [("machine.control.g28_bare", 4)]
    assert [bool(flags & UNSURE) for flags in asked.moves.flags] == [True, True, False]


def test_a_probe_ends_nobody_knows_where_until_the_axis_is_given_again() -> None:
    reading = read(HEAD, "G0 X1 Y1 Z5", "G38.2 Z-5 F50", "G0 X2", "G91 G0 Z3", "G90 Z10", "X3", "M30")
    assert kinds(reading)[1] == "probe"
    assert place(reading, 1, 2)[:2] == (-5.0, Base.G54)
    assert place(reading, 2, 2)[1] is Base.UNKNOWN
    assert [bool(flags & UNSURE) for flags in reading.moves.flags] == [False, False, True, True, True, False]
    assert [(p.fact, p.judged_again_from) for p in faults(reading)] == [("", 6)]
    assert math.isnan(reading.moves.end_mm[3, 2])


def test_an_origin_set_from_a_probed_place_is_never_trusted() -> None:
    reading = read(HEAD, "G0 X1 Y1 Z5", "G38.2 Z-5 F50", "G10 L20 P1 Z0", "G0 Z5", "X2", "M30")
    assert all(reading.moves.flags[2:] & UNSURE)
    assert place(reading, 2, 2)[1] is Base.UNKNOWN
    assert all(problem.judged_again_from == 0 for problem in faults(reading))


@pytest.mark.parametrize(
    ("on", "off"),
    [
        ("G68 X0 Y0 R30", "G69"),
        ("G51 X0 Y0 Z0 P2", "G50"),
        ("G16", "G15"),
        ("G54.1 P3", "G54"),
        ("G44 H1", "G49"),
        ("G43.2 H2", "G49"),
    ],
)
def test_modes_that_are_not_followed_hide_everything_until_they_end(on: str, off: str) -> None:
    reading = read(HEAD, "G0 X0 Y0 Z5", on, "X1 Y1 Z1", off, "X1 Y1", "Z1", "X2", "M30")
    assert [(p.kind, p.judged_again_from) for p in faults(reading)] == [("fault", 7)]
    assert [bool(flags & UNSURE) for flags in reading.moves.flags] == [False, True, True, True, False]
    assert place(reading, 1, 0)[1] is Base.UNKNOWN
    assert place(reading, 4, 0)[1] is Base.G54


def test_a_rotary_axis_hides_the_part_for_good() -> None:
    reading = read(HEAD, "G0 X0 Y0 Z5", "G0 X1 A90", "X2 Y2 Z2", "M30")
    assert faults(reading)[0].judged_again_from == 0
    assert all(reading.moves.flags[1:] & UNSURE)
    assert place(reading, 2, 0)[1] is Base.G54, "the machine still knows where it stands"


def test_the_last_used_system_is_known_to_nobody() -> None:
    reading = read(HEAD, "G0 X1", "G54 X1 Y1 Z1", "X2", "M30", wcs_at_start="last used")
    assert [(p.fact, p.judged_again_from) for p in faults(reading)] == [("machine.control.wcs_at_start", 3)]
    assert not faults(read("G54", HEAD, "G0 X1", "M30", wcs_at_start="last used"))


def test_an_arc_that_begins_in_another_system_has_no_known_centre() -> None:
    reading = read(HEAD, "G54 G0 X0 Y0 Z0", "G55 G2 X10 Y0 I5 J0 F100", "G3 X0 Y0 I-5", "M30")
    assert [p.fact for p in faults(reading)] == ["job.offset.G54"]
    assert math.isnan(reading.arcs.radius_mm[0])
    assert reading.moves.flags[0] & UNSURE == 0
    assert reading.moves.flags[1] & UNSURE
    assert not reading.moves.flags[2] & UNSURE
    assert reading.arcs.radius_mm[1] == 5.0
    known = {Base.G54: (1.0, 0.0, 0.0), Base.G55: (2.0, 0.0, 0.0)}
    joined = read(HEAD, "G54 G0 X0 Y0 Z0", "G55 G2 X10 Y0 I5.5 J0 F100", "M30", start=Start(origins_mm=known))
    assert not faults(joined)
    assert joined.arcs.radius_mm[0] == 5.5


def test_units_not_stated_are_asked_for_once_and_lengths_left_alone() -> None:
    reading = read("G90 G0 X1", "G1 Y2 F60", "M30")
    assert reading.units == "not stated"
    assert [p.fact for p in faults(reading)] == ["machine.control.units_at_start"]
    assert reading.moves.end_mm[1].tolist() == [1.0, 2.0, 0.0]
    assert reading.moves.feed_mm_per_s[1] == 1.0
    inch = read("G90 G0 X1", "M30", units_at_start="inch")
    assert (inch.units, inch.moves.end_mm[0, 0], inch.control_used[0]) == (
        "inch",
        25.4,
        "machine.control.units_at_start",
    )


def test_a_unit_stated_too_late_leaves_what_came_before_unsure() -> None:
    reading = read("G90 G0 X1", "G21", "G0 X2", "Y1 Z1", "X3", "M30")
    assert [(p.fact, p.judged_again_from) for p in faults(reading)] == [("machine.control.units_at_start", 4)]
    assert [bool(flags & UNSURE) for flags in reading.moves.flags] == [True, True, True, False]


def test_frames_are_numbered_once() -> None:
    lines = [f"G5{4 + at % 2} G0 X{at}" for at in range(50)]
    assert len(read(HEAD, *lines, "M30").frames.length) <= 5


coordinate = st.integers(-5000, 5000).map(lambda value: value / 100)
ORIGINS = {Base.G54: (100.0, 50.0, -80.0), Base.G55: (10.0, 5.0, -8.0), Base.G28: (0.0, 200.0, 0.0)}
LENGTHS = {1: 60.0, 2: 45.5}
BLOCKS = ["G54", "G55", "G43 H1", "G43 H2", "G49", "G92 X{0}", "G92.1", "G52 Y{0}", "G52 Y0", "G0 X{0}", "G0 Y{0} Z{1}", "G91 G0 X{0} Z{1}", "G90", "G53 G0 Z{0}", "G91 G28 Y0", "G10 L2 P2 X{0}", "G10 L20 P1 Z{0}"]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(BLOCKS), coordinate, coordinate), max_size=20))
def test_the_machine_position_is_that_of_a_reader_who_adds_everything_up(
    blocks: list[tuple[str, float, float]],
) -> None:
    """An independent replay keeps one machine position and adds offsets and lengths as it goes; frames joined at the end must agree."""
    lines = [HEAD, "G54 G0 X0 Y0 Z0", *(form.format(a, b) for form, a, b in blocks), "M30"]
    start = Start((0.0, 0.0, 0.0), ORIGINS, LENGTHS)
    reading = read(*lines, start=start, g43_acts="at once")
    expected = replay(blocks)
    track = place_in_machine(reading.moves, reading.arcs, reading.frames, ORIGINS, LENGTHS)
    sure = (reading.moves.flags & UNSURE) == 0
    for got, wanted, trusted in zip(track.end_mm, expected, sure, strict=True):
        if trusted:
            assert np.allclose(got, wanted, atol=1e-6)
    if "while G91" not in told(reading) and "in G91" not in told(reading):
        assert sure.all()


def replay(blocks: list[tuple[str, float, float]]) -> list[list[float]]:
    machine, absolute, system, length = [0.0, 0.0, 0.0], True, Base.G54, 0.0
    systems = {base: list(ORIGINS[base]) for base in (Base.G54, Base.G55)}
    g92, g52 = [0.0] * 3, [0.0] * 3

    def origin(axis: int) -> float:
        return systems[system][axis] + g92[axis] + g52[axis] + (length if axis == 2 else 0.0)

    ends: list[list[float]] = []

    def go(**words: float) -> None:
        for letter, value in words.items():
            axis = "xyz".index(letter)
            machine[axis] = value + (origin(axis) if absolute else machine[axis])
        ends.append(machine.copy())

    go(x=0.0, y=0.0, z=0.0)
    for form, a, b in blocks:
        if form in ("G54", "G55"):
            system = Base.G54 if form == "G54" else Base.G55
        elif form.startswith("G43"):
            length = LENGTHS[int(form[-1])]
        elif form == "G49":
            length = 0.0
        elif form == "G92 X{0}":
            g92[0] += machine[0] - origin(0) - a
        elif form == "G92.1":
            g92[:] = [0.0] * 3
        elif form.startswith("G52"):
            g52[1] = a if "{" in form else 0.0
        elif form == "G0 X{0}":
            go(x=a)
        elif form == "G0 Y{0} Z{1}":
            go(y=a, z=b)
        elif form == "G91 G0 X{0} Z{1}":
            absolute = False
            go(x=a, z=b)
        elif form == "G90":
            absolute = True
        elif form == "G53 G0 Z{0}":
            if absolute:
                machine[2] = a
                ends.append(machine.copy())
        elif form == "G91 G28 Y0":
            absolute = False
            machine[1] = ORIGINS[Base.G28][1]
            ends.append(machine.copy())
        elif form == "G10 L2 P2 X{0}":
            systems[Base.G55][0] = a
        else:
            systems[Base.G54][2] += machine[2] - (systems[Base.G54][2] + g92[2] + g52[2] + length) - a
    return ends


@pytest.mark.parametrize(("rule", "register"), [("tool number", 3), ("zero", NO_LENGTH)])
def test_g43_without_h_hangs_on_the_control(rule: str, register: int) -> None:
    reading = read(HEAD, "T3 M6", "G43 G0 Z5", "M30", h_missing=rule)
    assert place(reading, 0, 2)[3] == register
    asked = read(HEAD, "G43 G0 Z5", "G43 H1 Z6", "X1 Y1", "Z2", "M30")
    assert [(p.fact, p.judged_again_from) for p in faults(asked)] == [("machine.control.h_missing", 3)]
    assert place(asked, 0, 2)[1] is Base.UNKNOWN
    assert "write the register" in told(read(HEAD, "G43 G0 Z5", "M30", h_missing="fault"))
    assert "from 0 to" in told(read(HEAD, "G43 H1.5 G0 Z5", "M30"))


def test_a_register_that_the_program_wrote_is_not_followed() -> None:
    reading = read(HEAD, "G10 L1 P4 Z50", "G43 H4", "G0 Z5", "G49", "G0 Z9", "M30")
    assert [event.number for event in events(reading, What.TABLE_WRITTEN)] == [4]
    assert place(reading, 0, 2)[1] is Base.UNKNOWN
    assert place(reading, 1, 2)[1] is Base.G54
    assert [bool(flags & UNSURE) for flags in reading.moves.flags] == [True, True]
    assert "L2 can be read" in told(read(HEAD, "G10 L20 P1 X0", "M2", base="rs274ngc"))
    assert "P must be" in told(read(HEAD, "G10 L2 P12 X0", "M30"))
    assert "turns a work system" in told(read(HEAD, "G10 L2 P1 X0 R5", "M30"))


def test_what_the_report_does_not_know_is_an_error_there() -> None:
    for line in (
        "G52 X1",
        "G43.1 Z1",
        "G90.1",
        "G95",
        "G31 X1 F5",
        "G68 R1",
        "G54.1 P1",
        "G73 X1 Z-1 R1 Q1",
        "M13",
        "M98 P1",
        "O5",
        "IF[#1EQ1]GOTO1",
    ):
        assert faults(read(HEAD, line, "M2", base="rs274ngc")), line
