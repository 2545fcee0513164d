"""The finished stock on its way out: closed, as heavy as the field, readable by our own reader; and handed on to the last bit."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.facts.assembly import Assembly
from firstoff.removal import stock_out
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.shape import read_shape, shape_of_bytes, shape_of_triangles
from firstoff.removal.skin import triangles_of, volume_of
from firstoff.removal.stock import (
    BoxBlank,
    CylinderBlank,
    Extent,
    LeftBlank,
    ShapeBlank,
    all_faces,
    field_of,
    frozen_field,
    grown,
    volume_mm3,
)
from firstoff.removal.stock_out import load_field, packed, save_field, stl_of, unpacked, write_stl
from tests.removal import test_undercut

GRID = Grid(-1.0321, -1.0123, 0.25, 60, 50, 2.0)
BOX = field_of(BoxBlank(Extent(0, 12, 0, 10, -10, 2)), GRID)


def pocketed() -> Field:
    top = BOX.top.copy()
    top[12:30, 10:40] = -6.0
    top[18:22, 18:24] = NOTHING
    return frozen_field(GRID, top, -10.0)


def mesh_of(triangles: np.ndarray) -> trimesh.Trimesh:
    mesh = trimesh.Trimesh(**trimesh.triangles.to_kwargs(triangles.astype(np.float64)))
    mesh.merge_vertices()
    return mesh


def assert_closed(field: Field, rel: float = 1e-6) -> np.ndarray:
    """Closed and of the right volume by a general mesh library."""
    triangles = triangles_of(field)
    mesh = mesh_of(triangles)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.volume == pytest.approx(volume_mm3(field), rel=rel)
    assert volume_of(triangles) == pytest.approx(mesh.volume, rel=1e-9)
    assert trimesh.triangles.area(triangles.astype(np.float64)).min() > 0
    return triangles


def test_prismatic_parts_are_few_triangles_closed_and_of_the_right_volume() -> None:
    assert len(assert_closed(BOX)) == 12
    assert len(assert_closed(pocketed())) == 72
    assert len(assert_closed(field_of(CylinderBlank(6, 5, 4, -10, 2), GRID))) < 400


def test_a_faced_plate_with_a_round_cornered_pocket_stays_small() -> None:
    grid = Grid(-0.138, -0.138, 0.1, 823, 523, 0.4)
    plate = field_of(BoxBlank(Extent(0, 82, 0, 52, -10, 0)), grid)
    rows, columns = np.indices(plate.top.shape) * 0.1
    away = np.hypot(np.maximum(np.abs(columns - 41) - 22, 0), np.maximum(np.abs(rows - 26) - 11, 0))
    field = frozen_field(grid, np.where(away < 3, np.float32(-6.4), plate.top), -10)
    assert len(assert_closed(field)) < 1500


@given(st.integers(0, 2**32 - 1), st.integers(1, 6), st.floats(0.2, 1.0))
@settings(deadline=None, max_examples=25)
def test_any_heights_make_a_closed_skin(seed: int, levels: int, filled: float) -> None:
    """Cells that touch at their corners only come often here."""
    rng = np.random.default_rng(seed)
    grid = Grid(3.3, -7.7, 0.4, 13, 11, 0.0)
    heights = -np.sort(rng.random(levels) * 8).astype(np.float32)
    top = np.where(rng.random((11, 13)) < filled, rng.choice(heights, (11, 13)), NOTHING)
    if (top > NOTHING).any():
        assert_closed(frozen_field(grid, top, -9.0), rel=1e-5)


def hollow_field(seed: int) -> Field:
    """Columns with up to two hollows at heights that often coincide with tops and with each other."""
    rng = np.random.default_rng(seed)
    grid = Grid(0.1, 0.2, 0.5, 7, 6, 0.0)
    top = rng.choice([0.0, -1.0, -2.0, -4.0, float(NOTHING)], size=(6, 7))
    gaps = []
    for r, k in zip(*np.nonzero((top > NOTHING) & (rng.random((6, 7)) < 0.7)), strict=True):
        ends = np.sort(rng.choice(np.arange(-10.0, top[r, k] - 0.5), 4, replace=False))
        gaps += [(r, k, ends[0], ends[1]), (r, k, ends[2], ends[3])][: rng.integers(1, 3)]
    return frozen_field(grid, top, -10.0, np.array(gaps).reshape(-1, 4))


@pytest.mark.parametrize("seed", range(40))
def test_hollows_make_a_closed_skin(seed: int) -> None:
    assert_closed(hollow_field(seed), rel=2e-5)


def test_nothing_left_is_an_empty_file_not_a_fault() -> None:
    stl = stl_of(frozen_field(GRID, np.full((50, 60), NOTHING), -10))
    assert (stl.triangles, len(stl.data)) == (0, 84)


def test_our_own_reader_finds_the_same_field(tmp_path: Path) -> None:
    field = pocketed()
    stl = write_stl(field, tmp_path / "left.stl")
    shape = read_shape(tmp_path / "left.stl")
    assert len(shape.triangles) == stl.triangles
    again = field_of(ShapeBlank(shape), GRID)
    assert np.allclose(again.top, field.top, atol=1e-5)
    assert again.bottom_mm == field.bottom_mm


@pytest.mark.parametrize("seed", range(8))
def test_hollows_come_back_from_an_stl(seed: int) -> None:
    field = hollow_field(seed)
    again = field_of(ShapeBlank(shape_of_bytes(stl_of(field).data, "left.stl")), field.grid)
    assert np.allclose(again.top, field.top, atol=1e-5)
    wanted = field.gaps[np.lexsort((field.gaps[:, 2], field.gaps[:, 1], field.gaps[:, 0]))]
    assert np.allclose(again.gaps, wanted, atol=1e-5)


def test_a_scanned_solid_goes_round() -> None:
    """Out of a library's ring, into columns, out as a skin: the volume is that of the columns, near that of the ring."""
    ring = trimesh.creation.torus(4.0, 1.5, major_sections=60, minor_sections=30)
    ring.apply_transform(trimesh.transformations.rotation_matrix(0.7, [1, 0.4, 0.1]))
    grid = Grid(-6.31, -6.17, 0.2, 64, 63, 5.0)
    field = field_of(ShapeBlank(shape_of_triangles(np.asarray(ring.triangles), "ring")), grid)
    assert len(field.gaps)
    assert_closed(field)
    assert volume_mm3(field) == pytest.approx(ring.volume, rel=3e-3)


