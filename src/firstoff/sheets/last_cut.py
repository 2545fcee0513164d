"""What the last cut leaves loose, and what holds it then, in words for the sheet."""

from __future__ import annotations

from firstoff.facts.held import after_cut_free
from firstoff.removal.swept import Piece
from firstoff.sheets.wording import amount
from firstoff.verdict.case import Case
from firstoff.verdict.cut_free import is_slug
from firstoff.verdict.followed import Followed
from firstoff.verdict.grips import AREA_KINDS
from firstoff.verdict.words import MM_PER_INCH, ShopUnits, count

SAID = "job.holding.after_cut_free"
HOLDS_NOTHING = ("nothing free", "skin", "tabs")
"""Words after which no piece may come free."""


def last_cut_words(case: Case) -> str:
    """Pieces that come free, each with its line, and what holds them then; the job's own word where the stock was not followed."""
    setting = case.facts.settings.get(SAID)
    said = str(setting.value) if setting is not None else ""
    told = case.followed
    if not isinstance(told, Followed):
        return (
            f"At the last cut: {said} (the job's word)."
            if said
            else "What holds it at the last cut is not written down."
        )
    pieces = told.surfaces.pieces
    free = [piece for piece in pieces if piece.freed_by >= 0]
    held = after_cut_free(said) if said else None
    if not free:
        stays = held is not None and held.by in ("skin", "tabs")
        return f"At the last cut nothing comes free{f': {said}' if stays else ''}."
    found = f"{_pieces(case, free, pieces)}."
    if not said:
        return f"{found} What holds them then is not written down."
    if held is not None and held.by in HOLDS_NOTHING:
        return f"{found} But the job says: {said}."
    area = _area(case.units, free, pieces) if held is not None and held.by in AREA_KINDS else ""
    return f"{found} Then held by: {said}{area}."


def _pieces(case: Case, free: list[Piece], pieces: tuple[Piece, ...]) -> str:
    """``Line 175 cuts the part free, lines 173 to 175 4 slugs``"""
    parts = []
    for slugs in (False, True):
        mine = [piece for piece in free if is_slug(piece, pieces) is slugs]
        if not mine:
            continue
        lines = sorted({int(case.moves.line[piece.freed_by]) for piece in mine})
        where = f"line {lines[0]}" if len(lines) == 1 else f"lines {lines[0]} to {lines[-1]}"
        who = count(len(mine), "slug") if slugs else "the part" if len(mine) == 1 else count(len(mine), "piece")
        parts.append(f"{who} ({_volumes(case.units, mine)}) at {where}")
    return f"Cut free: {' and '.join(parts)}"


def _volumes(units: ShopUnits, pieces: list[Piece]) -> str:
    factor, unit = (MM_PER_INCH**3, "in³") if units.inch else (1000.0, "cm³")
    sizes = sorted(piece.volume_mm3 / factor for piece in pieces)
    low, high = (f"{size:.2g}" for size in (sizes[0], sizes[-1]))
    return f"{low} {unit}" if low == high else f"{low} to {high} {unit}"


def _area(units: ShopUnits, free: list[Piece], pieces: tuple[Piece, ...]) -> str:
    """What lies on the area that holds: under the part, and under the least of the slugs."""
    factor, unit = (MM_PER_INCH**2, "in²") if units.inch else (100.0, "cm²")

    def under(piece: Piece, name: str) -> str:
        return f"{amount(float(f'{piece.held_area_mm2 / factor:.2g}'), 0, unit)} under {name}"

    parts = []
    for slugs in (False, True):
        mine = [piece for piece in free if is_slug(piece, pieces) is slugs]
        if mine:
            one = ("the slug", "the least slug") if slugs else ("the part", "the least piece")
            parts.append(under(min(mine, key=lambda piece: piece.held_area_mm2), one[len(mine) > 1]))
    return f", {' and '.join(parts)}"
