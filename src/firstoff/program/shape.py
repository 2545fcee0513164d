"""How the lines of one text belong together: which begins a loop, which ends it, which carry an N, where programs begin.

Worked out once a text, and only when something in it jumps. White space may stand anywhere, so lines are picked by loose patterns
and then taken apart properly.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

from firstoff.program.blocks import Jump, Value
from firstoff.program.language import parse_line
from firstoff.program.parameters import Answers

_PAIRED = re.compile(r"D[ \t]*O|E[ \t]*N[ \t]*D|^[ \t/]*(?:N[ \t0-9]*)?O", re.IGNORECASE)
_NUMBERED = re.compile(r"[ \t]*/?[ \t0-9]*N[ \t]*([0-9][0-9 \t]*)", re.IGNORECASE)
_OPENS = frozenset({"sub", "if", "while", "do", "repeat"})
_CLOSES = {"endsub": "sub", "endif": "if", "endwhile": "while", "endrepeat": "repeat"}
_LOOPS = frozenset({"while", "do", "repeat"})


@dataclass(slots=True)
class Span:
    """Lines that belong together, from `open` to `close` with the else lines in `middles` between."""

    verb: str
    label: Value | str | None
    open: int
    close: int = 0
    middles: list[int] = field(default_factory=list)


@dataclass(slots=True)
class Shape:
    """What belongs to what in one text."""

    lines: Sequence[str]
    starts: list[int]
    """Lines at which programs begin."""
    spans: list[Span]
    by_line: dict[int, Span]
    _numbered: dict[int, list[int]] | None = None

    def span_at(self, line: int) -> Span | None:
        """The span that `line` opens, parts or closes."""
        return self.by_line.get(line)

    def subs(self, name: str) -> list[int]:
        """Lines of `o<name> sub`."""
        return [span.open for span in self.spans if span.verb == "sub" and span.label == name]

    def loop_around(self, line: int, label: Value | str | None) -> Span | None:
        """The loop called `label` that `line` stands in."""
        for span in self.spans:
            if span.verb in _LOOPS and span.label == label and span.open < line < span.close:
                return span
        return None

    def entered(self, origin: int, target: int) -> Span | None:
        """A loop that a jump from `origin` to `target` would lead into."""
        for span in self.spans:
            inside = span.open < target <= span.close
            if span.verb in _LOOPS and inside and not span.open <= origin <= span.close:
                return span
        return None

    def program_around(self, line: int) -> tuple[int, int]:
        """First line of the program that `line` stands in, and the line after its last."""
        at = bisect_right(self.starts, line)
        begin = self.starts[at - 1] if at else 1
        if at <= 1:
            begin = 1  # what stands before the first O number belongs to it
        return begin, self.starts[at] if at < len(self.starts) else len(self.lines) + 1

    def numbered(self, number: int) -> list[int]:
        """Lines that carry N`number`."""
        if self._numbered is None:
            self._numbered = {}
            for at, text in enumerate(self.lines, 1):
                found = _NUMBERED.match(text)
                if found:
                    digits = found[1].replace(" ", "").replace("\t", "")
                    self._numbered.setdefault(int(digits[:18]), []).append(at)
        return self._numbered.get(number, [])


def shape_of(lines: Sequence[str], programs: Sequence[tuple[int, int]], control: Answers) -> Shape:
    """Find what belongs together; what has no other end is in no span."""
    shape = Shape(lines, [line for _, line in programs], [], {})
    starts = set(shape.starts)
    open_spans: list[Span] = []
    for at, text in enumerate(lines, 1):
        if at in starts:
            open_spans = []
        if _PAIRED.search(text):
            jump = parse_line(text, at, control)[0].jump
            if jump is not None:
                _place(shape, open_spans, jump, at)
    return shape


def _place(shape: Shape, open_spans: list[Span], jump: Jump, line: int) -> None:
    top = open_spans[-1] if open_spans else None
    fits = top is not None and top.label == jump.label
    if jump.verb == "while" and fits and top is not None and top.verb == "do" and isinstance(jump.label, str):
        _close(shape, open_spans, line)
    elif jump.verb in _OPENS:
        open_spans.append(Span(jump.verb, jump.label, line))
    elif jump.verb in ("elseif", "else") and fits and top is not None and top.verb == "if":
        top.middles.append(line)
    elif jump.verb in _CLOSES and fits and top is not None:
        macro_do = top.verb == "do" and not isinstance(jump.label, str)  # DO1 alone ends with END1 as well
        if macro_do or top.verb == _CLOSES[jump.verb]:
            _close(shape, open_spans, line)


def _close(shape: Shape, open_spans: list[Span], line: int) -> None:
    span = open_spans.pop()
    span.close = line
    shape.spans.append(span)
    for at in (span.open, *span.middles, line):
        shape.by_line[at] = span
