"""The crib as a PDF to print: every tool with where it is, its length with doubt and window, stick-out, holder and life."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from firstoff.changer.crib import Crib, Item
from firstoff.sheets.crib_list import crib_remarks, in_order
from firstoff.sheets.crib_page import HEADS, MARK, item_cells, item_note
from firstoff.sheets.fact_words import date_words
from firstoff.sheets.paper_text import short
from firstoff.sheets.typst_paper import Document, Paper, Typeset
from firstoff.verdict.words import ShopUnits, count

TEMPLATE = "tool_list.typ"
WIDE = (23.0, 30.0, 32.0, 20.0, 24.0, 19.0, 15.5, 16.5)
"""Widths of the columns `HEADS`, mm."""
LETTERS = (24, 44, 20, 14, 16, 14, 10, 12)
"""Of each column: longer words are cut, numbers never are that long."""


def tool_list_pdf(crib: Crib, shop_name: str, units: ShopUnits, printed: datetime, paper: Paper = Paper.A4) -> bytes:
    """The list on as many pages as it takes."""
    typeset, data = tool_list(crib, shop_name, units, printed, paper)
    return typeset.pdf(data)


def tool_list(
    crib: Crib, shop_name: str, units: ShopUnits, printed: datetime, paper: Paper
) -> tuple[Typeset, dict[str, Any]]:
    """The list and the data that it is set with."""
    title = short(shop_name, 48) or "Crib"
    when = f"{date_words(printed)} {printed:%H:%M}"
    loaded = sum(item.loaded for item in crib.items)
    data = {
        "title": title,
        "kind": f"Tool list, {when}",
        "foot": f"{title}: tool list, {when}",
        "counted": f"{count(len(crib.items), 'tool')}, {loaded} loaded.",
        "remarks": [short(words, 300) for words in crib_remarks(crib, units)],
        "heads": HEADS,
        "wide": WIDE,
        "rows": [_row(item, units, printed) for item in sorted(crib.items, key=in_order)],
    }
    return Typeset(TEMPLATE, Document(f"{title}: tool list", MARK, printed, paper)), data


def _row(item: Item, units: ShopUnits, now: datetime) -> dict[str, Any]:
    cells = zip(item_cells(item, units, now), LETTERS, strict=True)
    return {
        "cells": [{"words": short(words, letters), "bad": part == "bad"} for (part, words), letters in cells],
        "note": short(item_note(item, units), 260),
    }
