"""Comments taken out of a line: `( … )`, paired where custom allows it, and `;` to the end of the line.

By the report (NISTIR 6556, 3.3.4) a comment runs from `(` to the next `)`, may hold no second `(`, and must close on its line. Real
files pair brackets in tool names and write `;` either before a comment or as the end of the block.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from firstoff.program.moves import FAULT, NOTE
from firstoff.program.parameters import Answers

_MARK = re.compile(r"[();]")
_MESSAGE = re.compile(r"[ \t]*M[ \t]*S[ \t]*G[ \t]*,[ \t]*(.*)", re.IGNORECASE | re.DOTALL)


class Stripped(NamedTuple):
    """A line without its comments."""

    kept: list[tuple[int, int]]
    """Spans of the raw text that are no comment, in order."""
    comments: list[str]
    """Text of each comment without its marks."""
    complaints: list[tuple[int, int, str, str]]
    """(begin, end, what, kind) in the raw text."""


def strip_comments(raw: str, control: Answers) -> Stripped:
    """Find the comments of one line."""
    kept: list[tuple[int, int]] = []
    comments: list[str] = []
    complaints: list[tuple[int, int, str, str]] = []
    at = 0
    while (mark := _MARK.search(raw, at)) is not None:
        begin = mark.start()
        if mark[0] == ")":
            kept.append((at, begin + 1))  # stays as a character that fits nowhere
            at = begin + 1
            continue
        kept.append((at, begin))
        if mark[0] == ";":
            at = len(raw)
            if control.answer("base") == "rs274ngc":
                complaints.append((begin, at, "';' is not in the report: a comment stands in ( )", FAULT))
            if raw[begin + 1 :].strip():
                comments.append(raw[begin + 1 :])
            break
        at = _close(raw, begin, control, complaints)
        comments.append(raw[begin + 1 : at].removesuffix(")"))
    kept.append((at, len(raw)))
    return Stripped(kept, comments, complaints)


def message_in(comments: Sequence[str]) -> str:
    """The operator message that the last MSG comment holds (NISTIR 6556, 3.3.4), else empty."""
    for comment in reversed(comments):
        found = _MESSAGE.fullmatch(comment)
        if found:
            return found[1].strip()
    return ""


def _close(raw: str, begin: int, control: Answers, complaints: list[tuple[int, int, str, str]]) -> int:
    """Position after the comment that opens at `begin`."""
    closing = raw.find(")", begin)
    inner = raw.find("(", begin + 1)
    if closing < 0:
        complaints.append((begin, len(raw), "the comment is not closed on its line: add the ')'", FAULT))
        return len(raw)
    if inner < 0 or inner > closing:
        return closing + 1
    end = _pair(raw, begin)
    if control.answer("comments") != "nested":
        what = "a '(' inside a comment, which this control does not allow: take the inner brackets out"
        complaints.append((begin, end or len(raw), what, FAULT))
    elif end is None:
        complaints.append((begin, len(raw), "a bracket inside the comment is not closed: add the ')'", FAULT))
    else:
        what = "brackets inside a comment were paired; a control that ends a comment at the first ')' stops here"
        complaints.append((begin, end, what, NOTE))
    return end or len(raw)


def _pair(raw: str, begin: int) -> int | None:
    """Position after the `)` that pairs with the `(` at `begin`."""
    depth = 0
    for at in range(begin, len(raw)):
        depth += (raw[at] == "(") - (raw[at] == ")")
        if depth == 0:
            return at + 1
    return None
