"""How soon an interrupt (Ctrl-C) is obeyed, at moments spread over an examination."""

from __future__ import annotations

import signal
import subprocess
import sys
import time
from pathlib import Path

MOMENTS = 12
INTERRUPTED = 130


def moments(command: list[str], folder: Path, whole_s: float, count: int = MOMENTS) -> list[tuple[float, float, int]]:
    """(moment s, time until the process had ended s, its exit code) for each; a run that ended by itself is left out."""
    found = []
    # A background job of a shell would hand on that it is ignored.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for k in range(count):
        moment = whole_s * (k + 0.5) / count
        running = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        time.sleep(moment)
        if running.poll() is None:
            sent = time.perf_counter()
            running.send_signal(signal.SIGINT)
            code = running.wait(60)
            found.append((moment, time.perf_counter() - sent, code))
        else:
            running.wait()
    return found


def rows(command: list[str], folder: Path, whole_s: float, count: int = MOMENTS) -> list[tuple[str, str]]:
    """Rows of the bench: the slowest answer, and exit codes that were not 130."""
    found = moments(command, folder, whole_s, count)
    slowest = max(found, key=lambda one: one[1])
    other = [code for _, _, code in found if code != INTERRUPTED]
    return [
        (f"interrupt obeyed, slowest of {len(found)} moments", f"{slowest[1]:.2f} s"),
        ("... other exit codes than 130", f"{other or 'none'}"),
    ]


if __name__ == "__main__":
    for one in moments(sys.argv[2:], Path.cwd(), float(sys.argv[1])):
        print("at {:.1f} s: {:.2f} s, exit {}".format(*one))
