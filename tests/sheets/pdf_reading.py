"""What a PDF holds, read by a general library and by a small walk through its drawing operators: places in mm from the page's upper left."""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from functools import cache
from typing import Any

from pypdf import PdfReader
from pypdf.generic import ContentStream

MM = 25.4 / 72
Matrix = tuple[float, float, float, float, float, float]
WHOLE: Matrix = (1, 0, 0, 1, 0, 0)


@dataclass(frozen=True, slots=True)
class Box:
    """The box round one drawn path, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def wide(self) -> float:
        return self.right - self.left

    @property
    def high(self) -> float:
        return self.bottom - self.top


def pages(pdf: bytes) -> int:
    return len(PdfReader(io.BytesIO(pdf)).pages)


def sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page, mm."""
    return [
        (float(one.mediabox.width) * MM, float(one.mediabox.height) * MM) for one in PdfReader(io.BytesIO(pdf)).pages
    ]


@cache
def words(pdf: bytes, page: int | None = None) -> str:
    """Its text in one line, without the places where a long word may be broken."""
    read = PdfReader(io.BytesIO(pdf))
    chosen = read.pages if page is None else [read.pages[page]]
    text = " ".join(one.extract_text() for one in chosen)
    return " ".join(text.replace("\u200b", "").split())


def bare(text: str) -> str:
    """Letters alone: how lines were broken, and how a reader tells spaces, is left out."""
    return re.sub(r"[\s\u200b\x00-\x1f]", "", text)


def letter_sizes(pdf: bytes) -> set[float]:
    """Sizes of all letters as printed, pt."""
    found: set[float] = set()

    def visit(text: str, cm: Any, tm: Any, _font: Any, size: float) -> None:
        if text.strip():
            upright = abs(tm[1] * cm[1] + tm[3] * cm[3])
            found.add(round(size * upright, 2))

    for page in PdfReader(io.BytesIO(pdf)).pages:
        page.extract_text(visitor_text=visit)
    return found


@cache
def drawn(pdf: bytes, page: int) -> list[Box]:
    """The boxes round all paths of a page that are stroked or filled."""
    read = PdfReader(io.BytesIO(pdf))
    one = read.pages[page]
    content = one.get_contents()
    assert content is not None
    boxes: list[Box] = []
    _walk(content, one.get("/Resources"), WHOLE, float(one.mediabox.height), boxes, read)
    return boxes


def _walk(content: Any, resources: Any, at: Matrix, high: float, boxes: list[Box], read: PdfReader) -> None:
    kept: list[Matrix] = []
    points: list[tuple[float, float]] = []
    for operands, operator in ContentStream(content, read).operations:
        name = operator.decode() if isinstance(operator, bytes) else operator
        numbers = [float(one) for one in operands if isinstance(one, (int, float))]
        if name == "q":
            kept.append(at)
        elif name == "Q":
            at = kept.pop()
        elif name == "cm":
            at = _times(tuple(numbers), at)  # type: ignore[arg-type]
        elif name in ("m", "l", "c", "v", "y"):
            points += [_place(x, y, at) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
        elif name == "re":
            x, y, wide, tall = numbers
            points += [_place(x, y, at), _place(x + wide, y + tall, at)]
        elif name in ("S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "n"):
            if points and name != "n":
                xs, ys = [x * MM for x, _ in points], [(high - y) * MM for _, y in points]
                boxes.append(Box(min(xs), min(ys), max(xs), max(ys)))
            points = []
        elif name == "Do":
            form = resources["/XObject"][operands[0]].get_object()
            if form.get("/Subtype") == "/Form":
                own = tuple(float(one) for one in form.get("/Matrix", WHOLE))
                _walk(form, form.get("/Resources", resources), _times(own, at), high, boxes, read)  # type: ignore[arg-type]


def _times(first: Matrix, then: Matrix) -> Matrix:
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)


def _place(x: float, y: float, at: Matrix) -> tuple[float, float]:
    return at[0] * x + at[2] * y + at[4], at[1] * x + at[3] * y + at[5]
