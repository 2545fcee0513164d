"""Facts in the units a person reads them in, whatever unit they are kept in."""

from __future__ import annotations

import math
import re
from datetime import datetime

from firstoff.facts.change import Stated
from firstoff.facts.quantity import format_quantity
from firstoff.sheets.wording import minus
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count

FINE_MM = 0.1
"""Below it a length is told in µm."""
IN_MINUTES_FROM_S = 300.0
_SHOWN = {
    "mm/s": ("mm/min", 60.0),
    "1/s": ("1/min", 60.0),
    "rad": ("deg", 180 / math.pi),
    "mm/s²": ("m/s²", 1e-3),
    "mm/s³": ("m/s³", 1e-3),
    "N/mm": ("N/µm", 1e-3),
    "N·mm·s²": ("kg·mm²", 1e3),
    "1": ("", 1.0),
}
"""Unit kept -> unit shown and its factor; others are shown as they are kept."""
_OTHERWISE = {
    "first_mode": ("Hz", 1.0),
    "block_rate": ("1/s", 1.0),
    "edge_force": ("N/mm", 1.0),
    "air": ("bar", 10.0),
}
"""The same, by the last name of the path, where the dimension alone does not tell."""


def fact_words(path: str, said: Stated | None, units: ShopUnits) -> str:
    """Value and doubt, such as ``8.5(6) N/µm``; a word as it is; ``not stated`` for nothing."""
    if said is None:
        return "not stated"
    if "setting" in said:
        return _word(said["setting"])
    unit, factor = _unit(path, said, units)
    return minus(format_quantity(said["value"] * factor, said["u"] * factor, unit).replace("  ", " "))


def fact_parts(path: str, said: Stated, units: ShopUnits) -> tuple[str, str]:
    """Number and unit apart, ``8.5(6)`` and ``N/µm``: no more zeros than the doubt has, thousands set apart; a word has no unit."""
    if "setting" in said:
        return _word(said["setting"]), ""
    unit, factor = _unit(path, said, units)
    number = format_quantity(said["value"] * factor, said["u"] * factor, "")
    number = _ROUND.sub(r"\1(\2)", number)
    return minus(_LONG.sub(lambda found: f"{int(found[0]):,}".replace(",", "\u202f"), number)), unit


_ROUND = re.compile(r"(\.\d+)0\((\d)0\)$")
_LONG = re.compile(r"(?<![.\d(])\d{5,}")


def _word(setting: object) -> str:
    if isinstance(setting, bool):
        return "yes" if setting else "no"
    if isinstance(setting, list):
        return ", ".join(str(one) for one in setting)
    return str(setting)


def _unit(path: str, said: Stated, units: ShopUnits) -> tuple[str, float]:
    last = path.rsplit(".", 1)[-1]
    if last in _OTHERWISE:
        return _OTHERWISE[last]
    unit = str(said["unit"])
    if unit == "s" and abs(said["value"]) >= IN_MINUTES_FROM_S:
        return "min", 1 / 60
    if unit == "mm":
        if units.inch:
            return "in", 1 / MM_PER_INCH
        return ("µm", 1e3) if 0 < abs(said["value"]) < FINE_MM and said["u"] < FINE_MM else ("mm", 1.0)
    if unit == "mm/s" and units.inch:
        return "in/min", 60 / MM_PER_INCH
    return _SHOWN.get(unit, (unit, 1.0))


def evidence_words(said: Stated) -> str:
    """``measured, 4 degrees of freedom``; nothing for a word."""
    if "setting" in said:
        return ""
    df = said["df"]
    return str(said["evidence"]) + ("" if df is None else f", {count(round(df), 'degree')} of freedom")


def date_words(at: datetime) -> str:
    """``26 Nov 2026``."""
    return f"{at.day} {at:%b %Y}"


def age_words(days: float | None) -> str:
    """``today``, ``6 days``, ``4 months``, ``2.5 years``: as roughly as anyone says it."""
    if days is None:
        return "no date"
    if days < 1:
        return "today"
    if days < 60:
        return count(round(days), "day")
    if days < 730:
        return count(round(days / 30.44), "month")
    return f"{days / 365.25:.1f} years"
