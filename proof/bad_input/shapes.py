"""Blanks and fixtures from STL files that are broken, open, empty, or very large."""

from __future__ import annotations

import struct

import numpy as np

from proof.bad_input.case import STOP, UNJUDGED, UNUSABLE, Case
from proof.bad_input.shops import BOX, JOB, shop, swapped

CORNERS = [(-1.0, -1.0, -10.0), (51.0, -1.0, -10.0), (51.0, 31.0, -10.0), (-1.0, 31.0, -10.0)]
CORNERS += [(x, y, 0.2) for x, y, _ in CORNERS]
FACES = [
    (0, 2, 1), (0, 3, 2), (4, 5, 6), (4, 6, 7), (0, 1, 5), (0, 5, 4), (1, 2, 6), (1, 6, 5), (2, 3, 7), (2, 7, 6), (3, 0, 4), (3, 4, 7),
]  # fmt: skip
"""A box of the blank's size: corners counter-clockwise seen from outside."""
TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def binary(corners: np.ndarray, told: int | None = None) -> bytes:
    """Triangles f8[T, 3, 3] as the binary form of STL (80 bytes of header, a count, 50 bytes each; from memory)."""
    rows = np.zeros(len(corners), TRIANGLE)
    rows["corners"] = corners
    return bytes(80) + struct.pack("<I", len(corners) if told is None else told) + rows.tobytes()


def text(corners: np.ndarray, end: bool = True) -> bytes:
    """The same as words."""
    lines = ["solid blank"]
    for triangle in corners:
        lines += [" facet normal 0 0 0", "  outer loop"]
        lines += ["   vertex " + " ".join(f"{value:.6g}" for value in corner) for corner in triangle]
        lines += ["  endloop", " endfacet"]
    return "\n".join([*lines, "endsolid blank" if end else ""]).encode()


def box() -> np.ndarray:
    return np.array([[CORNERS[k] for k in face] for face in FACES])


def fine_box(triangles: int) -> np.ndarray:
    """A box whose top is cut into that many triangles and a few more."""
    across = max(int((triangles / 2) ** 0.5), 1)
    x, y = np.linspace(-1.0, 51.0, across + 1), np.linspace(-1.0, 31.0, across + 1)
    low_x, low_y = (grid.ravel() for grid in np.meshgrid(x[:-1], y[:-1]))
    high_x, high_y = (grid.ravel() for grid in np.meshgrid(x[1:], y[1:]))
    z = np.full_like(low_x, 0.2)
    a, b, c, d = (
        np.stack(one, axis=1)
        for one in ((low_x, low_y, z), (high_x, low_y, z), (high_x, high_y, z), (low_x, high_y, z))
    )
    top = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return np.concatenate([box()[[0, 1, *range(4, 12)]], top])


def blank(name: str, data: bytes, exits: tuple[int, ...], *names: str, slow: bool = False) -> Case:
    job = swapped(JOB, BOX, 'stl = "blank.stl"')
    return shop(f"blank: {name}", exits, *names, job=job, more={"jobs/plate/blank.stl": data}, slow=slow, group="stl")


CLOSED, ANSWERED = box(), (UNJUDGED, STOP)
NAN = CLOSED.copy()
NAN[3, 1, 2] = np.nan
FAR = CLOSED * 1e9
CASES: list[Case] = [
    blank("a closed box", binary(CLOSED), ANSWERED),
    blank("a closed box in words", text(CLOSED), ANSWERED),
    blank("empty", b"", (UNUSABLE,), "blank.stl", "empty"),
    blank("no triangles", binary(CLOSED[:0]), (UNUSABLE,), "blank.stl"),
    blank("no triangles in words", text(CLOSED[:0]), (UNUSABLE,), "blank.stl"),
    blank("cut short", binary(CLOSED)[:-70], (UNUSABLE,), "blank.stl"),
    blank("cut short in the header", binary(CLOSED)[:60], (UNUSABLE,), "blank.stl"),
    blank("words cut short", text(CLOSED, end=False)[:-40], (UNUSABLE,), "blank.stl"),
    blank("counts four thousand million triangles", binary(CLOSED, told=4_000_000_000), (UNUSABLE,), "blank.stl"),
    blank("not closed", binary(CLOSED[1:]), (UNUSABLE,), "blank.stl", "not closed"),
    blank("not closed at the top", binary(np.delete(CLOSED, 2, axis=0)), (UNUSABLE,), "blank.stl", "not closed"),
    blank("one triangle", binary(CLOSED[:1]), (UNUSABLE,), "blank.stl"),
    blank("NaN in a corner", binary(NAN), (UNUSABLE,), "blank.stl"),
    blank("flat", binary(CLOSED * [1, 1, 0]), (UNUSABLE,), "blank.stl"),
    blank("of a million kilometres", binary(FAR), (UNUSABLE,), "blank.stl"),
    blank("inside out", binary(CLOSED[:, ::-1]), (UNUSABLE, *ANSWERED)),
    blank("a picture", b"\x89PNG\r\n\x1a\n" + bytes(200), (UNUSABLE,), "blank.stl"),
    blank("words that are no STL", b"solid\nnothing of the kind\n", (UNUSABLE,), "blank.stl"),
    blank("a million triangles", binary(fine_box(1_000_000)), ANSWERED, slow=True),
    shop("blank: a file that is not there", (UNUSABLE,), "gone.stl", job=swapped(JOB, BOX, 'stl = "gone.stl"'), group="stl"),
]  # fmt: skip
