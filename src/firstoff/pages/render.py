"""From frozen views to HTML: templates with everything escaped but what `sheets` made as HTML itself."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from firstoff.sheets.examination_page import TOKENS
from firstoff.sheets.scale_svg import DEFS, STYLE, mark_svg
from firstoff.sheets.wording import TOPICS, clock
from firstoff.verdict.question import Answer

ROOMS = (("jobs", "Jobs"), ("machine", "Machine"), ("tools", "Tools"), ("history", "History"), ("numbers", "Numbers"))


@dataclass(frozen=True, slots=True)
class Frame:
    """What every page has round it."""

    room: str
    shop: str
    leaves: bool
    """There is a password, so there is a way out."""


@cache
def environment() -> Environment:
    """The templates, strict: a name that is not there is a fault of ours."""
    made = Environment(
        loader=PackageLoader("firstoff.pages"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["mark"] = lambda answer, size=20: Markup(mark_svg(Answer(answer), size, "px"))
    made.filters["topic"] = lambda name: TOPICS.get(name, name)
    made.filters["clock"] = clock
    made.filters["whole"] = Markup  # HTML that `sheets` made
    made.globals.update(ROOMS=ROOMS, DEFS=Markup(DEFS))
    return made


def page(name: str, frame: Frame, **shown: object) -> str:
    """A page by its template."""
    return environment().get_template(f"{name}.html").render(frame=frame, **shown)


def parts(name: str, **shown: object) -> str:
    """Parts of a page that is already there."""
    return environment().get_template(f"{name}.html").render(**shown)


@cache
def tokens_css() -> str:
    """Colours of both themes and the marks of scales, as one style sheet."""
    paper, night = (
        "".join(f"--{token[0]}:{token[column]};" for token in TOKENS) + "--ground:var(--paper);" for column in (1, 2)
    )
    return (
        f":root{{color-scheme:light;{paper}}}"
        f'@media screen and (prefers-color-scheme:dark){{:root:not([data-theme="paper"]){{color-scheme:dark;{night}}}}}'
        f'@media screen{{:root[data-theme="night"]{{color-scheme:dark;{night}}}}}{STYLE}'
    )
