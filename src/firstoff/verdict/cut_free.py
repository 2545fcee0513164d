"""What the last cut leaves loose, and what the job says holds it then."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.facts.held import AfterCutFree, after_cut_free
from firstoff.loads.cut_loads import Stretch
from firstoff.removal.swept import Piece
from firstoff.verdict.case import STOCK_FACES, Case, best
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, exact, of
from firstoff.verdict.grips import AREA_KINDS, HOLDING
from firstoff.verdict.hanging import Hanging, hanging
from firstoff.verdict.positions import tip_in_work
from firstoff.verdict.question import Answer, Counted, Limit, Need
from firstoff.verdict.words import count

SAID = f"{HOLDING}.after_cut_free"
SLUG_SHARE = 0.25
"""A piece of less than this part of the greatest one's volume is a slug, not the part: what becomes of it matters to the tool alone."""
HOW = 'Write what holds it then: after_cut_free = "skin 0.2 mm", "tabs 4 x 3 mm x 0.5 mm", "tape", "screws" or "nothing is cut free".'
AT_RIM_KINDS = ("vice", "clamps", "screws")
"""Kinds that hold what reaches the blank's rim."""
NO_PIECE = "Nothing is cut free."


@dataclass(frozen=True, slots=True)
class Freed:
    """Pieces that come free, with what is to be said of them at once; `by_area` are those that only the area under them holds."""

    by_area: tuple[Piece, ...] = ()
    counted: tuple[Counted, ...] = ()
    skins: tuple[Limit, ...] = ()
    """Thickness of the skin that is left, mm."""
    hangs: tuple[Hanging, ...] = ()
    """What skin or tabs alone hold at the last cut."""
    needs: tuple[Need, ...] = ()
    clear: str = ""
    notes: tuple[str, ...] = ()


def cut_free(case: Case, facts: Leaning, told: Followed, kind: str) -> Freed:
    """What comes free, held against what the job says of it. Where it says nothing, that is recorded as missing."""
    free = tuple(piece for piece in told.surfaces.pieces if piece.freed_by >= 0)
    if not free:
        said = facts.setting_if_known(SAID)
        held = after_cut_free(said) if isinstance(said, str) else None
        skins = _skin(case, facts, told, held) if held is not None else ()
        on_word = held is not None and held.by in ("skin", "tabs") and kind in AT_RIM_KINDS
        return Freed(
            counted=_not_parted(case, held),
            skins=skins,
            hangs=hanging(case, facts, told, held) if on_word and held else (),
            clear=NO_PIECE,
        )
    said = facts.setting(SAID)
    if not isinstance(said, str):
        return Freed()
    held = after_cut_free(said)
    if held is None:
        return Freed(needs=(Need(SAID, "job.toml [holding]", f'"{said}" is not understood. {HOW}'),))
    if held.by in ("nothing free", "skin", "tabs"):
        return Freed(counted=tuple(_against_word(case, piece, held) for piece in _not_held(free, kind)))
    if held.by in AREA_KINDS and held.by == kind:
        return Freed(by_area=free, counted=tuple(_leaks(case, free)) if kind == "vacuum" else ())
    return _held_by_word(case, told, free, held)


def _not_parted(case: Case, held: AfterCutFree | None) -> tuple[Counted, ...]:
    """The job says what holds the part once it is cut free, and nothing is cut free."""
    feeds = np.flatnonzero(case.feeding)
    if held is None or held.by in ("nothing free", "skin", "tabs") or not feeds.size:
        return ()
    place = case.place(int(feeds[-1]))
    what = f"Line {place.line}: {held.by} should hold what is cut free, and up to the last cut nothing is."
    do = 'Look whether the last passes are deep enough, or write after_cut_free = "nothing is cut free".'
    return (Counted(place, what, do, Answer.CARE, SAID),)


def _not_held(free: tuple[Piece, ...], kind: str) -> tuple[Piece, ...]:
    """Those of the parted bodies that nothing holds: clamps, screws and jaws hold what reaches the blank's rim. All of them where that
    tells none from the others."""
    within = tuple(piece for piece in free if not piece.at_rim)
    return within if within and kind in AT_RIM_KINDS else free


def is_slug(piece: Piece, pieces: Sequence[Piece]) -> bool:
    """Whether a piece is too small to be the part."""
    return piece.volume_mm3 < SLUG_SHARE * max(one.volume_mm3 for one in pieces)


def freeing(stretches: Iterable[Stretch], piece: Piece) -> Stretch | None:
    """The stretch whose cut parts a piece from the rest."""
    for stretch in stretches:
        if stretch.first_move <= piece.freed_by <= stretch.last_move:
            return stretch
    return None


