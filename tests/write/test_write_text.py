"""Spelling: what any written program must hold to, whatever its blocks say."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.write.blocks import (
    Arc,
    Block,
    Change,
    Coolant,
    CoolantTo,
    Drill,
    Dwell,
    Halt,
    LengthOn,
    Line,
    Rapid,
    Remark,
    ReturnTo,
    SafeStart,
    Side,
    SpindleOff,
    SpindleOn,
    WorkSystem,
)
from firstoff.write.language import Language, language_of
from firstoff.write.text import plain_text, spell, text_of

MM = Language(dwell_unit="s")
INCH = Language(units="inch", dwell_unit="s")
WORD = re.compile(r"([A-Z])([-+]?[0-9.]+)")

places = st.floats(-250, 250)
feeds = st.floats(1, 9000)


@st.composite
def arcs(draw: st.DrawFn) -> tuple[Block, ...]:
    """A start and an arc from it, from a thousandth of a turn to a whole one."""
    x, y, radius = draw(places), draw(places), draw(st.floats(0.05, 120))
    first, turn = draw(st.floats(-math.pi, math.pi)), draw(st.floats(0.006, 2 * math.pi))
    clockwise = draw(st.booleans())
    last = first - turn if clockwise else first + turn
    start = (x + radius * math.cos(first), y + radius * math.sin(first))
    end = start if turn > 2 * math.pi - 0.006 else (x + radius * math.cos(last), y + radius * math.sin(last))
    rise = draw(st.none() | places)
    return (Rapid(*start, 5.0), Arc(draw(feeds), *end, x, y, clockwise, rise))


blocks = st.one_of(
    st.builds(Rapid, places, places, places),
    st.builds(Rapid, st.none(), st.none(), places, st.booleans()),
    st.builds(Line, feeds, st.none() | places, places, st.none() | places),
    st.builds(Dwell, st.floats(0.01, 300)),
    st.builds(SpindleOn, st.integers(1, 60000), st.booleans()),
    st.just(SpindleOff()),
    st.builds(CoolantTo, st.sampled_from(Coolant)),
    st.builds(Halt, st.text(max_size=400), st.booleans()),
    st.builds(Remark, st.text(max_size=300)),
    st.builds(lambda n: Change(n), st.integers(1, 99)),
    st.builds(LengthOn, st.integers(1, 99), places),
    st.builds(WorkSystem, st.sampled_from(["G54", "G59.3"])),
    st.just(SafeStart()),
)
programs = st.lists(st.one_of(blocks.map(lambda b: (b,)), arcs()), max_size=20).map(
    lambda parts: [b for p in parts for b in p]
)


def words(line: str) -> list[tuple[str, str]]:
    return WORD.findall(re.sub(r"\([^)]*\)", "", line))


@given(programs, st.sampled_from([MM, INCH, Language(dwell_unit="ms", numbered=True, ends_with="M2", decimals=3)]))
def test_every_line_is_legal_to_the_letter_of_the_report(program: list[Block], language: Language) -> None:
    # NISTIR 6556, Kramer, Proctor, Messina, 2000: 3.1, 3.3, 3.3.1, 3.3.4, 3.3.5
    lines = text_of(program, language).splitlines()
    assert lines[0] == lines[-1] == "%"
    assert lines[-2].endswith(language.ends_with)
    for line in lines[1:-1]:
        assert len(line) <= 256
        assert line.isascii()
        assert line.isprintable()
        assert line.count("(") == line.count(")") <= 1
        code = re.sub(r"\([^)]*\)", "", line)
        assert "".join(letter + value for letter, value in words(line)) == code.replace(" ", "")
        letters = [letter for letter, _ in words(line)]
        assert all(letters.count(letter) == 1 for letter in letters if letter != "G")
        assert all("." in value for letter, value in words(line) if letter in "XYZIJKRQFP")
        assert not ("G0" in code.split() and "G80" in code.split())
        numbers = [value for letter, value in words(line) if letter == "N"]
        assert all(len(number) <= 5 and line.startswith("N") for number in numbers)


@given(arcs(), st.sampled_from(["mm", "inch"]), st.sampled_from([None, "fewest"]))
def test_both_radii_of_a_written_arc_agree(arc: tuple[Block, ...], units: str, digits: str | None) -> None:
    # NISTIR 6556, 3.5.3.2: 0.002 mm or 0.0002 in
    fewest = {"mm": 3, "inch": 4}[units]
    lines = text_of(arc, Language(units=units, decimals=fewest if digits else None)).splitlines()
    starts = dict(words(next(line for line in lines if line.startswith("G0"))))
    found = [line for line in lines if line.startswith(("G2", "G3"))]
    for line in found:
        word = dict(words(line))
        start = (float(starts["X"]), float(starts["Y"]))
        centre = (start[0] + float(word["I"]), start[1] + float(word["J"]))
        gap = abs(math.dist(start, centre) - math.dist((float(word["X"]), float(word["Y"])), centre))
        assert gap <= {"mm": 0.002, "inch": 0.0002}[units]


@given(arcs())
def test_a_part_of_a_turn_is_never_written_as_a_whole_one(arc: tuple[Block, ...]) -> None:
    start, move = arc[0], arc[1]
    assert isinstance(start, Rapid)
    assert isinstance(move, Arc)
    whole = (start.x_mm, start.y_mm) == (move.x_mm, move.y_mm)
    lines = text_of(arc, Language(decimals=3)).splitlines()
    found = [dict(words(line)) for line in lines if line.startswith(("G2", "G3"))]
    rapid = dict(words(next(line for line in lines if line.startswith("G0"))))
    assert all(((word["X"], word["Y"]) == (rapid["X"], rapid["Y"])) == whole for word in found)


@given(st.floats(-1e5, 1e5), st.integers(1, 6))
def test_a_number_keeps_its_value_and_its_point(value: float, digits: int) -> None:
    text = spell(value, digits)
    assert "." in text
    assert not text.endswith(".")
    assert not text.startswith("-0.0") or float(text) != 0.0
    assert abs(float(text) - value) <= 0.5 * 10.0**-digits * (1 + 1e-9) + 1e-9


@given(st.text())
def test_a_comment_is_ascii_without_brackets_or_percent(text: str) -> None:
    plain = plain_text(text)
    assert plain.isascii()
    assert not set(plain) & set("()%\n\r\t")
    assert plain_text(plain) == plain


def test_a_small_program_reads_as_one_would_write_it() -> None:
    text = text_of(
        [
            SafeStart(),
            Change(3),
            WorkSystem("G54"),
            SpindleOn(18000),
            Rapid(1.0, 2.0),
            LengthOn(3, 10.0),
            Rapid(z_mm=2.0),
            Line(300, z_mm=-1.0),
            Line(900, 11.0, 2.0),
            Line(900, 11.0, 2.0),  # goes nowhere
            Arc(900, 11.0, 6.0, 11.0, 4.0, False),
            Rapid(z_mm=10.0),
        ],
        MM,
    )
    assert text.splitlines() == [
        "%", "G21 G17 G40 G49 G90 G94 G64", "G80", "T3 M6", "G54 G90", "S18000 M3", "G0 X1.0 Y2.0", "G0 G43 Z10.0 H3", "Z2.0",
        "G1 Z-1.0 F300.0", "X11.0 F900.0", "G3 X11.0 Y6.0 I0.0 J2.0", "G0 Z10.0", "M30", "%",
    ]  # fmt: skip


def test_compensation_names_its_register_and_its_move() -> None:
    text = text_of([Rapid(0, 0), Line(500, 3, 0, side=Side.LEFT, register=7), Line(500, 0, 0, side=Side.OFF)], MM)
    assert "G1 G41 X3.0 Y0.0 D7 F500.0" in text
    assert "\nG1 G40 X0.0 Y0.0" in text


def test_inch_programs_hold_inch_numbers() -> None:
    text = text_of([SafeStart(), Rapid(25.4, -2.54), Line(254, z_mm=0.127)], INCH)
    assert "G20" in text
    assert "G0 X1.0 Y-0.1" in text
    assert "G1 Z0.005 F10.0" in text


def test_a_cycle_is_written_once_and_cancelled_on_its_own_line() -> None:
    text = text_of([Drill(((1, 2), (3, 2)), 10.0, 2.0, -6.0, 120.0)], MM)
    assert text.splitlines()[1:6] == [
        "G0 Z10.0",
        "X1.0 Y2.0",
        "G81 G98 X1.0 Y2.0 Z-6.0 R2.0 F120.0",
        "X3.0 Y2.0",
        "G80",
    ]
    pecked = text_of([Drill(((1, 2),), 10.0, 2.0, -6.0, 120.0, 1.5, ReturnTo.APPROACH)], MM)
    assert "G83 G99 X1.0 Y2.0 Z-6.0 R2.0 Q1.5 F120.0" in pecked


def test_pecks_are_written_out_where_nobody_knows_how_the_control_backs_off() -> None:
    lines = text_of([Drill(((1, 2),), 10.0, 2.0, -5.0, 120.0, 3.0)], Language(canned_pecks=False)).splitlines()
    assert lines[1:-2] == ["G0 X1.0 Y2.0", "Z2.0", "G1 Z-1.0 F120.0", "G0 Z2.0", "Z-0.7", "G1 Z-4.0", "G0 Z2.0", "Z-3.7", "G1 Z-5.0", "G0 Z10.0"]  # fmt: skip


def test_a_dwell_needs_to_know_what_p_counts() -> None:
    assert "G4 P2500.0" in text_of([Dwell(2.5)], Language(dwell_unit="ms"))
    assert "G4 P2.5" in text_of([Dwell(2.5)], MM)
    with pytest.raises(InputError, match="dwell_p"):
        text_of([Dwell(2.5)], Language())


@pytest.mark.parametrize(
    "wrong", [{"units": "cm"}, {"decimals": 2}, {"ends_with": "M99"}, {"dwell_unit": "min"}, {"path_mode": "G9"}]
)
def test_a_language_nobody_speaks_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InputError):
        text_of([], Language(**wrong))  # type: ignore[arg-type]


def test_the_language_follows_the_control_facts() -> None:
    def said(**words: str) -> FactSet:
        return FactSet({}, {f"machine.control.{k}": Setting(f"machine.control.{k}", v) for k, v in words.items()})

    assert language_of(FactSet()).dwell_unit is None
    assert language_of(said(base="rs274ngc")).dwell_unit == "s"
    assert language_of(said(dwell_p="ms")).dwell_unit == "ms"
    back_off = Fact("machine.control.peck_back_off", 0.3, 0.0, "mm")
    facts = FactSet({back_off.path: back_off}, {"machine.control.dwell_p": Setting("machine.control.dwell_p", "s")})
    assert language_of(facts) == Language(dwell_unit="s", canned_pecks=True)
    assert not language_of(FactSet()).canned_pecks
