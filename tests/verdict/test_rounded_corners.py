"""A corner that the control rounds brings what passes a jaw nearer to it, by no more than its tolerance."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.examination import Answered
from firstoff.verdict.judge import Draws

from .conftest import NOW, swap
from .test_move_one_followed import SHORT

CORNER = "machine.control.corner_tolerance"


@pytest.mark.parametrize("tolerance_mm", [0.02, 0.3])
def test_a_contact_gap_is_less_by_the_tolerance_of_corners(tolerance_mm: float, shop: Callable[..., Path]) -> None:
    job = shop(**{SHORT[0]: swap(SHORT[1], SHORT[2])})
    prepared = workflows.prepare(job, now=NOW)
    facts = prepared.job.facts

    def gaps(tolerance: float) -> dict[str, float]:
        found = workflows.judge(prepared, facts.with_values({CORNER: tolerance}), ["body_contact"])
        return gaps_of(found.answer("body_contact"), found)

    sharp, rounded = gaps(0.001), gaps(tolerance_mm)
    same = sharp.keys() & rounded.keys()
    assert same
    for what in same:
        assert rounded[what] == pytest.approx(sharp[what] - tolerance_mm + 0.001)


def gaps_of(answered: Answered, found: workflows.Examination) -> dict[str, float]:
    """Gap at best estimates by what is told of it, of the places that the sweep found."""
    draws = Draws(found.facts)
    contacts = (limit for limit in answered.margins if " of em6 " in limit.what)
    return {limit.what: draws.best(limit.capacity, answered.scale) for limit in contacts}
