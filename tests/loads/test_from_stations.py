"""Rows of candidates: what the exponents of walls and floors may be."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from firstoff.loads import candidates as columns
from firstoff.loads.candidates import FIELDS
from firstoff.loads.from_stations import STEEPEST, _with_parts

forces = st.floats(-100.0, 100.0)


@given(forces, forces)
def test_what_two_parts_leave_of_each_other_hangs_on_neither_without_bound(push: float, lift: float) -> None:
    """The lift of a helix and the push of a ball's end may cancel: the exponents of what is left would be without bound, and so its doubt."""
    table = np.zeros((1, columns.COLUMNS))
    table[:, columns.VALUE] = push - lift
    parts = {"radial_ratio": np.array([push]), "axial_ratio": np.array([-lift])}
    told = _with_parts(table, parts, 0.2)[0]
    value, radial, axial = told[columns.VALUE], *(told[columns.EXPONENTS][FIELDS.index(name)] for name in parts)
    assert max(abs(radial), abs(axial)) <= STEEPEST * (1 + 1e-9)
    assert abs(value) >= abs(push - lift)
    assert np.isclose(abs(value * radial), abs(push))
    assert np.isclose(abs(value * axial), abs(lift))
    if abs(push - lift) >= max(abs(push), abs(lift)) / STEEPEST:
        assert value == push - lift
