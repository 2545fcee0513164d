"""Part: will walls and floors be on size?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from firstoff.facts.fact import Leaning
from firstoff.loads.cut_loads import Candidate, Quantity, Stretch
from firstoff.removal.swept import ThinWall
from firstoff.verdict.bending import Spring, as_length, axial_spring, in_series, softest, springs_at, wall_spring
from firstoff.verdict.case import Case, best
from firstoff.verdict.features import Toleranced, nothing_to_judge, toleranced
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, Scale, log_exact, of
from firstoff.verdict.load_forms import log_best, log_form
from firstoff.verdict.positions import tip_in_work
from firstoff.verdict.question import Answer, Check, Counted, Finding, Limit, Place, Question, Risk
from firstoff.verdict.stretches import candidates, cut_program, doubts_of, tool_words, with_loads

QUESTION = Question("size", Risk.PART, "Will walls and floors be on size?")
UM = 1000.0
SWINGS = (0.7, 1.4)
"""Edges that pass at this many times the frame's own frequency swing it by more than a push at rest would bend it twice over (one mass
on a spring: 1/|1 − r²|)."""
WIDE = 0.5
"""Part of the diameter from which most of a cut's force acts on what stands before the cutter, and little of it on a thin wall beside."""
THIN_WALL = "Take it in light cuts, a few tenths of a millimetre wide, from the top down and on both sides in turn, or hold it up."
SPRING_PASS = "Take the last cut again (a spring pass), leave less for it, or hold the tool shorter."
NOT_LOOKED_AT = (
    "The program is taken to aim at the middle of the tolerance, for diameters and lengths as written. The axes' own errors, heat, tilt "
    "of the spindle, thin floors and wear on the way were not looked at."
)

STEEPEST = 2.0
"""Greatest exponent of a push that is a product (ours): of two parts that leave half of the greater one each has an exponent of two at most;
with both known to a quarter such a rest comes to nothing once in forty."""


@dataclass(frozen=True, slots=True)
class Off:
    """How far one cut leaves a feature off its size, mm; positive = material left. `bend` is the logarithm of what gives way (None:
    nothing pushes) and `way` its sign; `rest` is what is not bend, `rest_words` names it."""

    move: int
    name: str
    rest: Form
    rest_words: str
    do: str
    bend: Form | None = None
    way: float = 1.0
    gives: str = ""
    """What gives most, in words."""
    aside: str = ""
    """Said in place of a figure where something gives way by all that there is: no figure would be true."""
    of_factors: bool = True
    """Whether the push is a product, so that its doubt is one of factors. What two parts leave of each other may as well be nothing, or turn its
    sign: its logarithm says nothing, its doubt is a sum, and the whole in µm has it."""

    def whole(self, facts: Leaning) -> Form:
        return self.rest if self.bend is None else self.rest + as_length(self.bend, facts).scaled(self.way)


def find(case: Case, facts: Leaning) -> Finding:
    """Each wall and floor with a tolerance: what gives way while the edge makes it, run-out, and the doubt of diameter or length.

    Held against half of the tolerance twice: the push alone in logarithms, because its doubt is one of factors, and the whole in µm.
    """
    features = toleranced(facts, "wall", "floor")
    if not features:
        return nothing_to_judge(facts, "no wall, bore, slot, pocket or floor with a tolerance among the features")
    told, needs = cut_program(case, facts)
    if told is None:
        return Finding((), tuple(needs))
    stretches = list(with_loads(case, facts, told, needs))
    whole: list[Limit] = []
    push: list[Limit] = []
    counted: list[Counted] = []
    clear: list[str] = []
    for feature in features:
        makers = [one for one in stretches if feature.made_by(one.tool)]
        walls = feature.kind == "wall"
        found = list(
            _walls(case, facts, told, makers, feature) if walls else _floors(case, facts, told, makers, feature)
        )
        whole += [limit for off in found for limit in _both_ways(case, facts, feature, off)]
        push += [_push(case, facts, feature, off, off.bend) for off in found if off.bend is not None and off.of_factors]
        counted += [one for maker in makers if found and (one := _swings(case, facts, maker)) is not None]
        counted += [one for maker in makers if walls for one in _too_thin(case, facts, told, maker, feature)]
        if found:
            clear.append(_clear(case, facts, feature, found))
        elif not needs and not facts.missing:
            counted.append(_nothing_makes_it(feature))
    checks = (
        Check(Scale.DIFFERENCE, "µm", tuple(whole), (), " ".join(clear)),
        Check(Scale.RATIO, "µm", tuple(push)),
        Check(Scale.COUNT, "", (), tuple(counted)),
    )
    return Finding(checks, tuple(needs), (NOT_LOOKED_AT, *doubts_of(stretches)))


