"""Part: will it slide, lift or tip, and what holds it at the last cut?"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.program.bounds import by_frame
from firstoff.removal.field import NOTHING as NO_STOCK
from firstoff.removal.field import Field
from firstoff.removal.swept import Piece
from firstoff.verdict.case import Case
from firstoff.verdict.cut_free import Freed, cut_free, freeing, is_slug, piece_words
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.grips import HOLDING, NOTHING, Grip, Seat, area_grip, grip_of, push_of, turn_of
from firstoff.verdict.load_forms import demand_of, log_form
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Question, Risk
from firstoff.verdict.stretches import candidates, cut_program, doubts_of, with_loads
from firstoff.verdict.words import two_figures

QUESTION = Question("holding", Risk.PART, "Will it slide, lift or tip, and what holds it at the last cut?")
PUSHES = (Quantity.FORCE, Quantity.LIFT)
"""Thrust seats the part where it lies on something, and is left out there."""
NOT_LOOKED_AT = (
    "Held against the mean force of a turn; where clamps press, how flat the part lies and whether a drill grabs as it breaks through were not "
    "looked at: moments count about the middle of the blank."
)
ADVICE = {
    "vice": "Close the vice harder, grip deeper, or take less at a time: half the width of cut nearly halves the push.",
    "clamps": "Tighten the clamps, add one or a stop against the push, or take less at a time.",
    "screws": "Tighten the screws, add one or a stop against the push, or take less at a time.",
}
SLUG_HELD = 1.0
"""A slug is held well enough if what is under it bears this many times the push at its rim at best estimates."""
OTHER_ADVICE = "Hold it on more area, put a stop against the push, or take less at a time."


def find(case: Case, facts: Leaning) -> Finding:
    """Every stretch's pushes and lifts against the grip, and what the last cut leaves loose."""
    kind = facts.setting(f"{HOLDING}.kind")
    told, needs = cut_program(case, facts)
    if told is None or not isinstance(kind, str):
        return Finding((), tuple(needs))
    seat = seat_of(told.smallest.before)
    grip = grip_of(facts, kind, seat)
    stretches = list(with_loads(case, facts, told, needs))
    pulls: list[Limit] = []
    tips: list[Limit] = []
    turns: list[Limit] = []
    for stretch in stretches if grip is not None else ():
        top, aside = _highest_cut(told, stretch), 0.0 if grip is None else _farthest_cut(case, told, stretch, grip)
        for candidate in candidates(stretch, *PUSHES):
            demand = None if grip is None else _demand(grip, candidate, facts)
            if demand is not None and grip is not None:
                pulls.append(_pull(case, facts, grip, stretch, candidate, demand))
                tips += _tips(case, grip, stretch, candidate, demand, top)
                turns += _turns(case, grip, stretch, candidate, demand, aside)
        if grip is not None:
            tips += _over_the_end(case, facts, grip, stretch)
            turns += _twists(case, facts, grip, stretch)
    freed = cut_free(case, facts, told, kind)
    last, peels, loose = _at_the_last_cut(case, facts, seat, freed, told, stretches)
    hung, folds = _on_skin_or_tabs(case, facts, seat, freed, stretches)
    checks = (
        Check(Scale.RATIO, "N", (*pulls, *last, *hung), (), _clear(facts, pulls, (*tips, *turns))),
        Check(Scale.RATIO, "N·mm", (*tips, *turns, *peels, *folds)),
        Check(Scale.DIFFERENCE, "mm", freed.skins),
        Check(Scale.COUNT, "", (), (*freed.counted, *loose), freed.clear),
    )
    return Finding(checks, (*needs, *freed.needs), (NOT_LOOKED_AT, *freed.notes, *doubts_of(stretches)))


