"""Runs a program: the kernel over runs of plain lines, Python over every other line, the flow over the jumps between them."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from firstoff.program import _kernels as k
from firstoff.program.blocks import Block
from firstoff.program.calls import Cursor
from firstoff.program.flow import Flow
from firstoff.program.interpret import interpret
from firstoff.program.miscellaneous import end
from firstoff.program.moves import FAULT, What
from firstoff.program.reader import ALL_AXES, Reader
from firstoff.program.sources import Source

CONFLICT = re.compile(r"<<<<<<<|=======|>>>>>>>|\|\|\|\|\|\|\|")
"""Marks that version control leaves in a file with two versions of the same lines."""
CODE = re.compile(r"(?:[ \t]*[A-Z][ \t]*[-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))+[ \t;]*", re.IGNORECASE)
"""Nothing but words."""
_PARENTHESES = re.compile(r"\([^)]*\)")


class Driver:
    """One run of one program; `fast` = with the kernel."""

    def __init__(self, reader: Reader, flow: Flow, main: bytes, fast: bool = True) -> None:
        self.reader = reader
        self.flow = flow
        self._fast = fast
        self._texts: dict[int, tuple[NDArray[np.uint8], NDArray[np.int64]]] = {0: _bytes_and_starts(main)}
        self._broken: set[Cursor] = set()
        self.entered: set[int] = set()
        """Lines of the main text that something other than the line before led to."""

    def run(self) -> None:
        """Run to the end, or to where the flow gives up."""
        flow, state = self.flow, self.reader.state
        cursor = flow.start()
        while cursor is not None:
            if self._fast:
                cursor = self._plain(cursor)
                if cursor is None:
                    break
            self._stand_at(cursor)
            following = self._odd(cursor)
            if state.ended_by:
                break
            if following is not None and following.source == 0 and following.line != cursor.line + 1:
                self.entered.add(following.line)
            cursor = following
        if not state.ended_by:
            self._text_over()

    def is_broken(self, line: int) -> bool:
        """Whether a line of the main text could not be taken apart."""
        return Cursor(0, line) in self._broken

    def _plain(self, cursor: Cursor) -> Cursor | None:
        """Let the kernel run from `cursor`; the line it stopped before."""
        reader, whole = self.reader, self.reader.state.whole
        self._stand_at(cursor)
        text, starts = self._text(cursor)
        whole[k.CURSOR] = starts[cursor.line - 1]
        while True:
            record = reader.record
            status = k.read_plain(text, whole, reader.state.real, record.moves, record.arcs)
            if status != k.FULL:
                break
            record.grow()
        found = int(whole[k.FOUND_LINE])
        if found:
            whole[k.FOUND_LINE] = 0
            reader.findings.found(found)
        line = int(whole[k.LINE])
        return self.flow.run_to(cursor, line) if line != cursor.line else cursor

    def _odd(self, cursor: Cursor) -> Cursor | None:
        """Let Python run one line; the line after it."""
        reader, flow = self.reader, self.flow
        problems = reader.findings.problems
        if self._is_conflict(cursor):
            return flow.skip(cursor)
        known = len(problems)
        block = flow.block(cursor)
        for index in range(known, len(problems)):
            if problems[index].kind == FAULT:
                self._broken.add(cursor)
                reader.findings.lost_by(index)
        does = bool(block.words or block.assignments or block.jump is not None)
        if block.deletable and does and self._deleted(cursor):
            return flow.skip(cursor)
        self._check_text(block, cursor)
        interpret(reader, block, cursor in self._broken)
        self._check_lost()
        if reader.state.ended_by:
            return None
        known = len(problems)
        following = flow.after(block, cursor, reader.parameters)
        self._check_lost()
        return following

    def _check_text(self, block: Block, cursor: Cursor) -> None:
        """What is legal on its own, but hardly where it stands."""
        reader = self.reader
        text = self.flow.text_of(cursor)
        if ";" in text and block.words and not reader.control.report:
            behind = _PARENTHESES.sub("", text).partition(";")[2]
            if CODE.fullmatch(behind):
                what = "behind ';' stands what looks like code: a comment on most controls, the next block on those that end blocks with ';'"
                reader.findings.fault(
                    reader.line, text.index(";") + 1, text[text.index(";") :].strip(), reader.where + what
                )
        if block.jump is not None and block.jump.verb == "program" and self.flow.depth == 0 and reader.state.moves:
            what = "a program number in the middle of a program: a second program, or a slip"
            reader.findings.fault(reader.line, block.jump.column, text.strip(), reader.where + what)

    def _deleted(self, cursor: Cursor) -> bool:
        """Whether the switch makes the control skip this block."""
        reader = self.reader
        switch = reader.start.block_delete
        if switch is None:
            answer = reader.control.answer("block_delete")
            if answer is None:
                what = "whether a block with / is run hangs on a switch: it is read as run"
                text = self.flow.text_of(cursor).strip()
                reader.findings.depends(reader.line, 1, text, reader.where + what, "block_delete")
            switch = answer == "on"
        reader.record.event(What.BLOCK_DELETE, reader.line, int(not switch))
        return switch

    def _is_conflict(self, cursor: Cursor) -> bool:
        text = self.flow.text_of(cursor)
        if text[:1] not in "<=>|" or not CONFLICT.match(text):
            return False
        reader = self.reader
        what = "a mark that version control leaves where two versions meet: settle which of them is meant"
        reader.findings.fault(reader.line, 1, text.strip(), reader.where + what, loses=True)
        reader.lose(ALL_AXES)
        return True

    def _check_lost(self) -> None:
        if self.flow.lost and "the way through the program" not in self.reader.state.veil:
            self.reader.lose_for_good("the way through the program")

    def _stand_at(self, cursor: Cursor) -> None:
        reader, state = self.reader, self.reader.state
        state.line = cursor.line
        if cursor.source == 0:
            state.spoken_line = 0
            reader.where = ""
        else:
            state.spoken_line = self.flow.line_of(cursor)
            reader.where = f"{self._source(cursor).name} line {cursor.line}: "

    def _text_over(self) -> None:
        """The text ended without M2 or M30."""
        state = self.reader.state
        by = self.flow.ended_by
        if by == "M99":
            end(self.reader, "M99", 99)
            return
        self.reader.keep_end()
        state.ended_by = by or "text end"

    def _source(self, cursor: Cursor) -> Source:
        return self.flow.sources.all[cursor.source]

    def _text(self, cursor: Cursor) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
        known = self._texts.get(cursor.source)
        if known is None:
            data = "\n".join(self._source(cursor).lines).encode("utf-8", "replace")
            known = self._texts[cursor.source] = _bytes_and_starts(data)
        return known


def _bytes_and_starts(data: bytes) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """The text as the kernel takes it, and where each line begins."""
    text = np.frombuffer(data, np.uint8)
    ends = np.flatnonzero(text == k.NEWLINE)
    return text, np.concatenate(([0], ends + 1)).astype(np.int64)
