"""Mistakes in what stands at the head of each section: tool, length, spindle, feed, coolant, modes."""

from __future__ import annotations

import random
import re
from dataclasses import replace

from proof.faults.edits import with_word, without_word, word, written
from proof.faults.kinds import Kind, Mistake, Scene, at_random, head_of, leave_out, rewrite

LENGTH = ("tool",)
WAY = ("way",)
ALARM = ("alarm",)


def _has(text: str, *codes: str) -> bool:
    return all(re.search(rf"{code}(?![0-9.])", text) for code in codes)


def _other(scene: Scene, dice: random.Random, number: float | None) -> int | None:
    """Another pocket of the program."""
    others = [one for one in scene.pockets() if one != number]
    return dice.choice(others) if others else None


def in_head(scene: Scene, mistake: Mistake | None) -> Mistake | None:
    """A word left out of a section's head could stand anywhere in it."""
    if mistake is None:
        return None
    at = mistake.program.touched[0] - 1
    return replace(mistake, span=head_of(scene, mistake.program, at))


# --- tool and length -----------------------------------------------------------------------------------------------------


def wrong_h(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str | None:
        other = _other(scene, dice, word(text, "H"))
        return None if other is None else with_word(text, "H", other)

    return rewrite(scene, dice, lambda _, text: _has(text, "G43"), new)


def no_h(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _has(text, "G43"), lambda _, text: without_word(text, "H"))


def no_g43(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return without_word(text.replace("G43 ", ""), "H")

    return in_head(scene, rewrite(scene, dice, lambda _, text: _has(text, "G43"), new))


def h_zero(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _has(text, "G43"), lambda _, text: with_word(text, "H", 0))


def no_length_line(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda _, text: _has(text, "G43"), head=True)


def length_off(scene: Scene, dice: random.Random) -> Mistake | None:
    """G49 from another program, between G43 and the first move down."""
    at = at_random(scene, dice, lambda _, text: _has(text, "G43"))
    return None if at is None else Mistake(f"`G49` after line {at + 1}", scene.program.insert(at + 1, "G49"))


def no_m6(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _has(text, "M6"), lambda _, text: text.replace(" M6", ""))


def no_call(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda _, text: _has(text, "M6"))


def wrong_t(scene: Scene, dice: random.Random) -> Mistake | None:
    """Another tool is called, its own length stays."""

    def new(_: int, text: str) -> str | None:
        other = _other(scene, dice, word(text, "T"))
        return None if other is None else with_word(text, "T", other)

    return rewrite(scene, dice, lambda _, text: _has(text, "M6"), new)


def wrong_t_and_h(scene: Scene, dice: random.Random) -> Mistake | None:
    """Another tool of the job with its own length does the work of this one."""
    section = dice.choice(scene.sections())
    other = _other(scene, dice, section.pocket)
    if other is None:
        return None
    program = scene.program.put(section.first, with_word(scene.texts[section.first], "T", other))
    for at in range(section.first, section.last + 1):
        if _has(scene.texts[at], "G43"):
            program = program.put(at, with_word(scene.texts[at], "H", other))
    return Mistake(f"T{section.pocket} and its H → T{other} H{other} from line {section.first + 1}", program)


# --- spindle ---------------------------------------------------------------------------------------------------------------


def no_start(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda _, text: _has(text, "M3"), head=True)


def no_m3(scene: Scene, dice: random.Random) -> Mistake | None:
    return in_head(
        scene, rewrite(scene, dice, lambda _, text: _has(text, "M3"), lambda _, text: text.replace(" M3", ""))
    )


def m4(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _has(text, "M3"), lambda _, text: text.replace("M3", "M4"))


def swapped_s(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str | None:
        digits = list(f"{word(text, 'S'):.0f}")
        pairs = [k for k in range(len(digits) - 1) if digits[k] != digits[k + 1]]
        if not pairs:
            return None
        k = dice.choice(pairs)
        digits[k], digits[k + 1] = digits[k + 1], digits[k]
        return with_word(text, "S", float("".join(digits)))

    return rewrite(scene, dice, lambda _, text: _has(text, "M3"), new)


def s_times_ten(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return with_word(text, "S", (word(text, "S") or 0.0) * dice.choice((10.0, 0.1)))

    return rewrite(scene, dice, lambda _, text: _has(text, "M3"), new)


def no_wait(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda _, text: _has(text, "G4"), head=True)


def wait_in_ms(scene: Scene, dice: random.Random) -> Mistake | None:
    """P as a control wants it that counts milliseconds the other way round: no wait to speak of."""

    def new(_: int, text: str) -> str:
        return with_word(text, "P", (word(text, "P") or 0.0) / 1000)

    return rewrite(scene, dice, lambda _, text: _has(text, "G4"), new)


def wait_for_ever(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return with_word(text, "P", (word(text, "P") or 0.0) * 1000)

    return rewrite(scene, dice, lambda _, text: _has(text, "G4"), new)


def stopped_early(scene: Scene, dice: random.Random) -> Mistake | None:
    """M5 one operation too early: the section goes on."""
    at = at_random(scene, dice, lambda at, _: scene.cuts(at))
    return None if at is None else Mistake(f"`M5` before line {at + 1}", scene.program.insert(at, "M5"))


# --- feed --------------------------------------------------------------------------------------------------------------------


def f_times_ten(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return with_word(text, "F", (word(text, "F") or 0.0) * 10)

    return rewrite(scene, dice, lambda _, text: word(text, "F") is not None, new)


def no_feed(scene: Scene, dice: random.Random) -> Mistake | None:
    """The first F words are not written, up to some line before the end of the first tool."""
    section = scene.sections()[0]
    places = [at for at in range(section.first, section.last + 1) if word(scene.texts[at], "F") is not None]
    if not places:
        return None
    upto = dice.choice(places)
    program = scene.program
    for at in places:
        if at <= upto:
            program = program.put(at, without_word(scene.texts[at], "F"))
    return Mistake(f"no F from line {places[0] + 1} to line {upto + 1}", program)


def feed_per_turn(scene: Scene, dice: random.Random) -> Mistake | None:
    """G95 from a turning program."""
    at = at_random(scene, dice, lambda _, text: _has(text, "G54"))
    if at is None:
        return None
    return Mistake(f"`G95` in line {at + 1}", scene.program.put(at, scene.texts[at] + " G95"))


# --- coolant and stops -------------------------------------------------------------------------------------------------------


def no_coolant(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda _, text: _has(text, "M8"), head=True)


def looked_at(scene: Scene, dice: random.Random) -> Mistake | None:
    """M9 and M0 typed in to look at the first part; nothing opens the coolant again."""

    def fits(at: int, _: str) -> bool:
        return scene.cuts(at) and not scene.clean.at(at + 1).dry

    at = at_random(scene, dice, fits)
    if at is None:
        return None
    return Mistake(f"`M9`, `M0` before line {at + 1}", scene.program.insert(at, "M0").insert(at, "M9"))


def stop_left(scene: Scene, dice: random.Random) -> Mistake | None:
    at = at_random(scene, dice, lambda at, _: scene.cuts(at))
    return None if at is None else Mistake(f"`M0` before line {at + 1}", scene.program.insert(at, "M0"))


# --- modes and words ------------------------------------------------------------------------------------------------------------


def units_swapped(scene: Scene, dice: random.Random) -> Mistake | None:
    """G20 in the head, or in the head of a section."""

    def new(_: int, text: str) -> str:
        return text.replace("G21", "G20") if "G21" in text else f"{text} G20"

    return rewrite(scene, dice, lambda _, text: _has(text, "G21") or _has(text, "G54"), new)


def incremental_left(scene: Scene, dice: random.Random) -> Mistake | None:
    """G91 G28 Z0 from habit; the next section's G90 had been tidied away."""
    sections = scene.sections()
    if len(sections) < 2:
        return None
    number = dice.randrange(1, len(sections))
    section = sections[number]
    program = scene.program
    home = max(at for at in range(section.first) if "G53" in scene.texts[at])
    program = program.put(home, "G91 G28 Z0.0")
    for at in range(section.first, section.last + 1):
        if _has(scene.texts[at], "G90"):
            program = program.put(at, scene.texts[at].replace(" G90", ""))
    return Mistake(f"`G91 G28 Z0.0` in line {home + 1}, no G90 after it", program)


def incremental_typed(scene: Scene, dice: random.Random) -> Mistake | None:
    """G91 for G90 in the head of a section."""

    def new(_: int, text: str) -> str:
        return text.replace("G90", "G91")

    return rewrite(scene, dice, lambda _, text: _has(text, "G54", "G90"), new)


def plane_wrong(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        plane = dice.choice(("G18", "G19"))
        return text.replace("G17", plane) if "G17" in text else f"{text} {plane}"

    return rewrite(scene, dice, lambda _, text: _has(text, "G17") or _has(text, "G54"), new)


def other_zero(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _has(text, "G54"), lambda _, text: text.replace("G54", "G55"))


def zero_written(scene: Scene, dice: random.Random) -> Mistake | None:
    """The offset is nudged by the program, and stays so."""
    x, y, z = scene.bench.work.zeros[54]
    axis, value = dice.choice((("X", x), ("Y", y), ("Z", z)))
    nudged = value + dice.choice((-0.5, -0.25, 0.25, 0.5))
    section = dice.choice(scene.sections())
    text = f"G10 L2 P1 {axis}{written('X', nudged)}"
    return Mistake(f"`{text}` after line {section.first + 1}", scene.program.insert(section.first + 1, text))


def shifted(scene: Scene, dice: random.Random) -> Mistake | None:
    """G92 in the middle of a section, never taken back."""
    at = at_random(scene, dice, lambda _, text: _has(text, "M8") or _has(text, "G43"))
    if at is None:
        return None
    step = next((one for one in reversed(scene.clean.trace.steps) if one.line <= at + 1), None)
    if step is None:
        return None
    axis = dice.choice((0, 1))
    text = f"G92 {'XY'[axis]}{written('X', step.end[axis] + dice.choice((-0.5, 0.25, 0.5)))}"
    return Mistake(f"`{text}` after line {at + 1}", scene.program.insert(at + 1, text))


def strange_word(scene: Scene, dice: random.Random) -> Mistake | None:
    """A letter for a figure, a word twice, a code that nobody explained."""
    ways = (
        lambda text: re.sub(r"([XYZ]-?[0-9]*)0", r"\1O", text, count=1),
        lambda text: f"{text} X{word(text, 'X') or 0.0:g} X0.0",
        lambda text: f"{text} M52",
        lambda text: f"{text} G7.3",
        lambda text: text.replace("X", "X.", 1).replace("Y", "Y.", 1),
    )
    way = dice.choice(ways)
    return rewrite(scene, dice, lambda _, text: word(text, "X") is not None, lambda _, text: way(text))


def cut_short(scene: Scene, dice: random.Random) -> Mistake | None:
    """The file ends in the middle: the copy was broken off."""
    first, last = scene.sections()[0].first + 3, len(scene.texts) - 2
    at = at_random(scene, dice, lambda at, _: first < at < last)
    return None if at is None else Mistake(f"ends after line {at}", scene.program.cut(at))


SPINDLE = ("spindle",)
FASTER = ("chip", "strength", "torque", "power", "feed", "chips_out", "holding", "size", "finish", "path_kept")
"""What a feed that is too high may break, overload, push away, or leave behind."""
CONTACTS = ("rapid_contact", "body_contact")
WHEREVER = ("travel", "keep_out", *CONTACTS, "below", "understood", "target", "reach", "cuts")

KINDS = (
    Kind("wrong H", "another tool's H is called", LENGTH, WAY, wrong_h),
    Kind("H missing", "G43 without H", ("tool", "understood"), ALARM, no_h),
    Kind("G43 missing", "neither G43 nor H in the line that should call the length", LENGTH, WAY, no_g43),
    Kind("H0", "G43 H0", ("tool", "understood"), WAY, h_zero),
    Kind("length line lost", "the whole line with G43 left out", LENGTH, WAY, no_length_line),
    Kind("G49 left in", "the length is called off again before the first move down", LENGTH, WAY, length_off),
    Kind("M6 missing", "T without M6: the old tool stays in", LENGTH, ("tool", "way"), no_m6),
    Kind("change lost", "the line with T and M6 left out", LENGTH, ("tool", "way"), no_call),
    Kind("wrong T", "another pocket is called, H stays", LENGTH, ("tool",), wrong_t),
    Kind("spindle not started", "the line with S and M3 left out", SPINDLE, SPINDLE, no_start),
    Kind("M3 missing", "S without M3", SPINDLE, SPINDLE, no_m3),
    Kind("reversed", "M4 for M3", SPINDLE, SPINDLE, m4),
    Kind("S digits swapped", "two neighbouring figures of S changed over", SPINDLE, SPINDLE, swapped_s),
    Kind("S by ten", "S ten times too high or too low", SPINDLE, SPINDLE, s_times_ten),
    Kind("no wait", "the dwell after M3 left out", SPINDLE, SPINDLE, no_wait),
    Kind("wait in ms", "the dwell a thousand times too short", SPINDLE, SPINDLE, wait_in_ms),
    Kind("M5 too early", "M5 before a cut", SPINDLE, SPINDLE, stopped_early),
    Kind("wait for ever", "the dwell a thousand times too long", ("feed",), ("wait",), wait_for_ever),
    Kind("F times ten", "one zero too many", FASTER, ("feed",), f_times_ten),
    Kind("F missing", "the first F words left out", ("feed", "understood"), ALARM, no_feed),
    Kind("feed a turn", "G95 in the head of a section", ("understood", *FASTER), ("feed",), feed_per_turn),
    Kind("M8 missing", "the coolant is never opened", ("chips_out",), ("dry",), no_coolant),
    Kind("looked at", "M9 and M0 typed in before a cut, and no M8 after", ("chips_out",), ("dry",), looked_at),
    Kind("M0 left in", "M0 before a cut", ("leftovers",), ("stop",), stop_left),
    Kind("inch", "G20 for G21, or G20 in the head of a section", WHEREVER, ("travel", "zone", "rapid", "obstacle", "body", "below", "shape", "alarm", "air"), units_swapped),
    Kind("G91 left on", "G91 G28 Z0 and no G90 after it", WHEREVER, WAY, incremental_left),
    Kind("G91 typed", "G91 for G90 in the head of a section", WHEREVER, WAY, incremental_typed),
    Kind("plane wrong", "G18 or G19 where arcs follow", ("understood",), ALARM, plane_wrong),
    Kind("G55 for G54", "another offset is called", WHEREVER, WAY, other_zero),
    Kind("offset written", "G10 nudges the work zero and leaves it so", ("leftovers",), ("written",), zero_written),
    Kind("G92 left", "G92 shifts the program and is never taken back", ("leftovers",), ("written",), shifted),
    Kind("strange word", "a letter O, a word twice, a code that nobody explained", ("understood",), ALARM, strange_word),
    Kind("cut short", "the file ends after some line", ("leftovers", "understood"), ("end", "alarm"), cut_short),
)  # fmt: skip
