"""The way through a program: calls, jumps and loops of both families, and what never ends."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.program import flow as flow_module
from firstoff.program.control import Control
from firstoff.program.expressions import CannotEvaluate, Parameters, assignment_target, evaluate
from firstoff.program.flow import Flow
from firstoff.program.moves import NOTE, Problem
from firstoff.program.sources import NotSupplied, Sources, split_lines

PROGRAMS = Path(__file__).parents[3] / "shared" / "programs"


@dataclass
class Walk:
    """What a bare driver saw: the axis words it met in order, and where it ended."""

    place: dict[str, float] = field(default_factory=dict)
    seen: list[tuple[str, float]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    parameters: Parameters = field(default_factory=Parameters)
    ended_by: str = ""
    lost: bool = False

    def whats(self) -> str:
        return " | ".join(problem.what for problem in self.problems if problem.kind != NOTE)


def walk(text: str | tuple[str, ...], path: Path | None = None, folders: tuple[Path, ...] = (), **said: str) -> Walk:
    """Run the flow with a driver that knows only X Y Z, G90, G91, M2 and M30."""
    control = Control("plain", dict(said))
    lines = split_lines(text) if isinstance(text, str) else text
    result = Walk(parameters=Parameters.of(control))
    flow = Flow(Sources("main.nc", lines, control, path, folders), control, result.problems)
    cursor, incremental = flow.start(), False
    while cursor is not None:
        block = flow.block(cursor)
        result.lines.append(flow.line_of(cursor))
        try:
            values = [(word.letter, evaluate(word.value, result.parameters)) for word in block.words]
            new = [(assignment_target(a.target, result.parameters), evaluate(a.value, result.parameters)) for a in block.assignments]  # fmt: skip
        except CannotEvaluate as refusal:
            flow.report(cursor, 1, flow.text_of(cursor), refusal.what)
            values, new = [], []
        for target, value in new:
            result.parameters.assign(target, value)
        incremental = ("G", 91.0) in values or (incremental and ("G", 90.0) not in values)
        for letter, value in values:
            if letter in "XYZ" and value is not None:
                result.place[letter] = value + (result.place.get(letter, 0.0) if incremental else 0.0)
                result.seen.append((letter, result.place[letter]))
        if ("M", 30.0) in values or ("M", 2.0) in values:
            result.ended_by = "M30"
            break
        cursor = flow.after(block, cursor, result.parameters)
    result.ended_by = result.ended_by or flow.ended_by
    result.lost = flow.lost
    return result


# --- calls (common practice: manuals of several makers; reference nc-cases P01, P16, P18) ------------------------------


def test_a_subprogram_is_repeated_l_times() -> None:
    found = walk("O1\nG21 G90 G0 X0\nM98 P100 L3\nM30\nO100\nG91 G1 X10 F100\nG90\nM99")
    assert found.place["X"] == 30.0
    assert not found.problems


def test_leading_digits_of_p_are_repeats_where_nothing_else_fits() -> None:
    found = walk("O1\nM98 P0030100\nM30\nO100\nG91 X1\nG90\nM99")
    assert found.place["X"] == 3.0
    assert [p.kind for p in found.problems] == [NOTE]
    both = walk("O1\nM98 P30100\nM30\nO100\nX1\nM99\nO30100\nX2\nM99")
    assert "both are there" in both.whats()


def test_a_block_of_the_same_file_can_be_called() -> None:
    found = walk("O1\nG91\nM97 P10 L2\nM30\nN10 X1\nM99")
    assert found.place["X"] == 2.0
    assert not found.problems


def test_m99_p_returns_to_a_block() -> None:
    found = walk("O1\nM98 P2\nX1\nN5 Y1\nM30\nO2\nM99 P5")
    assert found.place == {"Y": 1.0}
    assert not found.problems
    assert walk("O1\nM99 P5\nX1\nN5 Y1\nM30").place == {"Y": 1.0}


def test_m99_in_the_main_program_is_endless() -> None:
    found = walk("O1\nG21 G91 G0 X1\nM99")
    assert found.place["X"] == 1.0
    assert "for ever" in found.whats()
    assert (found.ended_by, found.lost) == ("M99", True)
    assert found.problems[0].judged_again_from == 0


def test_a_missing_subprogram_is_named_and_reading_goes_on() -> None:
    found = walk("O1\nG21\nM98 P7777\nX1\nM30")
    assert "O7777 is not supplied" in found.whats()
    assert (found.problems[0].line, found.problems[0].text) == (3, "M98 P7777")
    assert found.lost
    assert found.ended_by == "M30"


def test_a_macro_has_locals_of_its_own() -> None:
    found = walk("O1\n#1=5\n#100=1\nG65 P2 A7 L2\nX#1 Y#100\nM30\nO2\n#2=#1\n#100=[#100+#1]\nM99")
    assert found.place == {"X": 5.0, "Y": 15.0}
    assert not found.problems


def test_m98_shares_the_locals() -> None:
    assert walk("O1\n#1=5\nM98 P2\nX#1\nM30\nO2\n#1=6\nM99").place["X"] == 6.0


def test_recursion_and_deep_nesting_end_as_a_problem() -> None:
    found = walk("O1\nM98 P1\nM30")
    assert "calls itself" in found.whats()
    chain = "O1\nG65 P2\nM30\n" + "".join(f"O{n}\nG65 P{n + 1}\nM99\n" for n in range(2, 9))
    assert "more than 4" in walk(chain).whats()


def test_running_from_one_program_into_the_next() -> None:
    assert "runs on into" in walk("O1\nX1\nO2\nX2\nM99").whats()
    assert "runs on into" in walk("O1\nM98 P2\nM30\nO2\nX2\nO3\nM99").whats()
    assert "does not return" in walk("O1\nM98 P2\nM30\nO2\nX2").whats()
    assert "does not return" in walk("%\nO1\nM98 P2\nM30\nO2\nX2\n%").whats()


def test_two_programs_of_one_number() -> None:
    assert "more than once" in walk("O1\nM98 P2\nM30\nO2\nM99\nO2\nM99").whats()


def test_percent_ends_the_text() -> None:
    found = walk("\n%\nO1\nX1\n%\nX2")
    assert found.place["X"] == 1.0
    assert found.ended_by == "%"


# --- jumps and loops of macro dialects (reference nc-cases P04, P05, P07) ----------------------------------------------


def test_while_do_end() -> None:
    found = walk("O1\nG21 G90\n#1=0\nWHILE[#1LT3]DO1\n#1=#1+1\nG0X[#1*10.]\nEND1\nM30")
    assert found.place["X"] == 30.0
    assert not found.problems


def test_if_goto() -> None:
    found = walk("O1\n#1=5\nIF[#1GT3]GOTO10\nG0 X99\nN10 G0 Y1\nM30")
    assert found.place == {"Y": 1.0}


def test_goto_finds_blocks_before_and_behind_in_its_own_program() -> None:
    found = walk("O1\n#1=0\nN1 #1=#1+1\nIF[#1LT4]GOTO1\nM98 P2\nM30\nO2\nGOTO 1\nX9\nN1 X#1\nM99")
    assert found.seen == [("X", 4.0)]
    assert not found.problems


def test_undefined_value() -> None:
    found = walk("O1\nX4\n#1=#0\nX#1 Y5\nIF[#1EQ#0]THEN#2=7\nZ#2\nM30")
    assert found.place == {"X": 4.0, "Y": 5.0, "Z": 7.0}


@given(st.integers(0, 6), st.integers(0, 6), st.integers(0, 6))
def test_nested_loops_run_as_often_as_pythons(a: int, b: int, c: int) -> None:
    found = walk(
        f"O1\n#100=0\n#1=0\nWHILE[#1LT{a}]DO1\n#2=0\nWHILE[#2LT{b}]DO2\n#3=0\nWHILE[#3LT{c}]DO3\n#100=#100+1\n#3=#3+1\n"
        f"END3\n#2=#2+1\nEND2\n#1=#1+1\nEND1\nX#100\nM30"
    )
    assert found.place["X"] == sum(1 for _ in range(a) for _ in range(b) for _ in range(c))
    assert not found.problems


def test_one_loop_number_may_be_used_again() -> None:
    found = walk("O1\n#1=0\nWHILE[#1LT2]DO1\n#1=#1+1\nEND1\nWHILE[#1LT5]DO1\n#1=#1+1\nEND1\nX#1\nM30")
    assert found.place["X"] == 5.0


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("N10 GOTO 10", "for ever"),
        ("#1=0\nWHILE[#1LT3]DO1\n#2=#1\nEND1", "for ever"),
        ("DO1\nX1\nEND1", "for ever"),
        ("N1 #1=5\nGOTO 1", "for ever"),
        ("GOTO 7", "no block N7"),
        ("N1 X1\nN1 X2\nGOTO 1", "more than once"),
        ("GOTO 5\nWHILE[1EQ1]DO1\nN5 X1\nEND1", "into a loop"),
        ("WHILE[1EQ1]DO1\nX1", "other end is missing"),
        ("X1\nEND1", "other end is missing"),
        ("WHILE[1EQ1]DO1\nWHILE[1EQ1]DO2\nEND1\nEND2", "cross"),
        ("IF[#500GT3]GOTO5\nN5", "#500 is read before it is set"),
        ("IF[#0]GOTO5\nN5", "undefined"),
        ("M98 P#0", "undefined"),
        ("M98 P1.5", "whole number"),
        ("M98 P1 L0", "repeated 1 to"),
        ("IF[[1/0]GT1]GOTO5\nN5", "divides by zero"),
    ],
)
def test_ways_that_cannot_be_followed(text: str, says: str) -> None:
    found = walk("O1\n" + text + "\nM30")
    assert says in found.whats()
    assert found.lost


def test_a_backward_jump_in_a_repeated_subprogram_is_no_endless_loop() -> None:
    found = walk("O1\nM98 P2 L3\nM30\nO2\nGOTO 5\nN3 G91 X1\nGOTO 9\nN5 GOTO 3\nN9 M99")
    assert found.place["X"] == 3.0
    assert not found.problems


def test_a_runaway_loop_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(flow_module, "MOST_STEPS", 1000)
    found = walk("O1\n#1=0\nN1 #1=#1+1\nGOTO 1\nM30")
    assert "without an end" in found.whats()
    assert found.lost
    assert found.ended_by == ""


def test_a_jump_not_taken_to_a_block_that_is_not_there_is_noted() -> None:
    found = walk("O1\n#1=1\nIF[#1LT0]GOTO 99\nX1\nM30")
    assert [(p.kind, p.line) for p in found.problems] == [(NOTE, 3)]
    assert "N99" in found.problems[0].what


def test_a_jump_that_was_not_understood_loses_the_way() -> None:
    found = walk("O1\nIF[#1GT]GOTO5\nX1\nM30")
    assert found.lost
    assert found.problems[0].judged_again_from == 0


# --- o-words (reference nc-language 12) -------------------------------------------------------------------------------


def o_words(text: str) -> Walk:
    return walk(text, macro_family="o-words")


def test_sub_call_and_return() -> None:
    found = o_words(
        "o1 sub\nX#1\no2 if [#1 GT 2]\no1 return [7]\no2 endif\nY1\no1 endsub\n#1=9\no1 call [3]\nZ#<_value>\nX#1\nM2"
    )
    assert found.place == {"X": 9.0, "Z": 7.0}
    assert found.seen[0] == ("X", 3.0)
    assert not found.problems


def test_branches() -> None:
    text = "#1={}\no1 if [#1 EQ 1]\nX1\no1 elseif [#1 EQ 2]\nX2\no1 else\nX3\no1 endif\nY1\nM2"
    for value, expected in ((1, 1.0), (2, 2.0), (3, 3.0)):
        found = o_words(text.format(value))
        assert found.seen == [("X", expected), ("Y", 1.0)]
        assert not found.problems


def test_loops_with_break_and_continue() -> None:
    found = o_words(
        "#1=0 #2=0\no1 while [#1 LT 10]\n#1=[#1+1]\no2 if [#1 EQ 3]\no1 continue\no2 endif\no3 if [#1 EQ 6]\no1 break\no3 endif\n"
        "#2=[#2+1]\no1 endwhile\nX#1 Y#2\nM2"
    )
    assert found.place == {"X": 6.0, "Y": 4.0}
    assert not found.problems
    found = o_words("#1=0\no1 do\n#1=[#1+1]\no1 while [#1 LT 4]\no2 repeat [3]\n#1=[#1+10]\no2 endrepeat\no3 repeat [0]\nX99\no3 endrepeat\nX#1\nM2")  # fmt: skip
    assert found.place == {"X": 34.0}
    assert not found.problems


def test_recursion_of_a_sub_ends() -> None:
    assert "more than 10 calls" in o_words("o1 sub\no1 call\no1 endsub\no1 call\nM2").whats()


def test_recursion_that_ends_by_itself() -> None:
    found = o_words("o1 sub\no2 if [#1 GT 0]\nX#1\no1 call [#1-1]\nY#1\no2 endif\no1 endsub\no1 call [3]\nM2")
    assert [v for k, v in found.seen if k == "X"] == [3.0, 2.0, 1.0]
    assert [v for k, v in found.seen if k == "Y"] == [1.0, 2.0, 3.0]
    assert not found.problems


# --- subprograms in files ---------------------------------------------------------------------------------------------


def lay_out(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        (folder / name.replace("__", ".").replace("_", "-")).write_text(text)
    return folder / "main.nc"


MAIN = "O1\nM98 P3003\nM30\n"


def test_a_file_answers_to_its_first_number_or_its_stem(tmp_path: Path) -> None:
    path = lay_out(tmp_path, main__nc=MAIN, anything__txt="(a)\nO3003(x)\nX5\nM99", other__nc="O3004\nM99")
    found = walk(MAIN, path)
    assert found.place["X"] == 5.0
    assert [p.kind for p in found.problems] == [NOTE]
    assert "anything.txt" in found.problems[0].what
    assert found.lines == [1, 2, 2, 2, 2, 3]  # every line of the file belongs to the line of the call
    for name in ("O3003.nc", "3003", "08-O3003.nc", "o03003.TXT"):
        folder = tmp_path / name.replace(".", "_")
        folder.mkdir()
        (folder / name).write_text("X6\nM99")
        assert walk(MAIN, folder / "main.nc").place["X"] == 6.0, name


def test_a_number_in_a_name_is_not_a_program_number(tmp_path: Path) -> None:
    path = lay_out(tmp_path, part_3003__nc="X1\nM99", x13003__nc="X1\nM99")
    assert "not supplied" in walk(MAIN, path).whats()


def test_two_files_that_differ_are_a_problem_and_copies_are_none(tmp_path: Path) -> None:
    path = lay_out(tmp_path, a__nc="O3003\nX1\nM99", b__nc="O3003\nX2\nM99")
    assert "they differ" in walk(MAIN, path).whats()
    (tmp_path / "b.nc").write_text("O3003\nX1\nM99")
    assert walk(MAIN, path).place["X"] == 1.0


def test_named_folders_come_last(tmp_path: Path) -> None:
    own, shared = tmp_path / "own", tmp_path / "shared"
    own.mkdir()
    shared.mkdir()
    (shared / "O3003.nc").write_text("X2\nM99")
    assert walk(MAIN, own / "main.nc", (shared,)).place["X"] == 2.0
    (own / "O3003.nc").write_text("X1\nM99")
    assert walk(MAIN, own / "main.nc", (shared,)).place["X"] == 1.0
    assert "cannot be read" in walk(MAIN, tmp_path / "main.nc", (tmp_path / "none",)).whats()


def test_what_is_no_text_is_not_opened(tmp_path: Path) -> None:
    (tmp_path / "O3003.nc").write_bytes(b"\x00\x01O3003")
    (tmp_path / "empty.nc").write_bytes(b"")
    assert "not supplied" in walk(MAIN, tmp_path / "main.nc").whats()


def test_the_main_file_is_not_its_own_subprogram(tmp_path: Path) -> None:
    path = tmp_path / "O3003.nc"
    path.write_text("X1\nM98 P3003\nM30")
    assert "not supplied" in walk("X1\nM98 P3003\nM30", path).whats()


def test_a_sub_in_a_file_of_its_name(tmp_path: Path) -> None:
    (tmp_path / "bore.ngc").write_text("o<bore> sub\nX#1\no<bore> endsub\nM2\n")
    text = "o<bore> call [4]\nY1\nM2"
    found = walk(text, tmp_path / "main.ngc", macro_family="o-words")
    assert found.place == {"X": 4.0, "Y": 1.0}


def test_calls_inside_a_file_find_their_neighbours(tmp_path: Path) -> None:
    (tmp_path / "O3003.nc").write_text("O3003\nM98 P20\nM98 P30\nM99\nO20\nX1\nM99\n")
    found = walk(MAIN + "O30\nY2\nM99\n", tmp_path / "main.nc")
    assert found.place == {"X": 1.0, "Y": 2.0}


def test_problems_inside_a_file_name_it_and_the_line_of_the_call(tmp_path: Path) -> None:
    (tmp_path / "O3003.nc").write_text("O3003\nX1 Y\nM99")
    found = walk(MAIN, tmp_path / "main.nc")
    problem = next(p for p in found.problems if p.kind != NOTE)
    assert (problem.line, problem.column) == (2, 4)
    assert problem.what.startswith("O3003.nc line 2: ")


def test_sources_know_their_programs() -> None:
    sources = Sources("x", ("%", "O1(A)", "(O5)", "N10 O7", "o9 sub", ":12"), Control())
    assert sources.programs(sources.main) == [(1, 2), (7, 4), (12, 6)]
    with pytest.raises(NotSupplied, match="O5"):
        sources.program(5, sources.main)


# --- strangers --------------------------------------------------------------------------------------------------------


@pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")
def test_the_macro_beside_the_program_is_called() -> None:
    path = PROGRAMS / "08-macro-bore.nc"
    found = walk(split_lines(path.read_text()), path)
    assert [p.kind for p in found.problems] == [NOTE, NOTE]
    assert found.parameters.numbered() == {}


@pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")
def test_repeats_by_a_parameter() -> None:
    path = PROGRAMS / "09-bolt-circle-rotary.nc"
    found = walk(split_lines(path.read_text()), path)
    assert not found.problems
    assert found.parameters.numbered()[2] == 8.0
    assert sum(1 for line in found.lines if "SPOT SUB" in path.read_text().splitlines()[line - 1]) == 8
