"""Changing facts in place: what was not touched stays byte for byte, what cannot be read is never written, and nobody's save is lost."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import Counter
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from firstoff.demo.lay_out import lay_out
from firstoff.errors import InputError
from firstoff.facts import replace_file
from firstoff.facts.change import all_stated
from firstoff.facts.edit import Edit, change_shop, key_of
from firstoff.facts.keys import Spot
from firstoff.facts.lines import KeyPath, key_lines, written
from firstoff.facts.rewrite import rewritten
from firstoff.facts.schema import JobFile, Machine, Tools
from firstoff.facts.shop import load_shop

from .test_shop import FIVE_LINES, FIVE_LINES_JOB

MACHINE, TOOLS, JOB = Spot("table", Machine), Spot("table", Tools), Spot("table", JobFile)

NOW = datetime(2026, 11, 26, 7, 40)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "shop"
    lay_out(folder, NOW)
    return folder


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A small shop of every way to write a table."""
    folder = tmp_path / "small"
    (folder / "jobs" / "plate").mkdir(parents=True)
    (folder / "machine.toml").write_text(f"# my mill\n{FIVE_LINES}\n[today]   # the card\nhomed = true\n", newline="")
    (folder / "tools.toml").write_text(SMALL_TOOLS, newline="")
    (folder / "jobs" / "plate" / "job.toml").write_text(FIVE_LINES_JOB, newline="")
    (folder / "jobs" / "plate" / "plate.nc").write_text("G21\nM30\n")
    return folder


SMALL_TOOLS = """# what we have

[tool.em6]                 # the good one
kind = "flat"
DC   = { value = "6.00(2) mm",   evidence = "plate", df = 5 }   # read off
OHX  = "22.0(3) mm"
#LF  = "64 mm"

# holders are scarce
[tool.'drill3']
kind = "drill"
DC = "3 mm"

# the rack
[[pocket]]
number = 2                 # left
tool = "em6"
at = [
  "1 mm",    # X
  "2 mm",
  "3(1) mm", # Z
]
[[pocket]]
number = 7
[[register]]
T = 1
H = 1
"""


