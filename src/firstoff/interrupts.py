"""An interrupt (Ctrl-C) ends the command at once, whatever it is doing.

Python raises `KeyboardInterrupt` between two instructions of the main thread, wherever that happens to be. Inside a call-back of a library
that clears what its call-backs raise (NumPy looks up attributes so), the interrupt is lost; inside a long kernel, the compiler or a wait for
threads it comes late. So nothing is raised: a thread of its own hears the signal and ends the process. It waits only for what is being
written, which is then there whole or not at all.

Only the ways in of the command (`firstoff.__main__`, `firstoff.cli`) call `obey`: whoever imports Firstoff keeps their own handling.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Event, RLock, Thread

from firstoff.errors import Interrupted

EXIT_CODE = 130
"""128 and the number of the signal, as shells tell it."""
STOPPED = "Stopped. Nothing half-written was left."

_writing = RLock()
_asked = Event()
_before_the_end: list[Callable[[], None]] = []


def obey() -> None:
    """From now on an interrupt ends this process with `EXIT_CODE`; one that was set to be ignored (a job in the background) stays ignored."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        return
    ear, mouth = os.pipe()
    if os.name == "posix":
        os.set_blocking(mouth, False)
    signal.set_wakeup_fd(mouth, warn_on_full_buffer=False)
    signal.signal(signal.SIGINT, lambda _signal, _frame: None)
    Thread(target=_listen, args=(ear,), name="interrupts", daemon=True).start()


def _listen(ear: int) -> None:
    while signal.SIGINT not in os.read(ear, 1):
        pass
    _asked.set()
    with _writing:
        try:
            for do in _before_the_end:
                do()
            print(STOPPED, file=sys.stderr, flush=True)
        finally:
            os._exit(EXIT_CODE)


@contextmanager
def whole() -> Iterator[None]:
    """What is written in here is there whole, or taken away again, before an interrupt ends the process."""
    with _writing:
        yield


def stop_if_asked() -> None:
    """Raises `Interrupted` where an interrupt waits: for what takes longer inside `whole`, and takes away what it began."""
    if _asked.is_set():
        raise Interrupted


@contextmanager
def first(do: Callable[[], None]) -> Iterator[None]:
    """Do this before an interrupt ends the process, such as giving the terminal its cursor back."""
    _before_the_end.append(do)
    try:
        yield
    finally:
        _before_the_end.remove(do)