def _walls(
    case: Case, facts: Leaning, told: Followed, makers: Sequence[Stretch], feature: Toleranced
) -> Iterator[Off]:  # fmt: skip
    """The stations that push a wall's edge most, and the thin walls of their stretch; each error counts once a wall of the size."""
    count = feature.walls
    for maker in makers:
        diameter, run_out = facts.number(f"tools.{maker.name}.DC"), facts.number(f"tools.{maker.name}.run_out")
        if diameter is None or run_out is None:
            continue
        # Run-out turns a tool as if it were wider by what the indicator reads; DC as written is what the path was made for.
        rest = (-of(diameter) + diameter.value - of(run_out)).scaled(count / 2)
        words = f"run-out {case.units.fine(run_out.value)}, doubt of its diameter {case.units.fine(diameter.u)}"
        for candidate in _at_feature(told, maker, feature):
            springs = springs_at(facts, maker.name, candidate)
            if springs is not None:
                off = Off(candidate.move, tool_words(maker.name, maker.tool), rest, words, SPRING_PASS)
                yield _bent(case, facts, off, count, candidate, springs)
        for wall, candidate in _on_thin(told, maker, feature):
            springs, soft = springs_at(facts, maker.name, candidate), wall_spring(facts, maker.name, wall, candidate)
            if springs is not None and soft is not None and not _is_wide(candidate, diameter.value):
                off = Off(wall.move, tool_words(maker.name, maker.tool), rest, words, THIN_WALL)
                yield _bent(case, facts, off, count, candidate, (*springs, soft), wall)


def _at_feature(told: Followed, maker: Stretch, feature: Toleranced) -> list[Candidate]:
    """The pushes of those of a stretch's moves whose walls are where the feature is; its least push where such walls are there and none of
    the pushes that are kept is theirs: they push no more."""
    pushes, boxes = list(candidates(maker, Quantity.WALL)), told.surfaces.walls_mm
    if feature.at is None or boxes is None or not pushes:
        return pushes
    own = [one for one in pushes if feature.holds(*boxes[one.move].T.tolist())]
    if own:
        return own
    moves = range(maker.first_move, maker.last_move + 1)
    there = any(told.surfaces.wall_moves[move] and feature.holds(*boxes[move].T.tolist()) for move in moves)
    return [min(pushes, key=lambda push: abs(push.value))] if there else []


def _on_thin(told: Followed, maker: Stretch, feature: Toleranced) -> Iterator[tuple[ThinWall, Candidate]]:
    """The thin walls of a stretch, each with the pushes of the move that made it last. Where that is none of those that push most, the least
    of them stands for it: it pushes no more."""
    pushes = list(candidates(maker, Quantity.WALL))
    for wall in told.surfaces.thin_walls:
        if not pushes or not maker.first_move <= wall.move <= maker.last_move:
            continue
        if feature.at is not None and not feature.holds((*wall.at_mm, -math.inf), (*wall.at_mm, math.inf)):
            continue
        own = [one for one in pushes if one.move == wall.move]
        for one in own or [min(pushes, key=lambda push: abs(push.value))]:
            yield wall, one


def _is_wide(push: Candidate, diameter_mm: float) -> bool:
    return push.radial_mm > WIDE * diameter_mm


