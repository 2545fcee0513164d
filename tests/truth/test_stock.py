"""Blanks and finished stock against closed forms of solids and a general mesh library."""

from __future__ import annotations

import io
import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
import trimesh

from firstoff.removal.field import Grid
from firstoff.removal.shape import shape_of_bytes, shape_of_triangles
from firstoff.removal.stock import CylinderBlank, ShapeBlank, cover_of, field_of, volume_mm3
from firstoff.removal.stock_out import stl_of
from tests.removal.test_surfaces import level, read

Truth = Callable[..., None]
MESHES = (
    "volume by the divergence theorem in a general mesh library (trimesh 5.2, M. Dawson-Haggerty et al., 2019-2026)"
)
PAPPUS = "closed form 2·π²·R·r² of a ring (centroid theorem of Pappus, from memory)"
CIRCLES = "closed form π·r²·h of a cylinder (from memory)"
POLYGONS = "area of a line grown by a radius in a general geometry library, shapely (S. Gillies et al.)"
GRID = Grid(-12.0313, -12.0172, 0.1, 241, 239, 6.0)


def ring() -> trimesh.Trimesh:
    solid = trimesh.creation.torus(7.0, 3.0, major_sections=240, minor_sections=120)
    return solid.apply_transform(trimesh.transformations.rotation_matrix(0.6, [1, 0.4, 0.1]))


def test_a_turned_ring_scanned_into_columns(truth: Truth) -> None:
    field = field_of(ShapeBlank(shape_of_triangles(np.asarray(ring().triangles), "ring")), GRID)
    whole = 2 * math.pi**2 * 7 * 9
    truth(
        "stock-ring-volume",
        "volume of a turned ring in columns of 0.1 mm",
        PAPPUS,
        whole,
        volume_mm3(field),
        0.001 * whole,
        "mm³",
    )


@pytest.mark.parametrize(("check", "solid"), [("stock-mesh-ball", "ball"), ("stock-mesh-cone", "cone")])
def test_solids_of_a_mesh_library(truth: Truth, check: str, solid: str) -> None:
    made = trimesh.creation.icosphere(4, 9.0) if solid == "ball" else trimesh.creation.cone(7.0, 12.0, sections=90)
    made.apply_transform(trimesh.transformations.rotation_matrix(0.4, [0.3, 1, 0.2]))
    field = field_of(ShapeBlank(shape_of_bytes(made.export(file_type="stl"), "solid.stl")), GRID)
    truth(
        check,
        f"volume of a {solid} scanned from its STL",
        MESHES,
        made.volume,
        volume_mm3(field),
        2e-4 * made.volume,
        "mm³",
    )


def test_a_round_blank_with_the_area_of_its_edges(truth: Truth) -> None:
    blank = CylinderBlank(0.37, -0.21, 9.3, -14.0, 6.0)
    got = volume_mm3(field_of(blank, GRID), cover_of(blank, GRID))
    truth(
        "stock-cylinder-volume", "volume of a round blank on a grid", CIRCLES, math.pi * 9.3**2 * 20, got, 0.01, "mm³"
    )


def test_the_stl_that_is_written_holds_the_volume_of_the_field(truth: Truth) -> None:
    field = field_of(ShapeBlank(shape_of_triangles(np.asarray(ring().triangles), "ring")), GRID)
    mesh = trimesh.load(io.BytesIO(stl_of(field).data), file_type="stl")
    assert mesh.is_watertight
    truth(
        "stock-stl-volume",
        "volume of a written STL with hollows",
        MESHES,
        mesh.volume,
        volume_mm3(field),
        1e-6 * mesh.volume,
        "mm³",
    )


def test_the_floor_of_a_slot(truth: Truth) -> None:
    way = [(8.0, 9.0), (31.0, 14.0), (20.0, 22.0)]
    (floor,) = read((2, level(-3.0, *way))).floors
    area = shapely.LineString(way).buffer(2.0, quad_segs=64).area
    truth(
        "surfaces-floor-area",
        "level area that a Ø4 mill leaves along two lines",
        POLYGONS,
        area,
        floor.area_mm2,
        0.01 * area,
        "mm²",
    )
