"""The facade: one function a use. The command line and the pages call nothing else."""

from __future__ import annotations

import math
import os
import tempfile
from collections.abc import Callable, Collection, Mapping, Sequence, Set
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np
from rich.console import Console

from firstoff.book.kept import RunSaid
from firstoff.errors import Fault, InputError
from firstoff.facts.fact import FactSet, Setting
from firstoff.facts.heard import hearing
from firstoff.facts.job import Given as Given
from firstoff.facts.job import Job, load_job
from firstoff.facts.shop import JOBS, Shop, find_shop, load_shop, no_shop
from firstoff.facts.starter import new_shop
from firstoff.interrupts import whole
from firstoff.path.track import Track, place
from firstoff.program.bounds import reach_of_moves
from firstoff.program.control import Control
from firstoff.program.moves import NO_LENGTH, Base, Kind, Reading
from firstoff.program.reading import Start, read_program, read_text
from firstoff.program.summary import summarise
from firstoff.removal.field import Field
from firstoff.removal.stock_out import refuse_other_stl, write_stl
from firstoff.sheets.job_list import JobLine, print_jobs
from firstoff.sheets.records import ReadRecord, examination_record, read_record
from firstoff.sheets.run_words import run_sentences
from firstoff.sheets.terminal import print_examination, print_faults, print_read
from firstoff.verdict.case import AXES, Case, Cutting, lost, move_masks, tool_matters, widen_compensated
from firstoff.verdict.examination import Examination, Hear, TimeSpent, examine, unheard
from firstoff.verdict.follow import follow
from firstoff.verdict.followed import Followed, NotFollowed
from firstoff.verdict.positions import is_system, offset_path
from firstoff.verdict.question import Answered
from firstoff.verdict.questions import ALL, UNFOLLOWED
from firstoff.verdict.stock_frame import stock_base
from firstoff.verdict.timing import Timing, cutting_of, time_program
from firstoff.verdict.tools import register_tool
from firstoff.verdict.words import ShopUnits
from firstoff.write.language import language_of
from firstoff.write.restarting import Restart, restart

SHEET_MARK = "firstoff:set-up-sheet"
RESTART_MARK = "RESTART FROM T"
"""What the head of a file that we wrote holds; anything else is the user's and is never replaced."""
MARK_WITHIN = 4000
PDF_BEGINS = b"%PDF-"
LONGEST = 4_000_000
"""Lines, and moves, of a program that is examined: a million take 1.4 GB (docs/speed.md), and memory goes with them."""

Tell = Callable[[str, float], None]
"""(what is being done, part done 0..1)"""


def _silent(_stage: str, _part: float) -> None:
    """Nobody is looking."""


@dataclass(frozen=True, slots=True)
class ProgramRead:
    """What a program does, with its text lines to point at."""

    record: ReadRecord
    text: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Prepared:
    """A job with its program read: all that does not change when a fact takes another value."""

    job: Job
    reading: Reading
    now: datetime


def examine_job(
    argument: str | Path,
    *,
    shop: Path | None = None,
    without_shop: bool = False,
    base: str | None = None,
    given: Given | None = None,
    now: datetime | None = None,
    tell: Tell = _silent,
) -> Examination:
    """Put every question to a job, a job.toml or a bare program. Raises `InputError` with every fault of the input."""
    prepared = prepare(argument, shop=shop, without_shop=without_shop, base=base, given=given, now=now, tell=tell)
    return judge(prepared, tell=tell)


def prepare(
    argument: str | Path,
    *,
    shop: Path | None = None,
    without_shop: bool = False,
    base: str | None = None,
    given: Given | None = None,
    now: datetime | None = None,
    tell: Tell = _silent,
) -> Prepared:
    """Load the shop and the job, and read the program."""
    tell("reading the shop", 0.0)
    job = load_job(argument, _shop(Path(argument), shop, without_shop), given or Given())
    return prepare_job(job, base=base, now=now, tell=tell)


