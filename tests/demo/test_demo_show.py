"""The demo as it is printed: a heading for each good job, its mistakes under it, no line beyond the width."""

from __future__ import annotations

import io
import json

import pytest
from rich.console import Console

from firstoff.demo.show import DemoResult, demo_json, show_demo
from firstoff.demo.table import LETTERS

from .conftest import DemoShop

SHOWN = ("cable-clip", "clip-tight-drawing", "vent-plug")


@pytest.fixture(scope="module")
def result(shop: DemoShop) -> DemoResult:
    found = ((shop.plans[name], shop.whole(name)) for name in SHOWN)
    return DemoResult(shop.folder, tuple(found))


@pytest.mark.parametrize("width", [80, 120])
def test_each_mistake_stands_under_the_job_it_was_made_of(result: DemoResult, width: int) -> None:
    out = io.StringIO()
    show_demo(result, Console(file=out, width=width, force_terminal=False))
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    headings = [n for n, line in enumerate(lines) if "each with one mistake or gap" in line]
    assert len(headings) == 2
    assert lines[headings[0]].strip().startswith("cable-clip and 1 job")
    listed = {name: n for n, line in enumerate(lines) for name in SHOWN if line.split()[2:] == [name]}
    assert headings[0] < listed["cable-clip"] < listed["clip-tight-drawing"] < headings[1] < listed["vent-plug"]
    text = " ".join(" ".join(lines).split())
    assert all(plan.story in text for plan, _ in result.jobs)
    assert "Next: firstoff examine" in " ".join(line.strip() for line in lines[-4:])


def test_the_record_of_the_demo_has_every_job_with_its_story(result: DemoResult) -> None:
    told = json.loads(demo_json(result))
    assert [job["name"] for job in told["jobs"]] == list(SHOWN)
    assert told["jobs"][1]["twin"] == "cable-clip"
    assert {one["answer"] for job in told["jobs"] for one in job["examination"]["questions"]} <= set(LETTERS)
