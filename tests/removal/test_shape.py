"""STL files: what is read from good ones, and the one fault that each broken one gets; shapes laid on grids."""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.removal.field import NOTHING, Grid
from firstoff.removal.scan import _kernels as kernels
from firstoff.removal.scan import columns as columns_module
from firstoff.removal.scan.columns import columns_of
from firstoff.removal.shape import read_shape, shape_of_bytes, shape_of_triangles
from firstoff.removal.stock import Faces, ShapeBlank, all_faces, field_of, grown, volume_mm3
from tests.motion.twin import plain
from tests.removal import solids

GRID = Grid(-4.0313, -4.0172, 0.25, 96, 88, 2.0)
PLATE = solids.block((0, 0, -10), (16, 12, 0))


def volume_on(triangles: np.ndarray, grid: Grid = GRID) -> float:
    return volume_mm3(field_of(ShapeBlank(shape_of_triangles(triangles, "made up")), grid))


# --- reading -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "data",
    [
        solids.binary(PLATE),
        solids.binary(PLATE, b"solid of a writer that says so in binary too"),
        solids.text(PLATE),
        solids.text(PLATE, "\r\n"),
        solids.text(PLATE, "\r"),
        b"\xef\xbb\xbf" + solids.text(PLATE),
        solids.text(PLATE).upper(),
        solids.text(PLATE) + b"\n" + solids.text(solids.block((0, 0, -10), (2, 2, 0))),
    ],
)
def test_good_files_are_read(data: bytes, tmp_path: Path) -> None:
    file = tmp_path / "plate.stl"
    file.write_bytes(data)
    shape = read_shape(file)
    assert np.array_equal(shape.triangles[:12], PLATE)
    assert len(shape.triangles) in (12, 24)
    assert (shape.low_mm, shape.high_mm) == ((0, 0, -10), (16, 12, 0))
    assert len(shape.sha256) == 64
    assert not shape.triangles.flags.writeable


