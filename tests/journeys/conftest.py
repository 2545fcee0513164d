"""Journeys: the installed command, run as a person runs it, in a folder of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., "subprocess.CompletedProcess[str]"]


@pytest.fixture
def firstoff(tmp_path: Path) -> Run:
    """`firstoff("read", "a.nc")` runs the command in an empty folder; whatever it is given, it never shows a traceback."""

    def run(*words: str, columns: int = 100) -> subprocess.CompletedProcess[str]:
        environment = {**os.environ, "COLUMNS": str(columns), "NO_COLOR": "1"}
        environment.pop("FIRSTOFF_SHOP", None)
        done = subprocess.run(
            [sys.executable, "-m", "firstoff.cli", *words],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
        if "Traceback" in done.stdout + done.stderr or done.returncode == 1:
            pytest.fail(f"{words}: exit {done.returncode}\n{done.stdout}\n{done.stderr}")
        return done

    return run
