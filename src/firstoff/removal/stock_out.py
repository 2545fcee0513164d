"""The finished stock handed on: as an STL to look at and to clamp, and exactly, for the job that goes on with it.

An STL is a view: prisms of whole cells, level areas merged, closed. What the next job needs to the last bit goes into an archive of arrays
(NumPy's own format, without pickled objects): heights, hollows, the grid, and the SHA-256 of everything that it was made from.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstoff.errors import Fault, InputError
from firstoff.interrupts import whole
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.shape import HEAD_BYTES, ROW
from firstoff.removal.skin import triangles_of
from firstoff.removal.stock import frozen_field

STL_MARK = b"Firstoff: stock as the program leaves it, mm"
"""How the 80 bytes at the head of our files begin: only such a file is written over."""
KIND = "firstoff.stock/1"
MOST_TRIANGLES = 1_000_000
"""A file with more (50 MB) opens slowly everywhere; sloped surfaces are then told in coarser steps."""
COARSER_MM = (0.0, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1)
"""By how much heights of sloped surfaces may be off in an STL, tried in turn."""
LEVEL_CELLS = 50
"""A height that more cells have is a level face and is kept as it is."""
MOST_CELLS = 64_000_000
MOST_BYTES = 1 << 30
"""An archive that would unpack to more is refused before it is unpacked."""
NUMBERS = ("x0_mm", "y0_mm", "cell_mm", "z0_mm", "bottom_mm")


@dataclass(frozen=True, slots=True)
class StockStl:
    """A binary STL of a field. `off_mm`: by how much heights of sloped surfaces may be off; 0 = none is."""

    data: bytes
    triangles: int
    off_mm: float


@dataclass(frozen=True, slots=True)
class HandedOn:
    """What an earlier job left, and what it was made from: name -> SHA-256 of the content."""

    field: Field
    inputs: Mapping[str, str]


def stl_of(field: Field, most_triangles: int = MOST_TRIANGLES) -> StockStl:
    """The field as a closed STL, sloped surfaces in steps as coarse as it takes to stay within `most_triangles` (0.1 mm at most)."""
    for off in COARSER_MM:
        last = off == COARSER_MM[-1]
        told = _in_steps(field, off)
        if not last and _least_triangles(told.top) > most_triangles:
            continue  # far too many, seen without making them
        triangles = triangles_of(told)
        if last or len(triangles) <= most_triangles:
            break
    rows = np.zeros(len(triangles), ROW)
    rows["corners"] = triangles
    edges = triangles[:, 1:].astype(np.float64) - triangles[:, :1]
    normals = np.cross(edges[:, 0], edges[:, 1])
    rows["normal"] = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-30)
    head = STL_MARK.ljust(HEAD_BYTES - 4) + len(triangles).to_bytes(4, "little")
    return StockStl(head + rows.tobytes(), len(triangles), off)


def write_stl(field: Field, path: Path, most_triangles: int = MOST_TRIANGLES) -> StockStl:
    """Write the STL, whole or not at all. Raises `InputError` where a file stands that is not ours, or nothing can be written."""
    stl = stl_of(field, most_triangles)
    _write_whole(path, stl.data, _begins_as_ours)
    return stl


def save_field(field: Field, path: Path, inputs: Mapping[str, str]) -> None:
    """Hand a field on exactly; `inputs`: name -> SHA-256 of what it was made from. Raises `InputError` like `write_stl`."""
    _write_whole(path, packed(field, inputs), _is_ours)


def load_field(path: Path) -> HandedOn:
    """Take up what `save_field` wrote. Raises `InputError` with one fault for anything else."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=path.name)) from None
    return unpacked(data, path.name)


def packed(field: Field, inputs: Mapping[str, str]) -> bytes:
    """The bytes of an archive; the same for the same field and inputs."""
    grid = field.grid
    numbers = np.array([grid.x0_mm, grid.y0_mm, grid.cell_mm, grid.z0_mm, field.bottom_mm])
    names = sorted(inputs)
    out = io.BytesIO()
    np.savez_compressed(
        out,
        allow_pickle=False,
        kind=np.array(KIND),
        numbers=numbers,
        why=np.array(grid.why),
        top=field.top,
        gaps=field.gaps,
        inputs=np.array([[name, inputs[name]] for name in names], dtype=np.str_).reshape(-1, 2),
    )
    return out.getvalue()


def unpacked(data: bytes, name: str) -> HandedOn:
    """The field in the bytes of an archive. Raises `InputError`."""
    arrays = _arrays(data, name)
    if str(arrays["kind"]) != KIND:
        raise _fault(name, "is of a kind that this version does not read", str(arrays["kind"])[:60])
    numbers, top, gaps, inputs = (arrays[key] for key in ("numbers", "top", "gaps", "inputs"))
    wrong = (
        _wrong(numbers, np.float64, (len(NUMBERS),), "its numbers")
        or _wrong(top, np.float32, (None, None), "its heights")
        or _wrong(gaps, np.float64, (None, 4), "its hollows")
        or ("" if inputs.dtype.kind == "U" and inputs.ndim == 2 and inputs.shape[1] == 2 else "its inputs are not text")
        or _unfit(numbers, top, gaps)
    )
    if wrong:
        raise _fault(name, wrong)
    x0, y0, cell, z0, bottom = numbers.tolist()
    grid = Grid(x0, y0, cell, top.shape[1], top.shape[0], z0, str(arrays["why"]))
    return HandedOn(frozen_field(grid, top, bottom, gaps), {str(key): str(sha) for key, sha in inputs})


