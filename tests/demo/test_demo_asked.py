"""The page that says which question asks for which fact, against the examinations of the demo."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.demo.asked import asked_page, kind_of
from tests.demo.conftest import DemoShop

PAGE = Path(__file__).parents[2] / "docs" / "asked.md"


def test_the_page_says_what_the_examinations_leaned_on(shop: DemoShop) -> None:
    leaned = [(one["id"], one["leaned"]) for name in shop.plans for one in shop[name].told["questions"]]
    again = "write it anew: python -m firstoff.demo.asked docs/asked.md"
    assert PAGE.read_text(encoding="utf-8") == asked_page(leaned), again


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("tools.em6.LF", "tools.NAME.LF"),
        ("tools.em6.holder.2.diameter", "tools.NAME.holder.N.diameter"),
        ("tools.pocket.3.tool", "tools.pocket.N.tool"),
        ("machine.axis.x.travel.low", "machine.axis.AXIS.travel.END"),
        ("job.offset.G54.at.x", "job.offset.NAME.at.AXIS"),
        ("job.stock.box.z.high", "job.stock.box.AXIS.END"),
        ("job.fixture.0.box.y.low", "job.fixture.N.box.AXIS.END"),
        ("machine.spindle.power_s1.1.power", "machine.spindle.power_s1.N.power"),
        ("machine.control.block_rate", "machine.control.block_rate"),
    ],
)
def test_names_numbers_and_axes_are_taken_out(path: str, kind: str) -> None:
    assert kind_of(path) == kind
