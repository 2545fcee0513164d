"""What holds a part, against statics done by integrating pressure and friction over the faces."""

from __future__ import annotations

import math
from collections.abc import Callable

from scipy.integrate import dblquad, quad

from firstoff.facts.fact import Fact, FactSet, Setting
from firstoff.verdict.grips import HOLDING, Grip, Seat, grip_of, push_of, turn_of

Truth = Callable[..., None]
SOURCE = "statics with Coulomb friction (textbook, from memory), integrated numerically"


def grip(kind: str, count: int | None = None, **numbers: float) -> tuple[Grip, FactSet]:
    facts = {f"{HOLDING}.{key}": Fact(f"{HOLDING}.{key}", value, 0.0, "") for key, value in numbers.items()}
    words = {} if count is None else {f"{HOLDING}.count": Setting(f"{HOLDING}.count", count)}
    known = FactSet(facts, words)
    made = grip_of(known.leaning(), kind, Seat(0.0, (0.0, 0.0)))
    if made is None:
        raise AssertionError(kind)
    return made, known


def bears(made: Grip, known: FactSet, tip: int | None = None) -> float:
    form = made.pull if tip is None else made.tips[tip][1]
    return math.exp(form.at(lambda path: math.log(known.facts[path].value)))


def test_a_vice(truth: Truth) -> None:
    made, known = grip("vice", force=2400.0, friction=0.15, grip_height=8.0, jaw_width=50.0)
    width, pressure = 50.0, 2400.0 / 50.0
    slides = 2 * quad(lambda _: 0.15 * pressure, -width / 2, width / 2)[0]
    truth("hold-vice-pull", "pull along the jaws, 2.4 kN, friction 0.15", SOURCE, slides, bears(made, known), 1e-6, "N")
    turns = 2 * quad(lambda x: 0.15 * pressure * abs(x), -width / 2, width / 2, points=[0.0])[0]
    what = "moment in the plane of the jaws, friction spread evenly over 50 mm"
    truth("hold-vice-along", what, SOURCE, turns, bears(made, known, 1), 1e-6, "N·mm")
    # The fixed jaw's reaction moves from the middle of the grip to its edge; the moving jaw's stays in the middle.
    truth("hold-vice-over", "moment over the jaw", SOURCE, 2400.0 * 4.0, bears(made, known, 0), 1e-6, "N·mm")


def test_tape(truth: Truth) -> None:
    made, known = grip("tape", area=1200.0, strength=0.2, friction=0.5, span=30.0)
    length = 1200.0 / 30.0
    peels = quad(lambda y: 0.2 * y / 15.0 * y * length, -15.0, 15.0)[0]
    what = "moment on 40 mm × 30 mm of tape, stress rising evenly to 0.2 N/mm² at the edge"
    truth("hold-tape-peel", what, SOURCE, peels, bears(made, known, 0), 1e-6, "N·mm")


def test_clamps_slide_under_a_lift(truth: Truth) -> None:
    """Sideways push that just slides the part, found by halving: friction under what the lift leaves of the pressing force."""
    made, known = grip("clamps", 2, force=900.0, friction=0.2, span=40.0)
    lift, low, high = 100.0, 0.0, 1000.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if middle < 0.2 * (1800.0 - lift) else (low, middle)
    push = push_of(made, (low, 0.0, lift), (0.0, 0.0, 0.0), low)
    asked = math.exp(push.asked.at(lambda path: math.log(known.facts[path].value))) * low
    what = "push that slides a part under two clamps of 900 N and a lift of 100 N: over what they bear"
    truth("hold-clamps-lift", what, SOURCE, 1.0, asked / bears(made, known), 1e-9)


def test_vacuum(truth: Truth) -> None:
    made, known = grip("vacuum", area=1500.0, pressure=0.07, friction=0.3, span=30.0)
    tips = quad(lambda y: 0.07 * (y + 15.0) * 50.0, -15.0, 15.0)[0]
    what = "moment that opens 50 mm × 30 mm under 0.7 bar about its edge"
    truth("hold-vacuum-tip", what, SOURCE, tips, bears(made, known, 0), 1e-6, "N·mm")


def turns(made: Grip, known: FactSet) -> float:
    assert made.turn is not None
    return math.exp(made.turn.at(lambda path: math.log(known.facts[path].value)))


def test_turning_about_the_vertical(truth: Truth) -> None:
    made, known = grip("vacuum", area=900.0, pressure=0.07, friction=0.3, span=30.0)
    pressed = 0.07 * 900.0 / (math.pi * 15.0**2)
    disc = quad(lambda r: 0.3 * pressed * r * 2 * math.pi * r, 0.0, 15.0)[0]
    truth(
        "hold-vacuum-turn",
        "moment that turns a disc of 30 mm under 63 N",
        SOURCE,
        disc,
        turns(made, known),
        1e-6,
        "N·mm",
    )
    made, known = grip("tape", area=900.0, strength=0.2, friction=0.5, span=30.0)
    polar = dblquad(lambda y, x: x * x + y * y, -15.0, 15.0, -15.0, 15.0)[0]
    what = "moment that turns 30 mm × 30 mm of tape, 0.2 N/mm² at the corner"
    truth("hold-tape-turn", what, SOURCE, 0.2 * polar / math.hypot(15.0, 15.0), turns(made, known), 1e-6, "N·mm")
    made, known = grip("vice", force=2400.0, friction=0.15, grip_height=8.0, jaw_width=50.0)
    # The jaw can press at its end alone at the most: the middle of a pressure that rises evenly towards one end moves there as it narrows.
    end = quad(lambda x: 2400.0 / 1e-3 * x, 25.0 - 1e-3, 25.0)[0]
    truth("hold-vice-turn", "moment in plan that opens a jaw of 50 mm", SOURCE, end, turns(made, known), 2.0, "N·mm")


def test_two_clamps_bear_a_push_beside_their_middle(truth: Truth) -> None:
    """The push that just slips the worse of two clamps 40 mm apart, 25 mm beside their middle and across the line between them."""
    made, known = grip("clamps", 2, force=900.0, friction=0.2, span=40.0)
    each = 0.2 * 900.0
    low, high = 0.0, 1000.0
    for _ in range(60):
        middle = (low + high) / 2
        worse = middle / 2 + middle * 25.0 / 40.0  # its half of the push, and the couple of the two
        low, high = (middle, high) if worse < each else (low, middle)
    push = push_of(made, (0.0, low, 0.0), (25.0, 0.0, 0.0), low)
    asked = turn_of(made, push, low, 25.0)
    assert asked is not None
    share = low * math.exp(asked.at(lambda path: math.log(known.facts[path].value))) / turns(made, known)
    what = "push 25 mm beside the middle of two clamps that slips the worse one: over what they bear"
    truth("hold-clamps-turn", what, SOURCE, 1.0, share, 1e-6)
