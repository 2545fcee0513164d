"""What a set-up sheet tells, gathered from an examination: program stamp, zeros, tools, stops, first contacts. Nothing is invented: what
no fact and no line says is None, and the sheet says so."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.changer.length_window import LengthWindow, window_of
from firstoff.facts.fact import Evidence, Fact, FactSet
from firstoff.program.moves import NO_LENGTH, NO_TOOL, SYSTEM_NAMES, Base, Event, Kind, Reading, What
from firstoff.sheets.standing import running_at, running_words
from firstoff.sheets.wording import amount
from firstoff.verdict.case import AXES, Case
from firstoff.verdict.positions import offset_path, touched_with
from firstoff.verdict.questions.tool import look_alikes, used_tools
from firstoff.verdict.tools import register_tool, spindle_tool
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, listed

LEAST_WINDOW_MM = 0.10
"""A tool measured again on another day may differ by drift and wear; less than a tenth tells nothing, and real breaks shorten a tool by
half its diameter or more (common practice)."""
WINDOW_U = 3.0
"""A reading further from the length than this many of its standard uncertainties is another tool, a chip on the seat, or a break."""
KINDS = {
    "flat": "flat", "bull": "bull nose", "ball": "ball", "tapered": "tapered", "chamfer": "chamfer", "drill": "drill", "tap": "tap",
    "tee": "tee slot", "lollipop": "lollipop", "profile": "form", "probe": "probe",
}  # fmt: skip
SKIPPED = re.compile(r"^\s*(?:%.*|\(.*\)|;.*)?\s*$")
"""Lines that are no block: empty, tape marks, comments alone."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """What says that the program in the control is the one that was examined."""

    file: str
    lines: int
    blocks: int
    first: str
    last: str
    mark: str


@dataclass(frozen=True, slots=True)
class Zero:
    """One work system that the program uses: planned machine position of each axis (None where nobody gave it), and where it is in words."""

    name: str
    at: tuple[Fact | None, Fact | None, Fact | None]
    words: str


@dataclass(frozen=True, slots=True)
class ToolRow:
    """One tool as the program calls it."""

    number: int
    pocket: str
    name: str
    words: str
    stick_out: Fact | None
    length: Fact | None
    window_mm: float | None
    """Half-width; None where the length is not measured."""
    registers: str
    speeds: tuple[float, float] | None
    """Lowest and highest spindle speed at a cut, 1/min."""
    feeds: tuple[float, float] | None
    """Lowest and highest feed, mm/min; turns per revolution are not told."""
    minutes: float | None
    alike: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Register:
    """A register that the program calls: its letter and number, and the number (mm) that the examination took it to hold."""

    name: str
    value: float | None
    radius: float | None
    """For D, half of `value`: a control holds one or the other."""


@dataclass(frozen=True, slots=True)
class StopRow:
    """A place where the program waits."""

    line: int
    code: str
    words: str
    """The program's own remark, or empty."""
    stands: str
    """Where the tool then stands, or empty."""
    runs: str
    """What then turns and flows, or empty."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How far the programmed path of the tool tip goes in the work frame, mm: (low, high) of each axis for cuts, the lowest rapid sideways,
    and the lowest rapid that is no part of a cycle."""

    cut: tuple[tuple[float, float], tuple[float, float], tuple[float, float]] | None
    rapid_z: float | None
    approach_z: float | None


def stamp(reading: Reading) -> Stamp:
    """The program's stamp."""
    first, last = _first_block(reading.text), _first_block(reversed(reading.text))
    return Stamp(
        reading.file.replace("\\", "/").rsplit("/", 1)[-1],
        reading.lines,
        reading.blocks,
        first,
        last,
        f"{reading.sha256[:4]} {reading.sha256[4:8]}",
    )


def _first_block(lines: Iterable[str]) -> str:
    """The first of some lines that is a block; empty where none is."""
    return next((line.strip() for line in lines if not SKIPPED.match(line)), "")


def zeros(case: Case) -> list[Zero]:
    """The work systems that moves hang on, in the order of use."""
    used: dict[int, None] = {event.number: None for event in case.reading.events if event.what is What.OFFSET_USED}
    for base in case.reading.frames.base[case.moves.frame, [0, 1, 2]].ravel().tolist():
        used.setdefault(int(base), None)
    found = []
    for base in used:
        if not Base.G54 <= base <= Base.G59_3:
            continue
        name = SYSTEM_NAMES[base - 1]
        at = [case.facts.facts.get(offset_path(base, axis)) for axis in range(len(AXES))]
        words = case.facts.settings.get(f"job.offset.{name}.zero")
        found.append(Zero(name, (at[0], at[1], at[2]), str(words.value) if words is not None else ""))
    return found


