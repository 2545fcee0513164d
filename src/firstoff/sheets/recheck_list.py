"""A recheck on a terminal: how many jobs still stand, which do not and why, then what a change would buy."""

from __future__ import annotations

from collections.abc import Sequence

from rich.cells import cell_len
from rich.console import Console
from rich.style import Style
from rich.text import Text

from firstoff.book.moved import Cause, Margin, QuestionMoved
from firstoff.book.rechecked import Recheck, Rechecked
from firstoff.book.stands import JUDGED_BY
from firstoff.facts.change import Change
from firstoff.sheets.fact_words import evidence_words, fact_words
from firstoff.sheets.glyphs import PLAIN, QUIET, SAYS, STRONG
from firstoff.sheets.job_list import MARK, STYLE, WORD
from firstoff.sheets.page import MARGIN, Page, padded
from firstoff.sheets.wording import TOPICS, clock, fact_name, minus, without_paths
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits, count, duration, listed, odds, two_figures

INDENT = MARGIN + MARK + WORD
TIME = 28
"""Cells of a pair of times."""
RUNS = 6
MOST_UNASKED = 4
CHANGES_BY = 1.5
"""Factor by which a chance must change to be told: 4000 draws tell no less of 1 in 100 (a third of it is two of its standard deviations)."""
WORTH_TELLING = 0.05
"""Relative change of a margin from which it is told."""


def print_recheck(found: Recheck, units: ShopUnits, console: Console) -> None:
    """Print a recheck for a person."""
    page = Page(console)
    page.edge()
    if found.added:
        page.say(f"The what-if adds what the shop does not have: {listed(list(found.added))}.")
    page.say(sentence(found), MARGIN, SAYS + STRONG)
    for job in (*found.fallen, *found.mixed, *found.better):
        _job(page, job, units)
    _others(page, found)
    if found.what_if:
        _bought(page, found)
    _left_out(page, found)
    page.show()


def sentence(found: Recheck) -> str:
    """``3 of 12 jobs no longer stand with a spindle of 4 kW; 2 are answered better.``"""
    under = f" with “{found.what_if}”" if found.what_if else ""
    if not found.jobs:
        return "The book has no examinations yet: firstoff examine keeps them."
    told = _first_said(found, under)
    if found.fallen and found.mixed:
        told += f"; {count(len(found.mixed), 'is', 'are')} better as a whole, worse in part"
    if found.better and len(found.better) < len(found.jobs):
        told += f"; {count(len(found.better), 'is', 'are')} answered better"
    if found.untold:
        told += f"; of {count(len(found.untold), 'job')} nothing can be told"
    return told + "."


def _first_said(found: Recheck, under: str) -> str:
    """What is told of most weight: of jobs that fell, else of those that are worse in part, else that all stand."""
    whole, fallen, mixed = len(found.jobs), len(found.fallen), len(found.mixed)
    one = "The one job"
    if fallen:
        some = one if whole == 1 else f"{fallen} of {whole} jobs"
        return f"{some} no longer {'stands' if fallen == 1 else 'stand'}{under}"
    if mixed:
        some = one if whole == 1 else f"{mixed} of {whole} jobs"
        return f"{some} {'is' if mixed == 1 else 'are'} better as a whole, but worse in part{under}"
    all_of = one if whole == 1 else "Both jobs" if whole == 2 else f"All {whole} jobs"
    if len(found.better) == whole:
        return f"{all_of} {'is' if whole == 1 else 'are'} answered better than before{under}"
    if found.untold:
        return (
            f"Every job that could be examined stands{under}"
            if len(found.untold) < whole
            else f"No job could be examined{under}"
        )
    return f"{all_of} {'stands' if whole == 1 else 'stand'}{under}"


# ---- one job -------------------------------------------------------------------------------------------------------


