"""The hand-built program with what its cuts take away: the groove of `hand_followed`, a first cut for each tool, floors and pieces."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from firstoff.program.moves import Reading
from firstoff.removal.swept import FirstCut, Floor, Piece, Swept
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Answered
from tests.sheets import hand_built as made
from tests.sheets import hand_followed

GROOVE = FirstCut(3, 1, 5, (-2.0, 5.0, -4.0), 1.0, 0.5, 0.4)
HOLE = FirstCut(5, 9, 11, (20.0, 20.0, -0.2), 0.2, 0.4, 0.0)
PIECES = (Piece(30_000.0, -14.0, 2400.0, -1, (32.0, 20.0)),)


def swept(count: int, cuts: tuple[FirstCut, ...]) -> Swept:
    """em6 cuts 4.4 deep and 6 wide from move 5 on, dr25 drills at move 11."""
    whole = hand_followed.swept(count)
    volume, axial, radial = np.zeros(count), np.zeros(count, dtype=np.float32), np.zeros(count, dtype=np.float32)
    volume[[5, 6, 7, 11]], axial[[5, 6, 7]], radial[[5, 6, 7]] = 100.0, 4.4, 6.0
    axial[11], radial[11] = 12.0, 2.5
    moves = replace(whole.moves, volume_mm3=volume, axial_mm=axial, radial_mm=radial)
    return replace(whole, moves=moves, first_cuts=cuts, contacts=())


def followed(
    reading: Reading | None = None,
    cuts: tuple[FirstCut, ...] = (GROOVE, HOLE),
    largest: tuple[FirstCut, ...] | None = None,
    pieces: tuple[Piece, ...] = PIECES,
) -> Followed:
    """The followed program; `largest` are the first cuts in the largest blank, where they are others."""
    reading = reading or made.reading()
    count = len(reading.moves)
    told = hand_followed.followed(reading)
    one = swept(count, cuts)
    surfaces = replace(told.surfaces, floors=(Floor(3, -4.0, 392.0, 5, (20.0, 5.0)),), pieces=pieces)
    big = one if largest is None else swept(count, largest)
    return replace(told, likely=one, largest=big, smallest=one, surfaces=surfaces)


def examination(*answers: Answered, pieces: tuple[Piece, ...] = PIECES, inch: bool = False) -> Examination:
    """An examination of it: care for the power, else clear."""
    whole = made.examination(
        *(answers or (made.clear_count(), hand_followed.power_care(), made.part_care(), made.clear_ratio())),
        known=hand_followed.facts(),
        inch=inch,
    )
    return replace(whole, case=replace(whole.case, followed=followed(whole.case.reading, pieces=pieces)))


def unjudged() -> Examination:
    """Many answers that wait for one fact."""
    waiting = made.unjudged_no_stop()
    names = (
        "travel",
        "keep_out",
        "rapid_contact",
        "body_contact",
        "below",
        "reach",
        "torque",
        "power",
        "chip",
        "holding",
        "size",
    )
    answers = (replace(waiting, question=replace(waiting.question, id=name)) for name in names)
    return made.examination(made.clear_count(), made.counted_care(), *answers)


def nine_tools() -> Examination:
    """Nine tools of a wide table, each with a change of its own, in a program that nobody followed."""
    known = made.facts()
    read = made.many_tools(9)
    names = {f"job.tools.{number}": f"t{number}" for number in range(1, 10)}
    settings = dict(known.settings)
    for path, name in names.items():
        settings[path] = replace(settings["job.tools.3"], path=path, value=name)
        settings[f"tools.{name}.kind"] = replace(settings["tools.em6.kind"], path=f"tools.{name}.kind")
    case = made.case(replace(known, settings=settings), replace(read, events=read.events[:13], file="nine.nc"))
    care = made.counted_care()
    assert care.answer is Answer.CARE
    return Examination(case, case.facts, (made.clear_count(), care, made.part_care()), (), None, ())