def _demand(grip: Grip, candidate: Candidate, facts: Leaning) -> Form | None:
    """The candidate's size, going with each fact as the push does that it makes: sideways as side forces go (radial ratio), upward as the
    drag along the helix goes (axial ratio), each by its part of the square."""
    alone = demand_of(candidate, facts)
    if alone is None:
        return None
    push = push_of(grip, _force(candidate), _at(candidate, -math.inf), candidate.value)
    square = push.sideways_n**2 + push.upward_n**2
    own = dict(candidate.exponents)
    axial, radial = (
        f"materials.{facts.setting_if_known('job.material')}.{ratio}_ratio" for ratio in ("axial", "radial")
    )
    if square <= 0.0 or not own or axial not in facts.facts.facts or radial not in facts.facts.facts:
        return alone
    lift = push.upward_n**2 / square
    ratio = facts.facts.facts[radial].value
    sideways = own.get(radial, 0.0) if axial not in own else ratio**2 / (1.0 + ratio**2)
    mixed = {**own, axial: lift, radial: (1.0 - lift) * sideways}
    return log_form(candidate.value, tuple((path, power) for path, power in mixed.items() if power != 0.0), facts)


def _at_the_last_cut(
    case: Case, facts: Leaning, seat: Seat, freed: Freed, told: Followed, stretches: list[Stretch]
) -> tuple[list[Limit], list[Limit], list[Counted]]:
    """Pieces that only the area under them holds, against the pushes of the stretch that parts them, slid and tipped: the part by its
    chance, a slug by whether it is held."""
    limits: list[Limit] = []
    peels: list[Limit] = []
    counted: list[Counted] = []
    kind = facts.setting_if_known(f"{HOLDING}.kind")
    for piece in freed.by_area:
        stretch = freeing(stretches, piece)
        grip = area_grip(facts, str(kind), seat, piece.held_area_mm2)
        if stretch is None or grip is None:
            continue
        pushes = [
            (candidate, demand)
            for candidate in candidates(stretch, *PUSHES)
            if (demand := _demand(grip, candidate, facts)) is not None
        ]
        mine = [_pull(case, facts, grip, stretch, candidate, demand, piece) for candidate, demand in pushes]
        if not is_slug(piece, told.surfaces.pieces):
            limits += mine
            peels += [_peel(case, facts, grip, piece, *each) for each in pushes]
        elif mine and max(_best_log(facts, limit.demand - limit.capacity) for limit in mine) > -math.log(SLUG_HELD):
            counted.append(_hardly_held(case, facts, grip, piece, max(candidate.value for candidate, _ in pushes)))
    return limits, peels, counted


def _hardly_held(case: Case, facts: Leaning, grip: Grip, piece: Piece, push_n: float) -> Counted:
    """A piece that is small beside the greatest; whether it is a slug or the part out of a large plate, nobody says."""
    place, bears = case.place(piece.freed_by), math.exp(_best_log(facts, grip.pull))
    what = (
        f"Line {place.line}: {piece_words(case, piece)} comes free, and the {grip.kind} under it hardly holds it: it {_bear(grip.kind)} "
        f"{two_figures(bears)} N of the {two_figures(push_n)} N that push it. If it is the part, it is lost."
    )
    return Counted(place, what, "Leave a skin or tabs under it, or clear it away first.", Answer.CARE)


def _peel(case: Case, facts: Leaning, grip: Grip, piece: Piece, candidate: Candidate, demand: Form) -> Limit:
    """Tipping of a piece off what is under it."""
    moment, bears = _over_edge(grip, candidate, math.sqrt(piece.held_area_mm2)), grip.tips[0][1]
    place = case.place(piece.freed_by)
    what = (
        f"Line {place.line}: {two_figures(moment / 1000)} N·m would tip {piece_words(case, piece)} off the {grip.kind} under it, which "
        f"{_bear(grip.kind)} {two_figures(math.exp(_best_log(facts, bears)) / 1000)} N·m then."
    )
    do = "Leave a skin or tabs under it, hold it on more area, or take less at a time in the last cut."
    return Limit(place, demand + math.log(max(moment, NOTHING) / candidate.value), bears, what, do)


def _over_edge(grip: Grip, candidate: Candidate, breadth_mm: float) -> float:
    """The moment, N·mm, of a push about the edge of a body somewhere on its bed: sideways by its height, upward by half the breadth."""
    at = _at(candidate, -math.inf)
    push = push_of(grip, _force(candidate), at, candidate.value)
    return push.sideways_n * max(at[2] - grip.centre_mm[2], 0.0) + push.upward_n * breadth_mm / 2