def _job(page: Page, job: Rechecked, units: ShopUnits) -> None:
    assert job.moved is not None
    verdict = Answer(job.moved.verdict[1])
    page.gap()
    head = padded(Text(" " * MARGIN + f"{page.glyphs.marks[verdict]} ", style=STYLE[verdict]), MARGIN + MARK)
    head.append_text(padded(page.text(verdict.value, STYLE[verdict]), WORD))
    named = page.text(job.job, STRONG)
    named.append_text(page.text(f"  was {job.moved.verdict[0]}{_runs(job)}", QUIET))
    page.say(named, INDENT, first=head)
    if job.reason is not None and job.reason.files:
        page.say(f"{listed(list(job.reason.files))} changed since it was examined.", INDENT)
    for alike in _alike(job.moved.questions):
        _question(page, alike, units)


def _alike(questions: Sequence[QuestionMoved]) -> list[list[QuestionMoved]]:
    """Questions that moved the same way for the same reason are told once."""
    groups: dict[tuple[object, ...], list[QuestionMoved]] = {}
    for one in questions:
        causes = tuple(cause.change.path for cause in one.causes)
        groups.setdefault((one.was, one.now, one.why, causes), []).append(one)
    return list(groups.values())


def _runs(job: Rechecked) -> str:
    return f", ran {'once' if job.runs == 1 else f'{job.runs} times'} in a year" if job.runs else ""


def _question(page: Page, alike: Sequence[QuestionMoved], units: ShopUnits) -> None:
    one = alike[0]
    now = Answer(one.now) if one.now in set(Answer) else Answer.CLEAR
    names = listed([TOPICS.get(each.id, each.id) for each in alike], 6)
    line = page.text(f"{names}: ", STRONG)
    line.append_text(page.text(f"{one.was}, then " if one.worse else f"{one.was}, now ", QUIET))
    line.append_text(page.text(one.now, STYLE[now] if one.worse else PLAIN))
    page.say(line, INDENT)
    page.say(minus(one.why if one.worse else _held(one)), INDENT + 2)
    if one.worse and one.line > 0:
        page.put(Text(" " * (INDENT - 2)), page.code(one.line, one.text, page.width - INDENT + 2))
    for words in _causes(one.causes, units):
        page.say(words, INDENT + 2, QUIET, first=page.text(" " * INDENT + "- ", QUIET))
    if one.worse and one.do:
        page.say(minus(without_paths(one.do)), INDENT + 2, SAYS)


def _held(one: QuestionMoved) -> str:
    """How an answer got better: by its chance, or by what is left."""
    before, after = one.before.chance, one.after.chance
    if before is not None and after is not None and odds(before) != odds(after):
        return f"Chance that it goes over: {odds(before)}, now {odds(after)}."
    return one.why


def _causes(causes: Sequence[Cause], units: ShopUnits) -> list[str]:
    """A line each; facts of one name (the steps of a holder) share one."""
    named: dict[str, list[Change]] = {}
    for cause in causes:
        named.setdefault(_name(cause.change.path), []).append(cause.change)
    return [changes_words(name, changes, units) for name, changes in named.items()]


def _name(path: str) -> str:
    return "Firstoff itself" if path == JUDGED_BY else fact_name(path)


def changes_words(name: str, changes: Sequence[Change], units: ShopUnits) -> str:
    """``stiffness of the spindle: 12.0(10) N/µm, then 7.0(10) N/µm``; several facts of one name together."""
    if name == _name(JUDGED_BY):
        return f"{name}: another version judges now"
    pairs = [_said(change, units) for change in changes]
    return f"{name}: {listed([old for old, _ in pairs])}, then {listed([new for _, new in pairs])}"


def _said(change: Change, units: ShopUnits) -> tuple[str, str]:
    old, new = (_there(said) or fact_words(change.path, said, units) for said in (change.old, change.new))
    if old == new and change.old is not None and change.new is not None:
        kinds = [evidence_words(said) or "otherwise" for said in (change.old, change.new)]
        return f"{old} ({kinds[0]})", f"{new} ({kinds[1]})"
    return old, new


