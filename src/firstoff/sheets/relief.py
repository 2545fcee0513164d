"""The finished stock from above as a small picture: darker the deeper, with a line where a wall stands.

Nothing but darkness is drawn (black of more or less opacity), so that one picture lies on the stock's own colour by day and by night.
"""

from __future__ import annotations

import base64
import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstoff.removal.field import NOTHING, Field

MOST_PX = 720
"""Longer side of the picture; finer cannot be seen on a page."""
DEEPEST, WALL = 0.30, 1.0
"""Darkness of the deepest floor and of a wall; the page lays the whole on the stock by half or more."""
LEAST_DEPTH_MM = 0.01
"""Less than this is no depth to be told apart by."""
STEEP = 0.8
"""Rise over run from which a slope is drawn as a wall."""
SIGNATURE = b"\x89PNG\r\n\x1a\n"
Opacity = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Relief:
    """`url` holds the whole picture; it covers `x` and `y` (low, high) mm of the work frame."""

    url: str
    x: tuple[float, float]
    y: tuple[float, float]


def relief_of(field: Field) -> Relief:
    """The stock as it is left."""
    grid = field.grid
    step = max(1, -(-max(grid.rows, grid.columns) // MOST_PX))
    rows, columns = (-(-count // step) for count in (grid.rows, grid.columns))
    beyond = ((0, rows * step - grid.rows), (0, columns * step - grid.columns))
    shade = np.pad(_shade(field), beyond, mode="edge")  # whole blocks of cells, the last ones filled up
    small = shade.reshape(rows, step, columns, step).mean(axis=(1, 3))
    cell = grid.cell_mm * step
    return Relief(
        png_url(small[::-1]),
        (grid.x0_mm, grid.x0_mm + columns * cell),
        (grid.y0_mm, grid.y0_mm + rows * cell),
    )


def _shade(field: Field) -> Opacity:
    """f8[rows, columns] opacity of each cell; 0 beside the stock and on its highest face."""
    top = field.top.astype(np.float64)
    stock = top > NOTHING / 2
    if not stock.any():
        return np.zeros(top.shape)
    bottom, highest = field.bottom_mm - field.grid.z0_mm, float(np.max(top[stock]))
    depth = highest - np.where(stock, top, bottom)
    shown = stock | _inside(stock)
    deep = max(float(np.max(depth[shown])), LEAST_DEPTH_MM)
    shade = DEEPEST * np.clip(depth / deep, 0.0, 1.0)
    wall = _steepness(np.where(stock, top, bottom)) / (STEEP * field.grid.cell_mm)
    shade = np.maximum(shade, WALL * np.clip(wall - 1.0, 0.0, 1.0))
    return np.where(shown, shade, 0.0)


def _steepness(height: Opacity) -> Opacity:
    """Greatest step to a neighbour, mm."""
    step = np.zeros(height.shape)
    across, along = np.abs(np.diff(height, axis=1)), np.abs(np.diff(height, axis=0))
    step[:, :-1] = np.maximum(step[:, :-1], across)
    step[:-1, :] = np.maximum(step[:-1, :], along)
    return step


def _inside(stock: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells with stock on both sides along X or Y: what was cut through, not what lies beside the blank."""

    def between(which: NDArray[np.bool_], axis: int) -> NDArray[np.bool_]:
        before = np.maximum.accumulate(which, axis=axis)
        after = np.flip(np.maximum.accumulate(np.flip(which, axis), axis=axis), axis)
        return np.asarray(before & after)

    return between(stock, 0) & between(stock, 1)


def png_url(opacity: Opacity) -> str:
    """A PNG of black with this opacity (0..1, first row at the top) as a data URL (ISO/IEC 15948: grey with alpha, 8 bits)."""
    rows, columns = opacity.shape
    pixels = np.zeros((rows, 1 + 2 * columns), dtype=np.uint8)  # each row begins with its filter: none
    pixels[:, 2::2] = np.rint(np.clip(opacity, 0.0, 1.0) * 255)
    head = struct.pack(">IIBBBBB", columns, rows, 8, 4, 0, 0, 0)
    data = zlib.compress(pixels.tobytes(), 9)
    png = SIGNATURE + _chunk(b"IHDR", head) + _chunk(b"IDAT", data) + _chunk(b"IEND", b"")
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
