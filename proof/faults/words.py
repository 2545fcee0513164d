"""Words of a program line, as a plain control reads them."""

from __future__ import annotations

import re

_COMMENT = re.compile(r"\(([^()]*)\)")
_WORD = re.compile(r"([A-Z])([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
KNOWN_G = frozenset(
    (0, 1, 2, 3, 4, 10, 17, 18, 19, 20, 21, 28, 40, 41, 42, 43, 49, 53, 54, 55, 56, 57, 58, 59, 61, 64, 80, 81, 83)
) | frozenset((90, 91, 92, 92.1, 93, 94, 95, 98, 99))
KNOWN_M = frozenset((0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 30))
MANY = ("G", "M")
"""Letters that a line may hold more than once."""


class Alarm(Exception):
    """The control stops here."""


def words_of(line: str) -> tuple[list[tuple[str, float]], list[str]]:
    """(letter, number) in the order written, and the comments. Raises `Alarm` at anything that is no word or no known one."""
    remarks = _COMMENT.findall(line)
    rest = re.sub(r"\s", "", _COMMENT.sub("", line)).upper()
    if rest in ("", "%"):
        return [], remarks
    found, at = [], 0
    while at < len(rest):
        word = _WORD.match(rest, at)
        if word is None:
            raise Alarm(f"{rest[at:]} is not a word")
        found.append((word[1], float(word[2])))
        at = word.end()
    for letter, value in found:
        if (letter == "G" and value not in KNOWN_G) or (letter == "M" and value not in KNOWN_M):
            raise Alarm(f"{letter}{value:g} is not known")
    letters = [letter for letter, _ in found if letter not in MANY]
    if len(set(letters)) < len(letters):
        raise Alarm("a letter stands twice")
    return found, remarks
