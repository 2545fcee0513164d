"""How much room words take on paper, reckoned for the usual fallback fonts, so that a sheet never runs onto a second page.

With the sheet's own narrower fonts less is used, never more.
"""

from __future__ import annotations

PX = 25.4 / 96
"""A CSS px in mm."""
PT = 25.4 / 72
ADVANCES = (
    ("'", 191), ("ijl", 222), ("|", 260), (" .,:;/ft!I[]·", 278), ("-()r²³", 333), ('"', 355), ("°", 400), ("ckvxyzsJ", 500),
    ("±", 549), ("+=×−<>", 584), ("FTZ", 611), ("ABEKPSVXY&", 667), ("CDHNRUw", 722), ("GOQØ", 778), ("mM", 833), ("%", 889), ("W", 944),
    ("@…", 1015),
)  # fmt: skip
"""Letters and their advance in thousandths of the type size: Helvetica, which Arial and its metric twins keep to (from memory; a browser's
own figures for one of the twins were the same). The sheet's own fonts take a tenth less."""
ADVANCE = {letter: wide / 1000 for letters, wide in ADVANCES for letter in letters}
USUAL = 0.556
"""Digits and all other small letters; anything that is not listed."""
BOLD, SERIF = 1.08, 0.91
"""How much wider bold letters run than those, and serif ones (Times and its metric twins)."""
LEADING = 1.25
LEAST = 0.3
"""mm that a line is taken to be shorter, for rounding and hinting."""
SMALL = 9.0
"""pt; nothing is smaller."""


def width_of(words: str, pt: float) -> float:
    """Width of words in one line, mm."""
    return sum(ADVANCE.get(letter, USUAL) for letter in words) * pt * PT


def lines_of(words: str, width_mm: float, pt: float) -> int:
    """Lines that words take in a column."""
    width_mm -= LEAST
    lines, at, space = 1, 0.0, ADVANCE[" "] * pt * PT
    for word in words.split():
        wide = width_of(word, pt)
        if at > 0 and at + space + wide > width_mm:
            lines, at = lines + 1, 0.0
        at += wide + (space if at > 0 else 0.0)
        if at > width_mm:  # a word longer than the column is broken
            lines, at = lines + int(at / width_mm), at % width_mm
    return lines


def height_of(words: str, width_mm: float, pt: float = SMALL, wider: float = 1.0) -> float:
    """Height of a paragraph, mm; `wider` for bold or serif letters."""
    return lines_of(words, width_mm / wider, pt) * pt * PT * LEADING


def short(words: str, letters: int) -> str:
    """Words cut to a number of letters, with a sign that they were."""
    clean = " ".join("".join(letter if letter.isprintable() else " " for letter in words).split())
    return clean if len(clean) <= letters else clean[: letters - 1].rstrip() + "…"


def fitted(words: str, width_mm: float, wide_letter_mm: float | None = None, wider: float = 1.0) -> str:
    """Words cut to a width in one line of `SMALL` type; `wide_letter_mm` for letters that are all as wide."""
    clean = short(words, 1000)

    def wide(text: str) -> float:
        return len(text) * wide_letter_mm if wide_letter_mm is not None else width_of(text, SMALL) * wider

    if wide(clean) <= width_mm:
        return clean
    while clean and wide(clean + "…") > width_mm:
        clean = clean[:-1]
    return clean.rstrip() + "…"
