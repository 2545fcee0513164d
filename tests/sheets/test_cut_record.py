"""The published record of a followed program, against what was followed."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest

from firstoff.demo import lay_out
from firstoff.sheets.cut_record import CutRecord
from firstoff.sheets.records import examination_record
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.workflows import examination_json, examine_job
from tests.demo.conftest import NOW


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> Examination:
    folder = tmp_path_factory.mktemp("clip") / "shop"
    lay_out(folder, NOW)
    return examine_job(folder / "jobs" / "cable-clip", now=NOW)


@pytest.fixture(scope="module")
def record(clip: Examination) -> CutRecord:
    found = examination_record(clip).cut
    assert found is not None
    return found


def followed(clip: Examination) -> Followed:
    told = clip.case.followed
    assert isinstance(told, Followed)
    return told


def test_the_removed_volumes_are_what_the_stock_lost(clip: Examination, record: CutRecord) -> None:
    """Another way round: the stock before less the stock after, cell by cell."""
    field, after = followed(clip).likely.before, followed(clip).likely.after
    floor = field.bottom_mm - field.grid.z0_mm
    lost = np.maximum(field.top, floor) - np.maximum(after.top, floor)
    assert sum(tool.removed_mm3 for tool in record.tools) == pytest.approx(
        float(lost.astype(float).sum()) * field.grid.cell_mm**2, rel=1e-3
    )
    least, likely, most = (
        sum(getattr(tool, f"removed{size}_mm3") for tool in record.tools) for size in ("_least", "", "_most")
    )
    assert least < likely < most


def test_times_add_up_to_the_time_of_the_program(clip: Examination, record: CutRecord) -> None:
    assert clip.time is not None
    called = [tool.called_s for tool in record.tools]
    assert all(one is not None for one in called)
    assert sum(one or 0.0 for one in called) == pytest.approx(clip.time.total, rel=0.1)
    assert all((tool.cutting_s or 0.0) <= (tool.called_s or 0.0) for tool in record.tools)


def test_first_cuts_and_bands_are_those_of_the_sheet(clip: Examination, record: CutRecord) -> None:
    assert [cut.tool for cut in record.first_cuts] == [1, 2, 3, 5]
    face = record.first_cuts[0]
    assert face.line is not None
    assert clip.case.reading.text[face.line - 1].startswith("X-10")
    assert face.axial_mm == pytest.approx(0.4, abs=0.02)
    assert face.surface_z_mm == pytest.approx(0.4, abs=1e-6)
    assert face.halt_line is not None
    assert face.halt_line < face.line
    assert all(tool.override.known for tool in record.tools)
    chip = clip.answer("chip")
    for tool in record.tools:
        band = f"T{tool.tool} can take the feed override from {tool.override.low_percent} to {tool.override.high_percent} %."
        assert band in chip.why + " ".join(chip.notes)


def test_contacts_name_a_line_of_their_move_and_the_bodies_left_one_body(clip: Examination, record: CutRecord) -> None:
    assert record.contacts
    for contact in record.contacts:
        assert contact.line == clip.case.moves.line[contact.move]
        assert contact.u_grid_mm >= 0
        assert contact.tool in {tool.tool for tool in record.tools}
    assert len(record.bodies_left) == 1
    assert record.bodies_left[0].freed_by_line is None
    assert record.grid.u_gap_mm == pytest.approx(record.grid.cell_mm * math.sqrt(0.5) / math.sqrt(3))
    assert record.grid.why


def test_it_is_published_under_cut_and_null_where_nothing_was_followed(clip: Examination, tmp_path: Path) -> None:
    told = json.loads(examination_json(clip))
    assert set(told["cut"]) == {"grid", "residual", "tools", "first_cuts", "contacts", "bodies_left"}
    assert "NaN" not in examination_json(clip)
    bare = tmp_path / "bare.nc"
    bare.write_text("%\nG21 G90\nG1 X1 F100\nM30\n%\n")
    assert json.loads(examination_json(examine_job(bare, now=NOW)))["cut"] is None