def rough() -> Field:
    rows, columns = np.indices((50, 60))
    top = np.where(BOX.top > NOTHING, np.sin(rows / 9) * np.cos(columns / 7) - 3, NOTHING).astype(np.float32)
    top[20:30, 20:40] = -5.25
    return frozen_field(GRID, top, -10.0)


def test_sloped_surfaces_are_told_in_steps_only_where_they_are_too_many() -> None:
    whole, fewer = stl_of(rough()), stl_of(rough(), most_triangles=6000)
    assert whole.off_mm == 0.0
    assert whole.triangles > 6000 >= fewer.triangles
    assert 0 < fewer.off_mm <= 0.1
    again = field_of(ShapeBlank(shape_of_bytes(fewer.data, "left.stl")), GRID)
    assert np.abs(again.top - rough().top).max() <= fewer.off_mm + 1e-5
    assert np.allclose(again.top[20:30, 20:40], -5.25, atol=1e-6)
    assert stl_of(rough(), most_triangles=10).off_mm == 0.1


def test_only_our_own_file_is_written_over(tmp_path: Path) -> None:
    for name, write in (
        ("left.stl", lambda path: write_stl(BOX, path)),
        ("left.npz", lambda path: save_field(BOX, path, {})),
    ):
        path = tmp_path / name
        write(path)
        write(path)
        path.write_bytes(b"someone else's")
        with pytest.raises(InputError, match="did not write"):
            write(path)
        assert path.read_bytes() == b"someone else's"
        with pytest.raises(InputError, match="did not write"):
            write(tmp_path)
        with pytest.raises(InputError, match="cannot be written"):
            write(tmp_path / "none" / name)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["left.npz", "left.stl"]


# --- handed on exactly -------------------------------------------------------------------------------------------------

INPUTS = {"program.nc": "ab" * 32, "job.toml": "cd" * 32}


@pytest.mark.parametrize("field", [BOX, hollow_field(3)])
def test_a_field_comes_back_to_the_last_bit(field: Field, tmp_path: Path) -> None:
    save_field(field, tmp_path / "stock.npz", INPUTS)
    back = load_field(tmp_path / "stock.npz")
    assert back.field.grid == field.grid
    assert back.field.bottom_mm == field.bottom_mm
    assert back.field.top.tobytes() == field.top.tobytes()
    assert back.field.gaps.tobytes() == field.gaps.tobytes()
    assert dict(back.inputs) == INPUTS
    assert packed(field, INPUTS) == packed(back.field, dict(reversed(INPUTS.items())))


def with_array(**changed: object) -> bytes:
    with np.load(io.BytesIO(packed(hollow_field(3), INPUTS))) as held:
        arrays = {key: held[key] for key in held.files}
    arrays |= {key: value for key, value in changed.items() if value is not None}
    for key, value in changed.items():
        if value is None:
            del arrays[key]
    out = io.BytesIO()
    np.savez_compressed(out, **arrays)
    return out.getvalue()


