"""docs/faults.md: the tables of the study, with nothing of the machine or the day that it ran on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from proof.faults.all_kinds import KINDS, UNDRAWN, UNDRAWN_GUARD
from proof.faults.clean_programs import OWN_JOBS
from proof.faults.machines import MACHINES
from proof.faults.shop import DEMO_JOBS, NOT_MEASURED
from proof.faults.study import Fault, Found
from proof.faults.unseen import SAID_ONLY, Tally

Z95 = 1.959964
MANY = 25
"""Mistakes wanted of each kind."""
MARKS = {"clear": "·", "care": "C", "unjudged": "U", "stop": "S"}
Clean = Mapping[tuple[str, str], Mapping[str, str]]
WHY_SILENT = {
    "F times ten": "light passes whose chip, forces and reached feed stay within every capacity that the job and the machine state; the axes come "
    "nowhere near the feed asked. Harmless as far as the files tell, and left in the count.",
    "feed a turn": "as F times ten.",
    "length mistyped": "the length is longer by 15 mm or more than stick-out and holder steps make it. In many shops the steps are not told up to "
    "the gauge line, and the files look the same. The tool really ends higher than believed and cuts less, or nothing. "
    "Left in the count; the sheet's first contact and distance to go guard against it.",
    "blank too narrow": "the blank is short where the clean program cuts scrap on its way out: that line cuts air, and the part is whole. "
    "Harmless, and left in the count.",
}
"""What is known of mistakes that no question answers; they count all the same."""


@dataclass(frozen=True, slots=True)
class Told:
    """All that the page tells."""

    seed: int
    wanted: int
    clean: Clean
    found: Sequence[Found]
    undrawn: Found
    unseen: Sequence[Tally]


def wilson(hits: int, of: int) -> tuple[float, float]:
    """Ends of the 95 % interval of a share (E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of
    the American Statistical Association 22, 1927, 209-212; from memory)."""
    if of == 0:
        return 0.0, 1.0
    share, square = hits / of, Z95**2 / of
    middle = (share + square / 2) / (1 + square)
    half = Z95 / (1 + square) * math.sqrt(share * (1 - share) / of + square / (4 * of))
    return max(0.0, middle - half), min(1.0, middle + half)


def page(told: Told) -> str:
    """The whole page as Markdown."""
    parts = [_head(told), _clean_table(told), _table(told), _missed(told), _unseen_table(told), _how()]
    return "\n\n".join(parts) + "\n"


def _head(told: Told) -> str:
    faults = [one for found in told.found for one in found.faults]
    stops = sum("stop" in answers.values() for answers in told.clean.values())
    lines = [
        "# Seeded faults",
        "",
        "What mistakes does an examination catch? Mistakes are put into clean programs and into the shop's tables at random places, each is run "
        "by a slow replay that shares no code with Firstoff, and only those count whose outcome the replay finds to be another one. Then the job "
        "is examined, and the question that should answer it is held against what it said of the clean one.",
        "",
        f"`make faults` writes this page anew (seed {told.seed}, {told.wanted} mistakes of each kind); `python -m proof.faults --few` prints a short one.",
        "",
        f"- **{len(told.found)} kinds, {len(faults)} mistakes that count.** Answered worse than the clean program by a right question: "
        f"{_share(sum(one.worse for one in faults), len(faults))}.",
        f"- Of those, at a line whose outcome depends on the mistake: {_share(sum(one.near for one in faults), len(faults))}; "
        f"at the line of the mistake or a first line whose outcome depends on it (*caught*): {_share(sum(one.caught for one in faults), len(faults))}.",
        f"- {_kinds_in_full(told.found)}",
        f"- Answered with stop: {_share(sum(one.stopped for one in faults), len(faults))}.",
        f"- **Clean programs: {stops} stops in {len(told.clean)} examinations** (upper end of the 95 % interval for one more: "
        f"{wilson(stops, len(told.clean))[1]:.0%}).",
        f"- {_not_answered(faults)}",
    ]
    left_out = [kind.id for kind in KINDS if kind.id not in {found.kind for found in told.found}]
    if left_out:
        lines += [f"- Not run for this page: {', '.join(left_out)}."]
    broken = [text for found in (*told.found, told.undrawn) for text in found.broken]
    if broken:
        lines += [
            "",
            f"**{len(broken)} examinations ended in a fault of ours:**",
            *(f"- {_cell(text)}" for text in broken),
        ]
    return "\n".join(lines)


def _not_answered(faults: Sequence[Fault]) -> str:
    silent = [one for one in faults if not one.worse]
    if not silent:
        return "No mistake that counts was left unanswered."
    kinds = {kind: sum(one.kind == kind for one in silent) for kind in dict.fromkeys(one.kind for one in silent)}
    return (
        f"Not answered at all: {len(silent)}: " + ", ".join(f"{kind} ({count})" for kind, count in kinds.items()) + "."
    )


def _kinds_in_full(found: Sequence[Found]) -> str:
    """How many kinds were answered, and caught, each time."""
    counted = [one.faults for one in found if one.faults]
    worse = sum(all(fault.worse for fault in faults) for faults in counted)
    caught = sum(all(fault.caught for fault in faults) for faults in counted)
    few = [one.kind for one in found if len(one.faults) < MANY]
    short = f" Fewer than {MANY} places were found for: {', '.join(few)}." if few else ""
    return f"Kinds that were answered each time: {worse} of {len(counted)}; caught each time: {caught}.{short}"


def _share(hits: int, of: int) -> str:
    low, high = wilson(hits, of)
    return f"{hits} of {of} ({hits / max(of, 1):.1%}; 95 % interval {low:.1%} to {high:.1%})"


# --- clean programs ---------------------------------------------------------------------------------------------------------


def _clean_table(told: Told) -> str:
    machines = list(MACHINES)
    rows = [
        "## Clean programs on three machines",
        "",
        "Five are the demo's; four were written for this study with `firstoff.write`, each held against a drawing of its own. Told are the worst "
        "answer and the questions that are not clear.",
        "",
        "| job | what it is | " + " | ".join(machines) + " |",
        "|---|---|" + "---|" * len(machines),
    ]
    words = {**DEMO_JOBS, NOT_MEASURED: "the demo's plug: a tool that nobody has measured; no mistakes are put into it"}
    words |= {own.name: own.words for own in OWN_JOBS}
    for job, what in words.items():
        cells = [_told_of(told.clean.get((job, machine), {})) for machine in machines]
        rows.append(f"| {job} | {what} | " + " | ".join(cells) + " |")
    rows += ["", *(f"- *{name}*: {what}." for name, (what, _) in MACHINES.items())]
    return "\n".join(rows)


def _told_of(answers: Mapping[str, str]) -> str:
    order = list(MARKS)
    worst = max(answers.values(), key=order.index, default="not examined")
    open_ones = [question for question, answer in answers.items() if answer != "clear"]
    return worst + (f" ({', '.join(open_ones[:2])}{' …' if len(open_ones) > 2 else ''})" if open_ones else "")


# --- kinds --------------------------------------------------------------------------------------------------------------------


def _table(told: Told) -> str:
    rows = [
        "## Mistakes that a file can show",
        "",
        "*Counted*: the outcome changed in what the kind is about. *Worse*: a right question answers worse than for the clean program. *Depends*: "
        "and names a line whose outcome depends on the mistake. *Caught*: and names the line of the mistake, or a first line whose outcome "
        "depends on it. *Stop*: answers stop. *At least*: lower end of the 95 % interval of the share caught. *Idle*: drawn, and nothing changed.",
        "",
        "| kind | what is done | right question | counted | worse | depends | caught | stop | at least | idle |",
        "|---|---|---|--:|--:|--:|--:|--:|--:|--:|",
    ]
    by_id = {found.kind: found for found in told.found}
    for kind in KINDS:
        if kind.id in by_id:
            rows.append(_row(kind.id, kind.words, ", ".join(kind.asks), by_id[kind.id]))
    every = Found("", [one for found in told.found for one in found.faults], sum(found.idle for found in told.found))
    rows.append(_row("**all**", "", "", every))
    return "\n".join(rows)


def _row(name: str, words: str, asks: str, found: Found) -> str:
    faults = found.faults
    counts = [len(faults)]
    counts += [sum(getattr(one, what) for one in faults) for what in ("worse", "near", "caught", "stopped")]
    told = " | ".join(str(count) for count in counts)
    return f"| {name} | {words} | {asks} | {told} | {wilson(counts[3], counts[0])[0]:.0%} | {found.idle} |"


def _missed(told: Told) -> str:
    faults = [one for found in told.found for one in found.faults]
    silent = [one for one in faults if not one.worse]
    aside = [one for one in faults if one.worse and not one.caught]
    rows = ["## Not answered", ""]
    rows += _listed(silent) if silent else ["None."]
    kinds = dict.fromkeys(one.kind for one in silent)
    rows += ["", *(f"- *{kind}*: {WHY_SILENT[kind]}" for kind in kinds if kind in WHY_SILENT)]
    rows += ["", "## Answered, but at another line", ""]
    rows += [
        "Where a table is wrong, no line of the program is: some answers then name the worst line and the first that is past its limit, and the "
        "outcome changed earlier.",
        "",
    ]
    rows += _listed(aside) if aside else ["None."]
    return "\n".join(rows)


def _listed(faults: Sequence[Fault]) -> list[str]:
    rows = ["| kind | job | machine | mistake | first lines | answers | at lines |", "|---|---|---|---|---|---|---|"]
    for one in faults:
        first = ", ".join(str(line) for line in sorted({*one.injected[:2], *one.first.values()})[:4])
        answers = ", ".join(f"{question} {MARKS[answer]}" for question, answer in list(one.answers.items())[:3])
        named = ", ".join(str(line) for line in sorted(one.named)[:4]) or "no line"
        rows.append(
            f"| {one.kind} | {one.job} | {one.machine} | {_cell(one.words)} | {first} | {answers or 'none'} | {named if one.answers else ''} |"
        )
    return rows


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


# --- what no file shows -----------------------------------------------------------------------------------------------------


def _unseen_table(told: Told) -> str:
    rows = [
        "## Mistakes that no file can show",
        "",
        "Program and tables are the clean ones to the letter, and something else stands on the machine: no examination can tell. The replay says "
        "in how many of the draws the outcome is another one. What guards against them is a person with the set-up sheet in the hand.",
        "",
        "| kind | what is otherwise | drawn | outcome changed | the sheet's line that guards |",
        "|---|---|--:|--:|---|",
    ]
    for one in told.unseen:
        rows.append(f"| {one.kind.id} | {one.kind.words} | {one.drawn} | {one.changed} | {one.kind.guard} |")
    undrawn = told.undrawn.faults
    seen = sum(one.worse for one in undrawn)
    rows.append(
        f"| {UNDRAWN.id} | {UNDRAWN.words} ({seen} of them were answered worse all the same, by what else they did) | "
        f"{len(undrawn) + told.undrawn.idle} | {len(undrawn)} | {UNDRAWN_GUARD} |"
    )
    rows += [f"| {name} | {words} | – | – | {guard} |" for name, words, guard in SAID_ONLY]
    return "\n".join(rows)


def _how() -> str:
    return """\
