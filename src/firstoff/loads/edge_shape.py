"""The cutting end of a tool as the load kernels want it: where its straight part begins, and how its radius grows below.

Taken from the same outline that removal samples the engagement on, so that heights and radii mean the same in both rooms.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.facts.assembly import Assembly
from firstoff.program.moves import Floats
from firstoff.removal.profile import SAME_MM, cutter, frozen


@dataclass(frozen=True, slots=True)
class EdgeShape:
    """`profile` f8[P, 2]: (height, radius) from the rim of the flat end, or the axis, up to the straight part; neither falls."""

    profile: Floats
    straight_z_mm: float
    straight_r_mm: float
    end_r_mm: float
    """Radius of the flat end; 0 for a ball or a point."""
    lag_rad_per_mm: float
    """How far an edge lags behind its own bottom, per mm of height."""


def edge_shape(assembly: Assembly) -> EdgeShape:
    """Shape of the edge; a tool whose edge is nowhere straight has its straight part at the top of it. Raises `ValueError` without an edge."""
    edge = cutter(assembly)
    rim = int(np.flatnonzero(edge.z_mm <= edge.z_mm[0] + SAME_MM)[-1])
    profile = np.column_stack([edge.z_mm[rim:], edge.r_mm[rim:]])
    lag = math.tan(abs(assembly.helix_rad)) / edge.radius_mm
    return EdgeShape(frozen(profile), edge.side_from_mm, edge.radius_mm, edge.flat_mm, lag)