GOOD = hollow_field(3)
TOP = GOOD.top.copy()
TOP[2, 2] = np.nan
LOW = GOOD.top.copy()
LOW[2, 2] = -12
BROKEN = {
    "nothing": (b"", "is not what a job leaves"),
    "text": (b"solid", "is not what a job leaves"),
    "cut short": (packed(GOOD, INPUTS)[:-300], "is not what a job leaves"),
    "objects": (with_array(top=np.array([[{}]], dtype=object)), "is not what a job leaves"),
    "another zip": (with_array(top=None, gaps=None), "is not complete: gaps, top missing"),
    "a later version": (with_array(kind=np.array("firstoff.stock/9")), "of a kind that this version does not read"),
    "double": (with_array(top=GOOD.top.astype("f8")), "its heights are of another kind"),
    "flat": (with_array(top=GOOD.top.ravel()), "its heights are of another kind"),
    "few numbers": (with_array(numbers=np.zeros(3)), "its numbers are of another kind"),
    "no cell": (with_array(numbers=np.array([0, 0, 0.0, 0, -10])), "its grid is none"),
    "empty": (with_array(top=np.zeros((0, 5), "f4"), gaps=np.zeros((0, 4))), "its grid is none"),
    "nan": (with_array(top=TOP), "a number of it is none"),
    "infinite": (with_array(numbers=np.array([0, np.inf, 0.5, 0, -10])), "a number of it is none"),
    "too low": (with_array(top=LOW), "heights of it lie below its bottom"),
    "beside": (with_array(gaps=np.array([[0, 7.0, -3, -2]])), "hollows of it lie beside its grid"),
    "half a row": (with_array(gaps=np.array([[0.5, 1.0, -3, -2]])), "hollows of it lie beside its grid"),
    "upside down": (with_array(gaps=np.array([[0, 1.0, -2, -3]])), "hollows of it end before they begin"),
    "numbers for names": (with_array(inputs=np.zeros((1, 2))), "its inputs are not text"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_hand_over_gets_one_fault(name: str) -> None:
    data, said = BROKEN[name]
    with pytest.raises(InputError) as raised:
        unpacked(data, "stock.npz")
    assert len(raised.value.faults) == 1
    assert said in str(raised.value)


@given(st.binary(max_size=60), st.integers(0, 2000))
@settings(deadline=None, max_examples=60)
def test_no_damage_makes_a_traceback(bytes_in: bytes, at: int) -> None:
    data = packed(GOOD, INPUTS)
    at %= len(data)
    try:
        back = unpacked(data[:at] + bytes_in + data[at + len(bytes_in) :], "stock.npz")
    except InputError:
        return
    assert np.isfinite(back.field.top).all()


def test_an_archive_that_unpacks_too_large_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(stock_out, "MOST_BYTES", 500)
    assert zipfile.is_zipfile(io.BytesIO(packed(GOOD, INPUTS)))
    with pytest.raises(InputError, match="unpack to more"):
        unpacked(packed(GOOD, INPUTS), "stock.npz")


# --- the next job's blank ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("field", [pocketed(), hollow_field(5)])
def test_the_next_job_on_the_same_grid_gets_it_exactly(field: Field) -> None:
    again = field_of(LeftBlank(field), field.grid)
    assert np.array_equal(again.top, field.top)
    assert again.bottom_mm == field.bottom_mm
    assert volume_mm3(again) == pytest.approx(volume_mm3(field))
    assert len(again.gaps) == len(field.gaps)


@given(st.integers(-20, 20), st.integers(-20, 20), st.floats(-5, 5))
@settings(deadline=None, max_examples=20)
def test_a_zero_that_moves_by_cells_moves_the_stock(dx: int, dy: int, dz: float) -> None:
    field = pocketed()
    shift = (dx * GRID.cell_mm, dy * GRID.cell_mm, dz)
    grid = Grid(GRID.x0_mm - 6, GRID.y0_mm - 6, GRID.cell_mm, 108, 98, GRID.z0_mm + dz)
    moved = field_of(LeftBlank(field, shift), grid)
    assert volume_mm3(moved) == pytest.approx(volume_mm3(field), rel=1e-6)
    assert np.allclose(moved.top[24 + dy : 74 + dy, 24 + dx : 84 + dx], field.top, atol=1e-5)
    extent, before = LeftBlank(field, shift).extent, LeftBlank(field).extent
    assert extent.z_high == pytest.approx(before.z_high + dz)
    assert extent.x_low == pytest.approx(before.x_low + shift[0])


def test_a_finer_or_coarser_grid_keeps_the_volume_nearly_and_growing_holds() -> None:
    field = pocketed()
    for cell in (0.1, 0.17, 0.4):
        grid = Grid(-1.5, -1.5, cell, round(16 / cell), round(14 / cell), 2.0)
        again = field_of(LeftBlank(field), grid)
        assert volume_mm3(again) == pytest.approx(volume_mm3(field), rel=0.03)
        larger = field_of(grown(LeftBlank(field), all_faces(0.3)), grid)
        assert (larger.top >= again.top).all()
        assert volume_mm3(larger) > volume_mm3(again)


@pytest.mark.parametrize("tool", [test_undercut.tee(), test_undercut.lollipop()])
def test_what_an_undercut_leaves_is_closed_too(tool: Assembly) -> None:
    left = test_undercut.after(tool, test_undercut.through(-8.0)).after
    assert len(left.gaps)
    assert_closed(left)
