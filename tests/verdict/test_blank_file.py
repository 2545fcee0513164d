"""A blank from a file whose faces are turned the wrong way is told, and is not clear where that may hide solid material."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstoff import workflows
from firstoff.verdict.question import Answer, Answered
from tests.removal import solids

from .conftest import NOW, swap
from .test_blank_faces import BOX, STL

Shop = Callable[..., Path]
PLATE = solids.block((-1, -1, -10), (51, 31, 0.2))
HOLLOW = solids.inside_out(solids.block((30, 20, -6), (40, 26, -4)))


def cuts_of(shop: Shop, triangles: np.ndarray) -> Answered:
    folder = shop(job=swap(BOX, STL + '\nfaces = "0.00(5) mm"'))
    (folder / "blank.stl").write_bytes(solids.binary(triangles))
    return workflows.examine_job(folder, now=NOW).answer("cuts")


@pytest.mark.parametrize("whole", [PLATE, np.concatenate([PLATE, HOLLOW])], ids=["plate", "with a hollow"])
def test_faces_that_are_turned_as_they_should_be_are_not_told(shop: Shop, whole: np.ndarray) -> None:
    answered = cuts_of(shop, whole)
    assert answered.answer is Answer.CLEAR, answered.why
    assert not any("turned the wrong way" in note for note in answered.notes)


def test_a_turned_face_of_a_full_body_is_a_note(shop: Shop) -> None:
    turned = PLATE.copy()
    turned[2:4] = solids.inside_out(turned[2:4])
    answered = cuts_of(shop, turned)
    assert answered.answer is Answer.CLEAR, answered.why
    (note,) = [note for note in answered.notes if "turned the wrong way" in note]
    assert note.startswith("In the file of the blank 100% of all upright lines pass faces")


def test_a_hollow_with_turned_faces_is_care(shop: Shop) -> None:
    hollow = HOLLOW.copy()
    hollow[2:4] = solids.inside_out(hollow[2:4])
    answered = cuts_of(shop, np.concatenate([PLATE, hollow]))
    assert answered.answer is Answer.CARE
    assert "may be solid" in answered.why
    assert answered.settled_by == ("job.stock.stl",)