def _on_skin_or_tabs(
    case: Case, facts: Leaning, seat: Seat, freed: Freed, stretches: list[Stretch]
) -> tuple[list[Limit], list[Limit]]:
    """What hangs on by skin or tabs alone, against the pushes of the stretch that leaves it so and of all that follow: torn off, and folded
    over on its skin."""
    torn: list[Limit] = []
    folded: list[Limit] = []
    for one in freed.hangs:
        grip = Grip("skin or tabs", one.bears, (), (*seat.middle_mm, seat.bottom_mm), None)
        place = case.place(one.move)
        for stretch in (stretch for stretch in stretches if stretch.last_move >= one.move):
            for candidate in candidates(stretch, *PUSHES):
                demand = _demand(grip, candidate, facts)
                if demand is None:
                    continue
                push = push_of(grip, _force(candidate), _at(candidate, -math.inf), candidate.value)
                what = (
                    f"Line {place.line}: from here on {one.words} holds against {push.sideways_n:.0f} N sideways and {push.upward_n:.0f} N "
                    f"up; it bears about {math.exp(_best_log(facts, one.bears)):.0f} N."
                )
                do = "Leave a thicker skin, more or wider tabs, or take less at a time in the last cut."
                torn.append(Limit(place, demand + push.asked, one.bears, what, do))
                moment = _over_edge(grip, candidate, one.breadth_mm)
                if one.folds is not None and moment > 0.0:
                    what = (
                        f"Line {place.line}: from here on {one.words} holds against {two_figures(moment / 1000)} N·m that would fold it over; "
                        f"it bears about {two_figures(math.exp(_best_log(facts, one.folds)) / 1000)} N·m."
                    )
                    folded.append(Limit(place, demand + math.log(moment / candidate.value), one.folds, what, do))
    return torn, folded


def seat_of(blank: Field) -> Seat:
    """How the blank sits: the smallest that it may be."""
    box = _box_of(blank)
    if box is None:
        return Seat(blank.bottom_mm, (blank.grid.x0_mm, blank.grid.y0_mm))
    sides = box[1] - box[0], box[3] - box[2]
    return Seat(blank.bottom_mm, ((box[0] + box[1]) / 2, (box[2] + box[3]) / 2), max(sides), min(sides))


def _box_of(blank: Field) -> tuple[float, float, float, float] | None:
    """Least and greatest X, least and greatest Y of a blank's outline; None where there is none."""
    there, grid = blank.top > NO_STOCK, blank.grid
    rows, columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    if not rows.size:
        return None
    x0, x1 = (float(grid.x0_mm + grid.cell_mm * column) for column in (columns[0], columns[-1] + 1))
    y0, y1 = (float(grid.y0_mm + grid.cell_mm * row) for row in (rows[0], rows[-1] + 1))
    return x0, x1, y0, y1


def _highest_cut(told: Followed, stretch: Stretch) -> float:
    """The highest middle of a cut in a stretch, work frame: the same push tips most where it acts highest."""
    moves = told.likely.moves
    rows = slice(stretch.first_move, stretch.last_move + 1)
    middle = moves.lowest_mm[rows] + moves.axial_mm[rows] / 2
    known = middle[np.isfinite(middle)]
    return float(known.max()) if known.size else -math.inf


def _farthest_cut(case: Case, told: Followed, stretch: Stretch, grip: Grip) -> float:
    """How far from the middle, seen from above, a stretch cuts: the same push turns most where it acts farthest out. By what it cut last,
    and by the ends of its cuts, where another tool went over them later."""
    maker, grid = told.likely.maker, told.likely.after.grid
    rows, columns = np.nonzero((maker >= stretch.first_move) & (maker <= stretch.last_move))
    x = grid.x0_mm + (columns + 0.5) * grid.cell_mm - grip.centre_mm[0]
    y = grid.y0_mm + (rows + 0.5) * grid.cell_mm - grip.centre_mm[1]
    return max(float(np.hypot(x, y).max(initial=0.0)), _farthest_end(case, told, stretch, grip))


