"""Everything that the job page shows of one examination, ready to be sent: made once where the examination was made, then only handed out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from firstoff.book.kept import RunSaid
from firstoff.sheets import page_parts as parts
from firstoff.sheets.html_text import html
from firstoff.sheets.lanes import TOLD, lanes_parts
from firstoff.sheets.move_margins import Margin, margins_of, shares_of
from firstoff.sheets.question_rows import Said, looked_at, question_heads, question_rows
from firstoff.sheets.records import examination_record
from firstoff.sheets.run_words import run_sentences
from firstoff.sheets.scene import scene_bytes
from firstoff.sheets.shared_doubt import shared_doubt, shared_notes
from firstoff.sheets.sheet_facts import stamp
from firstoff.sheets.versions import Before, Changes, Stood, changes, stood
from firstoff.sheets.wording import clock, headline, in_order
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from firstoff.verdict.words import count

SHARE_STEPS, SHARE_NOT_KNOWN = 20, 31
"""Steps of a share up to the limit; the greatest that is told lies half beyond it."""


@dataclass(frozen=True, slots=True)
class JobView:
    """The parts of the page as HTML, the program's lines, and the record as JSON."""

    title: str
    about: str
    """File, lines and time, in a phrase."""
    at: datetime
    verdict: str
    sentence: str
    first_line: int | None
    """The line that the verdict's sentence speaks of."""
    verdict_html: str
    risks_html: str
    doubt_html: str
    """What all forces hang on."""
    heads_html: str
    """What stands over the questions."""
    questions_html: str
    next_html: str
    lanes_html: str
    nearest_html: str
    """All lanes in one strip; empty where there are none."""
    lanes_table_html: str
    tools_html: str
    stops_html: str
    stamp_html: str
    unknown_html: str
    runs_html: str
    program: tuple[str, ...]
    margins: bytes
    """u1 a line of the program. In its low three bits 0 moves nothing, else 1 + the worst margin of its moves; in the others the greatest
    share used of any limit in parts of `SHARE_STEPS`, 31 where that is not known."""
    scene: bytes
    record_json: str
    stood: Mapping[str, Stood]
    """For another version to be held against."""
    changes: Changes | None
    """Where the program differs from the one that it is held against."""


def job_view(
    examination: Examination,
    title: str,
    shop_name: str,
    runs: Sequence[RunSaid],
    before: Before | None = None,
    *,
    looked_at_only: bool = False,
) -> JobView:
    """The view of one examination; of another version `before` is what it is held against. `looked_at_only`: of a program that was sent here and is
    kept nowhere, so that no set-up sheet is of it."""
    shared, notes = shared_doubt(examination), shared_notes(examination)
    said, lanes = headline(examination), lanes_parts(examination)
    if looked_at_only and examination.verdict is Answer.CLEAR:
        said = replace(said, act="Put it into a job's folder and examine it there: the set-up sheet is made of that.")
    return JobView(
        title=title,
        about=_about(examination),
        at=examination.case.now,
        verdict=examination.verdict.value,
        sentence=f"{said.sentence} {said.act}".strip(),
        first_line=_first_line(examination),
        verdict_html=parts.verdict_band(examination, said),
        risks_html=parts.risk_marks(examination),
        doubt_html=parts.doubt_line(shared),
        heads_html=question_heads(examination),
        questions_html=question_rows(examination, Said(shared, notes), None if before is None else before.stood),
        next_html=parts.measure_next(examination),
        lanes_html=lanes.lanes,
        nearest_html=lanes.nearest,
        lanes_table_html=TOLD + lanes.table if lanes.nearest else "",
        tools_html=parts.tools_table(examination),
        stops_html=parts.stops_list(examination),
        stamp_html=parts.time_told(examination) + parts.stamp_list(examination, shop_name),
        unknown_html=f'<p class="caution">{html(parts.CAUTION)}</p>{parts.told_of_loads(notes)}',
        runs_html=_runs(run_sentences(runs)),
        program=tuple(examination.case.reading.text),
        margins=line_margins(examination),
        scene=scene_bytes(examination),
        record_json=examination_record(examination, runs).model_dump_json(by_alias=True),
        stood=stood(examination),
        changes=None if before is None else changes(before.lines, examination.case.reading.text),
    )


def _about(examination: Examination) -> str:
    known, time = stamp(examination.case.reading), examination.time
    told = [known.file, count(known.lines, "line")]
    return ", ".join(told if time is None else [*told, clock(time.total)])


def _first_line(examination: Examination) -> int | None:
    """Of the answer that stands first, the line that it is shown at."""
    first = next(iter(in_order(examination.answers)), None)
    return looked_at(first) if first is not None and first.answer is not Answer.CLEAR else None


def _runs(said: tuple[str, ...]) -> str:
    """How it has run before: the first sentence in sight."""
    return parts.told_line("ran-before", said[0], " ".join(said[1:])) if said else ""


def line_margins(examination: Examination) -> bytes:
    """`JobView.margins`."""
    case = examination.case
    levels = margins_of(examination, np.zeros(len(case.moves), dtype=np.bool_))
    worst, most = (np.zeros(len(case.reading.text) + 1, dtype=np.uint8) for _ in range(2))
    moving = case.moving & (case.moves.line < worst.size)
    lines = case.moves.line[moving]
    np.maximum.at(worst, lines, (levels[moving] + 1).astype(np.uint8))
    np.maximum.at(most, lines, share_steps(shares_of(examination)[moving]))
    for place in (place for answered in examination.answers for place in answered.places):
        if (
            place.answer in MARKED and 0 < place.place.line < worst.size
        ):  # a line that moves nothing may be at fault, too
            worst[place.place.line] = max(worst[place.place.line], MARKED[place.answer] + 1)
    return (worst | most << 3)[1:].tobytes()


MARKED = {Answer.STOP: Margin.STOP, Answer.CARE: Margin.CARE}
"""Answers whose lines have their mark beside the program."""


def share_steps(shares: NDArray[np.float32]) -> NDArray[np.uint8]:
    """u1 shares in `SHARE_STEPS`, never told as less than they are, and never as over a limit that they keep."""
    steps = np.ceil(np.nan_to_num(shares) * SHARE_STEPS - 1e-6)
    steps = np.clip(steps, 0, SHARE_NOT_KNOWN - 1)
    return np.where(np.isnan(shares), SHARE_NOT_KNOWN, steps).astype(np.uint8)
