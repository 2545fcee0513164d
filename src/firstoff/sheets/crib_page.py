"""The crib as a page to print: a row a tool, what is doubtful about the rack, and how measured lengths have gone."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from importlib import resources

from firstoff.changer.crib import Crib, Item, Whereabouts
from firstoff.changer.drift import LengthDrift
from firstoff.sheets.crib_list import (
    USED_UP,
    age_of,
    crib_remarks,
    drift_words,
    in_order,
    length_words,
    notes_of,
    what_words,
    where_words,
)
from firstoff.sheets.fact_words import date_words
from firstoff.sheets.html_text import html
from firstoff.sheets.length_chart import length_chart
from firstoff.sheets.paper_marks import DEFS_MM
from firstoff.verdict.words import ShopUnits, count, part

MARK = "firstoff:crib-list"
CHART_WIDE, CHART_HIGH = 87.0, 40.0
HEADS = ("where", "tool", "length LF", "age", "stick-out", "holder", "life used", "state")
STYLE = """
header { height: auto; align-items: flex-end; margin-bottom: 3mm; }
.crib { width: 180mm; border-collapse: collapse; border-top: 0.4mm solid var(--ink); margin-bottom: 4mm; }
.crib th { font-weight: 400; color: var(--ink2); text-align: left; height: 5mm; border-bottom: 0.26mm solid var(--ink); }
.crib tbody { break-inside: avoid; }
.crib td { padding: 0.7mm 2mm 0 0; vertical-align: baseline; white-space: nowrap; font-family: var(--figures); }
.crib td.name { font-weight: 600; font-family: var(--shows); }
.crib tr.more td { padding: 0 2mm 0.9mm 0; border-bottom: 0.15mm solid var(--line); color: var(--ink2); white-space: normal; font-family: var(--shows); }
.crib .bad { color: var(--red); font-weight: 600; }
.remarks { margin-bottom: 4mm; } .remarks p { font-family: var(--says); font-size: 10pt; margin-bottom: 0.8mm; }
.charts { display: grid; grid-template-columns: 87mm 87mm; column-gap: 6mm; row-gap: 3mm; }
.charts figure { break-inside: avoid; } .charts figcaption { font-family: var(--says); font-style: italic; font-size: 10pt; }
"""


def crib_page(
    crib: Crib, drifts: Mapping[str, LengthDrift], shop_name: str, units: ShopUnits, printed: datetime
) -> str:
    """The page as one HTML file with nothing outside it."""
    style = resources.files("firstoff.sheets").joinpath("sheet.css").read_text(encoding="utf-8")
    rows = "".join(_rows(item, units, printed) for item in sorted(crib.items, key=in_order))
    heads = "".join(f"<th>{name}</th>" for name in HEADS)
    loaded = sum(item.loaded for item in crib.items)
    remarks = "".join(f"<p>{html(sentence)}</p>" for sentence in crib_remarks(crib, units))
    charts = "".join(_chart(crib, name, drift, units) for name, drift in drifts.items())
    lengths = f'<h2>Measured lengths</h2><div class="charts">{charts}</div>' if charts else ""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="generator" content="{MARK}">'
        f"<title>{html(shop_name)}: crib</title><style>{style}{STYLE}</style></head><body>{DEFS_MM}<main>"
        f'<header><div><span class="kind">Crib</span><h1>{html(shop_name)}</h1></div>'
        f"<span>{date_words(printed)} {printed:%H:%M}</span></header>"
        f"<h2>{count(len(crib.items), 'tool')}, {loaded} loaded</h2>"
        f'<table class="crib"><thead><tr>{heads}</tr></thead>{rows}</table>'
        f'<section class="remarks">{remarks}</section>{lengths}</main></body></html>\n'
    )


def item_cells(item: Item, units: ShopUnits, now: datetime) -> tuple[tuple[str, str], ...]:
    """(part, words) of the columns of a tool's row: `bad` is what must be looked at."""
    void = item.length is None
    spent = item.life_used is not None and item.life_used >= USED_UP
    return (
        ("", where_words(item)),
        ("name", item.name),
        ("bad" if void else "", length_words(item.length, units)),
        ("", age_of(item.length, now)),
        ("", "" if item.stick_out is None else length_words(item.stick_out, units)),
        ("", item.holder or ("" if item.gripped else "none")),
        ("bad" if spent else "", "" if item.life_used is None else part(item.life_used)),
        ("bad" if item.condition == "suspect" else "", item.condition or ""),
    )


def item_note(item: Item, units: ShopUnits) -> str:
    """What else is to be known of it."""
    return "; ".join(one for one in (what_words(item, units), *notes_of(item, units)) if one)


def _rows(item: Item, units: ShopUnits, now: datetime) -> str:
    row = "".join(f'<td class="{name}">{html(words)}</td>' for name, words in item_cells(item, units, now))
    told = html(item_note(item, units))
    return f'<tbody><tr>{row}</tr><tr class="more"><td></td><td colspan="{len(HEADS) - 1}">{told}</td></tr></tbody>'


def _chart(crib: Crib, name: str, drift: LengthDrift, units: ShopUnits) -> str:
    item = crib.item(name)
    window = None
    if item is not None and item.length is not None and item.where is not Whereabouts.NOT_SAID:
        window = item.window
    words = drift_words(name, drift, units)
    drawn = length_chart(drift, window, units, CHART_WIDE, CHART_HIGH, words)
    return f"<figure>{drawn}<figcaption>{html(words)}</figcaption></figure>" if drawn else ""
