"""Sheets as PDF by typst. A sheet is a template of ours (`*.typ`) and data as JSON: no text of a user is ever read as markup."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from importlib import resources
from typing import Any

import typst

from firstoff.sheets.html_text import joined
from firstoff.sheets.paper_fonts import paper_fonts
from firstoff.sheets.paper_marks import DEFS_MM
from firstoff.sheets.scale_svg import DEFS

LONGEST_WORD = 18
"""Letters after which a word may be broken, so that none runs out of its column."""
_LONG = re.compile(rf"[^\s\u200b]{{{LONGEST_WORD}}}(?=[^\s\u200b])")
BREAK = "\u200b"
"""A place where a line may end; takes no room."""
LETTERS = " -~¡-¬®-ſ\u0384-\u038a\u038c\u038e-\u03a1\u03a3-\u03ce\u0400-\u045f–—‘’‚“”„•…′″‹›⁄€™←↑→↓∕−≈≠≤≥\n\u00a0\u200b"
"""Characters that the sheets' fonts have: their own Latin, and Greek, Cyrillic and signs of the one that typst brings."""
_NOT_SHOWN = re.compile(f"[^{LETTERS}]")
SPACES = {"\u202f": "\u00a0", "\u2009": "\u00a0", "\t": " ", "\r\n": "\n", "\r": "\n"}
"""Told as what the fonts have."""
COLOURS = {
    "ink": "#101418", "ink2": "#3c444b", "accent": "#b3242a", "on-accent": "#ffffff", "band": "#7f8b93", "ground": "#ffffff",
}  # fmt: skip
"""LOOK.md, section 9: white paper, ink, and one red; the band's grey is told by its shape."""
_STYLE = """
text { font-family: Barlow; font-stretch: semi-condensed; font-weight: 500; fill: var(--ink); }
text[font-weight="600"] { font-weight: 600; }
.note { font-size: 3.528px; paint-order: stroke; stroke: #ffffff; stroke-width: 0.9px; stroke-linejoin: round; }
.figure { font-size: 12px; fill: var(--ink2); paint-order: stroke; stroke: #ffffff; stroke-width: 2px; }
.hatch-ground { fill: var(--ground); } .hatch { stroke: var(--ink2); }
.rule, .post, .dots { stroke: var(--ink); }
.wall-edge { fill: none; stroke: var(--ink2); }
.band { fill: var(--band); } .band-open, .box { fill: none; stroke: var(--ink); }
.overlap, .pointer { fill: var(--ink); } .stem { stroke: var(--ink); }
.pointer-open { fill: var(--ground); stroke: var(--ink); }
.against .overlap, .against .pointer { fill: var(--accent); } .against .stem { stroke: var(--accent); }
.off { stroke: var(--accent); } .off-head { fill: var(--accent); }
.used { fill: var(--band); }
.ring { fill: none; stroke: var(--ink); } .dot { fill: var(--ink); }
.lozenge { fill: var(--ground); stroke: var(--accent); } .block { fill: var(--accent); }
.cross { fill: none; stroke: var(--on-accent); }
"""
"""What the pages' style sheet says of drawings, with this paper's colours."""


class Paper(StrEnum):
    """What it is printed on."""

    A4 = "a4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height (ISO 216; ANSI/ASME Y14.1 size A)."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)

    @property
    def room_mm(self) -> float:
        """Height between the margins."""
        return self.size_mm[1] - 2 * MARGIN


MARGIN = 15.0
"""Above and below, mm; the column is 180 mm wide on either paper."""


@dataclass(frozen=True, slots=True)
class Document:
    """What goes into a PDF's own fields. `mark` says that we wrote it."""

    title: str
    mark: str
    written: datetime
    paper: Paper


class Typeset:
    """One sheet that can be set again and again with other data, until it fits."""

    def __init__(self, template: str, document: Document) -> None:
        folder = resources.files("firstoff.sheets")
        parts = (folder.joinpath(name).read_text(encoding="utf-8") for name in ("paper.typ", template))
        self._source = "\n".join(parts).encode()
        self._document = document
        self._compiler = typst.Compiler(input=self._source, font_paths=paper_fonts())

    def measured(self, data: Mapping[str, Any], label: str) -> Any:
        """What the template says of itself under a label, when it is set with this data."""
        return json.loads(
            typst.query(
                self._source,
                f"<{label}>",
                field="value",
                one=True,
                font_paths=paper_fonts(),
                sys_inputs=self._inputs(data),
            )
        )

    def pdf(self, data: Mapping[str, Any]) -> bytes:
        """The sheet. Its dates are those of the document, so that the same sheet is the same file."""
        found = self._compiler.compile(
            self._source,
            format="pdf",
            sys_inputs=self._inputs(data),
            timestamp=int(self._document.written.timestamp()),
        )
        assert isinstance(found, bytes)
        return found

    def png(self, data: Mapping[str, Any], ppi: float = 150) -> list[bytes]:
        """Its pages as pictures, to be looked at."""
        found = self._compiler.compile(self._source, format="png", ppi=ppi, sys_inputs=self._inputs(data))
        return [found] if isinstance(found, bytes) else list(found or [])

    def _inputs(self, data: Mapping[str, Any]) -> dict[str, str]:
        paper, when = self._document.paper, self._document.written
        wide, high = paper.size_mm
        document = {
            "title": _lettered(self._document.title),
            "mark": self._document.mark,
            "written": [when.year, when.month, when.day, when.hour, when.minute, when.second],
            "wide": wide,
            "high": high,
        }
        return {"data": json.dumps({**_shown(data), "document": document}, ensure_ascii=False)}


@dataclass(frozen=True, slots=True)
class Drawing:
    """An SVG of the pages, for paper."""

    svg: str


def _shown(data: Any) -> Any:
    """The same with every text as the fonts can show it."""
    if isinstance(data, str):
        return shown(data)
    if isinstance(data, Drawing):
        return _for_paper(data.svg)
    if isinstance(data, Mapping):
        return {key: _shown(value) for key, value in data.items()}
    if isinstance(data, Sequence):
        return [_shown(value) for value in data]
    return data


def shown(words: str) -> str:
    """Words as the sheets' fonts can show them: what none has is told by its code, ``[U+4E2D]``; a long word may be broken."""
    kept = joined(_lettered(words)).replace(" ± ", "\u00a0±\u00a0")
    return _LONG.sub(lambda found: found.group() + BREAK, kept)


def _lettered(words: str) -> str:
    for space, instead in SPACES.items():
        words = words.replace(space, instead)
    return _NOT_SHOWN.sub(lambda found: f"[U+{ord(found.group()):04X}]", words)


def _for_paper(svg: str) -> str:
    """A drawing with its hatches and its colours inside it: there is no page around it."""
    if not svg:
        return ""
    style = re.sub(r"var\(--([a-z0-9-]+)\)", lambda found: COLOURS[found.group(1)], _STYLE)
    hatches = "".join(re.findall(r"<defs>.*?</defs>", DEFS + DEFS_MM, re.DOTALL))
    head, rest = _lettered(svg).split(">", 1)
    head = re.sub(r' style="[^"]*"', "", head).replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"', 1)
    return f"{head}><style>{style}</style>{hatches}{rest}"