def prepare_job(job: Job, *, base: str | None = None, now: datetime | None = None, tell: Tell = _silent) -> Prepared:
    """Read the program of a job that is loaded. What is asked of its facts is noted from here on (`firstoff.facts.heard`)."""
    tell("reading the program", 0.1)
    if job.program.is_file():
        _refuse_long(job.program.read_bytes().count(b"\n"), "lines", job.program.name)
    job = replace(job, facts=hearing(job.facts))
    reading = _read(job.program, job.facts, base)
    _refuse_long(len(reading.moves), "moves", job.program.name)
    return Prepared(job, reading, now or datetime.now())


def _refuse_long(count: int, what: str, file: str) -> None:
    """Raises `InputError` before memory gives out."""
    if count > LONGEST:
        do = "Examine it in parts, each from one call of a tool to the next; firstoff read takes it whole."
        raise InputError(
            Fault("the program is too long to be examined", f"{count} {what}", f"up to {LONGEST}", file, do=do)
        )


def judge(
    prepared: Prepared,
    facts: FactSet | None = None,
    only: Collection[str] = (),
    *,
    reuse: Followed | NotFollowed | None = None,
    tell: Tell = _silent,
    hear: Hear | None = None,
) -> Examination:
    """Judge a prepared job, with its own facts or with others (a hidden machine, a fact moved); all questions or `only` some.

    `reuse` is what an earlier examination followed: the stock is then not followed again, whatever the facts say.
    `hear` is told of each answer as it is found: of those that need no following of the stock while it goes on, from another thread.
    """
    known = facts if facts is not None else prepared.job.facts
    case, timing, track = _case(prepared, known)
    early: Future[dict[str, Answered]] | None = None
    with ThreadPoolExecutor(2) as beside:
        cutting = beside.submit(cutting_of, timing, known)
        if reuse is not None:
            case = replace(case, followed=reuse)
        elif not only or set(only) - UNFOLLOWED:
            if hear is not None:
                early = beside.submit(_judge_first, case, cutting, UNFOLLOWED & set(only or UNFOLLOWED), hear)
            case = follow(case, prepared.job.folder, _left_by(prepared), tell)
        case = replace(case, cutting=cutting.result())
    tell("judging", 0.9)
    spent = _time_spent(timing, case.cutting, track)
    return examine(case, spent, only, hear or unheard, early.result() if early is not None else {})


def _judge_first(case: Case, cutting: Future[Cutting | None], only: Set[str], hear: Hear) -> dict[str, Answered]:
    """What can be judged without following the stock, for whoever waits while it is followed."""
    found: dict[str, Answered] = {}
    for question in (one.id for one, _ in ALL if one.id in only):
        if question == "feed":
            case = replace(case, cutting=cutting.result())
        found |= {one.question.id: one for one in examine(case, None, (question,), hear).answers}
    return found


def _left_by(prepared: Prepared) -> Callable[[str], Field]:
    """What an earlier job leaves, followed in its turn; that jobs do not wait for each other is seen when a job is loaded."""

    def left(name: str) -> Field:
        other = prepare_job(load_job(job_of_shop(prepared.job.shop, name), prepared.job.shop), now=prepared.now)
        told = judge(other, only=["cuts"]).case.followed
        if isinstance(told, NotFollowed):
            reasons = ", ".join((*told.missing, *(need.fact for need in told.needs))) or "see its examination"
            what = f"the blank is what {name} leaves, and {name} cannot be followed: {reasons}"
            raise InputError(Fault(what, str(prepared.job.folder / "job.toml"), do=f"Examine {name} first."))
        return told.likely.after

    return left


def job_of_shop(shop: Shop, name: str) -> Path:
    """Where a job of the shop lies, whatever lies in the folder that the command was called in."""
    return Path(name) if shop.folder is None else shop.folder / JOBS / name


def _shop(argument: Path, given: Path | None, without: bool) -> Shop:
    folder = None if without else find_shop(argument, given)
    return no_shop() if folder is None else load_shop(folder)


