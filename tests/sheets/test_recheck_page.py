"""What a recheck says on a terminal: what is better is called better, and no line runs past its width."""

from __future__ import annotations

from datetime import datetime
from io import StringIO
from typing import Any

import pytest
from rich.cells import cell_len
from rich.console import Console

from firstoff.book.moved import moved
from firstoff.book.rechecked import Fastest, Recheck, Rechecked
from firstoff.book.stands import Reason
from firstoff.facts.change import Change
from firstoff.sheets.page import Page
from firstoff.sheets.recheck_list import print_recheck, sentence
from firstoff.verdict.words import ShopUnits

AT = datetime(2026, 9, 14)
RISKS = ("machine", "tool", "part", "time")
LONG = "a-job-with-a-name-that-goes-on-and-on-until-no-terminal-has-the-cells-to-hold-it-on-one-line"


def question(name: str, answer: str, risk: str = "tool", **other: Any) -> dict[str, Any]:
    return {
        "id": name, "risk": risk, "answer": answer, "demand": None, "capacity": None, "any": None, "scale": "ratio",
        "places": [], "why": f"{name} is {answer}.", "do": "", "doubt": [], "leaned": [],
    } | other  # fmt: skip


def record(**answers: str) -> dict[str, Any]:
    """Of a job that is clear in every risk but for some questions."""
    asked = [question(risk, "clear", risk) for risk in RISKS] + [question(*one) for one in answers.items()]
    return {"questions": asked, "time_s": {"total": 3725.0}}


def rechecked(name: str, then: dict[str, Any], now: dict[str, Any], **other: Any) -> Rechecked:
    found = moved(then, now, other.pop("changes", ()))
    return Rechecked(name, 1, AT, other.pop("runs", 0), found.verdict[0], True, None, found, **other)


def untouched(name: str) -> Rechecked:
    return Rechecked(name, 1, AT, 0, "clear", False)


FELL = rechecked("fell", record(a="clear"), record(a="stop"))
MIXED = rechecked("mixed", record(a="stop", b="clear"), record(a="clear", b="care"))
BETTER = rechecked("better", record(a="stop"), record(a="care"))
SAME = rechecked("same", record(a="care"), record(a="care"))
GONE = Rechecked("gone", 1, AT, 0, "clear", False, fault="no such program")


@pytest.mark.parametrize(
    ("jobs", "told"),
    [
        ((), "The book has no examinations yet: firstoff examine keeps them."),
        ((FELL,), "The one job no longer stands."),
        ((FELL, SAME), "1 of 2 jobs no longer stands."),
        ((FELL, MIXED, BETTER), "1 of 3 jobs no longer stands; 1 is better as a whole, worse in part; 1 is answered better."),
        ((MIXED,), "The one job is better as a whole, but worse in part."),
        ((MIXED, MIXED, SAME), "2 of 3 jobs are better as a whole, but worse in part."),
        ((BETTER,), "The one job is answered better than before."),
        ((BETTER, BETTER), "Both jobs are answered better than before."),
        ((BETTER, SAME), "Both jobs stand; 1 is answered better."),
        ((SAME,), "The one job stands."),
        ((SAME, GONE), "Every job that could be examined stands; of 1 job nothing can be told."),
        ((GONE,), "No job could be examined; of 1 job nothing can be told."),
    ],
)  # fmt: skip
def test_what_is_better_is_called_better(jobs: tuple[Rechecked, ...], told: str) -> None:
    assert sentence(Recheck("", jobs)) == told


@pytest.mark.parametrize(
    ("jobs", "told"),
    [
        ((SAME,), "1 job was examined again and answered as before."),
        ((untouched("x"),), "Nothing that it asked for has changed; none had to be examined again."),
        ((FELL, SAME), "same was examined again and answered as before."),
        ((FELL, untouched("x")), "x stands: nothing that it asked for has changed."),
        (
            (FELL, SAME, untouched("x"), untouched("y")),
            "same, x and y stand: 1 of them was examined again and answered as before; nothing that the others asked for has changed.",
        ),
    ],
)
def test_what_stands_is_told_in_plain_words(jobs: tuple[Rechecked, ...], told: str) -> None:
    assert told in " ".join(shown(Recheck("", jobs), 100).split())


def test_a_job_that_is_better_in_part_is_told_with_both() -> None:
    text = " ".join(shown(Recheck("", (MIXED,)), 80).split())
    assert "care mixed was stop" in text
    assert "b: clear, then care" in text
    assert "a: stop, now clear" in text
    assert "no longer" not in text


def shown(found: Recheck, width: int) -> str:
    out = StringIO()
    print_recheck(found, ShopUnits(False), Console(file=out, width=width))
    return out.getvalue()


def longest() -> Recheck:
    """Everything that a recheck can say, with names and words longer than any line."""
    changed = tuple(
        Change(f"tools.{LONG}{n}.holder_stiffness", {"setting": "x" * 90}, {"setting": "y " * 60}) for n in range(5)
    )
    place = {"line": 1234567, "text": "G1 X1.0 " * 30, "what": "", "do": ""}
    bad = record(a="clear")
    bad["questions"][-1] |= {"answer": "stop", "why": "z" * 200, "do": f"Mend tools.{LONG}.LF " * 5, "places": [place]}
    up = (Fastest(3725.0, {}, RISKS), Fastest(36000.0, {}, ("size",)))
    jobs = [
        rechecked(f"{LONG}-{n}", record(a="clear"), bad, changes=changed, runs=12345678, fastest=up) for n in (1, 2)
    ]
    moving = Reason((), (f"{LONG}.nc", f"sub/{LONG}.nc"))
    filed = Rechecked(f"{LONG}-3", 1, AT, 9, "clear", True, moving, jobs[0].moved, up, jobs[0].moved)
    gone = Rechecked(f"{LONG}-4", 1, AT, 0, "clear", False, fault=f"/somewhere/{LONG}/{LONG}/program.nc: no such file")
    return Recheck(f"a what-if that is called {LONG}", (*jobs, filed, gone, untouched(LONG)), (f"tools.{LONG}.LF",) * 3, False, (f"tool {LONG}",))  # fmt: skip


@pytest.mark.parametrize("width", [80, 60, 44, 120])
def test_no_line_runs_past_the_width_nor_is_one_cut(width: int, monkeypatch: pytest.MonkeyPatch) -> None:
    set_lines: list[str] = []
    show = Page.show

    def watched(page: Page) -> None:
        set_lines.extend(line.plain for line in page.lines)
        show(page)

    monkeypatch.setattr(Page, "show", watched)
    text = shown(longest(), width)
    assert [line for line in set_lines if cell_len(line) > width] == []
    assert [line for line in text.splitlines() if cell_len(line) > width] == []
    assert f"{LONG}-2" in "".join(text.split())
