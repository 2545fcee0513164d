"""Compile the kernels before any test is timed."""

from __future__ import annotations

import pytest

from tests.loads.test_accumulate import run_all


@pytest.fixture(scope="session", autouse=True)
def _compiled() -> None:
    run_all()
