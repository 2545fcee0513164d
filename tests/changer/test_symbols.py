"""Tools out to a table and back: nothing lost, nothing invented, what cannot be read told with its line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstoff.changer.symbols import tool_edits, tools_csv
from firstoff.errors import InputError
from firstoff.facts.change import all_stated
from firstoff.facts.edit import change_shop
from firstoff.facts.fact import FactSet
from firstoff.facts.shop import load_shop

MACHINE = '[shop]\nname = "Mill"\n'


def shop(folder: Path, tools: str) -> FactSet:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "machine.toml").write_text(MACHINE)
    (folder / "tools.toml").write_text("# tools\n" + tools)
    return load_shop(folder).facts


def figure(low: float, high: float) -> st.SearchStrategy[str]:
    return st.decimals(str(low), str(high), places=4).map(str)


said = st.fixed_dictionaries(
    {"value": figure(1, 90), "u": figure(0.0001, 0.5)},
    optional={
        "df": st.integers(1, 50),
        "evidence": st.sampled_from(["measured", "plate", "handbook", "assumed", "learned"]),
        "on": st.sampled_from(["2026-05-04", "2026-05-04T07:40:00"]),
        "shape": st.sampled_from(["normal", "lognormal", "uniform"]),
        "note": st.text(st.characters(codec="utf-8", exclude_categories=("C",)), min_size=1, max_size=20),
    },
)


def quantity(told: Mapping[str, object], unit: str) -> str:
    parts = [f'value = "{told["value"]} {unit}"', f'u = "{told["u"]} {unit}"']
    for key in ("df", "on"):
        if key in told:
            parts.append(f"{key} = {told[key]}")
    parts += [f'{key} = "{told[key]}"' for key in ("evidence", "shape") if key in told]
    if "note" in told:
        note = str(told["note"]).replace("\\", "\\\\").replace('"', '\\"')
        parts.append(f'note = "{note}"')
    return "{ " + ", ".join(parts) + " }"


@st.composite
def tools(draw: st.DrawFn) -> str:
    text = ""
    for name in draw(st.lists(st.sampled_from(["em6", "dr-3", "b4+"]), min_size=1, unique=True)):
        quoted = f'"{name}"' if "+" in name else name
        text += f"[tool.{quoted}]\n"
        for symbol in ("DC", "OHX", "DMM"):
            if draw(st.booleans()):
                text += f"{symbol} = {quantity(draw(said), 'mm')}\n"
        for symbol in ("FHA", "GAMF"):
            if draw(st.booleans()):
                text += f"{symbol} = {quantity(draw(said), 'deg')}\n"
        text += draw(
            st.sampled_from(['kind = "flat"\n', "ZEFP = 3\n", 'centre_cutting = true\ncoating = "TiN, gold"\n'])
        )
    return text


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(tools())
def test_a_table_goes_out_and_comes_back(tmp_path: Path, text: str) -> None:
    """Into an empty shop all facts come back, to a rounding; into the shop itself nothing changes."""
    facts = shop(tmp_path / "one", text)
    table = tools_csv(facts)
    assert tool_edits(table, facts, "t.csv") == ()
    empty = shop(tmp_path / "two", "")
    change_shop(tmp_path / "two", tool_edits(table, empty, "t.csv"))
    before, after = all_stated(facts), all_stated(load_shop(tmp_path / "two").facts)
    assert before.keys() == after.keys()
    for path, one in before.items():
        for key, value in one.items():
            told = after[path][key]
            assert told == (pytest.approx(value, rel=1e-12) if isinstance(value, float) else value), (path, key)


EM6 = '[tool.em6]\nDC = { value = "6.00(1) mm", evidence = "measured" }\nLF = "71.3(5) mm"   # on the caliper\n'


def test_only_what_differs_is_set_and_the_rest_of_the_file_stays(tmp_path: Path) -> None:
    facts = shop(tmp_path, EM6)
    table = "name,DC [mm],u(DC) [mm],evidence(DC),LF [mm],u(LF) [mm]\nem6,6,0.01,measured,71.315,0.5\n"
    (edit,) = tool_edits(table, facts, "t.csv")
    assert edit.key == ("tool", "em6", "LF")
    changed = change_shop(tmp_path, [edit])
    assert [one.path for one in changed] == ["tools.em6.LF"]
    assert "# on the caliper" in (tmp_path / "tools.toml").read_text()


def test_inches_and_a_decimal_comma(tmp_path: Path) -> None:
    facts = shop(tmp_path, "")
    table = "\ufeffname;DC [in];u(DC) [in];LF [mm];u(LF) [mm]\r\nem6;0,25;0,0004;71,315;0,006\r\n"
    change_shop(tmp_path, tool_edits(table, facts, "t.csv"))
    found = load_shop(tmp_path).facts.facts
    assert found["tools.em6.DC"].value == pytest.approx(6.35)
    assert found["tools.em6.LF"].value == 71.315


@pytest.mark.parametrize(
    ("table", "line", "words"),
    [
        ("", 1, "the table is empty"),
        ("DC [mm]\n6\n", 1, 'the table has no column "name"'),
        ("name,DC\nem6,6\n", 1, "the column says no such unit"),
        ("name,DC [deg]\nem6,6\n", 1, "the column says no such unit"),
        ("name,ZEFP [mm]\nem6,3\n", 1, "this column has no unit"),
        ("name,XX [mm]\nem6,3\n", 1, "no such column"),
        ("name,u(kind)\nem6,3\n", 1, "no such column"),
        ("name,DC [mm]\nem6,six\n", 2, "em6: DC cannot be read"),
        ("name,DC [mm]\nem6,nan\n", 2, "em6: DC cannot be read"),
        ("name,ZEFP\nem6,3.5\n", 2, "em6: ZEFP cannot be read"),
        ("name,centre_cutting\nem6,perhaps\n", 2, "em6: centre_cutting cannot be read"),
        ("name,DC [mm],on(DC)\nem6,6,May\n", 2, "em6: DC cannot be read"),
        ("name,DC [mm],u(DC) [mm]\nem6,,0.1\n", 2, "DC has a doubt or a date but no value"),
        ("name,DC [mm]\nem6,6\nem6,7\n", 3, "em6 stands there twice, first in line 2"),
        ("name,DC [mm]\n,6\n", 2, "the row has no name"),
        ("name,DC [mm]\nem6,6,7\n", 2, "the row is longer than the header"),
        ('name,DC [mm]\n"em6,6\n', None, "not a table of comma-separated values"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_line(tmp_path: Path, table: str, line: int | None, words: str) -> None:
    facts = shop(tmp_path, "")
    with pytest.raises(InputError) as caught:
        tool_edits(table, facts, "t.csv")
    assert any(words in fault.what and fault.line == line and fault.file == "t.csv" for fault in caught.value.faults), (
        str(caught.value)
    )


def test_a_value_that_the_shop_refuses_is_refused(tmp_path: Path) -> None:
    facts = shop(tmp_path, EM6)
    before = (tmp_path / "tools.toml").read_bytes()
    with pytest.raises(InputError, match="this value is impossible"):
        change_shop(tmp_path, tool_edits("name,DC [mm]\nem6,-6\n", facts, "t.csv", sure=True))
    with pytest.raises(InputError, match="kind"):
        change_shop(tmp_path, tool_edits("name,kind\nem6,fancy\n", facts, "t.csv"))
    assert (tmp_path / "tools.toml").read_bytes() == before


@given(
    st.text(max_size=200),
    st.sampled_from(["", "name,DC [mm],u(DC) [mm],on(DC)\nem6,", "name;LF [in]\nem6;", "name,kind\n"]),
)
def test_whatever_a_table_holds_it_is_read_or_refused(text: str, head: str) -> None:
    try:
        edits = tool_edits(head + text, FactSet(), "t.csv")
    except InputError as error:
        told, edits = {fault.file for fault in error.faults}, ()
    else:
        told = set()
    assert told <= {"t.csv"}
    assert all(edit.key[0] == "tool" for edit in edits)
