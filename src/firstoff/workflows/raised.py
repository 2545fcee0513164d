"""How long a program takes with the feed override of each tool as high as nothing speaks against it: tried, not divided.

The program is not rewritten: depths, widths and speeds stay what they are, rapids too. The feeds that the override acts on are raised, the
motion is planned again, and everything is asked again: where an answer about machine, tool or part gets worse than at the feeds as
written, less of the raise is tried.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from firstoff.book.moved import LEFT_OUT, rank
from firstoff.book.rechecked import UNKNOWN, Fastest
from firstoff.program.moves import Flag, Kind
from firstoff.sheets.records import examination_record
from firstoff.verdict.override import HIGHEST
from firstoff.verdict.question import Risk
from firstoff.workflows import Prepared, judge

HALVINGS = 2
"""How often the part of the raise that may be too much is halved: every try is an examination, and a quarter of the raise tells enough."""
STEPS = 20
"""Steps of a knob from 0 to 100 %: five per cent each (common practice)."""
FULL = 100
NEVER = frozenset((Risk.TIME.value,))
"""What is asked about time does not hold the feed: a control that cannot follow only wastes it."""


def fastest(prepared: Prepared, record: Mapping[str, Any]) -> Fastest:
    """The shortest time of a prepared job whose examination at the feeds as written is `record`."""
    if record["time_s"] is None or record["cut"] is None:
        return UNKNOWN
    most = _most(record["cut"]["tools"])
    found = Fastest(float(record["time_s"]["total"]), {})
    held: dict[str, None] = {}
    low, high, share = 0.0, 1.0, 1.0
    tried: list[Mapping[int, float]] = []
    for _ in range(HALVINGS + 1 if most else 0):
        overrides = {tool: _part(share, end) for tool, end in most.items()}
        if overrides not in tried:
            tried.append(overrides)
            told = examination_record(judge(with_overrides(prepared, overrides))).model_dump(mode="json", by_alias=True)
            worse = _worse(record, told)
            held |= dict.fromkeys(worse)
        if worse or told["time_s"] is None:
            high = share
        else:
            low, found = share, Fastest(float(told["time_s"]["total"]), _shown(overrides))
        if low == high:
            break
        share = (low + high) / 2
    return replace(found, held_by=tuple(held))


def _part(share: float, end: float) -> float:
    """A part of a raise in steps of a knob; what must be turned down is turned down whole."""
    return end if end < 1.0 else math.floor(STEPS * (1.0 + share * (end - 1.0)) + 1e-9) / STEPS


def with_overrides(prepared: Prepared, overrides: Mapping[int, float]) -> Prepared:
    """The same program with its feeds times the override of each T (1 = 100 %); taps, feeds a turn of them and dwells stay."""
    moves = prepared.reading.moves
    feeds = np.array(moves.feed_mm_per_s)
    fed = (moves.kind == Kind.FEED) | (moves.kind == Kind.ARC) | ((moves.flags & Flag.FEEDING) != 0)
    for tool, override in overrides.items():
        feeds[fed & (moves.tool == tool)] *= override
    feeds.setflags(write=False)
    return replace(prepared, reading=replace(prepared.reading, moves=replace(moves, feed_mm_per_s=feeds)))


def _most(tools: list[Mapping[str, Any]]) -> dict[int, float]:
    """Highest override of each T that its loads allow, 1 = 100 %; none where its loads are not known or none serves."""
    found = {}
    for one in tools:
        told = one["override"]
        low, high = told["low_percent"], told["high_percent"]
        if one["tool"] is None or not told["known"] or told["fixed"]:
            continue
        high = round(FULL * HIGHEST) if high is None else high
        if high != FULL and high >= max(low or 0, 1):
            found[int(one["tool"])] = high / FULL
    return found


def _worse(record: Mapping[str, Any], told: Mapping[str, Any]) -> list[str]:
    before = {one["id"]: one["answer"] for one in record["questions"]}
    return [
        one["id"]
        for one in told["questions"]
        if one["id"] != LEFT_OUT
        and one["risk"] not in NEVER
        and rank(one["answer"]) > rank(before.get(one["id"], "clear"))
    ]


def _shown(overrides: Mapping[int, float]) -> dict[str, int]:
    return {f"T{tool}": round(override * FULL) for tool, override in overrides.items()}
