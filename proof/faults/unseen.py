"""Mistakes that no file can show: the program and every table are as they were, and what stands on the machine is something else.

There is nothing to examine: the files are the clean ones to the letter. What is shown is that the outcome changes all the same, and which
line of the set-up sheet a person holds against the machine.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, replace

from proof.faults.bench import Bench, Box, Cutter
from proof.faults.kinds import Scene
from proof.faults.outcome import Run, differences, run
from proof.faults.shop import CleanShop

ALIKE = {"em3": "em3-long", "em6": "em6-stub"}
World = tuple[Bench, dict[int, Cutter]]
"""What the control's tables hold, and what really stands in the pockets."""


@dataclass(frozen=True, slots=True)
class Unseen:
    """A kind of it, and the words of the set-up sheet that guard against it."""

    id: str
    words: str
    guard: str
    world: Callable[[Scene, random.Random], World | None]


@dataclass(frozen=True, slots=True)
class Tally:
    """How many were drawn, and in how many the outcome was another one."""

    kind: Unseen
    drawn: int
    changed: int


def tally(kind: Unseen, shop: CleanShop, wanted: int, seed: int) -> Tally:
    """Draw worlds and replay the clean programs in them."""
    dice = random.Random(f"{seed} {kind.id}")
    scenes = list(shop.scenes.values())
    drawn = changed = 0
    for _ in range(wanted * 8):
        if drawn >= wanted:
            break
        scene = dice.choice(scenes)
        world = kind.world(scene, dice)
        if world is None:
            continue
        drawn += 1
        changed += bool(_differences(scene, _run(scene, world)))
    return Tally(kind, drawn, changed)


def _run(scene: Scene, world: World) -> Run:
    bench, really = world
    return run(scene.texts, bench, really, scene.bench.work.blank)


def _differences(scene: Scene, other: Run) -> dict[str, list[int]]:
    return differences(scene.clean, other, scene.program.origin)


def _with_pocket(scene: Scene, number: int, cutter: Cutter) -> World:
    return scene.bench, {**scene.bench.pockets, number: cutter}


def _by_name(scene: Scene, name: str) -> Cutter:
    return next(cutter for cutter in scene.bench.pockets.values() if cutter.name == name)


def filled_otherwise(scene: Scene, dice: random.Random) -> World | None:
    number = dice.choice(scene.pockets())
    other = dice.choice([one for one in scene.bench.pockets.values() if one is not scene.bench.pockets[number]])
    return _with_pocket(scene, number, other)


def look_alike(scene: Scene, dice: random.Random) -> World | None:
    mine = [number for number in scene.pockets() if scene.bench.pockets[number].name in ALIKE]
    if not mine:
        return None
    number = dice.choice(mine)
    return _with_pocket(scene, number, _by_name(scene, ALIKE[scene.bench.pockets[number].name]))


def re_gripped(scene: Scene, dice: random.Random) -> World | None:
    number = dice.choice(scene.pockets())
    cutter, by = scene.bench.pockets[number], dice.choice((-4.0, -2.0, -1.0, 1.0, 2.0, 4.0))
    return _with_pocket(scene, number, replace(cutter, length=cutter.length + by, overhang=cutter.overhang + by))


def _blank(scene: Scene, box: Box) -> World:
    work = replace(scene.bench.work, blank=box)
    bench = replace(scene.bench, work=work)
    return bench, bench.pockets


def other_blank(scene: Scene, dice: random.Random) -> World | None:
    x, y, (low, high) = scene.bench.work.blank
    return _blank(scene, (x, y, (low, high + dice.choice((-2.0, -1.0, 1.0, 2.0, 4.0)))))


def other_zero(scene: Scene, dice: random.Random) -> World | None:
    """Everything on the table lies elsewhere than the zero in the control believes."""
    axis, by = dice.randrange(3), dice.choice((-6.0, -3.0, 3.0, 6.0))
    ends = list(scene.bench.work.blank)
    ends[axis] = (ends[axis][0] + by, ends[axis][1] + by)
    return _blank(scene, (ends[0], ends[1], ends[2]))


