"""A solid read from an STL file, binary or text. The format knows no unit: numbers are taken as mm, in the work frame of the job.

Facing is taken from the order of the corners (counter-clockwise seen from outside); the normals and the colour bytes are not looked at.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from firstoff.errors import Fault, InputError
from firstoff.program.moves import Floats
from firstoff.removal.field import LEAST_CUT_MM

HEAD_BYTES, ROW_BYTES = 84, 50
"""Binary STL: 80 bytes of anything and a count of four bytes, then rows of twelve floats and two bytes."""
MOST_BYTES = 1 << 30
"""A larger file is refused before it is read: 21 million triangles in binary, far more than a blank on a bench mill has."""
MOST_MM = 1e5
"""A coordinate beyond this is no place on a bench mill: the file is broken or not in mm."""
LATTICE_PER_MM = 2.0**14
"""In X and Y, corners are put on places 0.06 µm apart: corners that a writer rounded apart come together again."""
CHUNK_BYTES = 1 << 24
ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("colour", "<u2")])
VERTEX = re.compile(rb"^[ \t]*vertex[ \t]+(\S+[ \t]+\S+[ \t]+\S+)[ \t]*$", re.MULTILINE)
FACET = re.compile(rb"^[ \t]*facet\b", re.MULTILINE)
ALLOWED = "an STL file, binary or text, of one or more closed bodies, in mm"


@dataclass(frozen=True, slots=True)
class Shape:
    """Triangles f8[K, 3, 3] (corner, axis) in mm, read-only, counter-clockwise seen from outside; `sha256` of the file as it was read."""

    name: str
    triangles: Floats
    sha256: str

    @property
    def low_mm(self) -> tuple[float, float, float]:
        return _three(self.triangles.min(axis=(0, 1)))

    @property
    def high_mm(self) -> tuple[float, float, float]:
        return _three(self.triangles.max(axis=(0, 1)))


def read_shape(path: Path) -> Shape:
    """Read a file; whether it is closed shows when it is laid on a grid. Raises `InputError` with one fault for anything else."""
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise _fault(path.name, "is too large to be a blank's shape", f"{size / 1e6:.0f} MB")
        data = path.read_bytes()
    except OSError as error:
        raise InputError(Fault(f"cannot be read: {error.strerror or error}", file=path.name)) from None
    return shape_of_bytes(data, path.name)


def shape_of_bytes(data: bytes, name: str) -> Shape:
    """The shape in the bytes of an STL file. Raises `InputError`."""
    if not data.strip():
        raise _fault(name, "is empty")
    triangles = _from_text(data, name) if _is_text(data) else _from_binary(data, name)
    return shape_of_triangles(triangles, name, hashlib.sha256(data).hexdigest())


def shape_of_triangles(triangles: Floats, name: str, sha256: str = "") -> Shape:
    """A shape from f8[K, 3, 3], checked and put on the lattice. Raises `InputError`."""
    if not len(triangles):
        raise _fault(name, "holds no triangles")
    fit = np.isfinite(triangles) & (np.abs(triangles) <= MOST_MM)
    if not fit.all():
        number = int(np.argmin(fit.all(axis=(1, 2))))
        value = float(triangles[number][~fit[number]][0])
        what = f"a coordinate of triangle {number + 1} is {'not a number' if np.isnan(value) else 'out of any range'}"
        raise _fault(name, what, f"{value:g}")
    snapped = np.array(triangles, dtype=np.float64, order="C")
    snapped[:, :, :2] = np.rint(snapped[:, :, :2] * LATTICE_PER_MM) / LATTICE_PER_MM
    size = snapped.max(axis=(0, 1)) - snapped.min(axis=(0, 1))
    if size.min() < LEAST_CUT_MM:
        raise _fault(name, "has no thickness", " × ".join(f"{one:.4g}" for one in size) + " mm")
    snapped.setflags(write=False)
    return Shape(name, snapped, sha256)


def _is_text(data: bytes) -> bool:
    """Binary files may begin with ``solid`` too: one whose length fits its count is binary whatever it begins with."""
    if len(data) >= HEAD_BYTES and len(data) == HEAD_BYTES + ROW_BYTES * _told(data):
        return False
    return data[:200].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(b"solid")


def _told(data: bytes) -> int:
    return int.from_bytes(data[80:84], "little")


def _from_binary(data: bytes, name: str) -> Floats:
    if len(data) < HEAD_BYTES:
        raise _fault(name, "is no STL file or cut short", f"{len(data)} bytes")
    told, held = _told(data), (len(data) - HEAD_BYTES) / ROW_BYTES
    if told != held:
        more = "is no STL file or cut short" if held < told else "is no STL file, or something was added to its end"
        raise _fault(name, more, f"its head tells of {told} triangles, its length of {held:g}")
    rows = np.frombuffer(data, ROW, told, HEAD_BYTES)
    with np.errstate(invalid="ignore"):  # a signalling NaN in garbage
        return rows["corners"].astype(np.float64)


def _from_text(data: bytes, name: str) -> Floats:
    data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").lower()
    if b"endsolid" not in data[-CHUNK_BYTES:]:
        raise _fault(name, "is cut short", "a text STL without endsolid at its end")
    parts: list[Floats] = []
    facets = line = 0
    for chunk in _chunks(data):
        facets += len(FACET.findall(chunk))
        parts.append(_vertices(chunk, line, name))
        line += chunk.count(b"\n")
    corners = np.concatenate(parts)
    if len(corners) != 3 * facets:
        raise _fault(name, "does not have three corners in every facet", f"{facets} facets, {len(corners)} corners")
    return corners.reshape(-1, 3, 3)


def _chunks(data: bytes) -> Iterator[bytes]:
    """Pieces that end with a line, so that a million facets are never a million objects at once."""
    start = 0
    while start < len(data):
        end = data.find(b"\n", start + CHUNK_BYTES) + 1 or len(data)
        yield data[start:end]
        start = end


def _vertices(chunk: bytes, line: int, name: str) -> Floats:
    words = b" ".join(VERTEX.findall(chunk)).split()
    try:
        return np.array(words, dtype=np.float64).reshape(-1, 3)
    except ValueError:
        raise _unreadable(chunk, line, name) from None


def _unreadable(chunk: bytes, line: int, name: str) -> InputError:
    """The first line of a chunk whose numbers are none."""
    for match in VERTEX.finditer(chunk):
        try:
            np.array(match[1].split(), dtype=np.float64)
        except ValueError:
            number = line + chunk.count(b"\n", 0, match.start()) + 1
            text = match[1].decode("ascii", "replace")[:60]
            return InputError(
                Fault("a corner is not three numbers", text, "numbers such as 12.5 or 1.25e1", name, number)
            )
    return _fault(name, "has corners that are not three numbers")


def _fault(name: str, what: str, value: str = "") -> InputError:
    return InputError(Fault(what, value, ALLOWED, file=name))


def _three(values: Floats) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])
