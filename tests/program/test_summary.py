"""What a program does, told without a machine: small programs for each thing it tells, and twelve programs by strangers."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.program.control import Control
from firstoff.program.moves import NOTE, Reading
from firstoff.program.reading import read_program, read_text
from firstoff.program.summary import Compensated, Summary, summarise

PROGRAMS = Path(__file__).parents[3] / "shared" / "programs"


def summary_of(*lines: str, **said: str) -> Summary:
    return summarise(read_text("\n".join(lines) + "\n", "x.nc", Control("plain", dict(said))))


def said(summary: Summary) -> str:
    return " | ".join(remark.what for remark in summary.remarks)


# --- counts and extents -----------------------------------------------------------------------------------------------


def test_a_cycle_counts_once_a_hole_and_home_not_at_all() -> None:
    found = summary_of(
        "G21 G90 G17 G94 G54 S1000 M3", "G0 X0 Y0 Z5", "G83 X1 Y1 Z-3 R1 Q1 F100", "X2", "G80", "G1 X3 Y1", "G3 X3 Y1 I1 J0 Z4",
        "G4 P2", "G53 G0 Z0", "G91 G28 Z0", "G90 G28 Z50", "M30", dwell_p="s", peck_back_off="0.2",
    )  # fmt: skip
    counts = found.counts
    assert (counts.rapid, counts.feed, counts.arc, counts.dwell, counts.cycle_holes, counts.helical) == (
        1,
        1,
        1,
        1,
        2,
        1,
    )
    assert counts.motion == 5
    assert counts.arcs_by_plane == (1, 0, 0)
    assert found.extents.z == (-3.0, 5.0)  # the way home by Z50 is left out


def test_extents_hold_bulges_and_are_in_mm() -> None:
    found = summary_of("G20 G90 G17 G94 G54", "G0 X0 Y0 Z1", "G2 X2 Y0 R1 F10", "M30")
    assert found.units == "inch"
    assert found.extents.unit == "mm"
    assert found.extents.x == pytest.approx((0.0, 50.8))
    assert found.extents.y == pytest.approx((0.0, 25.4))
    assert found.end == (2.0, 0.0, 1.0)


def test_an_axis_that_is_never_given_has_no_extent() -> None:
    found = summary_of("G21 G90 G94 G54", "G0 X1", "X-2", "M30")
    assert found.extents.x == (-2.0, 1.0)
    assert found.extents.y is None


def test_without_a_unit_lengths_stay_in_the_files_own() -> None:
    found = summary_of("G90 G94 G54", "G0 X1 Y0 Z0", "G1 X3 F100", "M30")
    assert (found.units, found.extents.unit, found.extents.x) == ("not stated", "not stated", (1.0, 3.0))
    assert found.time is None


def test_words_after_g80_count_only_where_the_control_moves() -> None:
    lines = ("G21 G90 G94 G54 G98 S1000 M3", "G0 X0 Y0 Z5", "G81 X1 Y1 Z-1 R1 F100", "G80", "X5", "M30")
    assert summary_of(*lines).counts.rapid == 1
    assert summary_of(*lines, after_g80="rapid").counts.rapid == 2


def test_nothing_to_tell() -> None:
    for text in ("(only words)\n", "%\n%\n", "M30\n"):
        found = summarise(read_text(text, "x.nc", Control()))
        assert found.counts.motion == 0
        assert found.extents.x is None
        assert not found.tools


# --- time -------------------------------------------------------------------------------------------------------------


def test_minutes_are_lengths_over_feeds_and_dwells() -> None:
    """By hand: 100 mm at 600 mm/min = 10 s, a full circle of radius 10 at 300 = 4π s, 2 s of dwell; rapids count nothing."""
    found = summary_of(
        "G21 G90 G17 G94 G54 S1000 M3", "G0 X0 Y0 Z0", "G1 X100 F600", "G2 X100 Y0 I10 J0 F300", "G4 P2", "G0 X0", "M30", dwell_p="s"
    )  # fmt: skip
    assert found.time is not None
    assert found.time.feed_s == pytest.approx(10 + 4 * 3.141592653589793)
    assert found.time.dwell_s == 2.0
    assert found.time.minutes == pytest.approx((12 + 12.566370614359172) / 60)
    assert (found.time.moves_without, found.time.dwells_without) == (0, 0)


def test_what_the_minutes_leave_out_is_counted() -> None:
    found = summary_of("G21 G90 G94 G54 S1000 M3", "G1 Z5 F600", "X10 Y0", "X20", "G4 P2", "M30")
    assert found.time is not None
    assert (found.time.moves_without, found.time.dwells_without) == (
        2,
        1,
    )  # starts nobody knows; P in a unit nobody says
    assert found.time.feed_s == pytest.approx(1.0)


# --- tools ------------------------------------------------------------------------------------------------------------

TWO_TOOLS = (
    "G21 G90 G17 G94 G54 G40 G49",
    "T1 M6",
    "G0 X0 Y0",
    "S8000 M3",
    "G43 H1 Z10 M8",
    "G0 Z2",
    "G1 Z-4 F150",
    "G41 D1 X10 F600",
    "Y10",
    "G40 X0",
    "G1 Z-6 F150",
    "S9000",
    "X5 F700",
    "G0 Z10 M9",
    "M1 (look at the floor)",
    "T3 M6",
    "S4000 M3",
    "G43 H4 Z10",
    "G0 X20 Y20",
    "G81 X20 Y20 Z-8 R2 F200",
    "G80",
    "G0 Z10",
    "M5",
    "M30",
)


def test_each_tool_is_told() -> None:
    first, second = summary_of(*TWO_TOOLS).tools
    assert (first.number, first.line, first.lengths, first.radii) == (1, 2, (1,), (1,))
    assert first.feeds_per_min == pytest.approx((150.0, 700.0))
    assert first.speeds_per_min == (8000.0, 9000.0)
    assert (first.deepest_z, first.deepest_line) == (-6.0, 11)
    assert (first.plunges.count, first.plunges.deepest, first.plunges.line) == (2, -6.0, 11)
    assert first.first_move is not None
    assert (first.first_move.line, first.first_move.kind, first.first_move.to) == (3, "rapid", (0.0, 0.0, None))
    assert first.coolant_at_first_feed == "flood"
    assert first.rapid_share is not None
    assert 0.0 < first.rapid_share < 1.0
    assert (second.number, second.lengths, second.holes) == (3, (4,), 1)
    assert (second.deepest_z, second.coolant_at_first_feed) == (-8.0, "off")
    assert second.plunges.count == 0  # a drilled hole is a cycle, no plunge


def test_registers_that_are_not_the_tools_own_are_said() -> None:
    assert "T3 runs with H4" in said(summary_of(*TWO_TOOLS))
    same = summary_of(*(line.replace("H4", "H3") for line in TWO_TOOLS))
    assert "H equals T at each of the 2 tools" in said(same)


def test_compensation_is_told_with_its_lead_in() -> None:
    assert summary_of(*TWO_TOOLS).compensated == (Compensated("left", 1, 8, 10, 10.0, 10.0),)


def test_stops_carry_the_comment_beside_them() -> None:
    assert [(s.line, s.code, s.comment) for s in summary_of(*TWO_TOOLS).stops] == [(15, "M1", "look at the floor")]
    found = summary_of("G21 G90 G54", "M0", "(TURN THE PART)", "G0 X1", "M30")
    assert [(s.line, s.code, s.comment) for s in found.stops] == [(2, "M0", "TURN THE PART")]


def test_spindle_remarks() -> None:
    head = ("G21 G90 G94 G54", "G0 X0 Y0 Z5")
    assert "feeds with the spindle stopped (line 3)" in said(summary_of(*head, "G1 Z0 F50", "M30"))
    assert "no speed (S) is ever given" in said(summary_of(*head, "M3", "G1 Z0 F50", "M5", "M30"))
    assert "reversed by M4" in said(summary_of(*head, "S1000 M3", "G1 Z0 F50", "M4", "M30"))
    assert "reversed" not in said(summary_of(*head, "S1000 M3", "G1 Z0 F50", "M5", "M4", "M5", "M30"))
    tapped = summary_of(*head, "G98 S500 M3", "G84 X1 Y1 Z-5 R2 F500", "G80", "M5", "M30")
    assert tapped.tools[0].speeds_per_min == (500.0,)


def test_tool_remarks() -> None:
    assert "no tool is called" in said(summary_of("G21 G90 G94 G54", "G0 X0 Y0 Z5", "S100 M3", "G1 Z-1 F50", "M30"))
    assert "nothing changes it in" in said(
        summary_of("G21 G90 G94 G54", "T2", "G0 X0 Y0 Z5", "S100 M3", "G1 Z-1 F50", "M30")
    )
    again = summary_of("G21 G90 G94 G54", "T2 M6", "M6", "G0 X0 Y0 Z5", "S100 M3", "G1 Z-1 F50", "M30")
    assert "changed in again (T2; line 3)" in said(again)
    assert again.tools[0].change_lines == (2, 3)
    assert len(again.tools) == 1


# --- what lies below, what is written, what is left -------------------------------------------------------------------


def test_rapids_below_zero_unless_straight_up() -> None:
    found = summary_of(
        "G21 G90 G94 G54 S1000 M3", "G0 X0 Y0 Z5", "G1 Z-3 F100", "G0 Z5", "G0 X3 Z-1", "X9", "Z2", "M30"
    )
    assert [(r.line, r.z) for r in found.rapids_below_zero] == [(5, -1.0), (6, -1.0)]


def test_offsets_used_and_written() -> None:
    found = summary_of(
        "G21 G90 G94 G55", "G0 X0 Y0 Z5", "G10 L2 P2 X1", "G0 X1 Y1 Z1", "G92 X0", "G0 X2", "G92.1", "M30"
    )
    assert found.offsets_used == ("G55",)
    assert [(w.what, w.line) for w in found.offsets_written] == [("G55", 3), ("G92", 5)]


def test_what_is_left_on() -> None:
    found = summary_of("G21 G90 G94 G54 G0 X0 Y0 Z5", "S1000 M3 M8", "G91 G1 X1 F100")
    assert found.left_on == ("spindle, clockwise (M3)", "coolant: flood", "incremental distances (G91)")
    assert found.ended_by == "text end"


def test_zero_at_the_table_is_said() -> None:
    assert "lowest Z 2" in said(summary_of("G21 G90 G94 G54", "G0 X0 Y0 Z9", "S100 M3", "G1 Z2 F50", "M30"))


CLEAN = "\n".join(TWO_TOOLS)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(CLEAN) - 1), st.sampled_from(["", "X", "-", "9", "(", "#", "G", " ", "\n", "%", "."]))
def test_damage_is_told_and_never_raises(at: int, put: str) -> None:
    found = summarise(read_text(CLEAN[:at] + put + CLEAN[at + 1 :], "x.nc", Control()))
    assert sum(use.holes for use in found.tools) == found.counts.cycle_holes
    ends = [row for use in found.tools for row in use.rows]
    assert ends == sorted(ends)
    for span in (found.extents.x, found.extents.y, found.extents.z):
        assert span is None or span[0] <= span[1]
    for use in found.tools:
        if use.deepest_z is not None and found.extents.z is not None:
            assert use.deepest_z >= found.extents.z[0] - 1e-9


# --- strangers --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    """A row of the table beside the programs; lengths in the program's own units."""

    name: str
    units: str
    motion: int
    arcs: int
    helical: int
    holes: int
    x: tuple[float, float]
    y: tuple[float, float]
    z: tuple[float, float]
    tools: tuple[int, ...] = ()
    says: tuple[str, ...] = field(default=())
    """Each must stand in a problem, or in a remark: what a careful reader concludes."""