def piece_words(case: Case, piece: Piece) -> str:
    x, y = (f"{axis} {case.units.length(at)}" for axis, at in zip("XY", piece.at_mm, strict=True))
    return f"a piece of about {piece.volume_mm3 / 1000:.2g} cm³ at {x}, {y}"


def _against_word(case: Case, piece: Piece, held: AfterCutFree) -> Counted:
    """The job says that nothing comes free, and something does."""
    place = case.place(piece.freed_by)
    left = {"skin": "no skin is left there", "tabs": "no tab is left there"}.get(
        held.by, "the job says that nothing is"
    )
    what = f"Line {place.line}: {piece_words(case, piece)} is cut free, but {left}."
    do = "Leave the skin or the tabs in the program (less deep, or lifted over them), or say what holds it then."
    return Counted(place, what, do, Answer.STOP, SAID)


def _leaks(case: Case, free: tuple[Piece, ...]) -> list[Counted]:
    place = case.place(min(piece.freed_by for piece in free))
    what = f"Line {place.line}: the cut goes through, and the vacuum leaks along it from here on."
    return [
        Counted(place, what, "Leave a skin of 0.2 mm and part it by hand, or cut through last of all.", Answer.CARE)
    ]


def _held_by_word(case: Case, told: Followed, free: tuple[Piece, ...], held: AfterCutFree) -> Freed:
    """Something is said to hold, with no numbers of its own: the part is taken to be held, slugs are not."""
    pieces = told.surfaces.pieces
    part = max(pieces, key=lambda piece: piece.volume_mm3)
    loose = [piece for piece in free if piece is not part]
    if held.by in AT_RIM_KINDS and any(piece.at_rim for piece in pieces):
        loose = [piece for piece in free if not piece.at_rim or (piece is not part and is_slug(piece, pieces))]
    counted = []
    if held.by in AREA_KINDS:
        place = case.place(min(piece.freed_by for piece in free))
        what = f"Line {place.line}: from here on {held.by} holds alone, and how strongly nobody says."
        do = f"Try by hand whether the {held.by} holds before this line, or leave a skin or tabs."
        counted.append(Counted(place, what, do, Answer.CARE))
    else:
        for piece in loose:
            place = case.place(piece.freed_by)
            what = f"Line {place.line}: {piece_words(case, piece)} comes free and lies loose beside the turning tool."
            do = "Leave a skin or tabs under it, or stop after this line and take it out."
            counted.append(Counted(place, what, do, Answer.CARE))
    note = f"That {held.by} hold{'s' if held.by not in ('screws', 'clamps') else ''} the part after the last cut is your word."
    return Freed(counted=tuple(counted), notes=(note,), clear=f"{count(len(free), 'piece')} cut free.")


def _skin(case: Case, facts: Leaning, told: Followed, held: AfterCutFree) -> tuple[Limit, ...]:
    """The skin that is left under the deepest cut, with the doubt of blank and tool: cut through, it holds nothing."""
    if held.by != "skin":
        return ()
    facts.setting(SAID)
    lowest = told.likely.moves.lowest_mm
    cuts = np.flatnonzero(np.isfinite(lowest))
    bottom = _bottom(facts, told)
    if not cuts.size or bottom is None:
        return ()
    move = int(cuts[np.argmin(lowest[cuts])])
    tip = tip_in_work(case, facts, int(case.moves.frame[move, 2]), int(case.moves.tool[move]))
    if tip is None:
        return ()
    left = tip - best(facts.facts, tip) + float(lowest[move]) - bottom
    thick, place = best(facts.facts, left), case.place(move)
    if thick > 2 * (held.thick_mm or 0.0) or math.isnan(thick):
        return ()  # no cut comes near the bottom: there is no skin to speak of
    what = f"Line {place.line}: the deepest cut leaves a skin of {case.units.length(thick)}."
    return (
        Limit(place, exact(0.0), left, what, "Measure the blank's thickness and this tool's length, or leave more."),
    )


def _bottom(facts: Leaning, told: Followed) -> Form | None:
    """The blank's bottom: as the job writes it, or that of its shape with the doubt of its faces."""
    for kind in ("box", "cylinder"):
        fact = facts.number_if_known(f"job.stock.{kind}.z.low")
        if fact is not None:
            return of(fact)
    faces = facts.number_if_known(STOCK_FACES)
    return None if faces is None else of(faces, -1.0) + (told.likely.before.bottom_mm + faces.value)
