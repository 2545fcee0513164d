"""Mistakes that happen in real shops, each a small edit of a good program or its job file (`docs/demo.md` has the list and the stories)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Edit:
    """Change one line of a text: the first that reads `find` after the line that reads `after` (or from the top).

    `put` takes its place; None takes it out. `beside` keeps the line and puts `put` before it.
    """

    find: str
    put: str | None
    after: str | None = None
    beside: bool = False


@dataclass(frozen=True, slots=True)
class JobPlan:
    """One job of the demo shop and what its examination is expected to say."""

    name: str
    story: str
    expected: Mapping[str, str]
    """Question id -> answer; questions that are not named may answer anything but, in a good job, stop."""
    mistake_line: int | None = None
    """Line of program.nc (from 1) that the mistake is in; None where there is none, or where it is in job.toml."""
    twin: str | None = None
    """The same job without the mistake."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A job that differs from a good one (`twin`) by a few edits."""

    name: str
    twin: str
    story: str
    expected: Mapping[str, str]
    program: tuple[Edit, ...] = ()
    """The last of them is the one an answer should point at."""
    job: tuple[Edit, ...] = field(default=())


def _says(**answers: str) -> Mapping[str, str]:
    return MappingProxyType(answers)


CLEAR = _says(
    understood="clear",
    travel="clear",
    keep_out="clear",
    rapid_contact="clear",
    body_contact="clear",
    below="clear",
    tool="clear",
    spindle="clear",
    leftovers="clear",
    today="clear",
    feed="clear",
)

GOOD = (
    JobPlan("logger-lid", "A lid with a pocket, a label slot, four holes and a chamfer, in a vice.", CLEAR),
    JobPlan(
        "sensor-cap",
        "A cap with a domed pad, cut out of a clamped plate. The program stops once so that a person can look at the gap over the stock.",
        MappingProxyType({**CLEAR, "leftovers": "care"}),
    ),
    JobPlan(
        "clamp-ring",
        "A ring on tape, its outside cut with compensation: D2 is taken to hold the diameter of em6, and the answer says so.",
        _says(travel="clear", keep_out="clear", below="clear", tool="clear", spindle="clear", leftovers="clear"),
    ),
    JobPlan(
        "vent-plug",
        "A plug whose slot needs a tool that came this morning: nobody has measured its length.",
        _says(understood="clear", tool="unjudged", travel="unjudged", below="unjudged", leftovers="clear"),
    ),
)