# --- tools -----------------------------------------------------------------------------------------------------------


def tool_rows(case: Case) -> list[ToolRow]:
    """Every tool that cuts, in the order of use."""
    return [_tool_row(case, number) for number in used_tools(case)]


def _tool_row(case: Case, number: int) -> ToolRow:
    leaning = case.facts.leaning()
    name = spindle_tool(leaning, number) or ""
    length = case.facts.facts.get(f"tools.{name}.LF")
    mine = (case.moves.tool == number) & case.feeding
    return ToolRow(
        number,
        _pocket(case.facts, number, name),
        name,
        tool_words(case.facts, name, case.units),
        case.facts.facts.get(f"tools.{name}.OHX"),
        length,
        length_window(length, window_of(leaning, name) if name else None),
        _registers(case, number),
        _span(np.abs(case.moves.spindle_per_s[mine]) * 60),
        _span(case.moves.feed_mm_per_s[mine] * 60),
        _minutes(case, number),
        tuple(look_alikes(leaning, name)) if name else (),
    )


def length_window(length: Fact | None, checked: LengthWindow | None = None) -> float | None:
    """Half-width, mm, of the window that a length measured again must lie in: that of the length check where the setter is described; None
    where the length was never measured."""
    if length is None or length.evidence is Evidence.ASSUMED:
        return None
    if checked is not None:
        return max(
            math.floor(checked.limit_mm * 100) / 100, 0.01
        )  # the sheet shows hundredths, and never more than the check allows
    return max(LEAST_WINDOW_MM, WINDOW_U * length.u)


def tool_words(facts: FactSet, name: str, units: ShopUnits) -> str:
    """A tool as it looks: ``Ø6 flat, 3 edges``."""
    diameter = facts.facts.get(f"tools.{name}.DC")
    kind = facts.settings.get(f"tools.{name}.kind")
    edges = facts.settings.get(f"tools.{name}.ZEFP")
    size = ""
    if diameter is not None:
        size = "Ø" + (
            amount(diameter.value / MM_PER_INCH, 0, "in") if units.inch else amount(round(diameter.value, 2), 0, "")
        )
    what = KINDS.get(str(kind.value), str(kind.value)) if kind is not None else ""
    words = " ".join(part for part in (size, what) if part)
    count = f", {edges.value} edges" if edges is not None and what and str(kind and kind.value) != "drill" else ""
    return words + count


def _pocket(facts: FactSet, number: int, name: str) -> str:
    for path, setting in facts.settings.items():
        if path.startswith("tools.pocket.") and path.endswith(".tool") and setting.value == name:
            return path.split(".")[2]
    means = facts.settings.get("machine.control.t_means")
    return str(number) if number != NO_TOOL and (means is None or means.value == "pocket") else ""


def _registers(case: Case, number: int) -> str:
    mine = case.moves.tool == number
    lengths = sorted(
        {int(h) for h in case.reading.frames.length[case.moves.frame[mine & case.feeding, 2]]} - {NO_LENGTH}
    )
    radii = sorted({int(d) for d in case.moves.comp_register[mine] if d > 0})
    return " ".join([*(f"H{h}" for h in lengths), *(f"D{d}" for d in radii)])


def _span(values: NDArray[np.float64]) -> tuple[float, float] | None:
    known = values[np.isfinite(values) & (values > 0)]
    return (float(known.min()), float(known.max())) if known.size else None


def registers(case: Case) -> list[Register]:
    """Every H and D that moves hang on, with what the examination took each to hold."""
    leaning, facts = case.facts.leaning(), case.facts.facts
    rows = np.unique(case.moves.frame[case.moving, 2])
    lengths = sorted({int(h) for h in case.reading.frames.length[rows]} - {NO_LENGTH})
    diameters = sorted({int(d) for d in case.moves.comp_register if d > 0})
    found = []
    for number in lengths:
        fact = facts.get(f"tools.{register_tool(leaning, number)}.LF")
        found.append(Register(f"H{number}", fact.value if fact else None, None))
    for number in diameters:
        fact = facts.get(f"tools.{register_tool(leaning, number)}.DC")
        found.append(Register(f"D{number}", fact.value if fact else None, fact.value / 2 if fact else None))
    return found


