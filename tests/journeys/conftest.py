"""Journeys: the command run as a person runs it, in a folder of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from subprocess import CompletedProcess

import pytest

from firstoff import cli

Run = Callable[..., "CompletedProcess[str]"]


@pytest.fixture
def firstoff(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Iterator[Run]:
    """`firstoff("read", "a.nc")` runs the command's way in, in this process and an empty folder; it is never a fault of ours."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FIRSTOFF_SHOP", raising=False)
    monkeypatch.setenv("FIRSTOFF_TRACEBACK", "1")
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "100")
    broken_pipe = signal.getsignal(signal.SIGPIPE)

    def run(*words: str) -> CompletedProcess[str]:
        monkeypatch.setattr(sys, "argv", ["firstoff", *words])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            cli.main()
        said = capsys.readouterr()
        return checked(words, CompletedProcess(words, int(ended.value.code or 0), said.out, said.err))

    yield run
    signal.signal(signal.SIGPIPE, broken_pipe)


@pytest.fixture
def started(tmp_path: Path) -> Run:
    """The same in a process of its own, as a shell starts it: for what a process could spoil (way in, streams, exit code, order of a set)."""

    def run(*words: str) -> CompletedProcess[str]:
        environment = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1", "PYTHONHASHSEED": "4711"}
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
        return checked(words, done)

    return run


def checked(words: tuple[str, ...], done: CompletedProcess[str]) -> CompletedProcess[str]:
    """Whatever it is given, the command shows no traceback and calls nothing a fault of ours."""
    if "Traceback" in done.stdout + done.stderr or done.returncode == cli.OUR_FAULT:
        pytest.fail(f"{words}: exit {done.returncode}\n{done.stdout}\n{done.stderr}")
    return done