MISTAKES = (
    Mistake(
        "lid-wrong-length",
        "logger-lid",
        "The head of the second section was copied from the first, and H stayed H1: the end mill would go 10 mm too deep.",
        _says(tool="stop", below="stop"),
        (Edit("G0 G43 Z12.0 H2", "G0 G43 Z12.0 H1", "T2 M6"),),
    ),
    Mistake(
        "lid-decimal-slip",
        "logger-lid",
        "Typed at the machine: four holes 80.0 mm deep instead of 8.0.",
        _says(below="stop", travel="stop"),
        (
            Edit(
                "G83 G98 X6.0 Y6.0 Z-8.0 R3.0 Q2.5 F360.0",
                "G83 G98 X6.0 Y6.0 Z-80.0 R3.0 Q2.5 F360.0",
                "T5 M6",
            ),
        ),
    ),
    Mistake(
        "lid-spindle-off",
        "logger-lid",
        "The drill's section was pasted without S, M3 and the wait; the change has stopped the spindle.",
        _says(spindle="stop"),
        (Edit("G4 P4.5", None, "T5 M6"), Edit("S9000 M3", None, "T5 M6")),
    ),
    Mistake(
        "lid-wrong-pocket",
        "logger-lid",
        "The program takes the 3 mm end mill from pocket 4; since then the rack was re-filled and pocket 4 holds the long one.",
        _says(tool="stop"),
        (Edit("G0 G43 Z12.0 H3", "G0 G43 Z12.0 H4", "T3 M6"), Edit("T3 M6", "T4 M6")),
        (Edit('3 = "em3"', '4 = "em3"'),),
    ),
    Mistake(
        "lid-park",
        "logger-lid",
        "A park move was added so that the table comes to the door, one line too early: the tool is still down and the rack is in the way.",
        _says(keep_out="stop"),
        (Edit("G53 G0 Z0.0", "G53 G0 X300.0 Y225.0", "T6 M6", beside=True),),
    ),
    Mistake(
        "lid-incremental",
        "logger-lid",
        "G91 G28 Z0 typed from habit; the G90 that used to follow had been tidied away.",
        _says(travel="stop"),
        (Edit("G54 G90", "G54", "T6 M6"), Edit("G53 G0 Z0.0", "G91 G28 Z0.0", "T5 M6")),
    ),
    Mistake(
        "lid-no-run-up",
        "logger-lid",
        "The waits after M3 were deleted to save time.",
        _says(spindle="stop"),
        (Edit("G4 P4.5", None, "T2 M6"),),
    ),
    Mistake(
        "lid-air-blast",
        "logger-lid",
        "The air blast was wired to M52 last month and nobody wrote it down: a gap, not a mistake.",
        _says(understood="unjudged"),
        (Edit("G0 G43 Z12.0 H5", "M52", "T5 M6", beside=True),),
    ),
    Mistake(
        "cap-low-traverse",
        "sensor-cap",
        "G99 instead of G98: between two holes the drill rises to Z3 only, and a clamp of 6 mm stands between them.",
        _says(rapid_contact="stop"),
        (Edit("G81 G98 X26.0 Y-18.0 Z-8.0 R3.0 F600.0", "G81 G99 X26.0 Y-18.0 Z-8.0 R3.0 F600.0", "T5 M6"),),
    ),
    Mistake(
        "cap-into-the-board",
        "sensor-cap",
        "The plate is 9 mm; the last pass of the cut-out is that of a 14 mm plate.",
        _says(below="stop"),
        (Edit("G1 Z-9.2 F500.0", "G1 Z-14.2 F500.0", "T2 M6"),),
    ),
    Mistake(
        "cap-too-fast",
        "sensor-cap",
        "The speed is the one on the tool maker's page; this spindle ends at 27 000 1/min.",
        _says(spindle="stop"),
        (Edit("S24000 M3", "S32000 M3", "T7 M6"),),
    ),
    Mistake(
        "ring-inch",
        "clamp-ring",
        "The head of an inch program was kept above numbers in mm.",
        _says(travel="stop"),
        (Edit("G21 G17 G40 G49 G90 G94 G64", "G20 G17 G40 G49 G90 G94 G64"),),
    ),
    Mistake(
        "ring-second-station",
        "clamp-ring",
        "job.toml still holds the work zero of the right-hand station, where the rack now stands.",
        _says(travel="stop", keep_out="stop"),
        (),
        (Edit('at = { value = ["148.75(2) mm"', 'at = { value = ["312.75(2) mm"'),),
    ),
    Mistake(
        "ring-home-absolute",
        "clamp-ring",
        "G28 Z0 in absolute mode passes through program Z0, which is the bottom of the plate.",
        _says(rapid_contact="stop"),
        (Edit("G53 G0 Z0.0", "G28 Z0.0", "T6 M6"),),
    ),
    Mistake(
        "ring-shifted",
        "clamp-ring",
        "G92 typed at the machine last week to nudge a worn edge by a quarter of a millimetre, saved with the program, never taken back.",
        _says(leftovers="care"),
        (Edit("G0 G43 Z22.0 H2", "G92 X0.25", "T2 M6", beside=True),),
    ),
)


def edited(text: str, edits: tuple[Edit, ...]) -> tuple[str, int | None]:
    """The text after all edits, and the line number (from 1) of the last one. Raises `ValueError` if an edit finds nothing."""
    lines = text.splitlines()
    at: int | None = None
    for edit in edits:
        at = _find(lines, edit)
        if edit.put is None:
            del lines[at]
        elif edit.beside:
            lines.insert(at, edit.put)
        else:
            lines[at] = lines[at].replace(edit.find, edit.put) if edit.put != lines[at] else lines[at]
    return "\n".join(lines) + "\n", None if at is None else at + 1


def _find(lines: list[str], edit: Edit) -> int:
    start = 0 if edit.after is None else lines.index(edit.after) + 1
    for at in range(start, len(lines)):
        if lines[at] == edit.find or lines[at].startswith(edit.find):
            return at
    raise ValueError(f"no line reads {edit.find!r} after {edit.after!r}")
