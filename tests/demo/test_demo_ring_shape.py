"""The ring's shape against its own numbers: closed, of the right volume, and in the right place."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from firstoff.demo.ring_shape import ring_stl
from firstoff.removal.shape import read_shape


@pytest.mark.parametrize("bore", [17.0, 18.0])
def test_the_ring_is_closed_and_has_its_volume(tmp_path: Path, bore: float) -> None:
    (tmp_path / "ring.stl").write_bytes(ring_stl(bore))
    triangles = read_shape(tmp_path / "ring.stl").triangles
    sides = Counter(
        (tuple(one[k]), tuple(one[(k + 1) % 3])) for one in np.round(triangles, 5).tolist() for k in range(3)
    )
    assert all(count == 1 and sides[(b, a)] == 1 for (a, b), count in sides.items())
    volume = float(np.einsum("ij,ij->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2]))) / 6
    # A washer less three holes less the ring that the chamfer takes (Pappus: its area times the way of its middle).
    whole = math.pi * (20**2 - (bore / 2) ** 2) * 8 - 3 * math.pi * 2.1**2 * 8
    whole -= 0.4 * 0.4 / 2 * 2 * math.pi * (20 - 0.4 / 3)
    assert volume == pytest.approx(whole, rel=1e-3)
    assert triangles.min(axis=(0, 1)) == pytest.approx([-20, -20, 0], abs=0.01)
    assert triangles.max(axis=(0, 1)) == pytest.approx([20, 20, 8], abs=0.01)
