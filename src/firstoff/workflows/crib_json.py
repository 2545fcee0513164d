"""The records that the commands of the crib print with `--json`: lengths in mm, unknown figures null."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from firstoff.changer.crib import Crib, Item
from firstoff.changer.drift import LengthDrift
from firstoff.changer.length_window import Checked, LengthWindow
from firstoff.changer.loading import Plan
from firstoff.facts.change import Stated, stated
from firstoff.facts.fact import Fact
from firstoff.workflows.book import JobChange
from firstoff.workflows.crib import CribChanged, LengthTaken
from firstoff.workflows.crib_day import Today
from firstoff.workflows.crib_tables import Compared


def crib_json(crib: Crib) -> dict[str, Any]:
    """`firstoff crib list --json`."""
    return {
        "schema": "firstoff.crib/1",
        "in_spindle": crib.rack.in_spindle,
        "tools": [_item_json(item) for item in crib.items],
        "holders": [
            {
                "name": one.name,
                "grips_mm": [one.low_mm, one.high_mm] if one.low_mm is not None else None,
                "holds": one.holds,
            }
            for one in crib.holders
        ],
        "pockets": [{"number": n, "tool": crib.rack.held.get(n)} for n in crib.rack.pockets],
        "clashes": [
            {
                "pockets": [one.pocket, one.other_pocket],
                "tools": [one.tool, one.other_tool],
                "room_mm": one.room_mm,
                "gap_mm": one.gap_mm,
                "u_mm": one.u_mm,
                "fit": one.fit.value,
            }
            for one in crib.clashes
        ],
        "alike": [
            {"tools": [one.first, one.second], "apart_mm": one.apart_mm, "needed_mm": one.needed_mm}
            for one in crib.alike
        ],
    }


def _item_json(item: Item) -> dict[str, Any]:
    def fact(one: Fact | None) -> Stated | None:
        return None if one is None else stated(one)

    return {
        "name": item.name,
        "kind": item.kind,
        "where": item.where.value,
        "pocket": item.pocket,
        "place": item.place,
        "LF": fact(item.length),
        "OHX": fact(item.stick_out),
        "void": [one.path for one in item.void],
        "gripped_anew": None if item.gripped_anew is None else item.gripped_anew.isoformat(),
        "held_in": item.holder,
        "life_used": item.life_used,
        "condition": item.condition,
        "sisters": list(item.sisters),
        "broke": None if item.broke is None else item.broke.isoformat(),
        "broke_why": item.broke_why,
        "window_mm": None if item.window is None else [item.window.low_mm, item.window.high_mm],
        "surely_seen_mm": None if item.window is None else item.window.surely_seen_mm,
        "window_needs": list(item.window_needs),
    }


def changed_crib_json(done: CribChanged) -> dict[str, Any]:
    """`--json` of the commands that change the crib."""

    def plain(found: Sequence[JobChange]) -> list[dict[str, Any]]:
        return [{"path": one.path, "old": one.old, "new": one.new} for _, one in found]

    noticed = plain(done.noticed.changed) if done.noticed.how != "first" else []
    return {
        "schema": "firstoff.crib-change/1",
        "changed": plain(done.changed),
        "noticed": noticed,
        "remarks": list(done.remarks),
    }


def length_json(taken: LengthTaken) -> dict[str, Any]:
    """`firstoff crib length --json`."""
    mean, before = taken.mean, taken.before
    return {
        **changed_crib_json(taken.done),
        "schema": "firstoff.crib-length/1",
        "tool": taken.name,
        "LF": {"value": mean.mean_mm, "u": mean.u_mm, "df": None if mean.df == float("inf") else mean.df, "unit": "mm"},
        "readings_mm": list(mean.readings),
        "before": None if before is None else stated(before),
        "check": None if taken.check is None else checked_json(taken.check),
    }


def check_json(name: str, window: LengthWindow, found: Checked) -> dict[str, Any]:
    """`firstoff crib check --json`."""
    return {
        "schema": "firstoff.crib-check/1",
        "tool": name,
        "expected_mm": window.expected_mm,
        "limit_mm": window.limit_mm,
        "surely_seen_mm": window.surely_seen_mm,
        **checked_json(found),
    }


def checked_json(found: Checked) -> dict[str, Any]:
    """What a length check found; unknown figures are null."""

    def known(value: float) -> float | None:
        return value if value == value else None

    return {
        "outcome": found.outcome.value,
        "why": found.why.value,
        "shorter_mm": known(found.shorter_mm),
        "u_mm": known(found.u_mm),
        "within": known(found.within),
        "spread_mm": known(found.spread_mm),
    }


def today_json(found: Today) -> dict[str, Any]:
    """`firstoff crib today --json`."""

    def plan(one: Plan | None) -> dict[str, Any] | None:
        if one is None:
            return None
        return {
            "hand_changes": one.hand_changes,
            "proven": one.proven,
            "jobs": [
                {
                    "job": stage.job,
                    "changes": [{"tool": c.tool, "pocket": c.pocket, "was": c.was} for c in stage.changes],
                    "rack": {str(n): tool for n, tool in sorted(stage.rack.items())},
                    "stand_in": {str(n): tool for n, tool in stage.stand_in.items()},
                }
                for stage in one.stages
            ],
        }

    return {
        "schema": "firstoff.crib-today/1",
        "plan": plan(found.plan),
        "better_order": plan(found.better),
        "order_proven": found.order_proven,
        "cannot_serve": [{"job": job, "why": why} for job, why in found.cannot.items()],
        "grip": [{"holder": one.holder, "tool": one.cutter, "torn_down": one.torn} for one in found.freed.gripped],
        "no_holder_for": list(found.freed.unserved),
        "remarks": list(found.remarks),
    }


def compared_json(found: Compared) -> dict[str, Any]:
    """`firstoff crib compare --json`: `control` and `shop` in mm, or a pocket's number."""
    return {
        "schema": "firstoff.crib-compare/1",
        "lines": found.lines,
        "differences": [
            {
                "danger": one.danger.name.lower().replace("_", " "),
                "what": one.what,
                "tool": one.tool,
                "control": one.control,
                "shop": one.shop,
                "apart_mm": one.apart_mm,
                "u_mm": one.u_mm,
                "line": one.line or None,
                "set": list(found.typed(one)) or None,
                "measure": list(found.measure_words(one)) or None,
            }
            for one in found.differences
        ],
    }


def drifts_json(found: Mapping[str, LengthDrift]) -> dict[str, Any]:
    """`firstoff crib drift --json`."""
    return {
        "schema": "firstoff.crib-drift/1",
        "tools": [
            {
                "name": name,
                "mm_a_month": one.slope_mm,
                "u": one.u_mm,
                "tells": one.tells,
                "too_close": one.too_close,
                "begins_anew_mm": one.anew_mm,
                "points": [{"at": p.at.isoformat(), "LF": p.length_mm, "u": p.u_mm} for p in one.points],
                "earlier": [{"at": p.at.isoformat(), "LF": p.length_mm, "u": p.u_mm} for p in one.earlier],
            }
            for name, one in found.items()
        ],
    }
