"""The line of every key: held against the parser, and against documents that a writer of TOML made."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from firstoff.facts.lines import KeyPath, key_lines, line_of

TRICKY = '''# a comment with [a.table] and key = "value"
plain = 1
"quoted key" = 2
'literal.key' = "a # no comment"
a.b . "c.d" = 3
text = """
fake = 1
[fake]
"""
after_text = \'\'\'
x = "y" \'\'\'
list = [
  1, # one
  [ 2,
    3 ],
  { in = 4, deep.er = [5,
     6] },
]
date = 2026-05-04T07:40:00
escaped = "a \\" quote ] } ,"
[table]
key = "v" # [[not]]
[table.sub]
key = { a = 1, b = { c = 2 } }
[[array]]
n = 1
[array.inner]
deep = true
[[array]]
n = 2
  [[array.list]]
  m = 1
  [[array.list]]
  m = 2
["é"."x y"]
"\\u00fc" = 1
'''


def paths(value: Any, at: KeyPath = ()) -> list[KeyPath]:
    """Every key and element of a parsed document."""
    found = [at] if at else []
    if isinstance(value, dict):
        for key, inner in value.items():
            found += paths(inner, (*at, key))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            found += paths(inner, (*at, number))
    return found


def test_every_key_of_a_tricky_text_is_found() -> None:
    assert set(paths(tomllib.loads(TRICKY))) == set(key_lines(TRICKY))


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("plain",), 2),
        (("quoted key",), 3),
        (("literal.key",), 4),
        (("a", "b", "c.d"), 5),
        (("text",), 6),
        (("after_text",), 10),
        (("list", 0), 13),
        (("list", 1, 1), 15),
        (("list", 2, "deep", "er", 1), 17),
        (("escaped",), 20),
        (("table", "key"), 22),
        (("table", "sub", "key", "b", "c"), 24),
        (("array", 0, "n"), 26),
        (("array", 0, "inner", "deep"), 28),
        (("array", 1), 29),
        (("array", 1, "list", 1, "m"), 34),
        (("é", "x y", "ü"), 36),
    ],
)
def test_line_of_each_form(path: KeyPath, line: int) -> None:
    assert key_lines(TRICKY)[path] == line


def test_nearest_line_around_a_missing_key() -> None:
    lines = key_lines(TRICKY)
    assert line_of(lines, ("table", "sub", "nothing", 3)) == 23
    assert line_of(lines, ("nowhere",)) is None
    assert line_of(lines, ()) is None


names = st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=6)
scalars = st.integers(-9, 9) | st.booleans() | st.text(max_size=12) | st.floats(-9, 9)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3),
    max_leaves=12,
)


@given(st.dictionaries(names, values, max_size=5))
def test_every_key_of_any_document_is_found(document: dict[str, Any]) -> None:
    text = tomlkit.dumps(document)
    parsed = tomllib.loads(text)
    lines = key_lines(text)
    assert set(paths(parsed)) <= set(lines)
    written = text.split("\n")
    for path, line in lines.items():
        last = path[-1]
        if isinstance(last, str) and last.isalnum() and last.isascii():
            assert last in written[line - 1]


@given(st.text(max_size=80))
def test_no_text_makes_it_raise(text: str) -> None:
    assert all(1 <= line <= text.count("\n") + 1 for line in key_lines(text).values())


def test_shop_files(full_shop: Path) -> None:
    for path in sorted(full_shop.rglob("*.toml")):
        text = path.read_text()
        lines = key_lines(text)
        for key in paths(tomllib.loads(text)):
            last = next(part for part in reversed(key) if isinstance(part, str))
            assert last in text.split("\n")[lines[key] - 1] or isinstance(key[-1], int)