ROWS = [
    Row("01-hand-written-plate", "inch", 79, 6, 0, 4, (-1, 3.25), (-1, 2.25), (-0.4922, 0.25), (1, 5, 7, 8, 2),
        ("H equals T at each of the 5 tools", "G28 without an axis word", "M31", "M33", "drill where the tool stands (lines 59, 75, 90)")),
    Row("02-inspection-plate", "inch", 719, 250, 2, 0, (-1.2, 7.1884), (-1.7954, 0.2954), (-0.5, 0.6), (10, 1, 9),
        ("in place of a rapid",)),
    Row("03-peck-drill", "mm", 9, 0, 0, 6, (-4.369, 4.369), (-14.249, 14.249), (-1, 10), (),
        ("T1 is called but nothing changes it in", "axis words while G80 is in force")),
    Row("04-radius-arcs", "mm", 6951, 538, 24, 0, (-26.987, 26.987), (-29.528, 29.528), (-5, 10), (),
        ("R is shorter than half the way to the end", "(20 times")),
    Row("05-tiny-arcs", "inch", 575, 492, 273, 0, (-1.8867, 1.8867), (-1.4063, 2.0625), (-0.8, 0.125), (4,)),
    Row("06-eight-drills", "inch", 147, 0, 0, 113, (-3.215, 0), (0, 1.975), (-0.071, 1.5), (1, 2, 3, 4, 5, 6, 7, 8),
        ("spindle stopped (lines 44, 61, 129, 173, 185 and 3 more): a touch-off", "is changed in again (T1, T2, T3, T4, T5, T6, T7, T8")),
    Row("07-v-engraving", "mm", 1270, 0, 0, 0, (0, 188.323), (0, 13.629), (-2.8, 3.81), (),
        ("no tool is called", "the text ends without M2, M30")),
    Row("08-macro-bore", "not stated", 20, 12, 11, 0, (-5, 5), (-5, 5), (-10, 150), (1,),
        ("O3003 was read from the file 08-O3003.nc", "no unit is stated", "G28 in absolute mode first rapids to the programmed point: Z0")),
    Row("09-bolt-circle-rotary", "inch", 57, 0, 0, 24, (5, 5), (0, 0), (-0.2, 3), (1, 2, 4),
        ("A turns a rotary axis", "lies above its R plane", "holes end above work zero (lines 74, 82)")),
    Row("10-no-units", "not stated", 5924, 582, 5, 0, (-172.11, -23.70), (-117.29, -8.10), (0, 10), (),
        ("no unit is stated", "zero is the table")),
    Row("11-adaptive-plywood", "mm", 38488, 0, 0, 0, (2.894, 82.542), (-47.622, -2.487), (2, 10), (),
        ("zero is the table",)),
    Row("12-isolation", "mm", 684, 0, 0, 0, (0, 35.9394), (0, 26.1604), (-0.254, 12.7), (),
        ("reversed by M4", "never stopped", "no speed (S) is ever given", "the text ends without M2, M30")),
]  # fmt: skip

here = pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")


def look(name: str) -> tuple[Reading, Summary]:
    reading = read_program(PROGRAMS / f"{name}.nc", Control())
    return reading, summarise(reading)


@here
@pytest.mark.parametrize("row", ROWS, ids=[row.name for row in ROWS])
def test_every_column_of_the_table(row: Row) -> None:
    reading, found = look(row.name)
    counts, extents = found.counts, found.extents
    assert found.units == row.units
    assert (counts.motion, counts.arc, counts.helical, counts.cycle_holes) == (
        row.motion,
        row.arcs,
        row.helical,
        row.holes,
    )
    mm = 25.4 if row.units == "inch" else 1.0
    rounding = 0.005 if row.name == "10-no-units" else 6e-5  # the table gives that one to two decimals
    for span, expected in ((extents.x, row.x), (extents.y, row.y), (extents.z, row.z)):
        assert span is not None
        assert [value / mm for value in span] == pytest.approx(expected, abs=rounding)
    assert tuple(use.number for use in found.tools if use.number is not None) == row.tools
    told = said(found) + " | ".join(problem.what for problem in reading.problems)
    for words in row.says:
        assert words in told, words


@here
def test_what_a_careful_reader_finds_in_the_plate() -> None:
    _, found = look("01-hand-written-plate")
    assert [(c.on_line, c.off_line, c.register) for c in found.compensated] == [(28, 45, 1), (139, 146, 2)]
    for stretch, diameter in zip(found.compensated, (0.5, 0.375), strict=True):  # inch, from the program's own comments
        assert stretch.lead_in is not None
        assert stretch.lead_in > diameter / 2 * 25.4
    assert [use.lengths for use in found.tools] == [(1,), (5,), (7,), (8,), (2,)]


