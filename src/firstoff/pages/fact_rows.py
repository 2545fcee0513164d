"""Facts as rows of a page: name, value and unit apart, doubt on a log rule, evidence, age, and who leans on it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from firstoff.facts.change import stated
from firstoff.facts.fact import Evidence, Fact
from firstoff.sheets.curve_svg import curve_svg, spark_svg
from firstoff.sheets.evidence_stamps import stamp_svg
from firstoff.sheets.fact_words import age_words, fact_parts, fact_words
from firstoff.sheets.wording import fact_name
from firstoff.verdict.words import MM_PER_INCH, ShopUnits
from firstoff.workflows.machine import KeyRow

LONGEST_WORDS = 44
NOT_STATED = "not stated"
_SHORT: tuple[tuple[str, str], ...] = (
    (r"machine\.axis\.(.)\.max_feed", "{} feed, greatest"),
    (r"machine\.spindle\.speed", "Speed"),
    (r"machine\.spindle\.directions", "Turns"),
    (r"machine\.spindle\.power_s1", "Power, continuous"),
    (r"machine\.spindle\.power_s6", "Power, intermittent"),
    (r"machine\.spindle\.power_s6\.on_share", "Intermittent: on for"),
    (r"machine\.spindle\.power_s6\.cycle", "Intermittent: cycle"),
    (r"machine\.spindle\.no_load", "Power, idling"),
    (r"machine\.spindle\.run_up", "Run-up"),
    (r"machine\.spindle\.inertia", "Inertia of all that turns"),
    (r"machine\.spindle\.stiffness", "Stiffness"),
    (r"machine\.spindle\.nose", "Nose, from below"),
    (r"machine\.spindle\.run_out", "Run-out of the taper"),
    (r"machine\.frame\.stiffness", "Stiffness, X Y Z"),
    (r"machine\.frame\.first_mode", "Lowest frequency"),
    (r"machine\.changer\.change_time", "Time of a tool change"),
    (r"machine\.zone\.([^.]+)\.box", "{}"),
    (r"machine\.home\.(G\d+)", "{}"),
)
"""A group's heading says the rest."""
_CONTROL = {
    "base": "Language", "units_at_start": "Unit at start", "wcs_at_start": "Work system at start", "rapid_path": "Rapids go",
    "arc_tolerance": "Arc ends may differ by", "dwell_p": "P of a dwell counts", "g28_bare": "G28 without axes", "g28_axes": "G28 with axes moves",
    "g53_length": "Length during G53", "t_alone": "T without M6", "t_means": "T counts", "m6": "M6", "g43_acts": "G43 acts",
    "h_missing": "G43 without H", "after_g80": "Axis words after G80", "m5_when": "M5, M9 with a move", "g83_return": "G83 clears to",
    "peck_back_off": "Back-off of a peck", "comp_corner": "Inside corners, G41", "macro_family": "Loops and calls", "block_delete": "Block delete switch",
    "file_end": "File without an end", "corner_tolerance": "G64 rounds by at most", "block_rate": "Blocks taken in", "look_ahead": "Look-ahead, blocks",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table, ready to be shown."""

    path: str
    name: str
    value: str
    evidence: str
    stamp: str
    age: str
    doubt_at: float | None
    """Share of the log rule from 0.01 to 100 %; None where there is no doubt."""
    doubt: str
    leaned_by: int
    written: str
    u: str
    note: str
    unit: str = ""
    carries: bool = False
    """It is one of the few that carry most of today's doubt."""
    spark: str = ""
    plot: str = ""
    example: str = ""
    """How such a value is written."""
    own_doubt: bool = True
    """Its doubt and evidence can be said beside it; a table says its own."""


def row_of(row: KeyRow, units: ShopUnits, carries: bool = False) -> Row:
    """A key of a file as a row of a page."""
    evidence = evidence_of(row)
    curve = curve_of(row)
    value, unit = ("", "") if curve else _value(row, units)
    if curve:
        speeds, powers = [x for x, _, _ in curve], [y for _, y, _ in curve]
        value, unit = f"to {max(powers):.4g}", "W"
        words = f"{short_name(row.path)}: " + ", ".join(f"{y:.4g} W at {x:.0f} 1/min" for x, y, _ in curve)
        plot, spark = curve_svg(curve, "1/min", "W", words), spark_svg(list(zip(speeds, powers, strict=True)))
    else:
        plot = spark = ""
    return Row(
        path=row.path,
        name=short_name(row.path),
        value=value,
        evidence=evidence.value,
        stamp=stamp_svg(evidence),
        age=age_words(row.age_days) if row.age_days is not None else "",
        doubt_at=None if row.width is None else min(max(_log_share(row.width), 0.0), 1.0),
        doubt="" if row.width is None else f"{row.width:.2%}" if row.width < 0.01 else f"{row.width:.0%}",
        leaned_by=row.leaned_by,
        written=row.written,
        u=row.said.get("u", ""),
        note=row.said.get("note", ""),
        unit=unit,
        carries=carries,
        spark=spark,
        plot=plot,
        own_doubt=not row.written.startswith("{"),
    )


def not_stated(path: str, name: str = "", example: str = "") -> Row:
    """A row for what nobody has said yet, so that it can be said there."""
    return Row(path, name or short_name(path), NOT_STATED, "", "", "", None, "", 0, "", "", "", example=example)


def short_name(path: str) -> str:
    """As a machinist says it under its heading."""
    for pattern, words in _SHORT:
        found = re.fullmatch(pattern, path)
        if found:
            return _capital(words.format(*(one.upper() if len(one) == 1 else one for one in found.groups())))
    key = path.removeprefix("machine.control.")
    if key != path and key in _CONTROL:
        return _CONTROL[key]
    words = fact_name(path)
    return _capital(words.removeprefix("control: ").removeprefix("rule of the trade: "))


def evidence_of(row: KeyRow) -> Evidence:
    """The least of what its doubtful numbers rest on; words and plain numbers are set by the shop."""
    order = list(Evidence)
    found = [fact.evidence for fact in row.facts if fact.evidence is not Evidence.SET]
    return min(found, key=order.index, default=Evidence.SET)


def curve_of(row: KeyRow) -> list[tuple[float, float, float]]:
    """(1/min, W, standard uncertainty in W) of a curve over speed, in the order of speeds; empty where the row is none."""
    by_place: dict[str, dict[str, Fact]] = {}
    for fact in row.facts:
        stem, _, last = fact.path.rpartition(".")
        by_place.setdefault(stem, {})[last] = fact
    if len(by_place) < 2 or any(set(one) != {"speed", "power"} for one in by_place.values()):
        return []
    return sorted((60 * one["speed"].value, one["power"].value, one["power"].u) for one in by_place.values())


def _log_share(width: float) -> float:
    """0.01 % lies at 0, 100 % at 1."""
    return (math.log10(max(width, 1e-12)) + 4) / 4


def _value(row: KeyRow, units: ShopUnits) -> tuple[str, str]:
    """All that the key holds, short enough for a row; its unit apart where all have the same."""
    if row.path.endswith(".box") and len(row.facts) == 6:
        return _box(row, units)
    if row.path == "machine.spindle.nose":
        per = MM_PER_INCH if units.inch else 1.0
        sizes = [f"{fact.value / per:.4g}" for fact in row.facts]
        steps = [f"\u00d8{wide} × {long}" for wide, long in zip(sizes[::2], sizes[1::2], strict=False)]
        return ", ".join(steps), "in" if units.inch else "mm"
    if len(row.facts) == 1 and row.facts[0].unit == "1" and row.written.endswith("%"):
        return row.written.removesuffix("%").strip(), "%"
    if row.facts and len(row.facts) <= 3:
        parts = [fact_parts(fact.path, stated(fact), units) for fact in row.facts]
        last = [fact.path.rsplit(".", 1)[-1] for fact in row.facts]
        joint = " to " if last == ["low", "high"] else ", "
        kinds = {unit for number, unit in parts if number != "0"} or {parts[0][1]}
        if len(kinds) == 1:
            return joint.join(number for number, _ in parts), kinds.pop()
        return joint.join(f"{number} {unit}".strip() for number, unit in parts), ""
    words = row.written if row.facts else ", ".join(fact_words(one.path, stated(one), units) for one in row.settings)
    return (words if len(words) <= LONGEST_WORDS else f"{len(row.facts)} numbers"), ""


def _box(row: KeyRow, units: ShopUnits) -> tuple[str, str]:
    """A box by its size: where it stands is drawn."""
    by_end = {".".join(fact.path.rsplit(".", 2)[-2:]): fact.value for fact in row.facts}
    per = MM_PER_INCH if units.inch else 1.0
    sizes = [(by_end[f"{axis}.high"] - by_end[f"{axis}.low"]) / per for axis in "xyz"]
    return " × ".join(f"{one:.4g}" for one in sizes), "in" if units.inch else "mm"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