def higher_around(scene: Scene, dice: random.Random) -> World | None:
    work = replace(scene.bench.work, highest=scene.bench.work.highest + dice.choice((2.0, 4.0, 8.0)))
    bench = replace(scene.bench, work=work)
    return bench, bench.pockets


def other_radius(scene: Scene, dice: random.Random) -> World | None:
    """D holds the radius, or the diameter of the tool that stood there before."""
    if "G41" not in scene.program.text:
        return None
    number = next(int(step.register) for step in scene.clean.trace.steps if step.register)
    cutter = scene.bench.pockets[number]
    control = {**scene.bench.pockets, number: replace(cutter, radius=cutter.radius * dice.choice((0.5, 0.9, 1.1, 1.3)))}
    return replace(scene.bench, pockets=control), scene.bench.pockets


def other_length(scene: Scene, dice: random.Random) -> World | None:
    """H in the control is not what the table says."""
    number = dice.choice(scene.pockets())
    cutter = scene.bench.pockets[number]
    control = {
        **scene.bench.pockets,
        number: replace(cutter, length=cutter.length + dice.choice((-10.0, -1.0, 1.0, 10.0))),
    }
    return replace(scene.bench, pockets=control), scene.bench.pockets


KINDS = (
    Unseen(
        "rack filled otherwise",
        "another tool stands in the pocket than the list says",
        'tool table: pocket, name, looks, OHX, LF with a box to tick; "Tick each tool: in its pocket, H in the control as LF."',
        filled_otherwise,
    ),
    Unseen(
        "look-alike in the pocket",
        "the long one for the short one, the stub for the long one",
        '"Look alike: em6 and em6-stub."; tool table: out OHX, length LF, window',
        look_alike,
    ),
    Unseen(
        "re-gripped, nothing written",
        "a tool was gripped anew and neither OHX nor LF was measured again",
        "tool table: out OHX, length LF and the window that a second measurement must fall into; first cuts: gap and Z to go at the halt line",
        re_gripped,
    ),
    Unseen(
        "zero touched off elsewhere",
        "the zero in the control lies beside the one that is told",
        '"Touch off G54, write it down. T2 on zero reads machine Z … More than 0.5 mm off: find out why."; zero in words, planned and as set',
        other_zero,
    ),
    Unseen(
        "another blank",
        "a blank of another height lies in the vice",
        'title block: stock; "Each tool: … to its halt line … Gap and Z to go as told? Else stop."',
        other_blank,
    ),
    Unseen(
        "higher jaws or clamps",
        "what stands round the blank is higher than told",
        'picture of the setting with heights; "Air run, no blank in: … rapids lowest, door shut, hand on feed hold."',
        higher_around,
    ),
    Unseen(
        "D in the control",
        "the radius register holds something else than the tool's diameter",
        '"The control\'s tool table reads D2 5.991 (radius 2.9955)."',
        other_radius,
    ),
    Unseen(
        "H in the control",
        "a length register holds another length than the table tells",
        '"Tick each tool: in its pocket, H in the control as LF."',
        other_length,
    ),
)
SAID_ONLY = (
    (
        "another program in the control",
        "last week's, or one that was edited at the machine",
        'title block: stamp, first block, last block; "Stamp, 183 lines, first and last block as in the control."',
    ),
    ("another material", "the bar was fetched from the other shelf", "title block: stock (material and size)"),
    (
        "worn or chipped edge",
        "the edge broke on the last part",
        'tool table, ticked by a person who has the tool in the hand; "First cuts at 25 % feed override, hand on feed hold."',
    ),
    (
        "held too lightly",
        "the vice was closed by hand, the file says the wrench",
        "holding: force and what it was measured with",
    ),
)
"""What the replay cannot show either: it knows no forces, no edges and no other program."""
