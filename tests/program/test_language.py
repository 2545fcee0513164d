"""Any line taken apart: nothing raises, nothing is silently dropped, and each slip is told where it stands."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from firstoff.program.blocks import Block, Value
from firstoff.program.comments import strip_comments
from firstoff.program.control import Control
from firstoff.program.language import parse_line
from firstoff.program.moves import FAULT, NOTE, Problem

PROGRAMS = Path(__file__).parents[3] / "shared" / "programs"


def parse(text: str, base: str = "plain", **said: str) -> tuple[Block, list[Problem]]:
    return parse_line(text, 1, Control(base, dict(said)))


def words(block: Block) -> list[tuple[str, float | str]]:
    return [(word.letter, shown(word.value)) for word in block.words]


def shown(value: Value) -> float | str:
    return value if isinstance(value, float) else value.text


def faults(problems: list[Problem]) -> list[tuple[int, str]]:
    return [(problem.column, problem.text) for problem in problems if problem.kind == FAULT]


# --- every character is accounted for ---------------------------------------------------------------------------------


def unaccounted(text: str, base: str) -> str:
    """Characters that are in no word, assignment, problem, comment, block number, slash or percent sign."""
    control = Control(base)
    block, problems = parse_line(text, 1, control)
    covered = [character in " \t\r" for character in text]
    kept = strip_comments(text, control).kept
    for at in range(len(text)):
        covered[at] = covered[at] or not any(begin <= at < end for begin, end in kept)
    spans = [(word.column, word.text) for word in block.words]
    spans += [(assignment.column, assignment.text) for assignment in block.assignments]
    spans += [(problem.column, problem.text) for problem in problems]
    for column, span in spans:
        assert text[column - 1 : column - 1 + len(span)] == span, "a span is not where it says"
        covered[column - 1 : column - 1 + len(span)] = [True] * len(span)
    if block.percent:
        covered = [True if c == "%" else done for c, done in zip(text, covered, strict=True)]
    bare = "".join(c if any(begin <= at < end for begin, end in kept) else " " for at, c in enumerate(text))
    has_head = block.deletable or block.number is not None
    head = re.match(r"[ \t\r]*/?[ \t\r]*([Nn][ \t\r0-9]*)?", bare) if has_head else None
    for at in range(head.end() if head else 0):
        covered[at] = True
    if block.jump is not None:  # the jump's own characters carry no span: test_jumps_lose_no_number holds them
        covered[block.jump.column - 1 :] = [True] * (len(text) - block.jump.column + 1)
    return "".join(c for c, done in zip(text, covered, strict=True) if not done)


CHARACTERS = st.sampled_from("GMXYZFSNTIJKRPQLHDABCEUVWO0123456789.+-#[]()=/;:%<>*,'\" \t−é\x00½²ß")  # fmt: skip
PIECES = st.sampled_from(
    ["G1 ", "X1.5", "Y-2", "Z[#1+2]", "#1=", "#1", "[", "]", "(c)", "(", ")", ";", "N10 ", "/", "M98", "P100", "G65", "M3",
     "IF[1GT0]", "GOTO5", "WHILE[1]DO1", "END1", "O100", "o1 sub", "ATAN[1]/[2]", "SIN[", "%", "E3", "F", "X", "1e5", "MOD", "-"]
)  # fmt: skip
LINES = st.one_of(
    st.lists(CHARACTERS, max_size=40).map("".join),
    st.lists(PIECES, max_size=8).map("".join),
    st.text(max_size=40).filter(lambda text: "\n" not in text),
)


@given(LINES, st.sampled_from(["plain", "rs274ngc"]))
@example("X1(c)2", "plain")
@example("G0 X#", "plain")
@example("N", "plain")
@example("G", "rs274ngc")
@example("ß1X2", "plain")
def test_every_character_is_accounted_for(text: str, base: str) -> None:
    assert unaccounted(text, base) == ""


@given(LINES, st.sampled_from(["plain", "rs274ngc"]))
def test_columns_lie_in_the_line_and_problems_are_in_order(text: str, base: str) -> None:
    _, problems = parse(text, base)
    columns = [problem.column for problem in problems]
    assert columns == sorted(columns)
    assert all(1 <= column <= len(text) + 1 for column in columns)
    assert all(problem.what for problem in problems)


JUMPS = [
    "M98 P0011 L#2",
    "X5. M98 P12 Y6.",
    "M97 P20 L3",
    "M99 P7",
    "G65 P3003 X1. Y2. I3 J4 K5 I6 J7 F800",
    "IF[#1 GT 3.5]GOTO 10",
    "IF [#1EQ#0] THEN #2=[#3*4.25]",
    "WHILE[#1LE100]DO2",
    "GOTO[#1+20]",
    "END3",
    "o100 call [1] [2.5] [#3]",
    "o<bore> sub",
    "o12 repeat [7]",
    "O1234",
]


def numbers_of(block: Block) -> list[float]:
    jump = block.jump
    assert jump is not None
    values: list[object] = [word.value for word in block.words]
    values += [value for _, value in jump.arguments]
    values += [jump.label, jump.condition, jump.repeats]
    if jump.then is not None:
        values += [jump.then.target, jump.then.value]
    found: list[float] = []
    for value in values:
        text = value if isinstance(value, str) else "" if value is None else getattr(value, "text", "")
        found += [value] if isinstance(value, float) else [float(n) for n in re.findall(r"[0-9.]+", text)]
    return found


@pytest.mark.parametrize("text", JUMPS)
def test_jumps_lose_no_number(text: str) -> None:
    block, problems = parse(text)
    assert not faults(problems)
    written = [float(n) for n in re.findall(r"(?<![oO0-9.])[0-9.]+|(?<=[oO])[0-9]+", re.sub("M9[789]|G65", "", text))]
    assert sorted(numbers_of(block)) == sorted(written)


@given(st.decimals(allow_nan=False, allow_infinity=False, places=6, min_value=-(10**9), max_value=10**9))
def test_numbers_are_pythons_own(value: object) -> None:
    text = format(value, "f")
    block, problems = parse("X" + text)
    assert words(block) == [("X", float(text))]
    assert not problems


CLEAN = ["N20 G1 X12.5 Y-3.75 F300", "G2 X1.5 Y2. I.5 J-.25", "#1=2.5 X[#1*2]", "T3 M6", "G83 X1 Y2 Z-3 R1 Q.5 F90"]


@given(st.sampled_from(CLEAN), st.data())
def test_damage_is_never_fewer_words_without_a_problem(text: str, data: st.DataObject) -> None:
    """One character deleted, doubled or altered: each letter still there is a word, or in a problem."""
    at = data.draw(st.integers(0, len(text) - 1))
    how = data.draw(st.sampled_from(["delete", "double", "alter"]))
    other = data.draw(CHARACTERS)
    text = text[:at] + {"delete": "", "double": text[at] * 2, "alter": other}[how] + text[at + 1 :]
    block, problems = parse(text)
    if faults(problems) or "(" in text or ";" in text or block.jump is not None:
        return
    outside = re.sub(r"\[[^]]*\]", "", text)
    letters = [c for c in outside.upper() if c.isalpha()]
    kept = [word.letter for word in block.words] + (["N"] if block.number is not None else [])
    assert sorted(letters) == sorted(kept)


# --- the grammar, line by line ----------------------------------------------------------------------------------------


def test_white_space_inside_a_number() -> None:
    expected = [("G", 0.0), ("X", 0.1234), ("Y", 7.0)]
    block, problems = parse("g0x +0. 12 34y 7", "rs274ngc")
    assert words(block) == expected
    assert not problems
    block, problems = parse("g0x +0. 12 34y 7")
    assert words(block) == expected
    assert {p.kind for p in problems} == {FAULT}  # by custom a slip: `G1 5` for `G1 X5` would be G15


def test_block_number_delete_and_percent() -> None:
    block, problems = parse("/N120 G0 X1")
    assert (block.deletable, block.number, words(block)) == (True, 120, [("G", 0.0), ("X", 1.0)])
    assert not problems
    assert parse(" % ")[0].percent
    assert faults(parse("% G0")[1]) == [(1, "%")]
    assert faults(parse("G0 /X1")[1]) == [(4, "/")]
    assert faults(parse("N000009 G0 X1", "rs274ngc")[1]) == [(1, "N000009")]
    assert not parse("N000009 G0 X1")[1]
    assert faults(parse("G0 N10 X1")[1]) == [(4, "N10")]
    assert faults(parse("N-5 G0")[1]) == [(1, "N-5")]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("G0 X Y", [(4, "X"), (6, "Y")]),
        ("GO X1", [(1, "GO")]),
        ("G0 X1O", [(4, "X1O")]),
        ("G0 XO.5", [(4, "XO.5")]),
        ("G41 DO1", [(5, "DO1")]),
        ("X−5", [(1, "X−5")]),
        ("X1.2.3", [(5, ".3")]),
        ("X1e300", [(3, "e300")]),
        ("G21 G0 U1", [(8, "U1")]),
        ("XNAN", [(1, "X"), (2, "NA"), (4, "N")]),
        ("X1 ) Y2", [(4, ")")]),
        ("G1 X1 (oops", [(7, "(oops")]),
        ("G0 X1\x00", [(6, "\x00")]),
        ("<<<<<<< ours", [(1, "<<<<<<<")]),
        ("X[1+2", [(1, "X[1+2")]),
        ("X[SIN[30]+ Y5", [(1, "X[SIN[30]+ Y5")]),
        ("X1(c)2", [(3, "(c)2")]),
        ("X" + "9" * 400, [(1, "X" + "9" * 400)]),
        ("#1", [(1, "#1")]),
        ("10 X1", [(1, "10")]),
    ],
)
def test_slips_are_told_where_they_stand(text: str, where: list[tuple[int, str]]) -> None:
    problems = parse(text)[1]
    assert faults(problems)[0] == where[0]
    if text not in ("XNAN", "<<<<<<< ours"):  # what follows are problems of their own
        assert faults(problems) == where


def test_the_minus_that_is_none_is_named() -> None:
    assert "U+2212" in parse("X−5")[1][0].what


@pytest.mark.parametrize("text", ["G0 X1;", "O1001", "G21 G0 U1", "M6 #1=#1+1", "X-#4", "GOTO 5", "G0 X1 (a (b) c)", "X" + "0" * 256 + "1"])  # fmt: skip
def test_custom_that_the_report_refuses(text: str) -> None:
    assert faults(parse(text, "rs274ngc")[1])


@pytest.mark.parametrize("text", ["G0 X1;", "O1001", "M6 #1=#1+1", "X-#4", "GOTO 5", "G0 X1 (a (b) c)", "X" + "0" * 256 + "1"])  # fmt: skip
def test_custom_that_plain_accepts(text: str) -> None:
    assert not faults(parse(text)[1])


# --- comments ---------------------------------------------------------------------------------------------------------


def test_comments_and_messages() -> None:
    block, problems = parse("G0 X1 (Y99) Z2 (tool 3)")
    assert words(block) == [("G", 0.0), ("X", 1.0), ("Z", 2.0)]
    assert block.comment == "Y99 tool 3"
    assert not problems
    assert parse("( m s g , turn the part )")[0].message == "turn the part"
    assert parse("(MSG, one) (two)", "rs274ngc")[0].message == ""
    assert parse("(MSG, one) (two)")[0].message == "one"
    assert parse("M06 T01  ; 0.0315 ")[0].comment == "0.0315"
    assert parse("T1M6;")[0].comment == ""


def test_brackets_in_comments_by_control() -> None:
    block, problems = parse("G1 X1 (drill (R) long) Y2")
    assert words(block)[-1] == ("Y", 2.0)
    assert [(p.kind, p.column) for p in problems] == [(NOTE, 7)]
    assert faults(parse("G1 X1 (drill (R) long) Y2", comments="plain")[1]) == [(7, "(drill (R) long)")]
    assert faults(parse("(drill (R)")[1]) == [(1, "(drill (R)")]


def test_semicolon_inside_a_comment_ends_nothing() -> None:
    assert words(parse("G0 (a ; b) X1 ; c (d")[0]) == [("G", 0.0), ("X", 1.0)]


# --- calls ------------------------------------------------------------------------------------------------------------


def test_arguments_set_the_parameters_of_their_letters() -> None:
    """Argument table of a builder's operator manual, macro chapter (reference nc-language 12)."""
    jump = parse("G65 P1 A1 B2 C3 D7 E8 F9 H11 I4 J5 K6 M13 Q17 R18 S19 T20 U21 V22 W23 X24 Y25 Z26")[0].jump
    assert jump is not None
    assert jump.verb == "macro-call"
    assert all(number == value for number, value in jump.arguments)
    assert len(jump.arguments) == 21