def _there(said: object) -> str:
    """Of a fact that is only told to be there."""
    return "there" if said == {"setting": "there"} else ""


# ---- the rest ------------------------------------------------------------------------------------------------------


def _others(page: Page, found: Recheck) -> None:
    page.gap()
    if found.standing:
        page.say(_standing(found))
    for job in found.untold:
        page.say(f"{job.job}: nothing can be told. {' '.join(job.fault.split())}", MARGIN, first=Text(" "))
    moved_since = [job.job for job in found.jobs if job.now_first is not None and job.now_first.questions]
    if moved_since:
        page.say(
            f"Of {listed(moved_since)} the shop as it stands now has moved answers already: firstoff recheck alone tells them.",
            style=QUIET,
        )
    if found.unasked:
        names = listed(list(dict.fromkeys(fact_name(path) for path in found.unasked)), MOST_UNASKED)
        page.say(f"No job asks for {names}: here it moves nothing.", style=QUIET)


def _standing(found: Recheck) -> str:
    """``plate stands: nothing that it asked for has changed.`` Names are told where not all stand."""
    standing = found.standing
    whole, anew = len(standing), sum(job.anew for job in standing)
    it = "it" if whole == 1 else "they"
    if len(found.jobs) == whole:
        if not anew:
            return f"Nothing that {it} asked for has changed; none had to be examined again."
        return f"{count(anew, 'job was', 'jobs were')} examined again and answered as before."
    names = listed([job.job for job in standing], 6)
    if not anew:
        return f"{names} {'stands' if whole == 1 else 'stand'}: nothing that {it} asked for has changed."
    if anew == whole:
        return f"{names} {'was' if whole == 1 else 'were'} examined again and answered as before."
    some = f"{anew} of them {'was' if anew == 1 else 'were'} examined again"
    return f"{names} stand: {some} and answered as before; nothing that the others asked for has changed."


def _bought(page: Page, found: Recheck) -> None:
    """Time and margin, a line a job that was examined again, then in sum."""
    jobs = [job for job in found.jobs if job.moved is not None]
    if not jobs:
        return
    page.heading("What it would buy")
    width = max(12, *(cell_len(job.job) + 2 for job in jobs))
    columns = 1 if found.as_written else 2
    fits = MARGIN + width + columns * (TIME + 2) + RUNS <= page.width
    if fits:
        _row(page, width, "", ["feeds as written", "turned up"][:columns], "runs", QUIET)
    for job in jobs:
        cells = [_pair(job.written), _pair(job.turned_up)][:columns]
        if fits:
            _row(page, width, job.job, cells, str(job.runs or "–"), PLAIN)
        else:
            _told(page, job, cells)
        for words in (*_margins(job), *_chances(job), *_holds(job)):
            page.say(words, MARGIN + 4, QUIET)
    page.gap()
    page.say(_in_sum(found), style=SAYS)
    page.say(_tightest(found))


def _row(page: Page, width: int, name: str, cells: Sequence[str], runs: str, style: Style) -> None:
    row = padded(page.text(name, STRONG), width)
    for cell in cells:
        row.append_text(padded(page.text(cell, style), TIME + 2))
    row.append_text(page.text(runs, style))
    page.put(Text(" " * MARGIN), row)


def _told(page: Page, job: Rechecked, cells: Sequence[str]) -> None:
    """The same in words, where the page is too narrow for a table."""
    line = page.text(f"{job.job}: ", STRONG)
    told = "; turned up ".join(cells)
    line.append_text(page.text(told + (f"; {count(job.runs, 'run')} a year" if job.runs else "")))
    page.say(line)


def _pair(pair: tuple[float | None, float | None]) -> str:
    now, other = pair
    if now is None or other is None:
        return "can't say" if now is None and other is None else "one side only"
    return f"{clock(now)}, then {clock(other)}" if round(now) != round(other) else clock(now)


