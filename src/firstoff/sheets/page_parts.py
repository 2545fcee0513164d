"""The other parts of the page of an examination: verdict, what to measure next, tools, stops, stamp and caution."""

from __future__ import annotations

from firstoff.loads.cut_loads import Stretch
from firstoff.sheets.html_text import html
from firstoff.sheets.next_scale import next_scale
from firstoff.sheets.scale_svg import mark_svg
from firstoff.sheets.shared_doubt import SharedDoubt
from firstoff.sheets.sheet_facts import ToolRow, holding_words, stamp, stock_words, stop_rows, tool_rows
from firstoff.sheets.wording import (
    RISKS,
    TOPICS,
    Headline,
    clock,
    fact_name,
    is_fact,
    minus,
    removed_words,
    time_words,
    without_paths,
)
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.needs import need
from firstoff.verdict.next import Proposal
from firstoff.verdict.override import Band, override_bands
from firstoff.verdict.question import Answer
from firstoff.verdict.words import count, listed

ALL_OF_IT = 0.995
"""A trial that takes away more than this share of a doubt answers its question."""
MOST_STOPS = 12
LONG_SENTENCE = 100
"""Letters from which the verdict's sentence is set smaller: it still stands whole beside the word."""
CAUTION = (
    "This page is no safety function. The machine's own stop circuit, door and interlocks come first. "
    "What nobody wrote down or measured, this examination does not know: watch the first part."
)


# --- verdict ---------------------------------------------------------------------------------------------------------


def verdict_band(examination: Examination, said: Headline) -> str:
    """Mark, word, sentence and act."""
    verdict = examination.verdict
    long = " sentence-long" if len(said.sentence) > LONG_SENTENCE else ""
    return (
        f'<section class="verdict verdict-{verdict.value}" aria-labelledby="verdict">{mark_svg(verdict, 58, "px")}'
        f'<h2 class="verdict-word" id="verdict">{verdict.value.capitalize()}.</h2>'
        f'<div class="verdict-said"><p class="sentence{long}">{html(said.sentence)}</p><p class="act">{html(said.act)}</p></div></section>'
    )


def risk_marks(examination: Examination) -> str:
    """The four answers by what is at risk."""
    risks = "".join(
        f'<li class="risk-{examination.risks[risk].value}">{mark_svg(examination.risks[risk], 20, "px")}<span>{risk.value} <b>{examination.risks[risk].value}</b></span></li>'
        for risk in RISKS
    )
    return f'<ul class="risk-list" aria-label="The four risks">{risks}</ul>'


def doubt_line(shared: SharedDoubt | None) -> str:
    """What all forces hang on: one line that opens."""
    if shared is None:
        return ""
    first, rise, rest = shared.sentence.partition(". If ")
    return told_line("shared-doubt", f"{first}.", f"{rise.removeprefix('. ')}{rest}")


def told_line(sort: str, first: str, rest: str) -> str:
    """A sentence in one line, and more on demand."""
    if not rest:
        return f'<p class="told {sort}">{html(first)}</p>'
    return f'<details class="told {sort}"><summary><span>{html(first)}</span></summary><p>{html(rest)}</p></details>'


# --- measure next ----------------------------------------------------------------------------------------------------


def measure_next(examination: Examination) -> str:
    """What to measure next: the one thing to do first as a card, then the others."""
    proposals = [proposal for proposal in examination.next if is_fact(proposal.fact)]  # a line cannot be measured
    if not proposals:
        return '<p class="nothing">Nothing that could be measured would settle more.</p>'
    others = "".join(_proposal(proposal, "") for proposal in proposals[1:])
    then = f'<ol class="next next-then">{others}</ol>' if others else ""
    return f'<ol class="next next-first">{_proposal(proposals[0], next_scale(examination, proposals[0]))}</ol>{then}'


def _proposal(proposal: Proposal, scale: str) -> str:
    topics = listed([TOPICS.get(name, name) for name in proposal.questions], 5)
    nearer = listed([TOPICS.get(name, name) for name in proposal.nearer], 5)
    told = []
    if topics and proposal.doubt_removed >= ALL_OF_IT:
        told.append(f"Answers: {topics}.")
    elif topics:
        told.append(f"Takes away {removed_words(proposal.doubt_removed)} of: {topics}.")
    if nearer:
        told.append(f"Brings nearer, something else is missing too: {nearer}.")
    name = fact_name(proposal.fact)
    told.append(f"It stands in {need(proposal.fact).where}.")
    return (
        f"<li><h3>{html(name[:1].upper() + name[1:])} <span>{proposal.minutes:.0f} min</span></h3>"
        f'<p class="act">{html(minus(without_paths(proposal.how)))}</p><p class="next-what">{html(" ".join(told))}</p>{scale}</li>'
    )


# --- tools and stops -------------------------------------------------------------------------------------------------


def tools_table(examination: Examination) -> str:
    """Each tool: how long it runs, where it first cuts, and how far its feed override may be turned."""
    rows = tool_rows(examination.case)
    if not rows:
        return '<p class="nothing">The program cuts with no tool that I could follow.</p>'
    told = examination.case.followed
    stretches = told.loads.stretches if isinstance(told, Followed) and told.loads is not None else ()
    bands = {band.tool: band for band in _bands(examination, list(stretches))}
    body = "".join(_tool(examination, row, stretches, bands.get(row.number)) for row in rows)
    head = "<tr><th>T</th><th>tool</th><th>runs</th><th>cuts</th><th>first cuts at</th><th>feed override</th></tr>"
    return f'<div class="wide"><table class="tools">{head}{body}</table></div>'


