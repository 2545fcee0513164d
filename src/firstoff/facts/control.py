"""What a control can be told about itself: every `[control]` key, what it may say, and what each base takes for granted.

Two bases: ``rs274ngc`` is the report (NISTIR 6556, Kramer, Proctor, Messina, 2000) to the letter; ``plain`` is what most
controls of small mills do (common practice). A key that neither the machine nor its base answers, and that a program
depends on, is a missing fact: the program is not judged from there on.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ControlKey:
    """One `[control]` key. `words` lists the answers; `dimension` is given where the answer is a quantity instead."""

    meaning: str
    words: tuple[str, ...] = ()
    dimension: str = ""
    rs274ngc: str | None = None
    """What the report says; None where it leaves it open."""
    plain: str | None = None
    """Custom; None where controls differ so much that only the machine can say."""


CONTROL_KEYS: dict[str, ControlKey] = {
    "base": ControlKey("language that everything below refines", ("plain", "rs274ngc"), "", "rs274ngc", "plain"),
    "units_at_start": ControlKey("unit before any G20 or G21", ("mm", "inch"), "", "mm", None),
    "wcs_at_start": ControlKey("work system before any is named", ("G54", "last used"), "", "G54", "G54"),
    "rapid_path": ControlKey("the way a rapid takes", ("straight", "dog-leg"), "", "straight", None),
    "arc_centres": ControlKey(
        "I J K before any G90.1 or G91.1", ("incremental", "absolute"), "", "incremental", "incremental"
    ),
    "arc_tolerance": ControlKey("greatest difference of start and end radius", (), "length", None, None),
    "full_circle_bare": ControlKey("G2 I5 with no axis word", ("accept", "fault"), "", "fault", "accept"),
    "whole_numbers": ControlKey("X1000 without a point", ("units", "least increment"), "", "units", "units"),
    "dwell_p": ControlKey("unit of P in G4 and in cycles", ("s", "ms"), "", "s", None),
    "g28_bare": ControlKey("G28 without an axis word", ("direct", "nothing"), "", "direct", None),
    "g28_axes": ControlKey("axes that G28 X... moves home", ("named", "all"), "", "all", "named"),
    "g53_length": ControlKey("tool length during G53", ("ignored", "kept"), "", "ignored", "ignored"),
    "t_alone": ControlKey("T without M6", ("preselects", "changes"), "", "preselects", "preselects"),
    "t_means": ControlKey("what T counts", ("pocket", "register"), "", "pocket", "pocket"),
    "m6": ControlKey("what M6 does", ("changes", "by hand", "ignored"), "", "changes", "changes"),
    "g43_acts": ControlKey("when G43 moves anything", ("at once", "with next Z"), "", "at once", "at once"),
    "h_missing": ControlKey("G43 without H", ("tool number", "zero", "fault"), "", "fault", None),
    "after_g80": ControlKey("bare axis words after G80", ("fault", "rapid", "last motion"), "", "fault", None),
    "m5_when": ControlKey("M5 and M9 in a block that moves", ("before", "after"), "", "before", None),
    "repeat_zero": ControlKey("L0 in a cycle", ("fault", "store"), "", "fault", "store"),
    "tap_feed": ControlKey("F of a tapping cycle", ("per minute", "lead"), "", "per minute", "per minute"),
    "g83_return": ControlKey("how far G83 clears between pecks", ("R", "clear Z"), "", "clear Z", "R"),
    "peck_back_off": ControlKey("back-off of G73 and re-entry gap of G83", (), "length", None, None),
    "comp_corner": ControlKey("inside corner under compensation", ("intersect", "fault"), "", "fault", "intersect"),
    "macro_family": ControlKey("how loops and calls are written", ("macro", "o-words", "none"), "", "none", None),
    "g52_scope": ControlKey("what G52 shifts", ("all", "current"), "", None, "all"),
    "block_delete": ControlKey("the block delete switch", ("on", "off"), "", None, None),
    "file_end": ControlKey("a file without M2, M30 or %", ("fault", "accept"), "", "fault", "accept"),
    "comments": ControlKey("a bracket inside a comment", ("plain", "nested"), "", "plain", "nested"),
    "corner_tolerance": ControlKey("how far G64 may round a corner", (), "length", None, None),
    "block_rate": ControlKey("blocks a second the control can plan", (), "rate", None, None),
    "look_ahead": ControlKey("blocks planned in advance", (), "count", None, None),
}
"""Everything but `program_folders` (list of folders) and `own_m_codes` (number -> what it does), which are tables."""