def test_repeated_i_j_k_fill_on_in_threes() -> None:
    assert faults(parse("G65 P1 I1 K2 J3")[1])  # order decides differently on different controls
    jump = parse("G65 P1 I1 J2 K3 I4 K6 I7")[0].jump
    assert jump is not None
    assert jump.arguments == ((4, 1.0), (5, 2.0), (6, 3.0), (7, 4.0), (9, 6.0), (10, 7.0))
    later = parse("G65 P1 I1 I2 D3")[0].jump
    assert later is not None
    assert dict(later.arguments)[7] == 3.0  # both styles hit #7: the later wins


def test_calls_take_their_words_and_leave_the_others() -> None:
    block = parse("G0 X5. M98 P100 L3")[0]
    assert words(block) == [("G", 0.0), ("X", 5.0)]
    assert block.jump is not None
    assert (block.jump.label, block.jump.repeats) == (100.0, 3.0)
    block = parse("G90 G65 P9 X1.")[0]
    assert words(block) == [("G", 90.0)]


@pytest.mark.parametrize("text", ["M98", "M98 P1 P2", "G65 P1 G90", "G65 P1 A1 A2", "M98 P1 M99", "O5 M98 P1", "WHILE[1]DO4", "WHILE[1]", "IF[1]X5", "DO1 X5", "o1 if", "o#1 sub"])  # fmt: skip
def test_calls_and_loops_that_cannot_be_meant(text: str) -> None:
    assert faults(parse(text)[1])


