"""The explained scale names what is drawn."""

from __future__ import annotations

import re

from firstoff.sheets.scale_anatomy import anatomy_svg, scale_cases
from firstoff.verdict.question import Answer


def test_every_part_is_named_and_its_leader_ends_inside_the_drawing() -> None:
    svg = anatomy_svg()
    names = set(re.findall(r'class="name"[^>]*>([^<]+)<', svg))
    assert {"band", "pointer", "end stop", "its slope", "forbidden", "ticks"} < names
    wide, tall = (float(one) for one in re.search(r'viewBox="0 0 (\S+) (\S+)"', svg).groups())  # type: ignore[union-attr]
    ends = [(float(x), float(y)) for x, y in re.findall(r"L([\d.]+) ([\d.]+)\"", svg)]
    assert len(ends) == len(names)
    assert all(0 < x < wide and 0 < y < tall for x, y in ends)


def test_the_cases_have_every_answer_and_no_two_look_alike() -> None:
    cases = scale_cases()
    assert {one.answer for one in cases} == {answer.value for answer in Answer}
    assert len({one.svg for one in cases}) == len(cases)