def _read(program: Path, facts: FactSet, base: str | None) -> Reading:
    folders = facts.settings.get("machine.control.program_folders")
    names = folders.value if folders is not None and isinstance(folders.value, tuple) else ()
    start = Start(origins_mm=_known_zeros(facts), diameters_mm=_diameters(facts))
    return read_program(program, Control.of(facts, base), start, tuple(program.parent / name for name in names))


def _known_zeros(facts: FactSet) -> dict[int, tuple[float, float, float]]:
    """Base -> origin of the work systems that the job gives: what an arc needs that follows a change of system."""
    found = {}
    for base in range(int(Base.G54), int(Base.G59_3) + 1):
        values = [facts.facts.get(offset_path(base, axis)) for axis in range(len(AXES))]
        x, y, z = (np.nan if value is None else value.value for value in values)
        if not np.isnan([x, y, z]).any():
            found[base] = (x, y, z)
    return found


def _diameters(facts: FactSet) -> dict[int, float]:
    """D register -> diameter of the tool it belongs to, for the registers of the tools that the job lists."""
    leaning = facts.leaning()
    found = {}
    listed = [path.split(".")[2] for path in (*facts.under("job.tools."), *facts.under("tools.pocket."))]
    for number in (int(one) for one in dict.fromkeys(listed) if one.isdecimal()):
        fact = facts.facts.get(f"tools.{register_tool(leaning, number)}.DC")
        if fact is not None:
            found[number] = fact.value
    return found


def _case(prepared: Prepared, facts: FactSet) -> tuple[Case, Timing, Track]:
    reading = prepared.reading
    moving, feeding, sure = move_masks(reading.moves)
    low, high = widen_compensated(reading, *reach_of_moves(reading.moves, reading.arcs), _diameters(facts))
    track = place(reading.moves, reading.arcs, reading.frames, _origins(reading, facts), _lengths(reading, facts))
    timing = time_program(reading, track, facts)
    show = facts.settings.get("machine.show")
    case = Case(
        reading=reading,
        facts=facts,
        now=prepared.now,
        units=ShopUnits(show is not None and show.value == "inch"),
        low_mm=low,
        high_mm=high,
        moving=moving,
        feeding=feeding,
        sure=sure,
        with_tool=tool_matters(reading.moves),
        timeline=timing.timeline,
        timeline_missing=timing.missing,
        cutting=None,
        stock_base=stock_base(reading, facts),
        lost=lost(reading, moving, sure),
        followed=NotFollowed((), ()),
    )
    return case, timing, track


def _origins(reading: Reading, facts: FactSet) -> Mapping[int, tuple[float, float, float]]:
    """Origins at best estimates. Where none of the program's systems is known, its own zero serves: times do not depend on it."""
    used = {int(base) for base in reading.frames.base.ravel()}
    known = {base: place for base, place in _known_zeros(facts).items() if base in used}
    for base in used & {int(Base.G28), int(Base.G30)}:
        values = [facts.facts.get(offset_path(base, axis)) for axis in range(len(AXES))]
        if all(value is not None for value in values):
            x, y, z = (value.value for value in values if value is not None)
            known[base] = (x, y, z)
    systems = [base for base in used if is_system(base)]
    if len(systems) == 1 and systems[0] not in known:
        known[systems[0]] = (0.0, 0.0, 0.0)
    return known


def _lengths(reading: Reading, facts: FactSet) -> Mapping[int, float]:
    """Length register -> length of its tool at best estimate; unknown lengths count as zero, for times only."""
    leaning = facts.leaning()
    lengths = {}
    for register in {int(register) for register in reading.frames.length} - {NO_LENGTH}:
        name = register_tool(leaning, register)
        fact = facts.facts.get(f"tools.{name}.LF")
        lengths[register] = fact.value if fact is not None else 0.0
    return lengths


