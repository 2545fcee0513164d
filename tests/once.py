"""What the workers of one test run do only once between them."""

from __future__ import annotations

import fcntl
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from numba.core.compiler_lock import global_compiler_lock
from numba.core.dispatcher import Dispatcher

LONGEST_S = 600.0
_held: set[str] = set()
"""Files of kernels whose lock this process has; a kernel that calls another of its file compiles it on the way."""


@contextmanager
def alone(place: Path) -> Iterator[None]:
    """One worker at a time; a folder that can be made only once is the key."""
    key, since = place.with_suffix(".key"), time.monotonic()
    while True:
        try:
            key.mkdir(parents=True)
            break
        except FileExistsError:
            if time.monotonic() - since > LONGEST_S:
                raise
            time.sleep(0.05)
    try:
        yield
    finally:
        key.rmdir()


def compile_kernels_once() -> None:
    """Let only one process at a time compile kernels of one file: whoever waited finds them in the cache on disk."""
    compile_one = Dispatcher.compile

    def compile_alone(self: Dispatcher, signature: object) -> object:
        file = self.py_func.__code__.co_filename
        with global_compiler_lock:  # first ours, then the file's: two threads never wait for each other
            if file in _held:
                return compile_one(self, signature)
            with Path(file).open() as source:
                fcntl.flock(source, fcntl.LOCK_EX)
                _held.add(file)
                try:
                    return compile_one(self, signature)
                finally:
                    _held.remove(file)

    Dispatcher.compile = compile_alone