def _minutes(case: Case, number: int) -> float | None:
    line = case.timeline
    if line is None or line.bracketed_by:
        return None
    mine = case.moves.tool == number
    total = float(
        line.move_s[mine].sum() + line.pause_s[:-1][mine].sum()
    )  # the pause before its first move is its change
    return total / 60 if np.isfinite(total) else None


# --- stops -----------------------------------------------------------------------------------------------------------


def stop_rows(case: Case) -> list[StopRow]:
    """Everything that the program waits at; tool changes too where they are made by hand."""
    by_hand = case.facts.settings.get("machine.control.m6")
    hand = by_hand is not None and by_hand.value == "by hand"
    rows = []
    for event in case.reading.events:
        if event.what is What.STOP:
            code, words = f"M{event.number}", _remark(case, event)
        elif event.what is What.OPTIONAL_STOP:
            code, words = "M1, with the switch on", _remark(case, event)
        elif event.what is What.TOOL_CHANGE and hand:
            code, words = "M6", f"put T{event.number} in by hand"
        else:
            continue
        runs = running_words(running_at(case, event.before, event), with_lines=False)
        rows.append(StopRow(event.line, code, words, _stands(case, event), runs))
    return rows


def _remark(case: Case, event: Event) -> str:
    """The event's own text, else the comment on its line, else a line of comment alone just above it."""
    lines = case.reading.text
    near = [lines[n] for n in (event.line - 1, event.line - 2) if 0 <= n < len(lines)]
    candidates = [event.text, near[0] if near else "", near[1] if len(near) > 1 and SKIPPED.match(near[1]) else ""]
    for number, text in enumerate(candidates):
        found = text if number == 0 else _comment(text)
        if found.strip():
            return re.sub(r"^(?:MSG|PRINT|DEBUG)\s*,\s*", "", found.strip(), flags=re.IGNORECASE)
    return ""


def _comment(text: str) -> str:
    found = re.search(r"\(([^()]*)\)|;(.*)$", text)
    return (found.group(1) or found.group(2) or "") if found else ""


def _stands(case: Case, event: Event) -> str:
    if event.before <= 0 or event.before > len(case.moves):
        return ""
    move = event.before - 1
    base = int(case.reading.frames.base[case.moves.frame[move, 2], 2])
    z = float(case.moves.end_mm[move, 2])
    if not np.isfinite(z):
        return ""
    unit, value = ("in", z / MM_PER_INCH) if case.units.inch else ("mm", z)
    told = f"Z\u00a0{amount(round(value, 3), 0, unit)}".replace(" ", "\u00a0")
    if base == Base.MACHINE:
        return f"at machine {told}"
    return f"at {told}" if Base.G54 <= base <= Base.G59_3 else ""


# --- where it goes ---------------------------------------------------------------------------------------------------


def on_work(case: Case) -> NDArray[np.bool_]:
    """bool[N]: moves whose Z is the tip's in the frame of stock and fixtures: that work system, with a length in force, or with the very
    tool that touched its zero."""
    frames, z = case.reading.frames, case.moves.frame[:, 2]
    told = (frames.length[z] != NO_LENGTH) | _touched(case)
    mask: NDArray[np.bool_] = (frames.base[z, 2] == case.stock_base) & told & case.moving & case.sure
    return mask


def _touched(case: Case) -> NDArray[np.bool_]:
    """bool[N]: moves of the tool whose tip set the work zero."""
    facts = case.facts.leaning()
    name = touched_with(facts, case.stock_base)
    tools = [
        tool for tool in np.unique(case.moves.tool).tolist() if name is not None and spindle_tool(facts, tool) == name
    ]
    return np.isin(case.moves.tool, tools)


def reach(case: Case) -> Reach:
    """How far cuts go, and how low rapids pass sideways, by programmed coordinates."""
    mask, frames, rows = on_work(case), case.reading.frames, case.moves.frame
    flat = mask & (frames.base[rows[:, 0], 0] == case.stock_base) & (frames.base[rows[:, 1], 1] == case.stock_base)
    shift = np.stack([frames.shift_mm[rows[:, axis], axis] for axis in range(3)], axis=1)
    low, high = case.low_mm + shift, case.high_mm + shift
    cutting = flat & case.feeding & np.isfinite(low).all(axis=1) & np.isfinite(high).all(axis=1)
    cut = None
    if bool(cutting.any()):
        ends = [(float(low[cutting, axis].min()), float(high[cutting, axis].max())) for axis in range(3)]
        cut = (ends[0], ends[1], ends[2])
    plain = flat & (case.moves.parent < 0)  # pecks go back into their own hole
    rapid = plain & (case.moves.kind == Kind.RAPID) & np.isfinite(low[:, 2])
    return Reach(cut, _sideways_rapid(case, flat, low), float(low[rapid, 2].min()) if bool(rapid.any()) else None)


