"""Sweeps through other blanks run beside the likely one: same answers, told as it goes, and given up at once with it."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from firstoff import workflows
from firstoff.errors import Interrupted
from firstoff.removal.swept import Swept
from firstoff.verdict import follow as room
from firstoff.verdict.followed import Followed, NotFollowed
from tests.verdict.conftest import NOW


def followed(folder: Path, tell: Callable[[str, float], None]) -> Followed:
    kept: list[Followed | NotFollowed | None] = []
    whole = workflows.follow

    def note(*given: object) -> object:
        case = whole(*given)  # type: ignore[arg-type]
        kept.append(case.followed)
        return case

    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(workflows, "follow", note)
        workflows.judge(workflows.prepare(folder, now=NOW), tell=tell)
    assert isinstance(kept[0], Followed)
    return kept[0]


def test_they_are_the_sweeps_that_are_made_one_after_the_other(
    shop: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    beside = followed(shop(), lambda *_: None)
    monkeypatch.setattr(room._Beside, "start", lambda self: None)
    found = room._Beside.found

    def late(self: room._Beside, likely: Swept) -> object:
        self.future = self.pool.submit(self._follow)
        self.pool.shutdown(cancel_futures=False)  # nothing else is under way
        return found(self, likely)

    monkeypatch.setattr(room._Beside, "found", late)
    alone = followed(shop(), lambda *_: None)
    for name in ("likely", "largest", "smallest"):
        one, other = getattr(beside, name), getattr(alone, name)
        assert np.array_equal(one.after.top, other.after.top)
        assert np.array_equal(one.maker, other.maker)
        assert np.array_equal(one.moves.volume_mm3, other.moves.volume_mm3)
        assert (one.contacts, one.unfollowed) == (other.contacts, other.unfollowed)
    assert beside.largest is not beside.likely
    assert beside.without.keys() == alone.without.keys()
    assert beside.loads is not None
    assert alone.loads is not None
    assert beside.loads.stretches == alone.loads.stretches


def test_one_thread_tells_and_what_it_tells_never_falls(shop: Callable[..., Path]) -> None:
    told: list[tuple[int, float]] = []
    followed(shop(), lambda _, part: told.append((threading.get_ident(), part)))
    assert {ident for ident, _ in told} == {threading.get_ident()}
    parts = [part for _, part in told]
    assert parts == sorted(parts)


def test_an_interrupt_of_the_likely_sweep_ends_the_others(
    shop: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other sweeps are made endless: only that they are told to end can end them."""
    whole, began = room.sweep, threading.Event()

    def endless(*given: object, cancelled: Callable[[], bool] | None = None, **how: object) -> Swept:
        if cancelled is None:
            return whole(*given, **how)  # type: ignore[arg-type]
        began.set()
        while not cancelled():
            time.sleep(0.001)
        raise Interrupted

    def surfaces(*_: object) -> object:
        assert began.wait(10)
        raise KeyboardInterrupt

    monkeypatch.setattr(room, "sweep", endless)
    monkeypatch.setattr(room, "surfaces_of", surfaces)
    before = threading.active_count()
    with pytest.raises(KeyboardInterrupt):
        workflows.judge(workflows.prepare(shop(), now=NOW))
    assert threading.active_count() <= before
