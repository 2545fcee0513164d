"""The good jobs of the demo shop, laid out once."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from firstoff.demo.lay_out import lay_out

NOW = datetime(2026, 9, 14, 7, 40, 12)
SOON = NOW + timedelta(minutes=20)


@pytest.fixture(scope="session")
def laid_out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo shop that no test may change."""
    folder = tmp_path_factory.mktemp("workflows") / "shop"
    lay_out(folder, NOW)
    return folder
