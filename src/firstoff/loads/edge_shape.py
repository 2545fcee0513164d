"""The cutting end of a tool as the load kernels want it: where its straight part begins, and how its radius grows below."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from firstoff.facts.assembly import Assembly, Part
from firstoff.program.moves import Floats
from firstoff.removal.profile import frozen

UPRIGHT = 1e-6
"""A stretch of the profile whose radius changes by less than this part of its height is straight."""


@dataclass(frozen=True, slots=True)
class EdgeShape:
    """`profile` f8[P, 2]: (height, radius) from the rim of the flat end up to the straight part; heights never fall."""

    profile: Floats
    straight_z_mm: float
    straight_r_mm: float
    end_r_mm: float
    """Radius of the flat end; 0 for a ball or a point."""
    lag_rad_per_mm: float
    """How far an edge lags behind its own bottom, per mm of height."""


def edge_shape(assembly: Assembly) -> EdgeShape:
    """Shape of the edge part of the profile; a tool whose edge is nowhere straight has its straight part at the top of it."""
    edge = [segment for segment in assembly.segments if segment.part is Part.EDGE]
    end_r, points = 0.0, [(0.0, 0.0)]
    straight: tuple[float, float] | None = None
    for segment in edge:
        rise, grows = segment.z1_mm - segment.z0_mm, segment.r1_mm - segment.r0_mm
        if rise <= 0.0 and not points[1:] and segment.z0_mm <= 0.0:
            end_r = segment.r1_mm
            points = [(0.0, end_r)]
        elif rise > 0.0 and abs(grows) <= UPRIGHT * rise:
            straight = (segment.z0_mm, segment.r0_mm)
            break
        else:
            points.append((segment.z1_mm, segment.r1_mm))
    if straight is None:
        straight = points[-1] if len(points) > 1 else (0.0, assembly.diameter_mm / 2)
    z, r = straight
    if z > points[-1][0]:
        points.append((z, r))
    if r <= 0.0:
        r = assembly.diameter_mm / 2
    return EdgeShape(frozen(np.array(points)), z, r, end_r, math.tan(abs(assembly.helix_rad)) / r)
