"""The end of a reading: what only shows when all is read, and the frozen result."""

from __future__ import annotations

import hashlib
import re

import numpy as np

from firstoff.program import _kernels as k
from firstoff.program import compensation
from firstoff.program.drive import Driver
from firstoff.program.modal import modal_state
from firstoff.program.moves import Flag, Reading
from firstoff.program.reader import Reader
from firstoff.program.text import Text

_COMMENTS = re.compile(r"\([^)]*\)|;.*")
_PROGRAM = re.compile(r"[ \t]*(?:N[ \t0-9]+)?[O:][ \t]*(?:0*([0-9]+)|<)", re.IGNORECASE)
_GOTO = re.compile(r"GOTO[ \t]*0*([0-9]+)", re.IGNORECASE)
_NUMBER = re.compile(r"[ \t]*/?[ \t]*N[ \t]*0*([0-9]+)", re.IGNORECASE)
_RETURNS = re.compile(r"M[ \t]*0*99(?![0-9])|ENDSUB|RETURN", re.IGNORECASE)
_ENDS = re.compile(r"M[ \t]*0*(?:2|30)(?![0-9])", re.IGNORECASE)
_MOVES = re.compile(r"[XYZ][ \t]*[-+#\[.0-9]", re.IGNORECASE)
_DEFAULTS = (
    (k.SAID_DISTANCE, "absolute distances (G90)"),
    (k.SAID_PLANE, "the XY plane (G17)"),
    (k.SAID_FEED_MODE, "feed per minute (G94)"),
    (k.SAID_RETURN, "return to the height before the cycle (G98)"),
)


def finish(reader: Reader, driver: Driver, text: Text, file: str, raw: bytes) -> Reading:
    """Check what is left to check and freeze the reading."""
    state = reader.state
    moves, arcs = reader.record.frozen_moves(), reader.record.frozen_arcs()
    if reader.unit_moves:
        flags = moves.flags
        flags.setflags(write=True)
        flags[: reader.unit_moves] |= np.uint16(Flag.UNSURE)  # made before the program said in which unit
        flags.setflags(write=False)
    compensation.check(reader, moves, arcs)
    _file_remarks(reader, text)
    _file_end(reader, driver, text)
    _after_end(reader, driver, text)
    _defaults(reader)
    if reader.origins.full:
        reader.findings.fault(1, 1, "", "the program sets its zero more often than can be followed", loses=True)
    return Reading(
        file=file,
        sha256=hashlib.sha256(raw).hexdigest(),
        lines=len(text.lines),
        blocks=state.blocks,
        text=text.lines,
        units={20: "inch", 21: "mm"}.get(state.units, "not stated"),
        moves=moves,
        arcs=arcs,
        frames=reader.origins.frozen(),
        events=tuple(reader.record.events),
        problems=reader.findings.finish(),
        final=modal_state(reader),
        before_end=reader.before_end or modal_state(reader),
        parameters=reader.parameters.numbered(),
        end_mm=reader.end_mm or (None, None, None),
        control_used=tuple(reader.control.used),
        supplied=tuple(driver.flow.sources.stamps.items()),
    )


def _file_remarks(reader: Reader, text: Text) -> None:
    for line, what in text.remarks:
        reader.findings.note(what, line, 1, "", what)
    if reader.control.report or b";" not in text.data:
        return
    lines = [at for at, line in enumerate(text.lines, 1) if ";" in line and ";" in re.sub(r"\([^)]*\)", "", line)]
    if lines:
        what = f"';' begins a comment or ends a block ({len(lines)} times): the report has only ( ), most controls take both"
        reader.findings.note(";", lines[0], text.lines[lines[0] - 1].index(";") + 1, ";", what)


