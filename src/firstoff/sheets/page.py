"""A terminal page: lines that never run past the width, in characters the terminal can show, with one accent."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from rich.cells import cell_len
from rich.console import Console
from rich.style import Style
from rich.text import Text

from firstoff.sheets.glyphs import PLAIN, QUIET, SAYS, STRONG, Glyphs, cropped, glyphs_for, tidy

NARROWEST, WIDEST = 40, 132
"""Below the first nothing can be set; beyond the second lines grow too long to read."""
MARGIN = 1
RULED_EVERY = 10
"""Cells between the ticks of the page's ruled edge."""
_GLUE = "\ue000"
"""Stands for a space that no line is broken at; no program holds it, because `tidy` takes private characters out."""
_UNIT = re.compile(r"((?:\d|\d\)|[Ll]ine|to|of [XYZ]|\b[XYZ])) ((?:mm|µm|um|in|thou|N|W|s|min|h|deg|°|1/min)\b|\d)")
"""A number and its unit, or a name and its number: they stay together."""


@dataclass(slots=True)
class Page:
    """What is being set, line by line; `show` prints it."""

    console: Console
    lines: list[Text] = field(default_factory=list)

    @property
    def width(self) -> int:
        """Cells that a line may fill, margin included."""
        return max(NARROWEST, min(self.console.width, WIDEST))

    @property
    def glyphs(self) -> Glyphs:
        return glyphs_for(self.console.encoding)

    def text(self, words: str, style: Style = PLAIN) -> Text:
        """Words as a styled text that this terminal can show."""
        return Text(tidy(words, self.console.encoding), style=style, end="")

    def crop(self, words: str, width: int) -> str:
        return cropped(tidy(words, self.console.encoding), width, self.glyphs)

    def wrapped(self, text: Text, width: int) -> list[Text]:
        """Lines of at most `width` cells."""
        if not text.plain.strip():
            return []
        glued = text.copy()
        glued.plain = _UNIT.sub(rf"\1{_GLUE}\2", glued.plain)
        lines = list(glued.wrap(self.console, max(width, 8), overflow="fold"))
        for line in lines:
            line.end = ""
            line.plain = line.plain.replace(_GLUE, " ")
            line.rstrip()
        return lines

    # --- putting lines ------------------------------------------------------------------------------------------------

    def gap(self) -> None:
        """An empty line, never two."""
        if self.lines and self.lines[-1].plain.strip():
            self.lines.append(Text("", end=""))

    def put(self, *parts: Text) -> None:
        line = Text("", end="", no_wrap=True)
        for part in parts:
            line.append_text(part)
        line.rstrip()
        self.lines.append(line)

    def say(self, words: str | Text, indent: int = MARGIN, style: Style = PLAIN, first: Text | None = None) -> None:
        """Words, wrapped behind an indent; `first` stands in the indent of the first line."""
        text = words if isinstance(words, Text) else self.text(words, style)
        for number, line in enumerate(self.wrapped(text, self.width - indent)):
            head = first if first is not None and number == 0 else Text("")
            self.put(padded(head, indent), line)

    def edge(self) -> None:
        """A ruled edge over the whole width."""
        glyphs = self.glyphs
        cells = [glyphs.rule_tick if n % RULED_EVERY == 0 else glyphs.rule for n in range(self.width - MARGIN)]
        self.put(Text(" " * MARGIN), Text("".join(cells), style=QUIET))

    def heading(self, words: str, aside: Text | None = None) -> None:
        """A section's name with a hairline under it."""
        self.gap()
        left = self.text(words, SAYS + STRONG)
        line = Text(" " * MARGIN)
        line.append_text(left)
        if aside is not None and cell_len(line.plain) + cell_len(aside.plain) + 2 <= self.width:
            line.append(" " * (self.width - cell_len(line.plain) - cell_len(aside.plain)))
            line.append_text(aside)
        self.put(line)
        self.put(Text(" " * MARGIN), Text(self.glyphs.rule * (self.width - MARGIN), style=QUIET))

    def beside(self, head: Text, indent: int, left: list[Text], right: list[Text], left_width: int) -> None:
        """Two columns: `head` in the indent of the first line, `left` in cells from `indent`, `right` after two more cells."""
        for number in range(max(len(left), len(right))):
            line = padded(head if number == 0 else Text(""), indent)
            line.append_text(padded(left[number] if number < len(left) else Text(""), left_width + 2))
            if number < len(right):
                line.append_text(right[number])
            self.put(line)

    def code(self, line: int, words: str, width: int) -> Text:
        """A program line in its own voice: its number, a gutter, the text as written, cut where it is longer than `width`."""
        text = Text("", end="", no_wrap=True)
        text.append(f"{line:>6} {self.glyphs.gutter} ", QUIET)
        text.append(self.crop(words.strip(), width - cell_len(text.plain)), STRONG)
        return text

    def show(self) -> None:
        """Print all lines."""
        for line in self.lines:
            self.console.print(line, no_wrap=True, overflow="crop", highlight=False, markup=False)


def padded(text: Text, width: int) -> Text:
    """A line that begins with `text` and is at least `width` cells long."""
    line = Text("", end="", no_wrap=True)
    line.append_text(text)  # a span, so that its style ends where it ends
    line.append(" " * max(0, width - cell_len(line.plain)))
    return line
