"""What a blank from a file leaves in doubt beyond its faces: triangles that are turned the wrong way."""

from __future__ import annotations

from firstoff.removal.field import NOTHING
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer, Counted, Place
from firstoff.verdict.words import part

MEND = "Let the CAD system mend the file (one closed body, all faces outward) and examine again."


def turned_faces(told: Followed) -> tuple[list[Counted], list[str]]:
    """(what needs care, notes) where faces of the blank's file do not face alternately out of and into it.

    Every second stretch of an upright line is then taken as solid. The outer faces are where they are whichever way they are turned, so
    the doubt of the blank's sides, top and bottom stays what the job says; but a hollow may be the overlap of two bodies, which is solid,
    and then more stands there than was followed.
    """
    field = told.likely.before
    if not field.unmatched:
        return [], []
    stands = int((field.top > NOTHING).sum())
    what = (
        f"In the file of the blank {part(field.unmatched / max(stands, 1))} of all upright lines "
        "pass faces that are turned the wrong way: every second stretch was taken as solid."
    )
    if len(field.gaps):
        return [
            Counted(Place(0), f"{what} What looks hollow there may be solid.", MEND, Answer.CARE, "job.stock.stl")
        ], []
    return [], [f"{what} It has no hollows, so its outside is not in doubt. {MEND}"]