def _farthest_end(case: Case, told: Followed, stretch: Stretch, grip: Grip) -> float:
    """The same by where moves that cut begin and end, within the blank; its farthest corner where nobody knows in which frame they are."""
    box = _box_of(told.likely.before)
    if box is None:
        return 0.0
    low, high = np.array([box[0], box[2]]), np.array([box[1], box[3]])
    moves = np.arange(stretch.first_move, stretch.last_move + 1)
    cuts = moves[told.likely.moves.volume_mm3[moves] > 0]
    ends = np.concatenate([cuts, np.maximum(cuts - 1, 0)])
    frames = case.reading.frames
    at = (case.moves.end_mm + by_frame(frames.shift_mm, case.moves)).take(ends, axis=0)[:, :2]
    plain = by_frame(frames.base == case.stock_base, case.moves)
    known = (plain[:, 0] & plain[:, 1])[ends] & np.isfinite(at[:, 0]) & np.isfinite(at[:, 1])
    if not known[: cuts.size].all():
        at = np.array([[x, y] for x in box[:2] for y in box[2:]])
    else:
        at = np.clip(at[known], low, high)
    return float(np.hypot(*(at - np.array(grip.centre_mm[:2])).T).max(initial=0.0))


def _turns(
    case: Case, grip: Grip, stretch: Stretch, candidate: Candidate, demand: Form, aside_mm: float
) -> list[Limit]:  # fmt: skip
    """Turning about the vertical, with the push across the way to the middle at the place farthest out."""
    at = _at(candidate, -math.inf)
    aside = max(aside_mm, math.hypot(at[0] - grip.centre_mm[0], at[1] - grip.centre_mm[1]))
    push = push_of(grip, _force(candidate), at, candidate.value)
    asked = turn_of(grip, push, candidate.value, aside)
    if asked is None or grip.turn is None:
        return []
    place, moment = case.place(candidate.move), push.sideways_n * aside / 1000
    what = (
        f"Line {place.line}: {stretch.name} pushes with {push.sideways_n:.0f} N up to {case.units.length(aside)} beside the middle of the "
        f"blank: {two_figures(moment)} N·m would turn it about the vertical in the {grip.kind}."
    )
    do = "Put a stop against the turn, hold it on a wider base, or take less at a time."
    return [Limit(place, demand + asked, grip.turn, what, do)]


def _twists(case: Case, facts: Leaning, grip: Grip, stretch: Stretch) -> list[Limit]:
    """The torque of a drill or a tap, which the part must bear; of a milling cutter it is in its push. That a drill presses the part down
    is left out: where it breaks through it does not, and there it needs as much."""
    drills = Quantity.DRILL_THRUST in stretch.candidates
    limits = []
    for candidate in candidates(stretch, Quantity.TAP_TORQUE, *((Quantity.TORQUE,) if drills else ())):
        demand, place = demand_of(candidate, facts), case.place(candidate.move)
        if demand is None or grip.turn is None:
            continue
        what = (
            f"Line {place.line}: {stretch.name} turns the part about the vertical with {two_figures(candidate.value / 1000)} N·m; the {grip.kind} "
            f"{_bear(grip.kind)} {two_figures(math.exp(_best_log(facts, grip.turn)) / 1000)} N·m."
        )
        limits.append(Limit(place, demand, grip.turn, what, "Put a stop against the turn, or hold it on a wider base."))
    return limits