def _arrays(data: bytes, name: str) -> dict[str, NDArray[Any]]:
    """The arrays of an archive, none of them larger than it may be."""
    wanted = {"kind", "numbers", "why", "top", "gaps", "inputs"}
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            size = sum(entry.file_size for entry in archive.infolist())
        if size > MOST_BYTES:
            raise _fault(name, "would unpack to more than any stock needs", f"{size / 1e6:.0f} MB")
        with np.load(io.BytesIO(data), allow_pickle=False) as held:
            missing = sorted(wanted - set(held.files))
            if missing:
                raise _fault(name, "is not complete", f"{', '.join(missing)} missing")
            return {key: held[key] for key in wanted}
    except InputError:
        raise
    except Exception as error:  # zip, zlib, struct and NumPy each raise what they like on broken bytes
        raise _fault(name, "is not what a job leaves, or cut short", str(error).split("\n")[0][:80]) from None


def _wrong(array: NDArray[Any], kind: type[np.generic], shape: tuple[int | None, ...], what: str) -> str:
    fits = array.dtype == kind and array.ndim == len(shape)
    fits = fits and all(side is None or side == got for side, got in zip(shape, array.shape, strict=True))
    return "" if fits else f"{what} are of another kind: {array.dtype} {array.shape}"


def _unfit(numbers: NDArray[Any], top: NDArray[Any], gaps: NDArray[Any]) -> str:
    """What in arrays of the right kind no stock can be."""
    if not (np.isfinite(numbers).all() and np.isfinite(top).all() and np.isfinite(gaps).all()):
        return "a number of it is none"
    if not 0 < numbers[2] <= 1e3 or not 0 < top.size <= MOST_CELLS:
        return f"its grid is none: {top.shape[0]} × {top.shape[1]} cells of {numbers[2]:g} mm"
    bottom = float(numbers[4]) - float(numbers[3])
    if ((top != NOTHING) & (top < bottom - 1e-3)).any():
        return "heights of it lie below its bottom"
    if len(gaps):
        whole = (gaps[:, :2] == np.floor(gaps[:, :2])).all() and (gaps[:, :2] >= 0).all()
        if not (whole and (gaps[:, 0] < top.shape[0]).all() and (gaps[:, 1] < top.shape[1]).all()):
            return "hollows of it lie beside its grid"
        if (gaps[:, 2] > gaps[:, 3]).any():
            return "hollows of it end before they begin"
    return ""


def _in_steps(field: Field, off_mm: float) -> Field:
    """Heights that few cells have, put on steps of twice `off_mm`."""
    if off_mm == 0.0:
        return field
    heights, number, counts = np.unique(field.top, return_inverse=True, return_counts=True)
    rare = (counts <= LEVEL_CELLS) & (heights > NOTHING)
    heights[rare] = np.round(heights[rare] / (2.0 * off_mm)) * (2.0 * off_mm)
    top = heights[number].reshape(field.top.shape)
    return replace(
        field, top=np.maximum(top, np.where(field.top > NOTHING, field.bottom_mm - field.grid.z0_mm, NOTHING))
    )


def _least_triangles(top: NDArray[np.float32]) -> int:
    """Triangles that the skin of a field without hollows has at least: two for each of its corners (Euler's formula), of which there is one
    for each height round a place where four cells meet, unless the border between them goes straight on."""
    a, b, c, d = top[:-1, :-1], top[:-1, 1:], top[1:, :-1], top[1:, 1:]
    straight = ((a == b) & (c == d)) | ((a == c) & (b == d))
    heights = 1 + (b != a).astype(np.int64) + ((c != a) & (c != b)) + ((d != a) & (d != b) & (d != c))
    return 2 * int(heights[~straight].sum())


def _fault(name: str, what: str, value: str = "") -> InputError:
    do = "Examine the earlier job again, so that it leaves its stock anew."
    return InputError(Fault(what, value, "what a job of this shop left", name, do=do))


# --- writing -----------------------------------------------------------------------------------------------------------


def refuse_other_stl(path: Path) -> None:
    """Raises `InputError` where a file stands that no stock of ours is: said before the work that would be lost."""
    _refuse_others(path.resolve(), _begins_as_ours)


def _refuse_others(path: Path, ours: Callable[[Path], bool]) -> None:
    if path.exists() and not (path.is_file() and ours(path)):
        raise InputError(
            Fault("there is a file already that Firstoff did not write", str(path), do="Name another file.")
        )


def _begins_as_ours(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(len(STL_MARK)) == STL_MARK


def _is_ours(path: Path) -> bool:
    try:
        load_field(path)
    except InputError:
        return False
    return True


def _write_whole(path: Path, data: bytes, ours: Callable[[Path], bool]) -> None:
    """Beside its place first, then moved there; a file that is not ours stays."""
    path = path.resolve()
    try:
        _refuse_others(path, ours)
        with whole():
            with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=".", delete=False) as file:
                part = Path(file.name)
                file.write(data)
            part.chmod(0o644)
            part.replace(path)
    except OSError as error:
        raise InputError(Fault(f"cannot be written: {error.strerror or error}", str(path))) from None