def _time_spent(timing: Timing, cutting: Cutting | None, track: Track) -> TimeSpent | None:
    line = timing.timeline
    if line is None or line.bracketed_by:
        return None
    kinds = track.moves.kind
    spent = line.move_s
    dwell = float(spent[kinds == Kind.DWELL].sum())
    rapid = float(spent[(kinds == Kind.RAPID) | (kinds == Kind.HOME) | (kinds == Kind.MACHINE)].sum())
    total = line.total_likely_s
    cuts = cutting.reached_s if cutting is not None else 0.0
    return TimeSpent(total, cuts, rapid, float(line.pause_s.sum()), dwell)


def read(
    program: Path,
    *,
    shop: Path | None = None,
    without_shop: bool = False,
    base: str | None = None,
    tell: Tell = _silent,
) -> ProgramRead:
    """Say what a program does. Only the machine's `[control]` is used, where there is a machine."""
    if not program.is_file():
        raise InputError(Fault("no such program", str(program), "an NC program"))
    tell("reading the program", 0.0)
    reading = _read(program, _shop(program, shop, without_shop).facts, base)
    tell("adding up", 0.8)
    return ProgramRead(read_record(reading, summarise(reading)), reading.text)


def write_examination(examination: Examination, html: Path, title: str = "") -> None:
    """Write an examination as one HTML page that stands alone, whole or not at all; `title` is the job's name where it has one."""
    # All pages are loaded where one is written: most examinations write none, and loading them takes a tenth of a second.
    from firstoff.sheets.examination_page import PAGE_MARK, examination_html

    write_whole(html, examination_html(examination, title or Path(examination.case.reading.file).name), PAGE_MARK)


def refuse_taken(html: Path | None, stock: Path | None = None) -> None:
    """Say before anything is examined that a page, or a stock, cannot be written there."""
    for path in (html, stock):
        if path is not None:
            _refuse_no_folder(path)
    if html is not None:
        from firstoff.sheets.examination_page import PAGE_MARK

        _refuse_others(html.resolve(), PAGE_MARK)
    if stock is not None:
        refuse_other_stl(stock)


def _refuse_no_folder(path: Path) -> None:
    if not path.resolve().parent.is_dir():
        folder = str(path.parent)
        raise InputError(Fault("there is no such folder to write into", folder, do="Make it, or name another."))


def refuse_sheet_taken(*sheets: Path | None) -> None:
    """The same for set-up sheets."""
    for path in sheets:
        if path is not None:
            _refuse_no_folder(path)
            _refuse_others(path.resolve(), SHEET_MARK)


def write_stock(examination: Examination, stl: Path) -> None:
    """Write the stock as the program leaves it (at best estimates) as a closed STL in the work frame of the job, whole or not at all.

    Raises `InputError` where the program was not followed: there is then no such stock.
    """
    told = examination.case.followed
    if isinstance(told, NotFollowed):
        missing = ", ".join((*told.missing, *(need.fact for need in told.needs))) or "see its examination"
        what = "the program was not followed through its stock, so there is no finished stock to write"
        raise InputError(
            Fault(what, missing, "a job that can be followed", do="Give what the examination names as missing.")
        )
    write_stl(told.likely.after, stl)


def write_sheet(prepared: Prepared, examination: Examination, html: Path) -> None:
    """Write the set-up sheet of a job that was examined as one HTML page, whole or not at all."""
    from firstoff.sheets.setup_sheet import setup_sheet_html

    page = setup_sheet_html(examination, prepared.job.name, prepared.job.shop.name, prepared.now)
    write_whole(html, page, SHEET_MARK)


def write_sheet_pdf(prepared: Prepared, examination: Examination, pdf: Path, paper: str = "a4") -> None:
    """The same as a PDF of at most two pages. `paper`: a4 or letter."""
    from firstoff.sheets.setup_pdf import setup_sheet_pdf
    from firstoff.sheets.typst_paper import Paper

    sheet = setup_sheet_pdf(examination, prepared.job.name, prepared.job.shop.name, prepared.now, Paper(paper))
    write_whole(pdf, sheet, SHEET_MARK)


