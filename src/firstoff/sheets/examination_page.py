"""One examination as one page that stands alone: no network, nothing to install, readable without its script, printable."""

from __future__ import annotations

from importlib import resources

from firstoff.sheets import page_parts as parts
from firstoff.sheets.html_text import html
from firstoff.sheets.lanes import lanes_html
from firstoff.sheets.plan_view import plan_html
from firstoff.sheets.question_rows import Said, question_heads, question_rows
from firstoff.sheets.scale_svg import DEFS, STYLE
from firstoff.sheets.shared_doubt import shared_doubt, shared_notes
from firstoff.sheets.sheet_facts import stamp
from firstoff.sheets.wording import clock, headline
from firstoff.verdict.examination import Examination
from firstoff.verdict.words import count

PAGE_MARK = "firstoff:examination"
"""In the head of every page: only a file that holds it is ever replaced."""

TOKENS = (
    # name, paper, night
    ("paper", "#f3f4f0", "#14181a"),
    ("sheet", "#fcfcfa", "#1b2023"),
    ("wash", "#e4e8e5", "#262d30"),
    ("ink", "#17212a", "#e8e5dc"),
    ("ink2", "#47535c", "#b4b7b1"),
    ("ink3", "#5c6770", "#939a99"),
    ("accent", "#b3242a", "#f07c6e"),
    ("on-accent", "#fcfcfa", "#14181a"),
    ("accent-wash", "#f4e4e1", "#33211f"),
    ("band", "#7f8b93", "#667175"),
    ("bar", "#c2c8cb", "#3e474b"),
    ("bar-dark", "#8a949a", "#6f797e"),
    ("line", "#c3cac8", "#3c4447"),
    ("line2", "#dadfdc", "#2a3134"),
    ("m0", "#838f96", "#929d9f"),
    ("m1", "#5f6d77", "#cfd2cd"),
    ("m2", "#c9656a", "#dc8379"),
    ("m3", "#b3242a", "#ff9a8c"),
    ("stock", "#eff1ee", "#2b3336"),
    ("solid", "#fcfcfa", "#3a4347"),
    ("edge", "#47535c", "#8d9694"),
    ("relief", "0.5", "0.95"),
)
"""LOOK, 2; `bar`, `bar-dark`, `stock`, `solid` and `edge` are the greys of lanes and picture, `relief` how dark depth is drawn."""


def examination_html(examination: Examination, job_title: str) -> str:
    """The page."""
    machine = examination.facts.settings.get("machine.name")
    shop_name = str(machine.value) if machine is not None else ""
    shared, notes = shared_doubt(examination), shared_notes(examination)
    said = Said(shared, notes)
    body = (
        f"{_header(examination, shop_name)}<main>{_name_line(examination, job_title)}"
        f'<div class="columns"><div class="judged">{parts.verdict_band(examination, headline(examination))}'
        f'<div class="risks">{parts.risk_marks(examination)}</div>{parts.doubt_line(shared)}'
        f"{_section('questions', 'Questions', question_rows(examination, said), question_heads(examination))}</div>"
        f'<div class="shown">{_section("next", "Measure next", parts.measure_next(examination))}'
        f"{_section('plan', 'Stock and path', plan_html(examination))}"
        f"{_section('lanes', 'Along the program', lanes_html(examination))}"
        f"{_section('tools', 'Tools', parts.tools_table(examination))}"
        f"{_section('stops', 'Stops', parts.stops_list(examination))}"
        f"{_section('stamp', 'What was examined', parts.time_told(examination) + parts.stamp_list(examination, shop_name))}"
        f"{_section('limits', 'What this page cannot know', _cannot_know(notes))}</div></div></main>"
    )
    return _page(f"{job_title}: {examination.verdict.value}", body)


def _page(title: str, body: str) -> str:
    def file(name: str) -> str:
        return (resources.files("firstoff.sheets") / name).read_text(encoding="utf-8")

    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"/>'
        f'<meta name="generator" content="{PAGE_MARK}"/>'
        '<meta name="viewport" content="width=device-width, initial-scale=1"/><meta name="color-scheme" content="light dark"/>'
        f"<title>{html(title)}</title><style>{_tokens()}{file('examination_page.css')}{STYLE}</style></head>"
        f"<body>{DEFS}{body}<script>{file('examination_page.js')}</script></body></html>\n"
    )


def _tokens() -> str:
    """Paper first; night by the system's own choice or the page's switch; paper again in print."""
    paper, night = (
        "".join(f"--{token[0]}:{token[column]};" for token in TOKENS) + "--ground:var(--paper);" for column in (1, 2)
    )
    return (
        f":root{{color-scheme:light;{paper}}}"
        f'@media screen and (prefers-color-scheme:dark){{:root:not([data-theme="paper"]){{color-scheme:dark;{night}}}}}'
        f'@media screen{{:root[data-theme="night"]{{color-scheme:dark;{night}}}}}'
    )


def _header(examination: Examination, shop_name: str) -> str:
    rooms = (
        ("questions", "Questions"),
        ("plan", "Picture"),
        ("lanes", "Program"),
        ("tools", "Tools"),
        ("stamp", "Stamp"),
    )
    links = "".join(f'<a href="#{name}">{words}</a>' for name, words in rooms)
    return (
        f'<header><div class="head-line"><p class="maker">Firstoff</p><nav aria-label="Parts of this page">{links}</nav>'
        f'<p class="head-verdict verdict-{examination.verdict.value}">{parts.mark_word(examination.verdict)}</p>'
        f'<p class="head-shop">{html(shop_name)}</p>'
        '<div class="themes" hidden><button type="button" data-choose="paper">Paper</button><button type="button" data-choose="night">Night</button></div>'
        '</div><div class="head-edge" aria-hidden="true"></div></header>'
    )


def _name_line(examination: Examination, title: str) -> str:
    known, time, case = stamp(examination.case.reading), examination.time, examination.case
    about = [known.file] if known.file != title else []
    about.append(count(known.lines, "line"))
    if time is not None:
        about.append(clock(time.total))
    return (
        f'<div class="name-line"><h1>{html(title)}</h1><p>{html(", ".join(about))}</p>'
        f'<p class="name-when">examined {case.now.day} {case.now:%b %Y %H:%M}</p></div>'
    )


def _section(name: str, words: str, inside: str, beside: str = "") -> str:
    return f'<section class="part part-{name}" id="{name}" aria-labelledby="h-{name}"><div class="part-head"><h2 id="h-{name}">{words}</h2>{beside}</div>{inside}</section>'


def _cannot_know(notes: tuple[str, ...]) -> str:
    return f'<p class="caution">{html(parts.CAUTION)}</p>{parts.told_of_loads(notes)}'