def _too_thin(
    case: Case, facts: Leaning, told: Followed, maker: Stretch, feature: Toleranced
) -> Iterator[Counted]:  # fmt: skip
    """Thin walls beside cuts so wide that nobody can tell how much of their force the wall feels."""
    diameter = facts.number(f"tools.{maker.name}.DC")
    wide = {
        wall.move: (wall, push)
        for wall, push in _on_thin(told, maker, feature)
        if diameter is not None and _is_wide(push, diameter.value)
    }
    for wall, push in wide.values():
        place = case.place(wall.move)
        what = (
            f"Line {place.line}: {tool_words(maker.name, maker.tool)} cuts {case.units.length(push.radial_mm)} wide beside {_wall_words(case, wall)}: "
            "that it gives way is certain, by how much is not worked out."
        )
        yield Counted(place, what, THIN_WALL, Answer.UNJUDGED)


def _wall_words(case: Case, wall: ThinWall) -> str:
    return f"a wall {case.units.length(wall.thickness_mm)} thick and {case.units.length(wall.height_mm)} high"


def _bent(
    case: Case,
    facts: Leaning,
    off: Off,
    count: int,
    push: Candidate,
    springs: Sequence[Spring],
    wall: ThinWall | None = None,
) -> Off:
    """With what gives way under a push. A cut leaves no more than it was to take, and no wall is pulled in by more than it is thick."""
    force = log_form(abs(push.value), push.exponents, facts)
    if force is None:
        return off
    bend, aside = force + in_series(springs, facts), ""
    most = push.radial_mm if push.value > 0 else wall.thickness_mm if wall is not None else math.inf
    if 0 < most <= log_best(bend, facts):
        bend = log_exact(most)
        if wall is None:
            aside = f"is pushed off by all of the {case.units.length(most)} that it should take there"
        elif push.value > 0:
            aside = f"pushes {_wall_words(case, wall)} aside by all of the {case.units.length(most)} that it should take off it"
        else:
            aside = f"pulls {_wall_words(case, wall)} into its edge"
    way = math.copysign(1.0, push.value)
    factors = _is_product(push)
    return replace(
        off,
        bend=bend + math.log(count),
        way=way,
        gives=softest(springs),
        aside=aside,
        of_factors=factors or bool(aside),
    )


def _is_product(push: Candidate) -> bool:
    return max((abs(power) for _, power in push.exponents), default=0.0) <= STEEPEST


def _floors(
    case: Case, facts: Leaning, told: Followed, makers: Sequence[Stretch], feature: Toleranced
) -> Iterator[Off]:  # fmt: skip
    """The greatest floor of each tool where the feature is (told by its height, and by the one place of it that is kept if any lies there): the height of its tip over the work zero, and how far the cut lifts it."""
    for maker in makers:
        floors = [one for one in told.surfaces.floors if maker.first_move <= one.move <= maker.last_move]
        level = [
            one for one in floors if feature.holds((-math.inf, -math.inf, one.z_mm), (math.inf, math.inf, one.z_mm))
        ]
        there = [one for one in level if feature.holds((*one.at_mm, one.z_mm), (*one.at_mm, one.z_mm))]
        floors = there or level
        if not floors:
            continue
        floor = max(floors, key=lambda one: one.area_mm2)
        tip = tip_in_work(case, facts, int(case.moves.frame[floor.move, 2]), floor.tool)
        if tip is None:
            continue
        rest = tip - best(facts.facts, tip)
        words = "doubt of its length and of the zero"
        do = "Measure the tool and the zero again, or cut the floor in two depths and measure between them."
        name = tool_words(maker.name, maker.tool)
        yield Off(floor.move, name, rest, words, do)
        for candidate in candidates(maker, Quantity.FLOOR):
            spring, force = axial_spring(facts), log_form(abs(candidate.value), candidate.exponents, facts)
            if spring is not None and force is not None:
                bend = force + in_series((spring,), facts)
                way = math.copysign(1.0, candidate.value)
                off = Off(candidate.move, name, rest, words, do, bend, way, softest((spring,)))
                yield replace(off, of_factors=_is_product(candidate))


