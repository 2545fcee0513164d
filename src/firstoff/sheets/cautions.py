"""What a program does that hurts whoever does not expect it: said on the sheet where it is set up."""

from __future__ import annotations

from collections.abc import Callable

from firstoff.program.moves import Event, What
from firstoff.sheets.sheet_facts import reach
from firstoff.sheets.sheet_picture import Setting
from firstoff.sheets.standing import COOLANTS
from firstoff.verdict.case import Case
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import listed

RAPIDS = "rapid_contact"
"""The question whether rapids pass clear of everything."""
MOST_LINES = 4
"""Lines that are named one by one."""


def cautions(examination: Examination, setting: Setting) -> list[str]:
    """A sentence or two each, the most surprising first. How high rapids pass is only told where they were judged and found clear: heights
    are those of the program, and they are true where its lengths are."""
    case = examination.case
    clear = any(one.question.id == RAPIDS and one.answer is Answer.CLEAR for one in examination.answers)
    told = [_low_rapids(case, setting) if clear else "", _starts(case), _by_hand(case), _skipped(case), _locked(case)]
    return [words for words in told if words]


def _low_rapids(case: Case, setting: Setting) -> str:
    low, tops = reach(case).rapid_z, [solid.top for solid in setting.around]
    if setting.highest is not None:
        tops.append(setting.highest)
    if setting.stock is not None:
        tops.append(setting.stock[2][1])
    if not setting.depth or low is None or not tops:
        return ""
    over = low - max(tops)
    if over <= 0:
        return "Rapids go sideways lower than what stands highest: look where they pass before the first run."
    return f"By the program rapids pass {case.units.length(over)} above what stands highest. Anything longer will be hit: a stud, a clamp, a chip box."


def _starts(case: Case) -> str:
    """Where something first turns or flows."""
    spindle = _first(case, What.SPINDLE, lambda event: event.value != 0)
    coolant = _first(case, What.COOLANT, lambda event: event.number > 0)
    parts = [f"the spindle starts at line {spindle.line}"] if spindle else []
    if coolant:
        parts.append(f"{COOLANTS.get(coolant.number, 'coolant')} at line {coolant.line}")
    return f"Door shut: {', '.join(parts)}." if parts else ""


def _by_hand(case: Case) -> str:
    by_hand = case.facts.settings.get("machine.control.m6")
    changes = [event for event in case.reading.events if event.what is What.TOOL_CHANGE]
    if by_hand is None or by_hand.value != "by hand" or not changes:
        return ""
    return "Tools are put in by hand: only while the spindle stands and is kept from starting."


def _skipped(case: Case) -> str:
    """Blocks that a switch skips were read one way; the switch must stand that way."""
    told = []
    for number, how, switch in ((1, "as run", "off"), (0, "as skipped", "on")):
        lines = [
            event.line for event in case.reading.events if event.what is What.BLOCK_DELETE and event.number == number
        ]
        if lines:
            told.append(f"{_lines(lines)} with a slash were examined {how}: block-delete switch {switch}.")
    return " ".join(told)


def _locked(case: Case) -> str:
    lines = [event.line for event in case.reading.events if event.what is What.OVERRIDE and event.value == 0]
    return f"{_lines(lines)} (M49): from there the override knobs do nothing until M48." if lines else ""


def _lines(lines: list[int]) -> str:
    some = list(dict.fromkeys(lines))
    name = "Line" if len(some) == 1 else "Lines"
    return f"{name} {listed([str(line) for line in some], MOST_LINES)}"


def _first(case: Case, what: What, which: Callable[[Event], bool]) -> Event | None:
    return next((event for event in case.reading.events if event.what is what and which(event)), None)
