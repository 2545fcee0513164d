"""Opening the shop: as a person starts it, and the ways in which it cannot be."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.pages import serve
from firstoff.pages.door import names_of


@pytest.fixture
def taken() -> Iterator[socket.socket]:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        held.listen()
        yield held


def test_it_listens_to_this_computer_alone_and_ends_at_an_interrupt(shop: Path) -> None:
    command = [sys.executable, "-m", "firstoff.cli", "open", "--no-browser", "--shop", str(shop)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as started:
        assert started.stderr is not None
        said = started.stderr.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)", said)
        assert found is not None, said
        port = int(found[1])
        for _ in range(100):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/jobs", timeout=5) as answer:
                    assert answer.status == 200
                break
            except urllib.error.URLError:
                time.sleep(0.1)
        else:
            pytest.fail("it never answered")
        others = [one for one in socket.gethostbyname_ex(socket.gethostname())[2] if not one.startswith("127.")]
        for other in others:
            with pytest.raises(OSError, match=r"."):
                socket.create_connection((other, port), timeout=1)
        started.send_signal(signal.SIGINT)
        assert started.wait(20) == 130


def test_a_port_that_is_taken_is_told(shop: Path, taken: socket.socket) -> None:
    port = taken.getsockname()[1]
    with pytest.raises(InputError, match=rf"port cannot be used: {port}"):
        serve.serve(shop, port, browser=False, lan=False)


def test_the_next_free_port_serves_where_none_is_named(monkeypatch: pytest.MonkeyPatch, taken: socket.socket) -> None:
    port = taken.getsockname()[1]
    monkeypatch.setattr(serve, "PORT", port)
    heard = serve._listening(serve.LOOPBACK, None)
    assert heard.getsockname()[1] > port
    heard.close()


def test_without_a_shop_nothing_is_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("FIRSTOFF_SHOP", raising=False)
    with pytest.raises(InputError, match="no shop"):
        serve.serve(None, None, browser=False, lan=False)


@pytest.mark.parametrize("password", ["", "1234567"])
def test_a_short_password_is_refused(shop: Path, monkeypatch: pytest.MonkeyPatch, password: str) -> None:
    monkeypatch.setenv("FIRSTOFF_PASSWORD", password)
    with pytest.raises(InputError, match="too short"):
        serve.serve(shop, None, browser=False, lan=True)


def test_names_are_those_that_a_browser_sends() -> None:
    assert names_of(["Mill.local", "192.168.1.4", "fd00::4"], 7318) >= {
        "localhost:7318",
        "127.0.0.1:7318",
        "[::1]:7318",
        "mill.local:7318",
        "192.168.1.4:7318",
        "[fd00::4]:7318",
    }
    assert "localhost" in names_of([], 80)
    assert "localhost" not in names_of([], 7318)