def _margins(job: Rechecked) -> list[str]:
    """What is left of each question whose ratio changes."""
    assert job.moved is not None
    told = [
        f"{TOPICS.get(name, name)} {two_figures(now)} times, then {two_figures(other)}"
        for name, (now, other) in job.moved.left.items()
        if abs(other / now - 1.0) >= WORTH_TELLING and two_figures(now) != two_figures(other)
    ]
    return ["Capacity over demand: " + "; ".join(told)] if told else []


def _chances(job: Rechecked) -> list[str]:
    """Chances that change for better or worse without moving an answer; those too small to be told apart are not told."""
    assert job.moved is not None
    answered = {one.id for one in job.moved.questions}
    told = [
        f"{TOPICS.get(name, name)} {odds(was)}, then {odds(now)}"
        for name, (was, now) in job.moved.chances.items()
        if name not in answered and odds(was) != odds(now) and max(was, now) >= CHANGES_BY * min(was, now)
    ]
    return ["Chance of going over: " + "; ".join(told)] if told else []


def _holds(job: Rechecked) -> list[str]:
    """What keeps the feed from being turned up further, beside the tools' own loads."""
    if job.fastest is None:
        return []
    sides = [listed([TOPICS.get(name, name) for name in one.held_by]) for one in job.fastest]
    if sides[0] == sides[1]:
        return [f"Turned up no further for {sides[1]}."] if sides[1] else []
    return [
        f"Turned up no further for {sides[0] or 'nothing but its tools'}, then for {sides[1] or 'nothing but its tools'}."
    ]


def _in_sum(found: Recheck) -> str:
    """Minutes a year in all, each job as often as it ran."""
    if not any(job.runs for job in found.jobs):
        return "How often these jobs run the book does not know yet: firstoff ran counts them, and the sum follows."
    if len(found.not_counted) == sum(job.moved is not None for job in found.jobs):
        return "It buys nothing: none of these jobs would be run as they are."
    parts = [f"with the feeds as written {_saved(found.bought_s(False))}"]
    if not found.as_written:
        parts.append(f"with overrides turned up on both sides {_saved(found.bought_s(True))}")
    out = listed([job.job for job in found.not_counted])
    without = (
        f" Not counted: {out}, which would not be run as {'it is' if len(found.not_counted) == 1 else 'they are'}."
        if out
        else ""
    )
    return f"In a year like the last one, {' and '.join(parts)}.{without}"


def _saved(seconds: float | None) -> str:
    if seconds is None:
        return "nobody can say what it buys"
    if abs(seconds) < 1.0:
        return "it buys no time"
    return f"it {'buys' if seconds > 0 else 'costs'} {duration(abs(seconds))}"


def _tightest(found: Recheck) -> str:
    told = []
    for risk in ("machine", "tool", "part", "time"):
        now, other = found.tightest(risk)
        if now is not None and other is not None:
            told.append(f"{risk} {_at(now)}" + (f", then {_at(other)}" if _at(now) != _at(other) else ", as before"))
    return "Tightest of these jobs: " + "; ".join(told) + "." if told else ""


def _at(place: tuple[str, Margin]) -> str:
    return f"{two_figures(place[1].left)} times ({TOPICS.get(place[1].question, place[1].question)} of {place[0]})"


def _left_out(page: Page, found: Recheck) -> None:
    page.gap()
    words = ["Today's card is left out on both sides."]
    if found.what_if and any(job.moved is not None for job in found.jobs):
        words.append(
            "No program is written anew: what deeper, wider or faster cuts would save beyond the override is not reckoned."
        )
        if not found.as_written:
            words.append(
                "Turned up: every override as high as its tool's loads allow and no answer about machine, tool or part gets worse; tried in steps of 5 %."
            )
    page.say(" ".join(words), style=QUIET)
