"""What a sheet is unsure of, worst first, in as much detail as there is room for: rules where they fit, then names alone, then how many more."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape

from firstoff.sheets.held import says, scale_of
from firstoff.sheets.paper_text import BOLD, PX, SMALL, height_of, short
from firstoff.sheets.scale import SHEET, Case
from firstoff.sheets.scale_svg import HEIGHT, mark_svg, scale_svg
from firstoff.sheets.sheet_blocks import HEADING, Block, heading
from firstoff.sheets.wording import ORDER, TOPICS, answer_line, doubt_words, in_order, lead, missing_names
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer, Answered
from firstoff.verdict.words import listed

TOLD_LETTERS = 120
MARK = "xxx"
"""Room of a mark before words."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One entry: with its rule and whose the doubt is; in one line; and in as few words as possible."""

    whole: Block
    brief: Block
    name: str
    waits: bool = False
    """It waits for a fact."""


@dataclass(frozen=True, slots=True)
class Single:
    """One open answer: `title` says which and how it stands, `told` whose the doubt is; `rule` is its ruled scale as SVG, or empty."""

    answer: Answer
    title: str
    told: str
    rule: str
    topic: str


@dataclass(frozen=True, slots=True)
class Waiting:
    """Answers that wait for the same facts."""

    title: str
    topics: list[str]
    name: str

    def told(self, most: int | None = None) -> str:
        """What can't be said, by topic, at most so many."""
        return f"so I can't say: {listed(self.topics, most or len(self.topics))}"


def open_answers(examination: Examination, width: float) -> tuple[list[Single], list[Waiting]]:
    """The answers that are neither clear nor stop, worst first; then those that wait for facts, together, the fact that most wait for
    first. Rules are `width` mm wide."""
    told = (Answer.CLEAR, Answer.STOP)
    open_ones = [answered for answered in in_order(examination.answers) if answered.answer not in told]
    lacking = [answered for answered in open_ones if answered.answer is Answer.UNJUDGED and answered.needs]
    single = [answered for answered in open_ones if answered not in lacking]
    single.sort(key=lambda one: (ORDER.index(one.answer), one.demand is None))
    return [_single(examination, one, width) for one in single], _waiting(lacking)


def doubt_blocks(examination: Examination, room: float, width: float) -> list[Block]:
    """The answers that are not clear (a stop is told where the sheet says why it must not be run), within `room` mm."""
    doubts = _doubts(examination, width)
    if not doubts or room < HEADING + _more(doubts, 0, width).height:
        return []
    found, left = [Block(heading("What I am unsure of"), HEADING)], room - HEADING
    for number, doubt in enumerate(doubts):
        after = sum(one.brief.height for one in doubts[number + 1 :])
        rest = _more(doubts[number:], number, width)
        if doubt.whole.height + min(after, _more(doubts[number + 1 :], number + 1, width).height) <= left:
            block = doubt.whole
        elif doubt.brief.height + min(after, _more(doubts[number + 1 :], number + 1, width).height) <= left:
            block = doubt.brief
        else:
            found.append(rest)
            break
        found.append(block)
        left -= block.height
    return found


def least_height(examination: Examination, width: float) -> float:
    """Room that the shortest way of telling them takes, mm; 0 where there are none, or where the verdict's own line says what is missing."""
    doubts = _doubts(examination, width)
    if all(doubt.waits for doubt in doubts):
        return 0.0
    return HEADING + _more(doubts, 0, width).height if doubts else 0.0


def _more(doubts: list[Doubt], before: int, width: float) -> Block:
    """What there is no room for, by name."""
    if not doubts:
        return Block("", 0.0)
    names = listed([doubt.name for doubt in doubts], 5 if before else 9)
    words = f"also {names}" if before else f"{names}: told in the examination"
    return Block(f"<p>{escape(words)}</p>", height_of(words, width))


def _doubts(examination: Examination, width: float) -> list[Doubt]:
    single, waiting = open_answers(examination, width)
    return [*(_single_doubt(one, width) for one in single), *(_waiting_doubt(one, width) for one in waiting)]


def _single(examination: Examination, answered: Answered, width: float) -> Single:
    """One answer: its scale, what is held against what, and whose the doubt is."""
    units, facts = examination.case.units, examination.facts
    margin = SHEET.margin
    drawing = scale_of(answered, facts, units, width / PX - 2 * margin - 1, SHEET)
    ruled = drawing.case not in (Case.COUNT, Case.NOTHING)
    svg = scale_svg(drawing, margin, says(answered, facts, units)) if ruled else ""
    topic = TOPICS.get(answered.question.id, answered.question.id)
    told = short((doubt_words(answered, facts) if svg else "") or lead(answered)[0], TOLD_LETTERS)
    return Single(answered.answer, f"{topic}: {answer_line(answered, facts)}", told, svg, topic)


def _single_doubt(one: Single, width: float) -> Doubt:
    line = height_of(f"{MARK}{one.title}", width, SMALL, BOLD) + 1.8
    asks = _asks(one.answer, one.title)
    whole = Block(
        f'<div class="doubt">{asks}{one.rule}<p class="told">{escape(one.told)}</p></div>',
        line + (HEIGHT * PX if one.rule else 0.0) + height_of(one.told, width),
    )
    return Doubt(whole, Block(f'<div class="doubt">{asks}</div>', line), one.topic)


def _waiting(lacking: list[Answered]) -> list[Waiting]:
    groups: dict[tuple[str, ...], list[str]] = {}
    for answered in lacking:
        topic = TOPICS.get(answered.question.id, answered.question.id)
        groups.setdefault(tuple(missing_names(answered.needs)), []).append(topic)
    found = []
    for names, topics in sorted(groups.items(), key=lambda item: -len(item[1])):
        name = topics[0] if len(topics) == 1 else f"{len(topics)} answers for want of {listed(list(names), 2)}"
        found.append(Waiting(f"{listed(list(names), 3)} not known", topics, name))
    return found


def _waiting_doubt(one: Waiting, width: float) -> Doubt:
    def block(told: str) -> Block:
        tall = height_of(f"{MARK}{one.title}", width, SMALL, BOLD) + height_of(told, width) + 1.8
        asks = _asks(Answer.UNJUDGED, one.title)
        return Block(f'<div class="doubt">{asks}<p class="told">{escape(told)}</p></div>', tall)

    return Doubt(block(one.told()), block(one.told(3)), one.name, True)


def _asks(answer: Answer, title: str) -> str:
    return f'<p class="asks">{mark_svg(answer, 3.6)} <b>{escape(title)}</b></p>'