def test_a_jump_that_is_not_understood_is_still_a_jump() -> None:
    for text in ("IF[#1GT]GOTO5", "WHILE[#1]", "O", "M98 P1 M99 P2", "GOTO"):
        jump = parse(text)[0].jump
        assert jump is not None, text
        assert jump.verb == "unknown"


def test_least_increments_make_arguments_without_a_point_doubtful() -> None:
    assert faults(parse("G65 P1 X10", whole_numbers="least increment")[1]) == [(8, "X10")]
    assert not faults(parse("G65 P1 X10. S3", whole_numbers="least increment")[1])


def test_the_wrong_family_is_refused() -> None:
    assert faults(parse("WHILE[#1LT3]DO1", macro_family="o-words")[1])
    assert faults(parse("o1 sub", macro_family="macro")[1])
    assert words(parse("M98 P1", macro_family="none")[0]) == [("M", 98.0), ("P", 1.0)]  # no call: an unknown code


# --- real programs ----------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")
@pytest.mark.parametrize("name", ["01-hand-written-plate.nc", "06-eight-drills.nc", "08-macro-bore.nc", "08-O3003.nc", "09-bolt-circle-rotary.nc", "12-isolation.nc"])  # fmt: skip
def test_strangers_lines_are_all_understood(name: str) -> None:
    for line, text in enumerate((PROGRAMS / name).read_text().splitlines(), 1):
        problems = parse_line(text, line, Control())[1]
        assert not faults(problems), text
        assert unaccounted(text, "plain") == ""
