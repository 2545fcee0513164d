"""The control's own tables, in several layouts, held against the shop."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.changer.control_table import (
    Danger,
    against_offsets,
    against_tools,
    mapping,
    read_offsets,
    read_tools,
)
from firstoff.errors import InputError
from firstoff.facts.fact import Fact, FactSet, Setting

WORDS = '[tools]\nlayout = "words"\ncomment = ";"\nT = "T"\npocket = "P"\nlength = "Z"\ndiameter = "D"\n'


def shop(lengths: dict[int, float], u: float = 0.002, means: str | None = None) -> FactSet:
    facts: dict[str, Fact] = {}
    words: dict[str, str | int] = {}
    for number, length in lengths.items():
        name = f"t{number}"
        facts[f"tools.{name}.LF"] = Fact(f"tools.{name}.LF", length, u, "mm")
        facts[f"tools.{name}.DC"] = Fact(f"tools.{name}.DC", 6.0, 0.005, "mm")
        words[f"tools.pocket.{number}.tool"] = name
        if means == "register":
            words |= {f"tools.register.{number + 10}.T": number + 10, f"tools.register.{number + 10}.H": number + 10}
            words[f"tools.register.{number + 10}.tool"] = name
    if means is not None:
        words["machine.control.t_means"] = means
    return FactSet(facts, {path: Setting(path, word) for path, word in words.items()})


def tools_of(how: str, table: str) -> tuple[object, ...]:
    section = mapping(how, "map.toml").tools
    assert section is not None
    return read_tools(table, section, "tool.tbl")


def test_words_with_comments() -> None:
    lines = tools_of(WORDS, "; my table\n\nT1 P1 D6.0 Z+71.315 ; em6, Z9 in words\nT2 P2 Z0\n  T3 Z60\n")
    assert [(one.line, one.T, one.pocket, one.length_mm, one.diameter_mm) for one in lines] == [  # type: ignore[attr-defined]
        (3, 1, 1, 71.315, 6.0),
        (5, 3, None, 60.0, None),
    ]


@pytest.mark.parametrize(
    ("how", "table"),
    [
        ("[tools]\nT = 1\nlength = 2\nradius = 3\n", "1,71.3,3\n"),
        ('[tools]\ndelimiter = "semicolon"\nT = "no"\nlength = "len"\nradius = "r"\n', "no;r;len\nT01;3,0;71,3\n"),
        (
            '[tools]\ndelimiter = "tab"\nskip_lines = 2\nT = 2\nlength = 1\ndiameter = 3\n',
            "made by hand\nx\n71.3\t1\t6\n",
        ),
        (
            '[tools]\ndelimiter = "spaces"\nT = 1\nlength = 2\ndiameter = 3\nlength_sign = "negative"\n',
            "1   -71.3  6\n",
        ),
        ('[tools]\nT = 1\nlength = 2\ndiameter = 3\nlength_add = "60 mm"\n', "1,11.3,6\n"),
        ('[tools]\nT = 1\nlength = 2\ndiameter = 3\nunit = "in"\n', f"1,{71.3 / 25.4},{6 / 25.4}\n"),
    ],
)
def test_layouts_say_the_same(how: str, table: str) -> None:
    (line,) = tools_of(how, table)
    assert (line.T, line.length_mm, line.diameter_mm) == (1, pytest.approx(71.3), pytest.approx(6.0))  # type: ignore[attr-defined]


@given(st.dictionaries(st.integers(1, 20), st.integers(40_000, 90_000).map(lambda n: n / 1000), min_size=1, max_size=8))
def test_a_table_written_from_the_shop_agrees_with_it(lengths: dict[int, float]) -> None:
    table = "".join(f"T{number} P{number} Z{length:.3f} D6.0\n" for number, length in lengths.items())
    assert against_tools(tools_of(WORDS, table), shop(lengths)) == ()  # type: ignore[arg-type]


@given(st.lists(st.floats(-5, 5).filter(lambda d: abs(d) > 0.01), min_size=1, max_size=6))
def test_every_difference_is_told_deep_ones_first(apart: list[float]) -> None:
    lengths = dict.fromkeys(range(1, len(apart) + 1), 70.0)
    table = "".join(f"T{number} Z{70 + d:.4f}\n" for number, d in enumerate(apart, 1))
    found = against_tools(tools_of(WORDS, table), shop(lengths))  # type: ignore[arg-type]
    assert sorted(one.apart_mm or 0.0 for one in found) == pytest.approx(sorted(round(d, 4) for d in apart), abs=1e-9)
    assert [one.danger for one in found] == sorted(one.danger for one in found)
    for one in found:
        assert one.danger is (Danger.TOO_DEEP if (one.apart_mm or 0.0) < 0 else Danger.TOO_HIGH)
        assert (one.path, one.value_mm) == (f"tools.{one.tool}.LF", one.control)
    deep = [-(one.apart_mm or 0.0) for one in found if one.danger is Danger.TOO_DEEP]
    assert deep == sorted(deep, reverse=True)


def test_what_nobody_measured_excuses_no_length_that_would_crash() -> None:
    (one,) = against_tools(tools_of(WORDS, "T1 Z69.8\n"), shop({1: 70.0}, u=0.5))  # type: ignore[arg-type]
    assert one.danger is Danger.TOO_DEEP
    assert against_tools(tools_of(WORDS, "T1 Z69.997\n"), shop({1: 70.0})) == ()  # type: ignore[arg-type]


def test_pockets_sizes_and_what_only_one_knows() -> None:
    table = "T1 P4 Z70\nT2 P2 Z60 D5.8\nT9 P9 Z50\n"
    found = against_tools(tools_of(WORDS, table), shop({1: 70.0, 2: 60.0, 3: 55.0}))  # type: ignore[arg-type]
    assert [(one.danger, one.what, one.tool) for one in found] == [
        (Danger.OTHER_TOOL, "T1", "t1"),
        (Danger.OTHER_SIZE, "T2", "t2"),
        (Danger.ONLY_ONE, "pocket 3", "t3"),
        (Danger.ONLY_ONE, "T9", None),
    ]
    assert (found[0].control, found[0].shop) == (4, 1)


def test_lines_of_the_table_where_t_names_a_register() -> None:
    found = against_tools(tools_of(WORDS, "T11 Z69\nT1 Z50\n"), shop({1: 70.0}, means="register"))  # type: ignore[arg-type]
    assert [(one.danger, one.what, one.tool) for one in found] == [
        (Danger.TOO_DEEP, "T11", "t1"),
        (Danger.ONLY_ONE, "T1", None),
    ]


def test_offsets_of_a_job() -> None:
    section = mapping('[offsets]\ndelimiter = "spaces"\nname = 1\nx = 2\ny = 3\nz = 4\n', "map.toml").offsets
    assert section is not None
    rows = read_offsets("G54 100.00 80.50 -100.40\n55 1 2 3\nT1 5 5 5\n", section, "o")
    assert [row.name for row in rows] == ["G54", "G55"]
    at = dict(zip("xyz", (100.0, 80.0, -100.0), strict=True))
    facts = {
        f"job.offset.G54.at.{axis}": Fact(f"job.offset.G54.at.{axis}", value, 0.02, "mm") for axis, value in at.items()
    }
    found = against_offsets(rows, FactSet(facts, {}))
    assert [(one.danger, one.what) for one in found] == [(Danger.TOO_DEEP, "G54 Z"), (Danger.OTHER_ZERO, "G54 Y")]
    assert found[0].apart_mm == pytest.approx(-0.4)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ("", "the mapping says nothing"),
        ("[tools\n", "not TOML"),
        ("[tool]\nT = 1\n", "unknown key"),
        ("[tools]\nlength = 1\n", "does not say where T or H stands"),
        ("[tools]\nT = 0\n", "this names no column"),
        ("[tools]\nT = 1\ndiameter = 2\nradius = 3\n", "says diameter and radius"),
        ('[tools]\nT = 1\nunit = "kg"\n', "this is no unit of length"),
        ('[tools]\nT = 1\nlength_add = "far"\n', "this is no length"),
        ('[tools]\nT = 1\nlength_sign = "up"\n', "no such sign"),
        ('[tools]\nT = 1\ndelimiter = "pipe"\n', "no such delimiter"),
        ('[tools]\nT = 1\nlayout = "odd"\n', "no such layout"),
        ("[tools]\nT = 1\nskip_lines = -1\n", "this is no number of lines"),
        ("[offsets]\nname = 1\n", "does not say where x stands"),
    ],
)
def test_a_mapping_that_cannot_be_used_says_why(how: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        mapping(how, "map.toml")


@pytest.mark.parametrize(
    ("table", "words"),
    [("one,71\n", "T is no number"), ("1.5,71\n", "T is no whole number"), ("1,long\n", "length is no number")],
)
def test_a_cell_that_cannot_be_read_is_told_with_its_line(table: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        tools_of("[tools]\nT = 1\nlength = 2\n", "9,1\n" + table)
    assert caught.value.faults[0].line == 2


def test_a_column_that_is_not_there() -> None:
    with pytest.raises(InputError, match="the table has no column for length"):
        tools_of('[tools]\nT = "no"\nlength = "len"\n', "no,L\n1,2\n")


@given(st.text(max_size=200), st.sampled_from(["comma", "semicolon", "tab", "spaces"]), st.booleans())
def test_whatever_the_table_holds_it_is_read_or_refused(table: str, delimiter: str, words: bool) -> None:
    how = WORDS if words else f'[tools]\ndelimiter = "{delimiter}"\nT = 1\npocket = 2\nlength = 3\ndiameter = 4\n'
    try:
        lines = tools_of(how, table)
    except InputError as error:
        told = [(fault.file, bool(fault.line)) for fault in error.faults]
        lines = ()
    else:
        told = []
    assert set(told) <= {("tool.tbl", True)}
    for one in lines:
        assert one.length_mm is not None or one.diameter_mm is not None  # type: ignore[attr-defined]
    against_tools(lines, shop({1: 70.0}))  # type: ignore[arg-type]


@given(st.text(max_size=120))
def test_whatever_the_mapping_holds_it_is_read_or_refused(text: str) -> None:
    for tried in (text, f"[tools]\nT = {text}", f'[tools]\nT = 1\nunit = "{text}"'):
        with contextlib.suppress(InputError):
            mapping(tried, "map.toml")


def test_the_sample_of_the_page_is_read_as_the_page_says() -> None:
    page = (Path(__file__).parents[2] / "docs/crib.md").read_text(encoding="utf-8")
    how = page.split("```toml\n", 1)[1].split("```", 1)[0]
    table = page.split("It reads a table such as this one:\n\n```\n", 1)[1].split("```", 1)[0]
    section = mapping(how, "map.toml").tools
    assert section is not None
    found = [(one.T, one.pocket, one.length_mm, one.diameter_mm) for one in read_tools(table, section, "t.csv")]
    assert found == [(1, 1, 71.315, 6.0), (3, 3, 69.0, 3.0)]