NAN_PLATE = PLATE.copy()
NAN_PLATE[4, 1, 2] = np.nan
FAR_PLATE = PLATE.copy()
FAR_PLATE[3, 0, 0] = 1e9
BROKEN = {
    "empty": (b"", "is empty"),
    "blank": (b" \n\n", "is empty"),
    "short": (b"\x00" * 60, "is no STL file or cut short"),
    "no triangles": (b"\x00" * 84, "holds no triangles"),
    "cut short": (solids.binary(PLATE)[:-1], "is no STL file or cut short"),
    "longer": (solids.binary(PLATE) + b"more", "is no STL file, or something was added"),
    "garbage": (bytes(range(256)) * 9, "is no STL file"),
    "garbage that fits": (b"x" * 80 + struct.pack("<I", 40) + bytes(range(250)) * 8, "a coordinate of triangle"),
    "not a number": (solids.binary(NAN_PLATE), "a coordinate of triangle 5 is not a number: nan"),
    "not a number in text": (solids.text(NAN_PLATE), "a coordinate of triangle 5 is not a number: nan"),
    "far off": (solids.binary(FAR_PLATE), "a coordinate of triangle 4 is out of any range: 1e+09"),
    "flat": (solids.binary(PLATE * [1, 1, 0]), "has no thickness: 16 × 12 × 0 mm"),
    "a point": (solids.text(PLATE * 0), "has no thickness"),
    "text cut short": (solids.text(PLATE)[:-200], "is cut short"),
    "text without facets": (b"solid nothing\nendsolid nothing\n", "holds no triangles"),
    "a corner missing": (solids.text(PLATE).replace(b"vertex", b"vertx", 1), "three corners in every facet"),
    "a word for a number": (
        solids.text(PLATE).replace(b"vertex 0.0", b"vertex O.0", 1),
        ":4: a corner is not three numbers",
    ),
    "commas": (solids.text(PLATE).replace(b"16.0", b"16,0"), "a corner is not three numbers: 16,0"),
    "a page": (b"<!doctype html><p>not found" * 9, "is no STL file"),
    "utf-16": (solids.text(PLATE).decode().encode("utf-16"), "is no STL file"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_broken_files_get_one_fault(name: str) -> None:
    data, said = BROKEN[name]
    with pytest.raises(InputError) as raised:
        shape_of_bytes(data, "plate.stl")
    assert len(raised.value.faults) == 1
    assert said in str(raised.value)
    assert str(raised.value).startswith("plate.stl:")


@given(st.binary(max_size=400), st.sampled_from([b"", b"solid ", b"solid x\nfacet normal 0 0 1\nouter loop\nvertex "]))
@settings(deadline=None)
def test_no_bytes_make_a_traceback(data: bytes, head: bytes) -> None:
    for tail in (b"", b"\nendsolid"):
        try:
            shape = shape_of_bytes(head + data + tail, "x.stl")
        except InputError:
            continue
        assert np.isfinite(shape.triangles).all()


def test_files_that_cannot_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(InputError, match=r"none.stl: cannot be read: No such file"):
        read_shape(tmp_path / "none.stl")
    with pytest.raises(InputError, match="cannot be read"):
        read_shape(tmp_path)
    (tmp_path / "large.stl").write_bytes(solids.binary(PLATE))
    monkeypatch.setattr("firstoff.removal.shape.MOST_BYTES", 100)
    with pytest.raises(InputError, match="is too large"):
        read_shape(tmp_path / "large.stl")


# --- columns -----------------------------------------------------------------------------------------------------------


@given(
    st.tuples(*[st.floats(-1.5, 1.5)] * 3),
    st.tuples(*[st.floats(1, 7)] * 3),
    st.tuples(*[st.floats(3, 9)] * 3),
    st.booleans(),
)
@settings(deadline=None, max_examples=15)
def test_a_turned_block_is_what_each_line_passes_through(angles, low, size, reverse) -> None:
    high = tuple(a + b for a, b in zip(low, size, strict=True))
    triangles = solids.turned(solids.block(low, high), angles) + np.array([6, 5, 0])
    shape = shape_of_triangles(solids.inside_out(triangles) if reverse else triangles, "made up")
    grid = Grid(-9.031, -9.017, 2.1, 16, 16, 2.0)
    found = columns_of(shape, grid)
    assert found.unmatched == 0
    for r in range(grid.rows):
        for k in range(grid.columns):
            x, y = grid.x0_mm + (k + 0.5) * grid.cell_mm, grid.y0_mm + (r + 0.5) * grid.cell_mm
            ends = solids.solid_lengths(shape.triangles, x, y)
            if len(ends) != 2 or ends[1] - ends[0] < 1e-3:
                assert found.top[r, k] == NOTHING or len(ends) > 2 or ends[1] - ends[0] < 1e-3
                continue  # the line meets an edge, which two triangles own
            assert found.top[r, k] + grid.z0_mm == pytest.approx(ends[1], abs=1e-5)
            low_ends = found.gaps[(found.gaps[:, 0] == r) & (found.gaps[:, 1] == k), 3]
            lowest = low_ends[0] + grid.z0_mm if len(low_ends) else found.bottom_mm
            assert lowest == pytest.approx(ends[0], abs=2e-4)


@given(st.floats(0, 0.25), st.floats(0, 0.25), st.booleans())
@settings(deadline=None, max_examples=30)
def test_corners_and_edges_on_a_column_count_once(x_shift: float, y_shift: float, on_it: bool) -> None:
    """A grid whose columns run through corners, along edges and along walls still finds a closed body closed, and its volume."""
    grid = Grid(-3.125, -3.125, 0.25, 96, 88, 0.0) if on_it else Grid(-3 - x_shift, -3 - y_shift, 0.25, 96, 88, 0.0)
    count = 16 * 12 / 0.25**2
    assert volume_on(PLATE, grid) == pytest.approx(16 * 12 * 10, rel=1 / math.sqrt(count) * 2)
    if on_it:
        assert volume_on(PLATE, grid) == 16 * 12 * 10


def test_overhangs_undersides_and_hollows() -> None:
    post, arm = solids.block((0, 0, -10), (4, 12, 0)), solids.block((3, 0, -4), (16, 12, 0))
    assert volume_on(np.concatenate([post, arm])) == pytest.approx(4 * 12 * 10 + 12 * 12 * 4, rel=0.02)  # they overlap
    hollow = np.concatenate([PLATE, solids.inside_out(solids.block((4, 4, -7), (9, 8, -3)))])
    assert volume_on(PLATE) - volume_on(hollow) == pytest.approx(5 * 4 * 4, rel=0.02)
    field = field_of(ShapeBlank(shape_of_triangles(hollow, "made up")), GRID)
    assert np.allclose(np.unique(field.gaps[:, 2:], axis=0), [[-9, -5]])


def test_facings_that_do_not_match_are_counted() -> None:
    pair = np.concatenate([solids.block((0, 0, -10), (6, 6, 0)), solids.block((8, 0, -10), (14, 6, 0))])
    pair[14:16] = solids.inside_out(pair[14:16])  # the second block's top faces down
    found = columns_of(shape_of_triangles(pair, "made up"), GRID)
    assert found.unmatched == 24 * 24
    assert (found.top > NOTHING).sum() == 2 * 24 * 24


@pytest.mark.parametrize("missing", [2, 3])
def test_a_body_that_is_not_closed_is_named(missing: int) -> None:
    shape = shape_of_triangles(np.delete(PLATE, missing, axis=0), "lid.stl")
    with pytest.raises(
        InputError, match=r"lid.stl: is not closed: \d+ of 8448 upright lines .* X -?0.* mm, Y .*11.98 mm"
    ):
        columns_of(shape, GRID)


def test_faces_over_one_another_are_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(columns_module, "MOST_CROSSINGS", 1000)
    with pytest.raises(InputError, match="too many faces over one another"):
        columns_of(shape_of_triangles(PLATE, "pile.stl"), GRID)


@given(st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=12)
def test_compiled_is_plain(seed: int) -> None:
    rng = np.random.default_rng(seed)
    parts = [
        solids.turned(solids.block((0, 0, 0), tuple(rng.uniform(1, 5, 3))), tuple(rng.uniform(0, 6, 3)))
        for _ in range(3)
    ]
    shape = shape_of_triangles(np.concatenate(parts) + rng.uniform(0, 4, 3), "made up")
    grid = Grid(*rng.uniform(-3, -1, 2), 0.5, 22, 18, 1.0)
    fast = columns_of(shape, grid)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(columns_module, "kernels", plain(kernels))
        slow = columns_of(shape, grid)
    assert np.array_equal(fast.top, slow.top)
    assert np.array_equal(fast.gaps, slow.gaps)
    assert fast.unmatched == slow.unmatched


def test_kernels_see_one_kind_of_arrays() -> None:
    field_of(ShapeBlank(shape_of_triangles(PLATE, "made up")), GRID)
    for kernel in kernels.KERNELS:
        assert len(kernel.signatures) <= 1


# --- grown and shrunk --------------------------------------------------------------------------------------------------

STEP = np.concatenate([solids.block((0, 0, -10), (8, 12, 0)), solids.block((8, 0, -10), (16, 12, -5))])


def blank_of(triangles: np.ndarray) -> ShapeBlank:
    return ShapeBlank(shape_of_triangles(triangles, "made up"))


def test_a_grown_shape_is_the_grown_box() -> None:
    on_cells = Grid(-4, -4, 0.25, 96, 88, 2.0)
    for by in (Faces(1, 0.5, 0.25, 0.75, 0.3, 0.2), Faces(-1, 0.5, -0.25, 0, -0.3, -0.2), all_faces(-1), all_faces(2)):
        larger = field_of(grown(blank_of(PLATE), by), on_cells)
        low, high = (-by.x_low, -by.y_low, -10 - by.z_low), (16 + by.x_high, 12 + by.y_high, by.z_high)
        direct = field_of(blank_of(solids.block(low, high)), on_cells)
        assert np.allclose(larger.top, direct.top, atol=1e-6)
        assert larger.bottom_mm == pytest.approx(direct.bottom_mm)


@given(st.floats(-1.5, 1.5), st.tuples(*[st.floats(-0.3, 0.3)] * 3))
@settings(deadline=None, max_examples=30)
def test_a_grown_shape_holds_the_shape(by: float, angles: tuple[float, float, float]) -> None:
    blank = blank_of(solids.turned(STEP, angles))
    one, other = field_of(blank, GRID), field_of(grown(blank, all_faces(by)), GRID)
    small, large = (one, other) if by >= 0 else (other, one)
    assert (large.top >= small.top - 1e-6).all()
    assert volume_mm3(large) >= volume_mm3(small) - 1e-3
    assert volume_mm3(small) >= 0


def test_shrinking_past_a_hollow_opens_it() -> None:
    hollow = np.concatenate([PLATE, solids.inside_out(solids.block((4, 4, -7), (9, 8, -1)))])
    field = field_of(grown(blank_of(hollow), Faces(z_high=-1.5)), GRID)
    assert not len(field.gaps)
    assert field.top[60, 40] + 2 == pytest.approx(-1.5)
    row, column = round((6 + 4) / 0.25), round((6 + 4) / 0.25)
    assert field.top[row, column] + 2 == pytest.approx(-7 - 1.5)


def test_volume_errors_fall_at_least_with_the_cell() -> None:
    """A turned block in 30 random poses, cells of 1, 0.5 and 0.25 mm: root of the mean squared error, slope on logarithms."""
    rng = np.random.default_rng(7)
    size = np.array([9.0, 7.0, 5.0])
    poses = [
        blank_of(solids.turned(solids.block((0, 0, 0), tuple(size)), tuple(rng.uniform(0, 6, 3))) + rng.random(3))
        for _ in range(30)
    ]
    rms = []
    for cell in (1.0, 0.5, 0.25):
        grid = Grid(-13.0, -13.0, cell, round(27 / cell), round(27 / cell), 13.0)
        errors = [volume_mm3(field_of(pose, grid)) / size.prod() - 1 for pose in poses]
        rms.append(float(np.sqrt(np.mean(np.square(errors)))))
    slope = np.polyfit(np.log([1.0, 0.5, 0.25]), np.log(rms), 1)[0]
    assert slope > 1.0
    assert rms[-1] < 2e-3
