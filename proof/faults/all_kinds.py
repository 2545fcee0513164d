"""All kinds of mistakes that a file can show, and one that it cannot: a wrong shape where no drawing is given."""

from __future__ import annotations

import random

from firstoff.verdict.questions import ALL
from proof.faults import kinds_heads, kinds_shop, kinds_ways
from proof.faults.kinds import Kind, Mistake, Scene, has_target

KINDS: tuple[Kind, ...] = (*kinds_heads.KINDS, *kinds_ways.KINDS, *kinds_shop.KINDS)
SHAPE_ONLY = (
    kinds_ways.digits_swapped,
    kinds_ways.sign_of_x,
    kinds_ways.x_for_y,
    kinds_ways.line_lost,
    kinds_ways.other_way_round,
)


def _no_target(scene: Scene) -> bool:
    return not has_target(scene)


def _any_shape(scene: Scene, dice: random.Random) -> Mistake | None:
    return dice.choice(SHAPE_ONLY)(scene, dice)


UNDRAWN = Kind(
    "wrong shape, no drawing",
    "a coordinate, a line or an arc wrong in a job that is held against no drawing",
    tuple(question.id for question, _ in ALL),
    ("shape",),
    _any_shape,
    _no_target,
)
UNDRAWN_GUARD = (
    '"Spindle stands: measure, write it below, then unclamp."; or give the job its drawing: `target = "part.stl"`'
)
