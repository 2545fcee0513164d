"""How long a command shows nothing new on a terminal while it works: its progress runs in a pseudo-terminal, and the gaps between what it writes
are timed."""

from __future__ import annotations

import os
import pty
import select
import subprocess
import time
from collections.abc import Mapping, Sequence

WAIT_S = 0.05


def watched(command: Sequence[str], env: Mapping[str, str]) -> tuple[float, float]:
    """(s it took, longest s without anything new on its terminal, from its first sign of life on)."""
    ours, theirs = pty.openpty()
    began = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=theirs, env=dict(env)) as process:
        os.close(theirs)
        last, longest, alive = began, 0.0, False
        while process.poll() is None:
            if not select.select([ours], [], [], WAIT_S)[0]:
                continue
            try:
                heard = os.read(ours, 1 << 16)
            except OSError:  # its end is closed
                break
            now = time.perf_counter()
            longest = max(longest, now - last) if alive else longest
            last, alive = (now, True) if heard else (last, alive)
        process.wait()
    os.close(ours)
    return time.perf_counter() - began, longest
