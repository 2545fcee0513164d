"""A blank from a file, or what an earlier job leaves: its faces are as doubtful as any other position."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstoff import workflows
from firstoff.errors import InputError
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer
from tests.removal import solids

from .conftest import JOB, NOW, swap

Shop = Callable[..., Path]
BOX = 'box = ["-1.0(3) mm .. 51.0(3) mm", "-1.0(3) mm .. 31.0(3) mm", "-10.0(2) mm .. 0.2(2) mm"]'
STL = 'stl = "blank.stl"'
FACES = "job.stock.faces"


def from_file(shop: Shop, *said: str, **changes: Callable[[str], str]) -> Examination:
    folder = shop(job=swap(BOX, "\n".join((STL, *said))), **changes)
    (folder / "blank.stl").write_bytes(solids.binary(solids.block((-1, -1, -10), (51, 31, 0.2))))
    return workflows.examine_job(folder, now=NOW)


def followed(found: Examination) -> Followed:
    told = found.case.followed
    assert isinstance(told, Followed)
    return told


def tops(told: Followed) -> list[float]:
    fields = (one.before for one in (told.smallest, told.likely, told.largest))
    return [field.grid.z0_mm + float(field.top.max()) for field in fields]


@pytest.mark.parametrize(
    ("said", "expected"),
    [((), (-0.8, 0.2, 1.2)), (('faces = "0.0(1) mm"',), (0.0, 0.2, 0.4)), (('faces = "0.30(5) mm"',), (0.4, 0.5, 0.6))],
)
def test_the_blank_is_as_large_as_its_faces_say(
    shop: Shop, said: tuple[str, ...], expected: tuple[float, float, float]
) -> None:
    told = followed(from_file(shop, *said))
    assert tops(told) == pytest.approx(expected, abs=2e-3)
    wide = [np.count_nonzero(one.before.top > -1e3) * one.before.grid.cell_mm**2 for one in (told.likely, told.largest)]
    by = (expected[1] - 0.2, expected[2] - 0.2)
    assert wide == pytest.approx([(52 + 2 * one) * (32 + 2 * one) for one in by], rel=0.02)


def test_a_gap_over_a_blank_from_a_file_hangs_on_its_faces(shop: Shop) -> None:
    low = swap("G43 H1 Z10\nZ4\n", "G43 H1 Z1.0\nX25\nX-5\nZ4\n")
    sure = from_file(shop, 'faces = "0.00(5) mm"', program=low).answer("rapid_contact")
    unsure = from_file(shop, program=low).answer("rapid_contact")
    assert FACES in unsure.leaned
    assert unsure.any_chance is not None
    assert sure.any_chance is not None
    assert sure.any_chance < 0.01 < unsure.any_chance


def test_the_spindle_is_judged_over_what_an_earlier_job_leaves(shop: Shop) -> None:
    second = shop()
    first = second.parent / "first"
    first.mkdir()
    (first / "job.toml").write_text(JOB)
    (first / "program.nc").write_text((second / "program.nc").read_text())
    (second / "job.toml").write_text(JOB.replace(BOX, 'after = "first"\nfaces = "0.00(2) mm"'))
    found = workflows.examine_job(second, now=NOW)
    top = found.answer("spindle")
    assert top.answer is Answer.CLEAR, top.why
    assert FACES in top.leaned
    assert tops(followed(found))[2] == pytest.approx(0.24, abs=2e-3)
    # The same with the spindle off: the feed is below what the earlier job leaves.
    (second / "program.nc").write_text((second / "program.nc").read_text().replace("S20000 M3\n", ""))
    assert workflows.examine_job(second, now=NOW).answer("spindle").answer is Answer.STOP


def test_faces_beside_a_box_are_refused(shop: Shop) -> None:
    with pytest.raises(InputError, match="faces is said of a blank"):
        workflows.examine_job(shop(job=swap(BOX, BOX + '\nfaces = "0.0(1) mm"')), now=NOW)