@here
def test_arcs_in_three_planes_agree_in_their_radii() -> None:
    _, found = look("02-inspection-plate")
    assert min(found.counts.arcs_by_plane) >= 1
    assert found.radius_mismatch is not None
    assert found.radius_mismatch / 25.4 < 0.000175  # the table: within 0.00017 in


@here
def test_tiny_arcs_are_arcs() -> None:
    reading, found = look("05-tiny-arcs")
    assert found.smallest_radius is not None
    assert found.smallest_radius / 25.4 == pytest.approx(0.0005, abs=6e-5)
    assert all(problem.kind == NOTE for problem in reading.problems)


@here
def test_centre_and_radius_format_as_in_the_table() -> None:
    """The summary does not tell them apart; the text does, and all of them became arcs."""
    for name, by_centre, by_radius in (
        ("01-hand-written-plate", 4, 2),
        ("04-radius-arcs", 0, 538),
        ("05-tiny-arcs", 492, 0),
    ):
        reading, _ = look(name)
        lines = [
            re.sub(r"\([^)]*\)", "", reading.text[line - 1]) for line in reading.moves.line[reading.moves.arc >= 0]
        ]
        assert sum("R" in text for text in lines) == by_radius
        assert sum("R" not in text for text in lines) == by_centre


@here
def test_rapids_of_the_plywood() -> None:
    assert look("11-adaptive-plywood")[1].counts.rapid == 3082


@here
def test_nothing_is_judged_where_the_unit_is_unknown() -> None:
    reading, found = look("10-no-units")
    assert not found.understood
    assert any(problem.fact == "machine.control.units_at_start" for problem in reading.problems)