def _file_end(reader: Reader, driver: Driver, text: Text) -> None:
    """M2, M30 or a pair of % must end the text (NISTIR 6556, 3.1)."""
    ended_by = reader.state.ended_by
    marks = [at for at, line in enumerate(text.lines, 1) if "%" in line and line.strip() == "%"]
    first = next((at for at, line in enumerate(text.lines, 1) if line.strip()), 1)
    opened, last = first in marks[:1], len(text.lines)
    written = text.lines[-1].strip()
    missing = ""
    if opened and len(marks) < 2:
        missing = "the file begins with % and has no second %: it may be cut off"
    elif ended_by == "text end" and not (opened and len(marks) > 1):
        missing = "the text ends without M2, M30 or a pair of %: it may be cut off"
    if missing and reader.control.answer("file_end") == "fault":
        reader.findings.fault(last, 1, written, missing)
    elif missing:
        reader.findings.note(missing, last, 1, written, missing)
    elif ended_by == "%" and not reader.control.report:
        what = "the program ends with % and has no M2 or M30"
        reader.findings.note(what, last, 1, "%", what)
    if ended_by in ("text end", "") and driver.is_broken(last) and last > 1:
        what = "the last line cannot be read and nothing ends the program: the text is probably cut off here"
        reader.findings.fault(last, 1, written, what)


def _after_end(reader: Reader, driver: Driver, text: Text) -> None:
    """Text behind the end: subprograms belong there, a second program does not."""
    ended_by = reader.state.ended_by
    if ended_by not in ("M2", "M30", "%", "M99") or reader.state.spoken_line:
        return
    begin = reader.state.line + 1
    rest = [(at, _COMMENTS.sub("", line).strip()) for at, line in enumerate(text.lines[begin - 1 :], begin)]
    rest = [(at, line) for at, line in rest if line]
    if ended_by != "%" and rest and rest[0][1] == "%":
        rest = rest[1:]
        ended_by = "%"
    if not rest or _is_jumped_to(driver, text, rest):
        return
    at, line = rest[0]
    if ended_by == "%" or not _PROGRAM.match(line):
        what = f"text stands behind the end of the program (lines {at} to {rest[-1][0]}): it is not run"
        second = any(_MOVES.search(line) for _, line in rest)
        if second and not reader.control.report:
            reader.findings.fault(at, 1, line, f"{what}; if it is a second program, put it into a file of its own")
        else:
            reader.findings.note(what, at, 1, line, what)
        return
    _uncalled(reader, driver, text, rest)


def _is_jumped_to(driver: Driver, text: Text, rest: list[tuple[int, str]]) -> bool:
    """Whether a GOTO leads behind the end: then what stands there belongs to the program."""
    if not any(_GOTO.search(line) for line in text.lines):
        return False
    targets = {int(number) for line in text.lines for number in _GOTO.findall(line)}
    numbers = {int(found[1]) for _, line in rest if (found := _NUMBER.match(line))}
    return bool(targets & numbers) or any(at in driver.entered for at, line in rest if not _PROGRAM.match(line))


def _uncalled(reader: Reader, driver: Driver, text: Text, rest: list[tuple[int, str]]) -> None:
    """Programs behind the end that nothing calls."""
    heads = [(at, found[1]) for at, line in rest if (found := _PROGRAM.match(line)) and found[1]]
    for (at, number), (after, _) in zip(heads, [*heads[1:], (len(text.lines) + 1, "")], strict=True):
        if at in driver.entered or re.search(rf"P[ \t]*[0-9]*?0*{number}(?![0-9])|[Oo]0*{number}[ \t]*call", "\n".join(text.lines), re.IGNORECASE):  # fmt: skip
            continue
        body = "\n".join(line for line_at, line in rest if at <= line_at < after)
        written = text.lines[at - 1].strip()
        if _ENDS.search(body) and not _RETURNS.search(body):
            what = f"a second program, O{number}, stands in this file: only the first is read; put it into a file of its own"
            reader.findings.fault(at, 1, written, what)
        else:
            reader.findings.note("uncalled", at, 1, written, f"O{number} stands behind the end and is never called")


def _defaults(reader: Reader) -> None:
    """What the program relies on without saying it."""
    state = reader.state
    taken = [name for bit, name in _DEFAULTS if state.relied & bit]
    if taken and not reader.control.report:
        what = f"not stated before it matters, and taken as usual when a control is switched on: {', '.join(taken)}"
        line = state.relied_line
        written = reader.text[line - 1].strip() if 1 <= line <= len(reader.text) else ""
        reader.findings.note("defaults", line, 1, written, what)