def _sideways_rapid(case: Case, mask: NDArray[np.bool_], low: NDArray[np.float64]) -> float | None:
    rapid = np.flatnonzero(mask & (case.moves.kind == Kind.RAPID))
    rapid = rapid[rapid > 0]
    if not rapid.size:
        return None
    moved = np.abs(case.moves.end_mm[rapid, :2] - case.moves.end_mm[rapid - 1, :2])
    sideways = rapid[(~(moved <= 0.002)).any(axis=1) & np.isfinite(low[rapid, 2])]
    return float(low[sideways, 2].min()) if sideways.size else None


# --- the blank and what holds it -------------------------------------------------------------------------------------


def stock_words(facts: FactSet, units: ShopUnits) -> str:
    """The blank in words: material and size; empty where nothing is given."""
    material = facts.settings.get("job.material")
    parts = [str(material.value)] if material is not None else []
    box = box_of(facts, "job.stock.box")
    diameter = facts.facts.get("job.stock.cylinder.diameter")
    if box is not None:
        sizes = [
            amount(round((high - low) / (MM_PER_INCH if units.inch else 1), 2 if units.inch else 1), 0, "")
            for low, high in box
        ]
        parts.append("×".join(sizes) + (" in" if units.inch else " mm"))
    elif diameter is not None:
        parts.append("Ø" + units.length(diameter.value))
    elif (after := facts.settings.get("job.stock.after")) is not None:
        parts.append(f"as {after.value} leaves it")
    elif (file := facts.settings.get("job.stock.stl")) is not None:
        parts.append(f"shape in {file.value}")
    return ", ".join(parts)


Span = tuple[float, float]


def box_of(facts: FactSet, prefix: str) -> tuple[Span, Span, Span] | None:
    """(low, high) of X, Y and Z of a box at best estimates, mm; None if an end is missing."""
    spans: list[Span] = []
    for axis in AXES:
        low, high = facts.facts.get(f"{prefix}.{axis}.low"), facts.facts.get(f"{prefix}.{axis}.high")
        if low is None or high is None:
            return None
        spans.append((low.value, high.value))
    return spans[0], spans[1], spans[2]


_HOLDING = (
    ("count", "{} of them"),
    ("force", "force {}"),
    ("grip_height", "{} inside the jaws"),
    ("area", "area {}"),
    ("strength", "lets go at {}"),
    ("pressure", "pressure {}"),
    ("friction", "friction {}"),
)
KILO = 1000.0


def with_doubt(value: float, u: float, unit: str) -> str:
    """A value and its standard uncertainty as they are spoken, ``2.2 ± 0.5 kN``: brackets after trailing zeros misread."""
    if unit == "N" and abs(value) >= KILO:
        value, u, unit = value / KILO, u / KILO, "kN"
    if not (u > 0 and math.isfinite(u)):
        return amount(value, 0.0, unit)
    digit = math.floor(math.log10(u))
    decimals = max(0, -digit + (1 if u / 10**digit < 1.95 and digit < 0 else 0))
    told = f"{value:.{decimals}f} ± {u:.{decimals}f} {unit}".strip()
    return told.replace("-", "\u2212")


def holding_words(facts: FactSet, units: ShopUnits, last_cut: str | None = None) -> str:
    """How the part is held, with every number that is given; empty where nothing is. `last_cut` says what holds it at the end, instead of
    the job's own word."""
    kind = facts.settings.get("job.holding.kind")
    if kind is None:
        return ""
    parts = []
    for key, form in _HOLDING:
        fact = facts.facts.get(f"job.holding.{key}")
        setting = facts.settings.get(f"job.holding.{key}")
        if fact is not None:
            parts.append(form.format(_held(fact, units)))
        elif setting is not None:
            parts.append(form.format(setting.value))
    free = facts.settings.get("job.holding.after_cut_free")
    after = f"At the last cut: {free.value}." if free is not None else ""
    told = [f"{str(kind.value).capitalize()}{': ' + listed(parts, len(_HOLDING)) if parts else ''}.", last_cut or after]
    return " ".join(part for part in told if part)


def _held(fact: Fact, units: ShopUnits) -> str:
    if fact.unit == "mm":
        return units.length(fact.value)
    unit = {"mm^2": "mm²", "N/mm^2": "N/mm²"}.get(fact.unit, fact.unit)
    return with_doubt(fact.value, fact.u, "" if unit == "1" else unit)
