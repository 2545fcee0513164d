"""Why `facts/rewrite.py` splices text by itself: five plain edits, done by it, and by the general library that parses the whole text and
writes it again (docs/decisions/0012-toml-is-spliced.md). Should the library learn one, its strict mark fails: decide again.
"""

from __future__ import annotations

from typing import Any

import pytest
import tomlkit

from firstoff.facts.keys import Spot
from firstoff.facts.lines import KeyPath
from firstoff.facts.rewrite import rewritten

DATED = 'LF = { value = "64 mm", on = 2026-10-24 }\nDC = "6 mm"\n'
PARTED = "[tool.a]\nDC = 1\n\n# the rack\n[[pocket]]\nnumber = 1\n\n[tool.b]\nDC = 2\n"
BRACES = 'axis = { x.travel = "0 .. 310 mm", y.travel = "0 .. 215 mm", z.travel = "-120 .. 0 mm" }\n'
NEXT = "[tool.a]\nDC = 1\n\n# not in the rack\n[tool.b]\nDC = 2\n"

EDITS: list[tuple[str, KeyPath, Any, str]] = [
    (DATED, ("DC",), "5 mm", DATED.replace("6 mm", "5 mm")),
    (PARTED, ("tool", "b", "DC"), 3, PARTED.replace("DC = 2", "DC = 3")),
    (BRACES, ("axis", "y", "travel"), None, BRACES.replace(' y.travel = "0 .. 215 mm",', "")),
    (NEXT, ("tool", "a", "LF"), 3, NEXT.replace("DC = 1\n", "DC = 1\nLF = 3\n")),
    (NEXT, ("tool", "a"), None, NEXT.replace("[tool.a]\nDC = 1\n\n", "")),
]
NAMES = [
    "a date before a brace",
    "a table in two places",
    "a dotted key in braces",
    "a comment of the next",
    "a table goes",
]


@pytest.mark.parametrize(("text", "key", "value", "wanted"), EDITS, ids=NAMES)
def test_splicing_leaves_the_rest(text: str, key: KeyPath, value: Any, wanted: str) -> None:
    assert rewritten(text, Spot("value"), key, value) == wanted


@pytest.mark.xfail(reason="tomlkit 0.15.2 changes more than was asked", strict=True, raises=AssertionError)
@pytest.mark.parametrize(("text", "key", "value", "wanted"), EDITS, ids=NAMES)
def test_writing_the_whole_text_again_leaves_the_rest(text: str, key: KeyPath, value: Any, wanted: str) -> None:
    document: Any = tomlkit.parse(text)
    table = document
    for part in key[:-1]:
        table = table[part]
    if value is None:
        del table[key[-1]]
    else:
        table[key[-1]] = value
    assert tomlkit.dumps(document) == wanted