def sha(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def texts(folder: Path) -> dict[str, bytes]:
    """Every file with its bytes; a change that failed must leave exactly this."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


# ---- the text: what was asked, and nothing else ------------------------------------------------------------------------

SCALARS = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=8),
    st.integers(-(2**60), 2**60),
    st.floats(allow_nan=False, allow_infinity=False),
    st.booleans(),
    st.dates(date(1900, 1, 1)),
    st.datetimes(datetime(1900, 1, 1)).map(lambda moment: moment.replace(fold=0)),
)
NAMES = st.one_of(
    st.sampled_from(["a", "b", "DC", "LF", "x-y", "G59.1", "3", "ä ö", 'q"t']),
    st.text("abc.'\" ", min_size=1, max_size=3),
)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(NAMES, inner, max_size=3)),
    max_leaves=6,
)
DOCUMENTS = st.dictionaries(
    NAMES,
    st.one_of(
        VALUES,
        st.lists(st.dictionaries(NAMES, VALUES, min_size=1, max_size=3), min_size=1, max_size=3),
        st.dictionaries(NAMES, st.dictionaries(NAMES, VALUES, min_size=1, max_size=3), min_size=1, max_size=3),
    ),
    min_size=1,
    max_size=4,
)


class Hand:
    """Writes a table the way a person might: here a section, there braces or dotted keys, with comments and blanks as they fall."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw

    def pick(self, *ways: Any) -> Any:
        return self.draw(st.sampled_from(ways))

    def document(self, values: dict[str, Any]) -> str:
        lines = self.table((), values, head=False)
        text = "\n".join(line + self.pick("", "", "  # why [not] = {", "\t# x") if line else line for line in lines)
        return text + self.pick("\n", "", "\n\n# the end\n")

    def key(self, *names: str) -> str:
        return self.pick(".", " . ", ".").join(
            name if re.fullmatch(r"[A-Za-z0-9_-]+", name) and self.pick(True, False) else tomlkit.item(name).as_string()
            for name in names
        )

    def table(
        self, path: tuple[str, ...], values: dict[str, Any], *, head: bool = True, double: bool = False
    ) -> list[str]:
        pairs: list[str] = []
        below: list[str] = []
        for name, value in values.items():
            plain = isinstance(value, dict) and value
            tables = isinstance(value, list) and value and all(isinstance(one, dict) for one in value)
            way = self.pick("section", "inline", "dotted")
            if plain and way == "section":
                below += ["", *self.table((*path, name), value)]
            elif plain and way == "dotted":
                pairs += [f"{self.key(name, inner)} = {self.value(one)}" for inner, one in value.items()]
            elif tables and way == "section":
                for one in value:
                    below += ["", *self.table((*path, name), one, double=True)]
            else:
                pairs.append(
                    f"{self.pick('', '  ')}{self.key(name)}{self.pick(' ', '', '    ')}={self.pick(' ', '', '   ')}{self.value(value)}"
                )
            if self.pick(True, False, False):
                pairs.append("")
        if not head:
            return pairs + below
        left, right = ("[[", "]]") if double else ("[", "]")
        needed = pairs or not below or double or self.pick(True, False)
        return [*([left + self.key(*path) + right] if needed else []), *pairs, *below]

    def value(self, value: Any) -> str:
        if isinstance(value, dict):
            inside = []
            for name, one in value.items():
                if isinstance(one, dict) and one and self.pick(True, False):
                    inside += [f"{self.key(name, inner)} = {self.value(two)}" for inner, two in one.items()]
                else:
                    inside.append(f"{self.key(name)} = {self.value(one)}")
            return "{" + self.pick(" ", "") + self.pick(", ", ",", " ,  ").join(inside) + self.pick(" ", "") + "}"
        if isinstance(value, list):
            parts = [self.value(one) for one in value]
            way = self.pick("line", "line", "lines", "trailing", "commented")
            if way == "line" or not parts:
                return "[" + ", ".join(parts) + "]"
            mark = " # one, two ]" if way == "commented" else ""
            last = "," if way == "trailing" else ""
            return (
                "["
                + "".join(f"\n  {part}{',' if n < len(parts) - 1 else last}{mark}" for n, part in enumerate(parts))
                + "\n]"
            )
        if isinstance(value, str) and "'" not in value and value.isprintable() and self.pick(True, False):
            return f"'{value}'"
        return str(tomlkit.item(value).as_string())


@st.composite
def written_by_hand(draw: Any) -> str:
    text = Hand(draw).document(draw(DOCUMENTS))
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        assume(False)  # dotted keys and heads of one table may not be mixed
    return text


def paths_of(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key and element, without going through a table that an element of a place would be taken for."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, one in items:
        yield (*path, name)
        yield from paths_of(one, (*path, name))


def at(values: Any, path: KeyPath) -> Any:
    for part in path:
        values = values[part]
    return values


def placed(values: Any, path: KeyPath, value: Any) -> Any:
    """Another way of setting one key than the module's own: a copy built from the top."""
    if not path:
        return value
    if isinstance(values, list):
        grown = [*values, None] if path[0] == len(values) else values
        return [placed(one, path[1:], value) if number == path[0] else one for number, one in enumerate(grown)]
    return {**values, path[0]: placed(values.get(path[0]), path[1:], value)}


def without(values: Any, path: KeyPath) -> Any:
    if len(path) == 1:
        items = values.items() if isinstance(values, dict) else enumerate(values)
        left = [(name, one) for name, one in items if name != path[0]]
        return dict(left) if isinstance(values, dict) else [one for _, one in left]
    if isinstance(values, list):
        return [without(one, path[1:]) if number == path[0] else one for number, one in enumerate(values)]
    return {**values, path[0]: without(values[path[0]], path[1:])}


def pruned(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: one for name, one in ((name, pruned(one)) for name, one in value.items()) if one not in ({}, [])}
    return [pruned(one) for one in value] if isinstance(value, list) else value


def sorted_out(value: Any) -> str:
    """Values with their sorts, whatever the order of keys."""
    if isinstance(value, dict):
        return "{" + ",".join(f"{name!r}:{sorted_out(one)}" for name, one in sorted(value.items())) + "}"
    return "[" + ",".join(map(sorted_out, value)) + "]" if isinstance(value, list) else repr(value)


def lines_changed(old: str, new: str) -> tuple[list[str], list[str]]:
    """The lines between the longest common beginning and the longest common end."""
    olds, news = old.split("\n"), new.split("\n")
    while olds and news and olds[0] == news[0]:
        olds, news = olds[1:], news[1:]
    while olds and news and olds[-1] == news[-1]:
        olds, news = olds[:-1], news[:-1]
    return olds, news


def can_be_there(text: str, path: KeyPath, value: Any) -> bool:
    """Below a head in double brackets there are only tables."""
    headed = any(one.kind == "head" and one.path == path and isinstance(path[-1], int) for one in written(text))
    return isinstance(value, dict) or not headed


LOOSE = Spot("value")
"""A file without a schema: braces and brackets for whatever is new."""
QUICK = settings(
    max_examples=80,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large],
)


@QUICK
@given(written_by_hand(), st.data())
def test_setting_a_scalar_changes_its_own_value_and_no_other_byte(text: str, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    leaves = [path for path in paths_of(values) if not isinstance(at(values, path), dict | list)]
    assume(leaves)
    path = data.draw(st.sampled_from(leaves))
    value = data.draw(SCALARS)
    new = rewritten(text, LOOSE, path, value)
    assert sorted_out(tomllib.loads(new)) == sorted_out(placed(values, path, value))
    olds, news = lines_changed(text, new)
    assert len(olds) == len(news) <= 1
    back = rewritten(new, LOOSE, path, at(values, path))
    assert sorted_out(tomllib.loads(back)) == sorted_out(values)
    assert len(lines_changed(text, back)[0]) <= 1


@QUICK
@given(written_by_hand(), st.data())
def test_setting_anything_gives_what_was_asked_and_setting_back_gives_the_old_values(
    text: str, data: st.DataObject
) -> None:
    values = tomllib.loads(text)
    path = data.draw(st.sampled_from(list(paths_of(values))))
    value = data.draw(VALUES)
    assume(can_be_there(text, path, value))
    new = rewritten(text, LOOSE, path, value)
    assert sorted_out(pruned(tomllib.loads(new))) == sorted_out(pruned(placed(values, path, value)))
    back = rewritten(new, LOOSE, path, at(values, path))
    assert sorted_out(pruned(tomllib.loads(back))) == sorted_out(pruned(values))


@QUICK
@given(written_by_hand(), NAMES, VALUES, st.data())
def test_a_new_key_takes_no_line_away(text: str, name: str, value: Any, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    homes = [(), *(path for path in paths_of(values) if isinstance(at(values, path), dict))]
    home = data.draw(st.sampled_from(homes))
    assume(name not in at(values, home))
    new = rewritten(text, LOOSE, (*home, name), value)
    assert sorted_out(pruned(tomllib.loads(new))) == sorted_out(pruned(placed(values, (*home, name), value)))
    olds, _ = lines_changed(text, new)
    assert len(olds) <= 1, "nothing above or below is touched; in braces the line itself grows"
    gone = rewritten(new, LOOSE, (*home, name), None)
    assert sorted_out(pruned(tomllib.loads(gone))) == sorted_out(pruned(values))


@QUICK
@given(written_by_hand(), st.data())
def test_removing_takes_that_key_and_leaves_all_other_lines(text: str, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    path = data.draw(st.sampled_from(list(paths_of(values))))
    new = rewritten(text, LOOSE, path, None)
    assert sorted_out(pruned(tomllib.loads(new))) == sorted_out(pruned(without(values, path)))
    strange = Counter(filter(None, new.split("\n"))) - Counter(text.split("\n"))
    shared = [one for one in written(text) if one.inline and one.path[: len(path)] == path]
    assert strange.total() <= len(shared), "only lines that hold more than what goes may change"


@QUICK
@given(written_by_hand(), VALUES, st.data())
def test_elements_can_be_added_to_lists(text: str, value: Any, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    lists = [path for path in paths_of(values) if isinstance(at(values, path), list)]
    assume(lists)
    path = data.draw(st.sampled_from(lists))
    more = (*path, len(at(values, path)))
    heads = {one.path[: len(path)] for one in written(text) if one.kind == "head"}
    assume(isinstance(value, dict) or path not in heads)
    new = rewritten(text, LOOSE, more, value)
    assert sorted_out(pruned(tomllib.loads(new))) == sorted_out(pruned(placed(values, more, value)))


@QUICK
@given(written_by_hand(), SCALARS, st.data())
def test_line_ends_stay_what_they_are(text: str, value: Any, data: st.DataObject) -> None:
    values = tomllib.loads(text)
    path = data.draw(st.sampled_from(list(paths_of(values))))
    assume(can_be_there(text, path, value))
    plain = rewritten(text, LOOSE, path, value)
    windows = rewritten(text.replace("\n", "\r\n"), LOOSE, path, value)
    assert windows == plain.replace("\n", "\r\n")


def test_a_file_of_both_line_ends_keeps_each() -> None:
    text = "a = 1\r\nb = 2\nc = 3\r\nd = 4\r\n"
    assert rewritten(text, LOOSE, ("c",), 5) == "a = 1\r\nb = 2\nc = 5\r\nd = 4\r\n"
    assert rewritten(text, LOOSE, ("e",), 5) == text + "e = 5\r\n"


@pytest.mark.parametrize(
    ("key", "value", "old", "new"),
    [
        (("tool", "em6", "OHX"), "21.5(3) mm", 'OHX  = "22.0(3) mm"', 'OHX  = "21.5(3) mm"'),
        (
            ("tool", "em6", "DC"),
            {"value": "5.98(1) mm", "evidence": "measured", "df": 5},
            'DC   = { value = "6.00(2) mm",   evidence = "plate", df = 5 }   # read off',
            'DC   = { value = "5.98(1) mm",   evidence = "measured", df = 5 }   # read off',
        ),
        (
            ("tool", "em6", "DC"),
            "5.98(1) mm",
            'DC   = { value = "6.00(2) mm",   evidence = "plate", df = 5 }   # read off',
            'DC   = "5.98(1) mm"   # read off',
        ),
        (("tool", "em6", "LF"), "64 mm", '#LF  = "64 mm"', 'LF   = "64 mm"\n#LF  = "64 mm"'),
        (("tool", "drill3", "DC", "evidence"), "plate", 'DC = "3 mm"', 'DC = { value = "3 mm", evidence = "plate" }'),
        (("pocket", 2, "at", 2), "4(1) mm", '  "3(1) mm", # Z', '  "4(1) mm", # Z'),
        (("pocket", 2, "tool"), None, 'tool = "em6"\nat', "at"),
        (("pocket", 7, "tool"), "drill3", "number = 7\n", 'number = 7\ntool = "drill3"\n'),
        (("pocket", 7), None, "[[pocket]]\nnumber = 7\n[[reg", "[[reg"),
        (("pocket", 9, "tool"), "drill3", "number = 7\n", 'number = 7\n\n[[pocket]]\nnumber = 9\ntool = "drill3"\n\n'),
        (
            ("tool", "em4"),
            {"kind": "flat", "DC": {"value": "4 mm", "df": 3}},
            'DC = "3 mm"\n',
            'DC = "3 mm"\n\n[tool.em4]\nkind = "flat"\nDC = { value = "4 mm", df = 3 }\n',
        ),
        (("tool", "drill3"), None, "[tool.'drill3']\nkind = \"drill\"\nDC = \"3 mm\"\n\n", "\n"),
        (("register", 1, "D"), 4, "H = 1\n", "H = 1\nD = 4\n"),
    ],
)  # fmt: skip
def test_a_person_finds_the_file_as_it_was_but_for_that(key: KeyPath, value: object, old: str, new: str) -> None:
    assert SMALL_TOOLS.count(old) == 1
    assert rewritten(SMALL_TOOLS, TOOLS, key, value) == SMALL_TOOLS.replace(old, new)


@pytest.mark.parametrize(
    ("key", "value", "old", "new"),
    [
        (("axis", "x", "max_feed"), "9 m/min", '"0 .. 310 mm", y', '"0 .. 310 mm", x.max_feed = "9 m/min", y'),
        (("axis", "x", "travel"), "0 .. 300 mm", "0 .. 310 mm", "0 .. 300 mm"),
        (("axis", "y", "travel"), None, ' y.travel = "0 .. 215 mm",', ""),
        (("spindle", "directions"), ["cw", "ccw"], '["cw"]', '["cw", "ccw"]'),
        (("spindle", "run_up"), "2 s", '["cw"] }', '["cw"], run_up = "2 s" }'),
        (("frame", "first_mode"), "90 Hz", "}\n", '}\n\n[frame]\nfirst_mode = "90 Hz"\n'),
        (("zone", "setter", "box"), ["0 .. 1 mm"] * 3, "}\n", '}\n\n[[zone]]\nname = "setter"\nbox = ["0 .. 1 mm", "0 .. 1 mm", "0 .. 1 mm"]\n'),
    ],
)  # fmt: skip
def test_short_files_in_braces_stay_short(key: KeyPath, value: object, old: str, new: str) -> None:
    before, mark, after = FIVE_LINES.rpartition(old)
    assert mark
    assert rewritten(FIVE_LINES, MACHINE, key, value) == before + new + after


def test_dotted_tables_grow_by_dotted_keys() -> None:
    assert rewritten(FIVE_LINES_JOB, JOB, ("offset", "G54", "zero"), "top") == FIVE_LINES_JOB.replace(
        '"-96.5 mm"]\n', '"-96.5 mm"]\noffset.G54.zero = "top"\n'
    )
    grown = rewritten(FIVE_LINES_JOB, JOB, ("offset", "G59.1", "at"), ["1 mm", "2 mm", "3 mm"])
    assert tomllib.loads(grown)["offset"]["G59.1"] == {"at": ["1 mm", "2 mm", "3 mm"]}
    assert '\noffset."G59.1" = { at = ' in grown


def test_a_table_that_only_its_children_name_gets_a_head_of_its_own() -> None:
    text = '[spindle.nothing]\n[axis.x]\ntravel = "0 .. 1 mm"\n'
    grown = rewritten(text, MACHINE, ("axis", "y", "travel"), "0 .. 2 mm")
    assert grown == text + '\n[axis.y]\ntravel = "0 .. 2 mm"\n'
    assert rewritten("", MACHINE, ("axis", "x", "travel"), "0 .. 1 mm") == '[axis.x]\ntravel = "0 .. 1 mm"\n'


def test_the_first_key_at_the_top_of_a_file_stands_below_its_title() -> None:
    new = rewritten(SMALL_TOOLS, LOOSE, ("in_spindle",), "em6")
    assert new == SMALL_TOOLS.replace("# what we have\n\n", '# what we have\n\nin_spindle = "em6"\n\n')
    assert rewritten("[a]\nb = 1\n", LOOSE, ("c",), 2) == "c = 2\n\n[a]\nb = 1\n"
    assert rewritten("# of a\n[a]\nb = 1\n", LOOSE, ("c",), 2) == "c = 2\n\n# of a\n[a]\nb = 1\n"


def test_keeps_single_quotes() -> None:
    assert rewritten("a = '1 mm' # x", LOOSE, ("a",), "2 mm") == "a = '2 mm' # x"
    assert tomllib.loads(rewritten("a = '1 mm'", LOOSE, ("a",), "it's")) == {"a": "it's"}


def test_the_same_value_changes_no_byte() -> None:
    assert rewritten(SMALL_TOOLS, TOOLS, ("tool", "em6", "DC", "df"), 5) is SMALL_TOOLS
    assert rewritten(SMALL_TOOLS, TOOLS, ("tool", "em6", "RE"), None) is SMALL_TOOLS


# ---- paths of facts ----------------------------------------------------------------------------------------------------


def numbered(values: Any, key: KeyPath) -> KeyPath:
    """The key with the places of named elements, and the body of a table where an element of its value is meant."""
    path: KeyPath = ()
    naming = {"pocket": "number", "zone": "name", "register": "T"}.get(str(key[0]))
    for part in key:
        if isinstance(values, list) and naming and len(path) == 1:
            part = [element[naming] for element in values].index(part)
        if isinstance(values, dict) and isinstance(part, int):
            body = "points" if "points" in values else "value"
            path, values = (*path, body), values[body]
        path, values = (*path, part), values[part]
    return path


def hold_every_path(folder: Path, name: str | None) -> int:
    """Every fact's path leads to the key on the line that the fact says it was read from."""
    facts = load_shop(folder).facts
    if name is not None:
        from firstoff.facts.job import load_job

        facts = load_job(name, load_shop(folder)).facts
    seen = 0
    for path, fact in {**facts.facts, **facts.settings}.items():
        file = f"jobs/{name}/job.toml" if name else fact.where.file
        if fact.where.file != file or (name is None and path.startswith("job.")):
            continue
        found, key = key_of(folder, path, name)
        assert found == file, path
        text = (folder / file).read_text()
        lines = key_lines(text)
        place = numbered(tomllib.loads(text), key)
        near = max((one for one in lines if one == place[: len(one)]), key=len)
        start = min(lines[one] for one in lines if one[: len(place)] == place or one == near)
        assert start <= (fact.where.line or 0) <= max(lines[one] for one in lines if one[: len(near)] == near), path
        seen += 1
    return seen


def test_every_path_of_the_demo_leads_to_its_line(demo: Path) -> None:
    assert hold_every_path(demo, None) > 200
    assert sum(hold_every_path(demo, path.parent.name) for path in sorted(demo.glob("jobs/*/job.toml"))[:3]) > 60


def test_every_path_of_the_starter_leads_to_its_line(full_shop: Path) -> None:
    assert hold_every_path(full_shop, None) > 100
    assert hold_every_path(full_shop, "first") > 20


@pytest.mark.parametrize(
    ("path", "key"),
    [
        ("machine.name", ("shop", "name")),
        ("machine.axis.x.travel.high", ("axis", "x", "travel")),
        ("machine.axis.z.jerk", ("axis", "z", "jerk")),
        ("machine.practice.slenderness", None),
        ("tools.em6.LF", ("tool", "em6", "LF")),
        ("tools.em6.LF.on", ("tool", "em6", "LF", "on")),
        ("tools.pocket.7.tool", ("pocket", 7, "tool")),
        ("tools.pocket.2.at.z", ("pocket", 2, "at", 2)),
        ("tools.pocket.9", ("pocket", 9)),
        ("tools.em9", ("tool", "em9")),
        ("tools.em6.holder.1.diameter", ("tool", "em6", "holder", 1, 0)),
        ("materials.al-6082.kc.at", ("material", "al-6082", "kc", "at")),
        ("job.offset.G59.1.at.x", ("offset", "G59.1", "at", 0)),
        ("job.tools.3", ("tools", "3")),
        ("job.tools.4", ("tools", "4")),
        ("job.stock.box.y.low", ("stock", "box", 1)),
        ("machine.spindle.power_s6.on_share", ("spindle", "power_s6", "on_share")),
        ("machine.zone.new", ("zone", "new")),
    ],
)
def test_key_of(shop: Path, path: str, key: KeyPath | None) -> None:
    if key is None:
        with pytest.raises(InputError, match="unknown key"):
            key_of(shop, path, "plate")
    else:
        assert key_of(shop, path, "plate")[1] == key


@pytest.mark.parametrize(
    ("path", "told"),
    [
        ("tools.em6.ohx", 'nearest known: "OHX"'),
        ("tool.em6.DC", 'nearest known: "tools"'),
        ("tools.em66.DC", "no such tool: em66. Allowed: nearest: em6"),
        ("tools.pocket.8.tool", "no such pocket: 8"),
        ("machine.axis.x.travl", 'nearest known: "travel"'),
        ("machine.axes.x.travel", 'nearest known: "axis"'),
        ("machine.axis.x.travel.hi", 'nearest known: "high"'),
        ("machine.name.x", "this is one value"),
        ("tools", "this is no fact"),
        ("materials.kryptonite.kc", "no such material"),
    ],
)
def test_a_path_that_leads_nowhere_names_the_nearest(shop: Path, path: str, told: str) -> None:
    with pytest.raises(InputError, match=re.escape(told)):
        key_of(shop, path)


def test_a_fact_of_a_job_needs_the_job(shop: Path) -> None:
    with pytest.raises(InputError, match="a fact of which job"):
        key_of(shop, "job.holding.force")
    with pytest.raises(InputError, match=r"no such job: plat.*nearest: plate"):
        key_of(shop, "job.holding.force", "plat")


# ---- the shop ----------------------------------------------------------------------------------------------------------


def test_changes_are_written_and_told(shop: Path) -> None:
    edits = [Edit("tools.toml", ("tool", "em6", "OHX"), "21 mm"), Edit("machine.toml", ("today", "warm"), "5 min")]
    changed = change_shop(shop, edits)
    told = {change.path: (change.old and change.old["value"], change.new and change.new["value"]) for change in changed}
    assert told == {"tools.em6.OHX": (22.0, 21.0), "machine.today.warm": (None, 300.0)}
    assert 'OHX  = "21 mm"' in (shop / "tools.toml").read_text()
    assert sorted(path.name for path in shop.iterdir()) == ["jobs", "machine.toml", "tools.toml"]


def test_missing_files_of_tools_and_materials_are_made(shop: Path) -> None:
    (shop / "tools.toml").unlink()
    job = shop / "jobs" / "plate" / "job.toml"
    job.write_text(job.read_text().replace('tools = { 3 = "em6" }\n', ""))
    change_shop(
        shop,
        [
            Edit("tools.toml", ("tool", "em6", "DC"), "6 mm"),
            Edit("materials.toml", ("material", "al-6082", "mc"), "0.2"),
        ],
    )
    assert (shop / "tools.toml").read_text() == '[tool.em6]\nDC = "6 mm"\n'
    assert (shop / "materials.toml").read_text() == '[material.al-6082]\nmc = "0.2"\n'
    assert (shop / "tools.toml").stat().st_mode & 0o777 == 0o644


def test_facts_of_a_job_change_too(shop: Path) -> None:
    (change,) = change_shop(shop, [Edit("jobs/plate/job.toml", ("holding", "force"), "2.0 kN")])
    assert (change.path, change.new and change.new["value"]) == ("job.holding.force", 2000.0)


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (Edit("tools.toml", ("tool", "em6", "OHX"), "21"), "tools.toml:6: tool.em6.OHX: the unit is missing"),
        (Edit("tools.toml", ("tool", "em6", "DX"), "21 mm"), "tools.toml:7: unknown key|DX"),
        (Edit("tools.toml", ("pocket", 7, "tool"), "em66"), "no tool has this name: em66|em66"),
        (Edit("tools.toml", ("pocket", 2, "number"), 7), "7 stands there twice"),
        (Edit("machine.toml", ("axis", "x", "travel"), "3 .. 2 mm"), "machine.toml:3: axis.x.travel: the low end"),
        (Edit("jobs/plate/job.toml", ("tools", "3"), "em7"), "jobs/plate/job.toml:4: T3: no tool has this name"),
        (Edit("jobs/plate/job.toml", ("program",), "gone.nc"), "no such program"),
        (Edit("jobs/plaet/job.toml", ("program",), "gone.nc"), "jobs/plaet/job.toml: no such file"),
        (Edit("shop.toml", ("program",), "gone.nc"), "no such file of facts"),
        (Edit("tools.toml", (), "gone.nc"), "no key was named"),
        (Edit("tools.toml", ("pocket", 2, "at", 5), "1 mm"), "no such element"),
        (Edit("tools.toml", ("tool", "em6", "OHX"), object()), "no value of a TOML file"),
    ],
)
def test_a_shop_that_could_not_be_read_is_not_written(shop: Path, edit: Edit, told: str) -> None:
    before = texts(shop)
    good = Edit("machine.toml", ("today", "homed"), False)
    with pytest.raises(InputError, match=told):
        change_shop(shop, [good, edit] if "jobs" not in edit.file else [edit])
    assert texts(shop) == before


def test_edits_of_one_change_are_read_together(shop: Path) -> None:
    """Each of the two alone would leave a pocket with a tool that nobody lists."""
    change_shop(
        shop,
        [
            Edit("tools.toml", ("tool", "drill3"), None),
            Edit("tools.toml", ("pocket", 7, "tool"), "dr3"),
            Edit("tools.toml", ("tool", "dr3", "DC"), "3 mm"),
        ],
    )
    assert "tools.pocket.7.tool" in all_stated(load_shop(shop).facts)


def test_a_file_that_is_not_the_one_that_was_read_is_left(shop: Path) -> None:
    stamp = sha(shop / "tools.toml")
    with (shop / "tools.toml").open("a") as file:
        file.write("D = 1\n")
    before = texts(shop)
    with pytest.raises(InputError, match=r"tools\.toml: changed by somebody else"):
        change_shop(shop, [Edit("tools.toml", ("tool", "em6", "OHX"), "21 mm")], read={"tools.toml": stamp})
    assert texts(shop) == before
    change_shop(
        shop,
        [Edit("tools.toml", ("tool", "em6", "OHX"), "21 mm")],
        read={"tools.toml": sha(shop / "tools.toml"), "materials.toml": ""},
    )


@pytest.mark.parametrize("swapping", [True, False])
@pytest.mark.parametrize("how", ["in place", "renamed", "gone"])
def test_a_save_at_the_last_moment_is_kept(
    shop: Path, how: str, swapping: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody saves between the last look and the replacement."""
    path, theirs = shop / "tools.toml", SMALL_TOOLS.replace("22.0", "23.0")
    swapped = replace_file._swapped

    def save(one: replace_file.Replacement, part: Path) -> Path:
        if how == "in place":
            path.write_text(theirs)
        elif how == "renamed":
            (shop / "editor").write_text(theirs)
            (shop / "editor").replace(path)
        else:
            path.unlink()
        return swapped(one, part)

    monkeypatch.setattr(replace_file, "_swapped", save)
    if not swapping:
        monkeypatch.setattr(replace_file, "_exchanged", lambda one, other: False)
    with pytest.raises(InputError, match="changed by somebody else since it was read; nothing of yours was written"):
        change_shop(shop, [Edit("tools.toml", ("tool", "em6", "LF"), "60 mm")])
    assert (path.read_text() == theirs) if how != "gone" else not path.exists()
    assert sorted(one.name for one in shop.iterdir()) == [
        "jobs",
        "machine.toml",
        *(["tools.toml"] if how != "gone" else []),
    ]


def test_without_swapping_a_save_after_the_last_look_is_put_back(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, theirs = shop / "tools.toml", SMALL_TOOLS.replace("22.0", "23.0")
    refuse = replace_file._refuse_other

    def then_save(one: replace_file.Replacement, where: Path) -> None:
        refuse(one, where)
        if where != path:
            path.write_text(theirs)

    monkeypatch.setattr(replace_file, "_refuse_other", then_save)
    monkeypatch.setattr(replace_file, "_exchanged", lambda one, other: False)
    with pytest.raises(InputError, match="changed by somebody else"):
        change_shop(shop, [Edit("tools.toml", ("tool", "em6", "LF"), "60 mm")])
    assert path.read_text() == theirs
    assert sorted(one.name for one in shop.iterdir()) == ["jobs", "machine.toml", "tools.toml"]


def test_where_links_are_impossible_a_copy_serves(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(self: Path, target: Path) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(Path, "hardlink_to", no_links)
    monkeypatch.setattr(replace_file, "_exchanged", lambda one, other: False)
    change_shop(
        shop,
        [
            Edit("tools.toml", ("tool", "em6", "LF"), "60 mm"),
            Edit("materials.toml", ("material", "al-6082", "mc"), "0.2"),
        ],
    )
    assert "60 mm" in (shop / "tools.toml").read_text()
    assert sorted(one.name for one in shop.iterdir()) == ["jobs", "machine.toml", "materials.toml", "tools.toml"]


@pytest.mark.parametrize("swapping", [True, False])
def test_if_the_second_file_cannot_be_written_the_first_is_put_back(
    shop: Path, swapping: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = texts(shop)
    replace = replace_file._replace

    def full(one: replace_file.Replacement) -> Path | None:
        if one.name == "tools.toml":
            raise InputError(*[])
        return replace(one)

    if not swapping:
        monkeypatch.setattr(replace_file, "_exchanged", lambda one, other: False)
    monkeypatch.setattr(replace_file, "_replace", full)
    edits = [
        Edit("materials.toml", ("material", "al-6082", "mc"), "0.2"),
        Edit("machine.toml", ("today", "homed"), False),
    ]
    with pytest.raises(InputError):
        change_shop(shop, [*edits, Edit("tools.toml", ("tool", "em6", "LF"), "60 mm")])
    assert texts(shop) == before


def test_where_folders_cannot_be_locked_nothing_of_another_is_swept_away(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = shop / ".firstoff-part-other"
    other.write_text("somebody is writing this")
    monkeypatch.setattr(replace_file, "fcntl", None)
    change_shop(shop, [Edit("tools.toml", ("tool", "em6", "LF"), "60 mm")])
    assert other.exists()
    monkeypatch.undo()
    change_shop(shop, [Edit("tools.toml", ("tool", "em6", "LF"), "61 mm")])
    assert not other.exists()


def test_rights_and_links_stay(shop: Path, tmp_path: Path) -> None:
    real = tmp_path / "elsewhere" / "tools.toml"
    real.parent.mkdir()
    (shop / "tools.toml").rename(real)
    (shop / "tools.toml").symlink_to(real)
    real.chmod(0o640)
    change_shop(shop, [Edit("tools.toml", ("tool", "em6", "LF"), "60 mm")])
    assert (shop / "tools.toml").is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert "60 mm" in real.read_text()
    assert [one.name for one in real.parent.iterdir()] == ["tools.toml"]


def test_a_byte_order_mark_stays(shop: Path) -> None:
    (shop / "tools.toml").write_bytes(b"\xef\xbb\xbf" + SMALL_TOOLS.replace("\n", "\r\n").encode())
    change_shop(shop, [Edit("tools.toml", ("tool", "em6", "OHX"), "21 mm")])
    new = SMALL_TOOLS.replace("22.0(3) mm", "21 mm").replace("\n", "\r\n").encode()
    assert (shop / "tools.toml").read_bytes() == b"\xef\xbb\xbf" + new


# ---- several at once, killed, full, read-only --------------------------------------------------------------------------

WRITER = r"""
import os
import sys
from pathlib import Path
from firstoff.errors import InputError
from firstoff.facts.edit import Edit, change_shop
folder, key, rounds, careful = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4:] == ["careful"]
import hashlib
for number in range(1, rounds + 1):
    while True:
        read = {"tools.toml": hashlib.sha256((folder / "tools.toml").read_bytes()).hexdigest()} if careful else None
        try:
            change_shop(folder, [Edit("tools.toml", ("tool", "em6", key), f"{number} mm")], read=read)
        except InputError as error:
            assert "changed by somebody else" in str(error), error
            os.write(1, b"told\n")
            continue
        os.write(1, f"{number}\n".encode())  # in one piece, however Python buffers
        break
"""


def writer(folder: Path, key: str, rounds: int, *more: str, **options: Any) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(folder), key, str(rounds), *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **options)


@pytest.fixture
def lean_shop(tmp_path: Path) -> Path:
    """Little to read, so that two processes meet often."""
    folder = tmp_path / "lean"
    folder.mkdir()
    (folder / "machine.toml").write_text('[axis.x]\ntravel = "0 .. 300 mm"\n')
    (folder / "tools.toml").write_text('[tool.em6]\nOHX = "70 mm"\nLU = "70 mm" # neck\n')
    return folder


@pytest.mark.parametrize("more", [(), ("careful",)])
def test_two_processes_at_once_lose_nothing(lean_shop: Path, more: tuple[str, ...]) -> None:
    """Fifty rounds each; who named the file that was read is told when the other was quicker, and sets it again."""
    both = [writer(lean_shop, "OHX", 50, *more), writer(lean_shop, "LU", 50, *more)]
    said = [process.communicate(timeout=60) for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    for out, _ in said:
        assert [line for line in out.split() if line != "told"] == [str(number) for number in range(1, 51)]
        assert more or "told" not in out
    assert (lean_shop / "tools.toml").read_text() == '[tool.em6]\nOHX = "50 mm"\nLU = "50 mm" # neck\n'
    assert sorted(one.name for one in lean_shop.iterdir()) == ["machine.toml", "tools.toml"]


def test_a_process_that_is_killed_leaves_the_old_file_or_the_new_one(lean_shop: Path) -> None:
    for moment in range(6):
        process = writer(lean_shop, "OHX", 10_000)
        assert process.stdout is not None
        first = os.read(process.stdout.fileno(), 1000)  # not by line: what a buffer swallows was said too
        time.sleep(0.0027 * moment)
        process.send_signal(signal.SIGKILL)
        out, told = process.communicate()
        said = first.decode() + out
        assert not told
        done = [int(number) for number in said.split("\n")[:-1]]
        written_now = re.fullmatch(
            r'\[tool.em6\]\nOHX = "(\d+) mm"\nLU = "70 mm" # neck\n', (lean_shop / "tools.toml").read_text()
        )
        assert written_now is not None
        assert int(written_now[1]) in (done[-1], done[-1] + 1)
    change_shop(lean_shop, [Edit("tools.toml", ("tool", "em6", "LU"), "60 mm")])
    assert sorted(one.name for one in lean_shop.iterdir()) == ["machine.toml", "tools.toml"]


@pytest.mark.skipif(os.name != "posix", reason="rights of folders are asked for as POSIX has them")
def test_a_folder_that_may_not_be_written_is_told(lean_shop: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(shutil.copytree(lean_shop, Path(place) / "shop"))
        Path(place).chmod(0o755)
        folder.chmod(0o555)
        before = texts(folder)
        root = os.geteuid() == 0  # who may write everything becomes somebody else for a moment
        if root:
            os.seteuid(65534)
        try:
            with pytest.raises(InputError, match=r"tools\.toml: cannot be written: Permission denied"):
                change_shop(folder, [Edit("tools.toml", ("tool", "em6", "OHX"), "1 mm")])
        finally:
            if root:
                os.seteuid(0)
            folder.chmod(0o755)
        assert texts(folder) == before


def test_a_read_only_file_is_left(lean_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "access", lambda path, mode: False)  # root may write everything
    with pytest.raises(InputError, match=r"tools\.toml: cannot be written: the file is read-only"):
        change_shop(lean_shop, [Edit("tools.toml", ("tool", "em6", "OHX"), "1 mm")])


def fill_up(path: Path) -> None:
    with path.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"0" * 512)


def test_a_full_disk_leaves_the_old_file(lean_shop: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here: that needs root")
    try:
        shutil.copytree(lean_shop, disk, dirs_exist_ok=True)
        fill_up(disk / "ballast")
        before = texts(disk)
        with pytest.raises(
            InputError, match=r"tools.toml: cannot be written: No space left on device. Nothing was changed."
        ):
            change_shop(disk, [Edit("tools.toml", ("tool", "em6", "OHX"), "1 mm")])
        assert texts(disk) == before
    finally:
        subprocess.run(["umount", str(disk)], check=True)
