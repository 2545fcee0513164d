"""A disk that is full: what was acknowledged stays, the message says to make room, and with room the next write works."""

from __future__ import annotations

import random
import subprocess
from pathlib import Path

from firstoff.book.opening import FILE, open_book
from firstoff.errors import InputError
from proof.reliability.deeds import SHOP, write
from proof.reliability.kills import SMALL_SHOP, WRITES, Killed, look_at_book, look_at_shop, small_shop
from proof.reliability.together import mounted
from proof.reliability.writer import FACT, stick_out

NO_DISK = "a small disk cannot be mounted here: that needs root"


def disk_full(folder: Path, kib: int) -> tuple[Killed, str] | None:
    """Write into a book on a disk of so many KiB until it is full, make it larger, look; also what was told. None where none can be mounted."""
    if not mounted(folder, kib):
        return None
    try:
        path = folder / FILE
        acknowledged, told = _until_full(path)
        larger = ["mount", "-o", f"remount,size={kib + 16_000}k", str(folder)]
        subprocess.run(larger, check=True, capture_output=True)
        found = look_at_book(path, acknowledged)
        unclear = () if "Make room on the disk" in told or not told else (f"unclear: {told}",)
        twice = (f"{told}; and yet it was",) if found.more else ()
        return Killed(found.acknowledged, found.more, found.wrong + unclear + twice), told
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def _until_full(path: Path) -> tuple[list[tuple[int, str]], str]:
    acknowledged: list[tuple[int, str]] = []
    try:
        book = open_book(path, SHOP)
        for number in range(WRITES):
            with book.writing() as connection:
                entry = write(connection, book, number)
            acknowledged.append((number, entry.sha256))
    except InputError as error:
        return acknowledged, str(error)
    return acknowledged, ""


def disk_full_while_setting(folder: Path, kib: int) -> tuple[Killed, str] | None:
    """The same with facts set in file and book."""
    from firstoff.workflows.book import shop_book
    from firstoff.workflows.facts import set_fact

    if not mounted(folder, kib):
        return None
    try:
        shop = folder / "shop"
        done, told = 0, ""
        try:
            book = shop_book(small_shop(shop))
            for number in range(1, WRITES + 1):
                set_fact(book, FACT, stick_out(number), why=str(number))
                done = number
        except InputError as error:
            told = str(error)
        larger = ["mount", "-o", f"remount,size={kib + 16_000}k", str(folder)]
        subprocess.run(larger, check=True, capture_output=True)
        if not all((shop / name).exists() for name in SMALL_SHOP):
            return None
        return look_at_shop(shop, done)[0], told
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def sizes(count: int, seed: int) -> list[int]:
    """Sizes of disks in KiB, from too small for an empty book to large enough for a good many entries."""
    draw = random.Random(seed)
    return [draw.randint(60, 1400) for _ in range(count)]
