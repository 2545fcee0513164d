"""The words of one block sorted: their values worked out, their modal groups checked, each marked off as it is used."""

from __future__ import annotations

from dataclasses import dataclass, field

from firstoff.program.blocks import Block, Word

LETTERS = {"X": 0, "Y": 1, "Z": 2}
"""Axis number of each axis word."""
AXIS_LETTERS = "XYZ"
ROTARY_LETTERS = "ABC"
CENTRE_LETTERS = "IJK"

MOTION, PLANE, DISTANCE, ARC_MODE, FEED_MODE, UNITS, COMP, LENGTH = (
    "motion", "plane", "distance", "arc centre", "feed mode", "units", "compensation", "length offset",
)  # fmt: skip
RETURN, SYSTEM, PATH, ONCE, CYCLE, VEIL, SPEED = (
    "cycle return", "work system", "path control", "non-modal", "cycle", "not followed", "speed mode",
)  # fmt: skip

REPORT_GROUPS: dict[int, str] = {
    **dict.fromkeys((0, 10, 20, 30, 382, 800, *range(810, 900, 10)), MOTION),
    **dict.fromkeys((170, 180, 190), PLANE),
    **dict.fromkeys((900, 910), DISTANCE),
    **dict.fromkeys((930, 940), FEED_MODE),
    **dict.fromkeys((200, 210), UNITS),
    **dict.fromkeys((400, 410, 420), COMP),
    **dict.fromkeys((430, 490), LENGTH),
    **dict.fromkeys((980, 990), RETURN),
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), SYSTEM),
    **dict.fromkeys((610, 611, 640), PATH),
    **dict.fromkeys((40, 100, 280, 300, 530, 920, 921, 922, 923), ONCE),
}
"""Ten times the G code -> modal group (NISTIR 6556, Table 4)."""
PLAIN_GROUPS: dict[int, str] = {
    **REPORT_GROUPS,
    **dict.fromkeys((800, 730, 740, 760, *range(810, 900, 10)), CYCLE),
    **dict.fromkeys((310, 383, 384, 385), MOTION),
    **dict.fromkeys((901, 911), ARC_MODE),
    950: FEED_MODE,
    **dict.fromkeys((970, 960), SPEED),
    **dict.fromkeys((431, 440), LENGTH),
    **dict.fromkeys((90, 520), ONCE),
    **dict.fromkeys(
        (150, 160, 500, 510, 501, 511, 680, 690, 682, 670, 660, 71, 121, 131, 432, 434, 435, 440, 541), VEIL
    ),
}
"""The same as most controls keep it: cycles and G80 in a group of their own (common practice)."""
VEILS = {
    160: "polar coordinates (G16)",
    510: "scaling (G51)",
    511: "mirroring (G51.1)",
    680: "coordinate rotation (G68)",
    682: "a tilted plane (G68.2)",
    660: "a modal macro (G66)",
    71: "cylinder coordinates (G7.1)",
    121: "polar interpolation (G12.1)",
    432: "a second length offset (G43.2)",
    434: "tool centre point control (G43.4)",
    435: "tool centre point control (G43.5)",
    440: "a length offset that is subtracted (G44)",
    541: "a further work system (G54.1)",
}
"""Modes that change what axis words mean and are not followed."""
UNVEILS: dict[int, tuple[int, ...]] = {
    150: (160,),
    500: (510,),
    501: (511,),
    690: (680, 682),
    670: (660,),
    131: (121,),
    490: (432, 434, 435, 440),
    430: (440,),
    **dict.fromkeys((540, 550, 560, 570, 580, 590, 591, 592, 593), (541,)),
}
"""Codes that end them."""
AXIS_USERS = frozenset({100, 280, 300, 520, 920})
"""Non-modal codes that take the axis words of their block."""

M_GROUPS: dict[int, str] = {
    **dict.fromkeys((0, 1, 2, 30, 60), "stop"),
    6: "tool change",
    **dict.fromkeys((3, 4, 5), "spindle"),
    9: "coolant",
    **dict.fromkeys((48, 49), "override"),
}
"""M7 and M8 may stand together (NISTIR 6556, 2.1.2.7), but not with M9."""
REPORT_M = frozenset({0, 1, 2, 30, 60, 3, 4, 5, 6, 7, 8, 9, 48, 49})
PLAIN_M = REPORT_M | {13, 14, 19, 29}
MOST_M = 4
"""M words in one block (NISTIR 6556, 3.3.5)."""


@dataclass(slots=True)
class Order:
    """What one block asks for."""

    block: Block
    line: int
    words: dict[str, Word] = field(default_factory=dict)
    """First word of each letter but G and M."""
    values: dict[str, float] = field(default_factory=dict)
    g: dict[str, int] = field(default_factory=dict)
    """Modal group -> ten times the G code."""
    once: list[int] = field(default_factory=list)
    """Non-modal codes."""
    veils: list[int] = field(default_factory=list)
    """Codes of modes that are not followed, on or off."""
    m: list[int] = field(default_factory=list)
    code_words: dict[int, Word] = field(default_factory=dict)
    """Ten times the G code -> its word."""
    m_words: dict[int, Word] = field(default_factory=dict)
    used: set[str] = field(default_factory=set)
    flags: int = 0
    """`Flag` bits of this block's moves alone."""
    consumed: bool = False
    """A non-modal code took the axis words: nothing else moves."""
    broken: bool = False
    """Not understood as a whole: what is clear is done, but nothing moves and every axis is lost."""

    def has(self, letters: str) -> bool:
        return any(letter in self.values for letter in letters)

    def take(self, letter: str) -> float | None:
        """The number of a word, marked as used."""
        self.used.add(letter)
        return self.values.get(letter)

    def axes(self) -> int:
        """Bits of the axis words."""
        return sum(1 << LETTERS[letter] for letter in AXIS_LETTERS if letter in self.values)

    def word_of(self, letter: str) -> Word | None:
        return self.words.get(letter)
