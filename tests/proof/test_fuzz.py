"""What `make fuzz` feeds, without its coverage: every seed, and seeds with bytes changed."""

from __future__ import annotations

import random

import pytest

from proof.fuzz.targets import TARGETS, seeds

CHANGED = {"reader": 150, "facts": 25, "shape": 300}
"""Pieces with bytes changed; a facts file is read three times over."""


@pytest.mark.parametrize("name", TARGETS)
def test_what_a_user_hands_us_is_read_or_refused(name: str) -> None:
    for data in seeds(name):
        TARGETS[name](data)


@pytest.mark.parametrize("name", TARGETS)
def test_changed_bytes_are_read_or_refused(name: str) -> None:
    dice = random.Random(20261126)
    begin = [data for data in seeds(name) if data]
    for _ in range(CHANGED[name]):
        data = bytearray(dice.choice(begin))
        for _ in range(dice.randint(1, 6)):
            place = dice.randrange(len(data) or 1)
            piece = dice.choice((b"", bytes([dice.randrange(256)]), b"0", b"-", b"#", b"[", b"nan", b"e9", b'"'))
            data[place : place + dice.randint(0, 3)] = piece
        TARGETS[name](bytes(data))
