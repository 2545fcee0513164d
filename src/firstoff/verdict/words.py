"""How an answer speaks: plain shop English, figures rounded to what can be measured, odds never finer than the evidence."""

from __future__ import annotations

import math

MM_PER_INCH = 25.4


def odds(chance: float | None) -> str:
    """A chance in words: certain, likely, 1 in n (two figures at most), under 1 in 1000."""
    if chance is None:
        return "cannot say"
    if chance > 0.999:
        return "certain"
    if chance > 0.5:
        return "likely"
    if chance < 0.001:
        return "under 1 in 1000"
    n = 1.0 / chance
    if n < 10:
        return f"1 in {n:.0f}"
    digits = math.floor(math.log10(n)) - 1
    return f"1 in {round(n / 10**digits) * 10**digits:.0f}"


class ShopUnits:
    """Numbers in the unit the shop reads: mm (default) or inch."""

    def __init__(self, inch: bool) -> None:
        self.inch = inch

    def length(self, mm: float) -> str:
        """A length, rounded to what a careful person can measure (0.01 mm, 0.0005 in); a hundredth of a mm where it is tiny."""
        mm += 0.0 if abs(mm) >= 0.005 else -mm  # nobody reads a hundredth of nothing, or a minus before it
        if self.inch:
            return f"{mm / MM_PER_INCH:.4f} in" if abs(mm) < 2.54 else f"{mm / MM_PER_INCH:.3f} in"
        if abs(mm) < 1:
            return f"{mm:.2f} mm"
        return f"{mm:.1f} mm" if abs(mm) < 100 else f"{mm:.0f} mm"

    def fine(self, mm: float) -> str:
        """A length far below what a caliper shows, in µm (or thousandths of an inch), two figures and none that nobody can measure; a
        length like any other from half a millimetre on."""
        if abs(mm) >= 0.4995:
            return self.length(mm)
        if self.inch:
            return f"{_no_finer(mm / MM_PER_INCH * 1e3, 2)} thou"
        return f"{_no_finer(mm * 1e3, 1)} µm"

    def feed(self, mm_per_s: float) -> str:
        """A feed a minute, three figures."""
        value = mm_per_s * 60 / (MM_PER_INCH if self.inch else 1)
        places = max(2 - math.floor(math.log10(abs(value))), 0) if value else 0
        return f"{value:.{min(places, 1)}f} in/min" if self.inch else f"{value:.{min(places, 1)}f} mm/min"

    def doubt(self, mm: float) -> str:
        """A standard uncertainty of a length, in two figures."""
        return f"{two_figures(mm / MM_PER_INCH)} in" if self.inch else f"{two_figures(mm)} mm"


def _no_finer(value: float, places: int) -> str:
    """Two figures, but no more places behind the point than a good gauge shows; what is nothing there is less than its last place."""
    least = 10.0**-places
    if value and abs(value) < least / 2:
        return f"under {least:.{places}f}"
    told = two_figures(value)
    return f"{round(value, places) + 0.0:.{places}f}" if len(told.partition(".")[2]) > places else told


def part(share: float) -> str:
    """A share as per cent; what rounds to none is not none."""
    return "under 1%" if 0 < share < 0.005 else f"{share:.0%}"


def two_figures(value: float) -> str:
    """Two significant figures without an exponent."""
    if value == 0 or not math.isfinite(value):
        return "0"
    rounded = round(value, 1 - math.floor(math.log10(abs(value))))
    digits = 1 - math.floor(math.log10(abs(rounded)))  # 9.99 has been rounded to 10, which has one place less
    return f"{rounded:.{max(digits, 0)}f}"


def speed(per_s: float) -> str:
    """A spindle speed."""
    return f"{abs(per_s) * 60:.0f} 1/min"


def duration(seconds: float) -> str:
    """A time as a person says it."""
    if seconds < 10:
        return f"{seconds:.1f} s"
    if seconds < 90:
        return f"{seconds:.0f} s"
    minutes = seconds / 60
    if minutes < 90:
        return f"{minutes:.1f} min" if minutes < 10 else f"{minutes:.0f} min"
    return f"{minutes / 60:.1f} h"


def count(n: int, one: str, many: str = "") -> str:
    """`3 lines`, `1 line`, `no lines`."""
    return f"{'no' if n == 0 else n} {one if n == 1 else many or one + 's'}"


def listed(items: list[str], most: int = 4) -> str:
    """`a, b and c`; the rest counted."""
    shown = items[:most]
    if len(items) > most:
        return ", ".join(shown) + f" and {len(items) - most} more"
    return ", ".join(shown[:-1]) + " and " + shown[-1] if len(shown) > 1 else "".join(shown)


def newton_metres(nmm: float) -> str:
    """A torque kept in N·mm, two figures."""
    return f"{two_figures(nmm / 1000.0)} N·m"


def watts(value: float) -> str:
    """A power, two figures; kW from a thousand on."""
    return f"{two_figures(value / 1000.0)} kW" if value >= 999.5 else f"{two_figures(value)} W"


def newtons(value: float) -> str:
    """A force, two figures; kN from a thousand on."""
    return f"{two_figures(value / 1000.0)} kN" if value >= 999.5 else f"{two_figures(value)} N"
