"""A process that writes, and says of each entry that it is there only once it is: made to be killed.

``python -m proof.reliability.writer book FILE FIRST COUNT`` writes entries of a trial book, ``... shop FOLDER FIRST COUNT`` sets a fact of a
shop in its file and its book. Each line on stdout: the number and the entry's stamp.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from firstoff.book.opening import open_book
from firstoff.errors import InputError
from proof.reliability.deeds import SHOP, write

FACT = "tools.em6.OHX"


def stick_out(number: int) -> str:
    """What the fact is set to at that number: every one another."""
    return f"{10_000 + number}e-3 mm"


def main(kind: str, place: str, first: str, count: str) -> None:
    numbers = range(int(first), int(first) + int(count))
    if kind == "book":
        _book(Path(place), numbers)
    else:
        _shop(Path(place), numbers)


def _book(path: Path, numbers: range) -> None:
    book = open_book(path, SHOP)
    _say("ready")
    for number in numbers:
        with book.writing() as connection:
            entry = write(connection, book, number)
        _say(f"{number} {entry.sha256}")


def _shop(folder: Path, numbers: range) -> None:
    from firstoff.workflows.book import shop_book
    from firstoff.workflows.facts import set_fact

    shop = shop_book(folder)
    _say("ready")
    for number in numbers:
        set_fact(shop, FACT, stick_out(number), why=str(number))
        _say(f"{number} set")


def _say(line: str) -> None:
    os.write(1, f"{line}\n".encode())


if __name__ == "__main__":
    try:
        main(*sys.argv[1:])
    except InputError as error:
        print(error, file=sys.stderr)
        sys.exit(2)