def shown_in(prepared: Prepared, examination: Examination, units: str) -> Examination:
    """The same job examined again with everything told in mm or inch, whatever the shop shows; the stock is not followed again."""
    if examination.case.units.inch == (units == "inch"):
        return examination
    facts, settings = prepared.job.facts.unasked()
    show = Setting("machine.show", units)
    known = FactSet(facts, {**settings, show.path: show}, prepared.job.facts.groups)
    return judge(prepared, known, reuse=examination.case.followed)


def write_restart(
    argument: str | Path, tool: int, out: Path, *, use: int = 1, shop: Path | None = None, tell: Tell = _silent
) -> Reading:
    """Write a program that goes on from the chosen tool with everything said again; returns its reading.

    Refused, with nothing written, where it could not be proven to make the same cuts.
    """
    prepared = prepare(argument, shop=shop, tell=tell)
    facts = prepared.job.facts
    run_up = facts.facts.get("machine.spindle.run_up")
    wait = run_up.value + 2 * run_up.u if run_up is not None else 0.0
    start = Start(origins_mm=_known_zeros(facts), diameters_mm=_diameters(facts))
    where = Restart(tool, use, math.ceil(wait))
    text = restart(prepared.reading, where, language_of(facts), Control.of(facts, None), start)
    write_whole(out, text, RESTART_MARK)
    return read_text(text, out.name, Control.of(facts, None), start)


def write_whole(path: Path, text: str | bytes, ours: str) -> None:
    """Write a file beside its place and move it there: nobody ever sees half of it.

    A file that is there already is only replaced if it holds `ours`, the mark of what this command writes.
    """
    path = path.resolve()
    _refuse_others(path, ours)
    try:
        with whole():
            with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=".", delete=False) as file:
                part = Path(file.name)
                file.write(text if isinstance(text, bytes) else text.replace("\n", os.linesep).encode())
            part.chmod(0o644)
            part.replace(path)
    except OSError as error:
        raise InputError(Fault(f"cannot be written: {error.strerror or error}", str(path))) from None


def _refuse_others(path: Path, ours: str) -> None:
    if path.exists() and not _holds(path, ours):
        raise InputError(
            Fault("there is a file already that Firstoff did not write", str(path), do="Name another file.")
        )


def _holds(path: Path, mark: str) -> bool:
    try:
        kept = path.read_bytes()
        if kept.startswith(PDF_BEGINS):  # among its keywords, which stand at its end
            return f"/Keywords({mark})".encode() in kept
        return mark in kept.decode("utf-8")[:MARK_WITHIN]
    except (OSError, UnicodeDecodeError):
        return False


def new(folder: Path) -> list[Path]:
    """Write a commented starter shop into a new folder."""
    return new_shop(folder)


def show_examination(examination: Examination, console: Console, title: str = "", runs: Sequence[RunSaid] = ()) -> None:
    """Print an examination for a person; `title` is the job's name where it has one, `runs` what the book has of it."""
    print_examination(examination, console, title or examination.case.reading.file, run_sentences(runs))


def show_jobs(examined: Sequence[tuple[str, Examination]], console: Console) -> None:
    """Print several examinations as a list, a line or two each."""
    print_jobs(f"{len(examined)} jobs", [JobLine(name, one) for name, one in examined], console)


def show_reading(read: ProgramRead, console: Console) -> None:
    """Print what a program does for a person."""
    print_read(read.record, console, read.text)


def show_faults(error: InputError, console: Console) -> None:
    """Print what cannot be used."""
    print_faults(error, console)


def read_json(read: ProgramRead) -> str:
    """The published record of a reading as JSON text."""
    return read.record.model_dump_json(by_alias=True, indent=1)


def examination_json(examination: Examination, runs: Sequence[RunSaid] | None = None) -> str:
    """The published record as JSON text; with earlier runs where a book was asked."""
    return examination_record(examination, runs).model_dump_json(by_alias=True, indent=1)