def _bands(examination: Examination, stretches: list[Stretch]) -> tuple[Band, ...]:
    question = next((one.question for one in examination.answers if one.question.id == "chip"), None)
    if question is None or not stretches:
        return ()
    return override_bands(examination.facts.leaning(), question, stretches)


def _tool(examination: Examination, row: ToolRow, stretches: tuple[Stretch, ...], band: Band | None) -> str:
    own = [stretch for stretch in stretches if stretch.tool == row.number]
    cutting = [stretch.cutting_s for stretch in own]
    idle = bool(own) and not any(one.volume_mm3 > 0 for one in own)
    # A stretch between two stops that takes nothing away has no loads, and needs none.
    known = band is not None and sum(cutting) > 0 and not any(one.missing for one in own if one.volume_mm3 > 0)
    who = row.name or "no name"
    cells = (
        f"T{row.number}" if row.number >= 0 else "",
        f"{who}: {row.words}" if row.words else who,
        "not known" if row.minutes is None else clock(row.minutes * 60),
        clock(sum(cutting)) if cutting else "not known",
        _first_cut(examination, row.number),
        _band_words(band) if band is not None and known else "cuts nothing" if idle else "not known",
    )
    alike = f'<p class="next-what">looks like {html(listed(list(row.alike)))}: read the shank</p>' if row.alike else ""
    inside = "".join(f"<td>{html(cell)}{alike if number == 1 else ''}</td>" for number, cell in enumerate(cells))
    return f"<tr>{inside}</tr>"


def _first_cut(examination: Examination, tool: int) -> str:
    case, told = examination.case, examination.case.followed
    cuts = told.likely.first_cuts if isinstance(told, Followed) else ()
    first = next((cut for cut in cuts if cut.tool == tool), None)
    if first is None:
        return "nowhere" if isinstance(told, Followed) else "not known"
    when = f", {clock(float(case.timeline.start_s[first.move]))}" if case.timeline is not None else ""
    return f"line {int(case.moves.line[first.move])}{when}"


def _band_words(band: Band) -> str:
    """``50 to 120 %``; what limits it where it is narrow."""
    if band.low is not None and band.high is not None and band.low > band.high:
        return f"none is right for both {band.why_low} and {band.why_high}"
    if band.low is not None and band.high is not None:
        return f"{band.low * 100:.0f} to {band.high * 100:.0f} %"
    if band.low is not None:
        return f"down to {band.low * 100:.0f} %"
    return f"up to {band.high * 100:.0f} %" if band.high is not None else "nothing limits it"


def stops_list(examination: Examination) -> str:
    """Where the program waits for somebody."""
    stops = stop_rows(examination.case)
    if not stops:
        return '<p class="nothing">The program waits nowhere.</p>'
    items = []
    for stop in stops[:MOST_STOPS]:
        where = f"Line {stop.line}, {stop.code}" + (f", {stop.stands}" if stop.stands else "")
        runs = f"<p>Stops with the {html(stop.runs)}.</p>" if stop.runs else ""
        said = stop.words or "The program does not say what to do there."
        items.append(f"<li><b>{html(where)}</b><p>{html(said)}</p>{runs}</li>")
    more = (
        f"<li>and {len(stops) - MOST_STOPS} more, the last at line {stops[-1].line}</li>"
        if len(stops) > MOST_STOPS
        else ""
    )
    return f'<ol class="stops">{"".join(items)}{more}</ol>'


# --- foot ------------------------------------------------------------------------------------------------------------


def stamp_list(examination: Examination, shop_name: str) -> str:
    """What says that this page, the program in the control and the set-up are of one kind."""
    case, known = examination.case, stamp(examination.case.reading)
    rows = (
        ("program", known.file),
        ("lines", f"{known.lines}, {count(known.blocks, 'block')} run"),
        ("stamp", known.mark),
        ("first block", known.first),
        ("last block", known.last),
        ("machine", shop_name or "not described"),
        ("stock", stock_words(examination.facts, case.units) or "not given"),
        ("holding", holding_words(examination.facts, case.units) or "not written down"),
        ("examined", f"{case.now.day} {case.now:%b %Y %H:%M}"),
    )
    reads = ("first block", "last block")
    inside = "".join(
        f"<dt>{name}</dt><dd>{f'<code>{html(told)}</code>' if name in reads else html(told)}</dd>"
        for name, told in rows
    )
    return f'<dl class="stamp-list">{inside}</dl>'


def time_told(examination: Examination) -> str:
    """How long it takes, in a sentence."""
    return f"<p>{html(time_words(examination))}</p>"


def told_of_loads(notes: tuple[str, ...]) -> str:
    """Notes that several answers share."""
    if not notes:
        return ""
    return f"<h3>Of the loads</h3><ul>{''.join(f'<li>{html(without_paths(note))}</li>' for note in notes)}</ul>"


def mark_word(answer: Answer) -> str:
    """The small mark with its word."""
    return f"{mark_svg(answer, 20, 'px')}<b>{answer.value.capitalize()}.</b>"
