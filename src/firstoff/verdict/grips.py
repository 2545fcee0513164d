"""What a way of holding can bear: statics with friction, one model a kind, as capacities in logarithms of N and of N·mm.

All are the first things that a text on fixtures says (common practice), each on the side of too little:

- vice: two faces rub, so a pull along the jaws or up is borne by 2·µ·F; a push over the top only moves the fixed jaw's pressure from the
  middle of the grip to its edge, F·g/2 (the moving jaw gives way); along the jaws friction alone stops it from tipping, at a mean arm of
  a quarter of the width held, 2·µ·F·w/4;
- clamps and screws press n·F on the table, which rubs; a lift takes its part of that away; a moment is borne by n·F·s/2 over the span s, or
  over the narrower side of the blank, where that is less: a bar held at both ends tips over its long edge;
- tape, glue and wax let go at a stress: A·σ however it pulls, and σ·A·s/6 for a moment (section modulus of a rectangle of breadth s);
- vacuum presses A·p, rubs like clamps, and tips over the edge of its area, A·p·s/2.

About the vertical, by the moment of what rubs about the middle of the blank:

- vice: the fixed jaw's pressure moves from the middle of the grip to its end, F·w/2; what rubs is left out;
- clamps and screws: the two outermost alone, µ·F at half the span each, µ·F·s; a single one as a disc as broad as the span,
  2/3·µ·F·s/2 (friction of a flat pivot under even pressure: any text on machine elements, from memory);
- vacuum: as a disc as broad as its narrower side, 2/3·µ·A·p·s/2;
- tape, glue and wax: torsion of a square of breadth s, whose corner bears most: σ·J/r = σ·A·s·√2/6 with J = A·s²/6 and r = s/√2.

What is parted is pushed at its rim, as the cut goes round it, and turned by as much. Taken as a disc of the same area A and radius R, pulled
and turned together it bears a third of its pull where it is stuck down (1/A + R·R/J with J = A·R²/2), two fifths where it rubs (2/3·µ·F·R).

A push downward seats the part where it lies on something. What sticks out of the jaws of a vice lies on nothing: there it tips the part
over their end.

A push beside the middle asks for both at once. What a grip bears of the two together is convex (Goyal, Ruina and Papadopoulos, Planar sliding
with dry friction, Wear 143, 1991; from memory), so nothing slips while push/pull + moment/turn is below 1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstoff.facts.fact import Fact, Leaning
from firstoff.verdict.forms import Form

HOLDING = "job.holding"
AREA_KINDS = ("tape", "glue", "wax", "vacuum")
"""Kinds that hold every piece by the area under it."""
OPENS = 0.5
"""Friction beyond which a push across the jaws opens the vice before one along them slides the part."""
SINGLE, TORSION = 1 / 3, math.sqrt(2) / 6
"""Moment about the vertical over pull and breadth: of a disc that rubs, and of a square that is stuck down."""
AT_RIM = {True: 1 / 3, False: 2 / 5}
"""Push at the rim of a disc over the pull that it bears: stuck down, and rubbing."""
NOTHING = 1e-6
"""Stands for none at all, of any unit, where a logarithm is taken."""


@dataclass(frozen=True, slots=True)
class Seat:
    """How the blank sits, mm, work frame: its bottom, the middle of its outline, and the longer and the narrower side of that."""

    bottom_mm: float
    middle_mm: tuple[float, float]
    long_mm: float = math.inf
    narrow_mm: float = math.inf


@dataclass(frozen=True, slots=True)
class Grip:
    """What holds the part. `pull` and each of `tips` are logarithms of N and N·mm; moments count about `centre_mm`."""

    kind: str
    pull: Form
    tips: tuple[tuple[str, Form], ...]
    """(how it would tip, what bears it)"""
    centre_mm: tuple[float, float, float]
    friction: Fact | None
    """Of kinds that press down, where a lift takes away from what rubs; else a pull counts alike whichever way it goes."""
    turn: Form | None = None
    """Logarithm of the moment about the vertical that it bears, N·mm."""
    arm: tuple[Fact, float] | None = None
    """What a pull takes away from that, N·mm a N: a size, and the share of it that counts."""
    lies_mm: float = math.inf
    """How far from its middle the part lies on something: beyond, a push downward tips it the last of `tips`."""


def grip_of(facts: Leaning, kind: str, seat: Seat) -> Grip | None:
    """The grip of one kind; None if a number of it is missing (which is then recorded)."""
    if kind == "vice":
        return _vice(facts, seat)
    if kind in AREA_KINDS:
        return area_grip(facts, kind, seat)
    force, count = facts.number(f"{HOLDING}.force"), facts.setting(f"{HOLDING}.count")
    friction, span = facts.number(f"{HOLDING}.friction"), facts.number(f"{HOLDING}.span")
    if force is None or friction is None or span is None or not isinstance(count, int):
        return None
    pressed = _log(force) + math.log(count)
    broad = min(1.0, seat.narrow_mm / span.value)
    tips = (("over its edge", pressed + _log(span) + math.log(0.5 * broad)),)
    pull = pressed + _log(friction)
    share = 1.0 / count if count > 1 else SINGLE
    turn = pull + _log(span) + math.log(share)
    return Grip(kind, pull, tips, (*seat.middle_mm, seat.bottom_mm), friction, turn, (span, share))


def _vice(facts: Leaning, seat: Seat) -> Grip | None:
    force, friction = facts.number(f"{HOLDING}.force"), facts.number(f"{HOLDING}.friction")
    grip, width = facts.number(f"{HOLDING}.grip_height"), facts.number(f"{HOLDING}.jaw_width")
    if force is None or friction is None or grip is None or width is None:
        return None
    rubs = _log(force) + _log(friction) + math.log(2.0)
    if friction.value > OPENS:
        rubs = _log(force)
    part = min(1.0, seat.long_mm / width.value)  # jaws that are longer than the blank hold no more of it than there is
    held = _log(width) + math.log(part)
    tips = (
        ("over the jaw", _log(force) + _log(grip) + math.log(0.5)),
        ("along the jaws", rubs + held + math.log(0.25)),
    )
    centre = (*seat.middle_mm, seat.bottom_mm + grip.value / 2)
    turn = _log(force) + held + math.log(0.5)
    return Grip("vice", rubs, tips, centre, None, turn, (width, 0.5 * part), 0.5 * part * width.value)


def area_grip(facts: Leaning, kind: str, seat: Seat, held_mm2: float | None = None) -> Grip | None:
    """The grip of a kind that holds by area. `held_mm2`: the area under one piece, where that is all that holds it; its breadth is then
    taken as that of a square, and its pull is what it bears at its rim."""
    stress = facts.number(f"{HOLDING}.{'pressure' if kind == 'vacuum' else 'strength'}")
    friction = facts.number(f"{HOLDING}.friction") if kind == "vacuum" else None
    whole, breadth = facts.number(f"{HOLDING}.area"), facts.number(f"{HOLDING}.span")
    if stress is None or whole is None or breadth is None or (kind == "vacuum" and friction is None):
        return None
    area, span = _log(whole), _log(breadth)
    if held_mm2 is not None and held_mm2 < whole.value:
        area = Form(math.log(max(held_mm2, NOTHING)))
        span = Form(math.log(max(min(math.sqrt(held_mm2), breadth.value), NOTHING)))
    bears = area + _log(stress)
    tips = (("off its bed", bears + span - math.log(2.0 if kind == "vacuum" else 6.0)),)
    pull = bears if friction is None else bears + _log(friction)
    if held_mm2 is not None:
        pull += math.log(AT_RIM[friction is None])
    share = SINGLE if kind == "vacuum" else TORSION
    return Grip(
        kind, pull, tips, (*seat.middle_mm, seat.bottom_mm), friction, pull + span + math.log(share), (breadth, share)
    )


@dataclass(frozen=True, slots=True)
class Push:
    """A mean force on the part as a grip feels it, over the size that its candidate states: `asked` is the logarithm of the pull that it
    must bear, `moment_mm` the moment about its centre."""

    asked: Form
    sideways_n: float
    upward_n: float
    moment_mm: float


def push_of(grip: Grip, force_n: tuple[float, float, float], at_mm: tuple[float, float, float], size_n: float) -> Push:
    """The push of one force at one place. A force downward seats the part and is left out."""
    fx, fy, up = force_n[0], force_n[1], max(force_n[2], 0.0)
    sideways = math.hypot(fx, fy)
    rx, ry, rz = (at - centre for at, centre in zip(at_mm, grip.centre_mm, strict=True))
    moment = math.hypot(ry * up - rz * fy, rz * fx - rx * up)
    if grip.friction is None:
        asked = Form(math.log(max(math.hypot(sideways, up), NOTHING) / size_n))
    else:
        lost = grip.friction.value * up
        total = max(sideways + lost, NOTHING)
        part = lost / total
        terms = ((grip.friction.path, part),) if part > 0 else ()
        asked = Form(math.log(total / size_n) - part * math.log(max(grip.friction.value, NOTHING)), terms)
    return Push(asked, sideways, up, moment / size_n)


def turn_of(grip: Grip, push: Push, size_n: float, aside_mm: float) -> Form | None:
    """Logarithm of the moment about the vertical, over the size that the candidate states, that a push asks for at `aside_mm` from the
    middle: its own, and what the pull itself takes away. None where nothing pushes sideways."""
    if grip.arm is None or push.sideways_n <= 0.0:
        return None
    breadth, share = grip.arm
    rubs = grip.friction.value * push.upward_n if grip.friction is not None else 0.0
    taken = share * breadth.value * (push.sideways_n + rubs)
    total = taken + push.sideways_n * aside_mm
    part = taken / total
    return Form(math.log(total / size_n) - part * math.log(breadth.value), ((breadth.path, part),))


def _log(fact: Fact) -> Form:
    """The fact's own logarithm; nothing at all where it is none (a pressure of 0 holds nothing)."""
    return Form(0.0, ((fact.path, 1.0),)) if fact.value > 0 else Form(math.log(NOTHING))