## How it is judged

**The replay** (`proof/faults/replay.py`, `beside.py`, `stock.py`) is an interpreter of its own for the words that these programs use. It follows
the gauge point in the machine frame and the tip of the tool that really is in the spindle over the work, spindle, feed, coolant, waits and
stops; makes compensation; goes rapids straight or dog-legged; and cuts a map of heights in cells of 0.5 mm. It notes edge or body in stock at
rapid, in a fixture, or below what stands highest beside the blank; material over the edge or under a dead centre; depth below what is allowed;
travel; kept-out spaces; what comes free. It knows no forces, no doubts and no accelerations. A word that it does not know is an alarm, at which
it stops.

**An outcome changes** where a line goes another way (by more than 0.05 mm), where one of those depths is worse by more than 0.2 mm, where the
spindle is off, reversed, outside of its range or not at speed at a cut, where the feed of a cut differs by a factor of 1.4, where a cut is dry that
was not, where the finished work differs by more than 0.4 mm over a patch of a millimetre square, where the program ends otherwise. Each kind says which
of these it is about; a draw that changes none of them is idle, and another is drawn.

**The line.** The lines of the mistake are those that were written otherwise. What was left out of a section's head could stand anywhere between
the change of the tool and its first feed: any of these is its line. The first lines whose outcome depends on it are, for each thing that the kind
is about, the first line in which it changes; for the way of the tool also the first that changes its height, and the first at feed; and for a line
that cuts, every line at feed from the one with which that cut begins. An answer counts as there if one of the places it names (five at most, those that are clear
left out, and the first of the program that is not clear) is one of these lines. Where a blank in a table is wrong, an answer that speaks of the blank and names no line is at its place. Input that
is refused with the fault named is stopped there.

**Drawing.** A job and one of three machines are drawn (three programs that take longest less often), then a place that fits the kind. Only jobs of
which a right question is asked, and clear on the clean program, are drawn from. No place is drawn twice on one machine. A wrong shape counts in jobs that have a
drawing; where there is none, no file can show it (see the table above)."""
