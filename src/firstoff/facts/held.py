"""What holds the part, and every slug, at the last cut: the words of ``[holding] after_cut_free``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from firstoff.errors import InputError
from firstoff.facts.quantity import Kind, read_quantity

By = Literal["nothing free", "skin", "tabs", "tape", "screws", "glue", "vacuum", "wax", "clamps", "vice"]
_HOLDS: tuple[By, ...] = ("tape", "screws", "glue", "vacuum", "wax", "clamps", "vice")
_LENGTH = Kind("length", "size", 0.0)
_NOTHING = re.compile(r"(?:nothing|no part|no slug)\b.*\bfree\b.*")
_SKIN = re.compile(r"(?:a )?skin(?: of)? (?P<thick>.+)")
_TABS = re.compile(
    r"(?P<count>\d{1,3}|tabs (?P<after>\d{1,3}))(?: tabs)?\s*[x×]\s*(?P<wide>.+?)\s*[x×]\s*(?P<thick>.+)"
)


@dataclass(frozen=True, slots=True)
class AfterCutFree:
    """`by` says what holds; sizes in mm are there for skin and tabs."""

    by: By
    thick_mm: float | None = None
    """Of the skin or of a tab, along Z."""
    count: int | None = None
    wide_mm: float | None = None
    """Of one tab, along the cut."""


def after_cut_free(text: str) -> AfterCutFree | None:
    """What the words say; None if they are not understood (then nothing is known to hold).

    ``nothing is cut free``, ``skin 0.2 mm``, ``tabs 4 x 3 mm x 0.5 mm`` (how many, how wide, how thick), ``tape``, ``screws``, or
    another kind of holding.
    """
    words = " ".join(text.lower().split()).rstrip(".")
    if words in _HOLDS:
        return AfterCutFree(next(by for by in _HOLDS if by == words))
    if _NOTHING.fullmatch(words):
        return AfterCutFree("nothing free")
    skin = _SKIN.fullmatch(words)
    if skin:
        thick = _mm(skin["thick"])
        return AfterCutFree("skin", thick) if thick is not None else None
    tabs = _TABS.fullmatch(words)
    if tabs is None or not words.partition("tabs")[1]:
        return None
    wide, thick, count = _mm(tabs["wide"]), _mm(tabs["thick"]), int(tabs["after"] or tabs["count"])
    return AfterCutFree("tabs", thick, count, wide) if wide is not None and thick is not None and count > 0 else None


def _mm(text: str) -> float | None:
    try:
        return read_quantity(text, _LENGTH).value
    except InputError:
        return None