def _over_the_end(case: Case, facts: Leaning, grip: Grip, stretch: Stretch) -> list[Limit]:
    """What is pushed down beside what the part lies on. Which way the jaws run is not known: along that side on which it is farther out."""
    limits = []
    for candidate in candidates(stretch, Quantity.THRUST):
        out = max(abs(at - middle) for at, middle in zip(candidate.tip_mm[:2], grip.centre_mm[:2], strict=True))
        beyond, demand = out - grip.lies_mm, demand_of(candidate, facts)
        if not beyond > 0.0 or demand is None:
            continue
        place, (way, bears) = case.place(candidate.move), grip.tips[-1]
        what = (
            f"Line {place.line}: {stretch.name} pushes down with {two_figures(candidate.value)} N, {case.units.length(beyond)} beyond the end of "
            f"the jaws: {two_figures(candidate.value * beyond / 1000)} N·m would tip it {way}."
        )
        do = "Put a jack under that end, let it stick out less, or feed less there."
        limits.append(Limit(place, demand + math.log(beyond), bears, what, do))
    return limits


def _pull(
    case: Case,
    facts: Leaning,
    grip: Grip,
    stretch: Stretch,
    candidate: Candidate,
    demand: Form,
    piece: Piece | None = None,
) -> Limit:
    """Sliding and lifting at one station: the whole grip, or what holds one piece when it is parted."""
    push = push_of(grip, _force(candidate), _at(candidate, -math.inf), candidate.value)
    place = case.place(candidate.move if piece is None else piece.freed_by)
    ways = [f"pushes with {push.sideways_n:.0f} N sideways"] if push.sideways_n >= 0.5 else []
    ways += [f"pulls up with {push.upward_n:.0f} N"] if push.upward_n >= 0.5 else []
    bears = f"the {grip.kind} {_bear(grip.kind)} {math.exp(_best_log(facts, grip.pull)):.0f} N"
    if piece is not None:
        bears = (
            f"the {grip.kind} under {piece_words(case, piece)} bears {math.exp(_best_log(facts, grip.pull)):.0f} N then"
        )
    what = f"Line {place.line}: {stretch.name} {' and '.join(ways) or 'hardly pushes'}; {bears}."
    return Limit(place, demand + push.asked, grip.pull, what, ADVICE.get(grip.kind, OTHER_ADVICE))


def _tips(case: Case, grip: Grip, stretch: Stretch, candidate: Candidate, demand: Form, top_mm: float) -> list[Limit]:
    push = push_of(grip, _force(candidate), _at(candidate, top_mm), candidate.value)
    if push.moment_mm <= 0:
        return []
    place = case.place(candidate.move)
    moment = push.moment_mm * candidate.value / 1000
    height = case.units.length(_at(candidate, top_mm)[2] - grip.centre_mm[2])
    limits = []
    for way, bears in grip.tips:
        what = f"Line {place.line}: {stretch.name} pushes up to {height} above where it is held: {two_figures(moment)} N·m would tip it {way}."
        asked = demand + math.log(push.moment_mm)
        limits.append(Limit(place, asked, bears, what, "Hold it higher up or on a wider base, or take less at a time."))
    return limits


def _bear(kind: str) -> str:
    return "bear" if kind.endswith("s") else "bears"


def _force(candidate: Candidate) -> tuple[float, float, float]:
    """The force on the part; where the loads do not tell its direction, all of it sideways."""
    return candidate.force_n if any(candidate.force_n) else (candidate.value, 0.0, 0.0)


def _at(candidate: Candidate, top_mm: float) -> tuple[float, float, float]:
    x, y, z = candidate.tip_mm
    return x, y, max(z + candidate.lever_mm, top_mm)


def _best_log(facts: Leaning, form: Form) -> float:
    return form.at(lambda path: math.log(facts.facts.facts[path].value))


def _clear(facts: Leaning, pulls: Sequence[Limit], moments: Sequence[Limit]) -> str:
    """By how much what holds it is stronger: sliding and lifting, and what would tip or turn it."""
    pushed, turned = (
        min((_best_log(facts, limit.capacity - limit.demand) for limit in limits), default=None)
        for limits in (pulls, moments)
    )
    tips = "" if turned is None else f"{two_figures(math.exp(turned))} times what would tip or turn it"
    if pushed is None:
        return "Nothing pushes it sideways or up." + (f" What holds it bears at least {tips}." if tips else "")
    return f"What holds it bears at least {two_figures(math.exp(pushed))} times the greatest push{' and ' * bool(tips)}{tips}."