def _both_ways(case: Case, facts: Leaning, feature: Toleranced, off: Off) -> list[Limit]:
    """Too much left, and too much taken, against half of the tolerance."""
    whole, allowed = off.whole(facts), of(feature.tol, UM / 2)
    value, place = best(facts.facts, whole), case.place(off.move)
    side = "left" if value >= 0 else "taken"
    gives = f"gives way by {case.units.fine(_bend_mm(facts, off))}, {off.gives}; with " if off.bend else "has "
    if off.aside:
        said = _aside(case, feature, off, place)
        return [Limit(place, whole.scaled(sign * UM), allowed, said, off.do) for sign in (1.0, -1.0)]
    what = (
        f"Line {place.line}: {off.name} {gives}{off.rest_words}. In all {case.units.fine(abs(value))} too much is {side} of the "
        f"{feature.what}; {case.units.fine(feature.tol.value / 2)} either way are allowed."
    )
    return [Limit(place, whole.scaled(sign * UM), allowed, what, off.do) for sign in (1.0, -1.0)]


def _aside(case: Case, feature: Toleranced, off: Off, place: Place) -> str:
    allowed = case.units.fine(feature.tol.value / 2)
    return f"Line {place.line}: {off.name} {off.aside}; {allowed} either way are allowed of the {feature.what}."


def _push(case: Case, facts: Leaning, feature: Toleranced, off: Off, bend: Form) -> Limit:
    place = case.place(off.move)
    if off.aside:
        return Limit(
            place, bend + math.log(UM), of(feature.tol) + math.log(UM / 2), _aside(case, feature, off, place), off.do
        )
    what = (
        f"Line {place.line}: {off.name} gives way by {case.units.fine(_bend_mm(facts, off))} while it makes the {feature.what}, "
        f"{off.gives}; {case.units.fine(feature.tol.value / 2)} either way are allowed."
    )
    return Limit(place, bend + math.log(UM), of(feature.tol) + math.log(UM / 2), what, off.do)


def _bend_mm(facts: Leaning, off: Off) -> float:
    return 0.0 if off.bend is None else best(facts.facts, as_length(off.bend, facts))


def _swings(case: Case, facts: Leaning, maker: Stretch) -> Counted | None:
    """Edges that pass about as often as the frame swings by itself: what a push at rest bends is then no guide."""
    mode = facts.number_if_known("machine.frame.first_mode")
    edges = facts.setting_if_known(f"tools.{maker.name}.ZEFP")
    if (
        mode is None
        or not isinstance(edges, int)
        or not SWINGS[0] < abs(maker.turns_per_s) * edges / mode.value < SWINGS[1]
    ):
        return None
    place = case.place(maker.first_move)
    what = (
        f"Line {place.line}: the edges of {maker.name} pass {abs(maker.turns_per_s) * edges:.0f} times a second, near the {mode.value:.0f} a "
        "second at which the frame swings by itself: it may move many times as far as it is pushed."
    )
    return Counted(place, what, "Change S by a third, or listen to a light cut first.", Answer.CARE)


def _nothing_makes_it(feature: Toleranced) -> Counted:
    who = (
        f"T{feature.tool} leaves no {feature.kind}" if feature.tool is not None else f"No tool leaves a {feature.kind}"
    )
    what = f"{who} that still stands at the end, so the {feature.what} could not be judged."
    do = "Say which T makes it (tool = ...). What a drill or a tap leaves is not reckoned: measure the first one."
    return Counted(Place(0), what, do, Answer.UNJUDGED, f"{feature.path}.tool")


def _clear(case: Case, facts: Leaning, feature: Toleranced, found: Sequence[Off]) -> str:
    worst = max(found, key=lambda off: abs(best(facts.facts, off.whole(facts))))
    off = case.units.fine(abs(best(facts.facts, worst.whole(facts))))
    bend = f"{case.units.fine(_bend_mm(facts, worst))} of bend, " if worst.bend is not None else ""
    return f"The {feature.what} comes out {off} off ({bend}{worst.rest_words}); {case.units.fine(feature.tol.value / 2)} either way are allowed."
