"""Labels for holders and pockets as a PDF, in a grid to be cut: what the tool is called and looks like, and what was measured of it when."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from firstoff.changer.crib import Crib, Item
from firstoff.facts.fact import Evidence
from firstoff.sheets.crib_list import in_order, length_words
from firstoff.sheets.fact_words import date_words
from firstoff.sheets.paper_text import short
from firstoff.sheets.sheet_facts import tool_words
from firstoff.sheets.typst_paper import Document, Paper, Typeset
from firstoff.verdict.words import ShopUnits

MARK = "firstoff:crib-labels"
TEMPLATE = "labels.typ"
ACROSS = 3
HIGH = 37.0
"""Height of a label, mm: seven stand on A4 and six on Letter."""


def labels_pdf(crib: Crib, units: ShopUnits, printed: datetime, paper: Paper = Paper.A4) -> bytes:
    """A label for every tool, those in the rack first, in the order of their pockets."""
    typeset, data = labels(crib, units, printed, paper)
    return typeset.pdf(data)


def labels(crib: Crib, units: ShopUnits, printed: datetime, paper: Paper) -> tuple[Typeset, dict[str, Any]]:
    """The labels and the data that they are set with."""
    made = [_label(crib, item, units) for item in sorted(crib.items, key=in_order)]
    data = {"foot": "", "across": ACROSS, "high": HIGH, "labels": made}
    return Typeset(TEMPLATE, Document("Labels of tools", MARK, printed, paper)), data


def _label(crib: Crib, item: Item, units: ShopUnits) -> dict[str, Any]:
    return {
        "name": short(item.name, 22),
        "pocket": str(item.pocket) if item.pocket is not None else "",
        "words": short(tool_words(crib.facts, item.name, units) or "not described", 34),
        "facts": [
            ("LF", _measured(item, units)),
            ("measured", _when(item)),
            ("out OHX", length_words(item.stick_out, units) if item.stick_out is not None else ""),
            ("holder", short(item.holder or "", 20)),
        ],
    }


def _measured(item: Item, units: ShopUnits) -> str:
    """Its length; an empty value is a line to write on: empty, to be written in by hand, where nobody measured it or a new grip made it void."""
    return length_words(item.length, units) if item.length is not None and _was_measured(item) else ""


def _was_measured(item: Item) -> bool:
    return item.length is not None and item.length.evidence in (Evidence.MEASURED, Evidence.LEARNED)


def _when(item: Item) -> str:
    if item.length is None or not _was_measured(item):
        return ""
    return date_words(item.length.on) if item.length.on is not None else "date not said"
