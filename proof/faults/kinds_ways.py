"""Mistakes in where the tool goes."""

from __future__ import annotations

import random
import re

from proof.faults.edits import is_remark, with_word, without_word, word, written
from proof.faults.kinds import Kind, Mistake, Scene, at_random, has_target, leave_out, rewrite

SHAPE = ("shape",)
CRASH = ("rapid", "obstacle", "body", "below", "travel", "zone")
CONTACTS = ("rapid_contact", "body_contact")
PART = ("target", "cuts", *CONTACTS, "below", "reach", "understood", "travel", "keep_out")
"""A wrong shape shows against the drawing, if nothing was hit before."""
EXTREMES = ("travel", "keep_out", *CONTACTS, "below", "reach", "target", "understood")


def _codes(text: str, *codes: str) -> bool:
    return any(re.search(rf"{code}(?![0-9.])", text) for code in codes)


def _plain(text: str) -> bool:
    """A line of nothing but a move in the work."""
    return not _codes(text, "G53", "G43", "G28", "G8[013]", "G54", "G21", "M6") and any(
        word(text, axis) is not None for axis in "XYZ"
    )


def _moded(scene: Scene) -> list[int]:
    """G0 to G3 that is in force at each line; −1 in a cycle or before any."""
    found, now = [], -1
    for text in scene.texts:
        if not is_remark(text):
            told = re.search(r"G(0?[0-3]|8[013])(?![0-9.])", text)
            if told is not None:
                now = int(told[1]) if int(told[1]) < 10 else -1
        found.append(now)
    return found


def _changed(scene: Scene, dice: random.Random, letters: str, new: object, cutting: bool = True) -> Mistake | None:
    """One coordinate of a plain line otherwise."""
    assert callable(new)

    def fits(at: int, text: str) -> bool:
        told = any((word(text, one) or 0.0) != 0.0 for one in letters)
        return _plain(text) and told and (scene.cuts(at) or not cutting)

    def text_of(_: int, text: str) -> str | None:
        letter = dice.choice([one for one in letters if (word(text, one) or 0.0) != 0.0])
        return with_word(text, letter, new(word(text, letter) or 0.0))

    return rewrite(scene, dice, fits, text_of)


# --- numbers ---------------------------------------------------------------------------------------------------------------


def sign_of_z(scene: Scene, dice: random.Random) -> Mistake | None:
    return _changed(scene, dice, "Z", lambda value: -value, cutting=False)


def sign_of_x(scene: Scene, dice: random.Random) -> Mistake | None:
    return _changed(scene, dice, "XY", lambda value: -value)


def decimal_lost(scene: Scene, dice: random.Random) -> Mistake | None:
    return _changed(scene, dice, "XYZ", lambda value: value * 10, cutting=False)


def digits_swapped(scene: Scene, dice: random.Random) -> Mistake | None:
    """12.5 typed as 21.5."""

    def new(value: float) -> float:
        whole, _, part = written("X", abs(value)).partition(".")
        digits = whole + part
        pairs = [k for k in range(min(len(digits) - 1, len(whole) + 1)) if digits[k] != digits[k + 1]]
        if not pairs:
            return value
        k = dice.choice(pairs)
        digits = digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :]
        return (-1 if value < 0 else 1) * float(f"{digits[: len(whole)]}.{digits[len(whole) :]}")

    return _changed(scene, dice, "XYZ", new)


def x_for_y(scene: Scene, dice: random.Random) -> Mistake | None:
    def fits(at: int, text: str) -> bool:
        return _plain(text) and scene.cuts(at) and word(text, "X") is not None and word(text, "Y") is not None

    def new(_: int, text: str) -> str:
        return text.replace("X", "?").replace("Y", "X").replace("?", "Y")

    return rewrite(scene, dice, fits, new)


def no_z(scene: Scene, dice: random.Random) -> Mistake | None:
    """A way down at feed without its Z."""

    def fits(_: int, text: str) -> bool:
        return _plain(text) and _codes(text, "G1") and word(text, "Z") is not None

    return rewrite(scene, dice, fits, lambda _, text: without_word(text, "Z"))


def too_deep(scene: Scene, dice: random.Random) -> Mistake | None:
    deeper = dice.choice((3.0, 5.0, 8.0, 12.0))
    return _changed(scene, dice, "Z", lambda value: value - deeper, cutting=False)


def line_lost(scene: Scene, dice: random.Random) -> Mistake | None:
    return leave_out(scene, dice, lambda at, text: _plain(text) and scene.cuts(at))


def lines_swapped(scene: Scene, dice: random.Random) -> Mistake | None:
    texts = scene.texts

    def fits(at: int, text: str) -> bool:
        return _plain(text) and scene.cuts(at) and at + 1 < len(texts) and _plain(texts[at + 1])

    at = at_random(scene, dice, fits)
    return None if at is None else Mistake(f"lines {at + 1} and {at + 2} changed over", scene.program.swap(at))


# --- arcs --------------------------------------------------------------------------------------------------------------------


def other_way_round(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return text.replace("G3", "G2") if "G3" in text else text.replace("G2", "G3")

    return rewrite(scene, dice, lambda at, text: _codes(text, "G2", "G3") and scene.cuts(at), new)


def wrong_centre(scene: Scene, dice: random.Random) -> Mistake | None:
    """I or J off by some tenths: the two radii differ, or a full circle lies elsewhere."""
    return _changed(scene, dice, "IJ", lambda value: value + dice.choice((-0.6, -0.3, 0.3, 0.6)))


def no_centre(scene: Scene, dice: random.Random) -> Mistake | None:
    def fits(_: int, text: str) -> bool:
        return word(text, "I") is not None or word(text, "J") is not None

    return rewrite(scene, dice, fits, lambda _, text: without_word(without_word(text, "I"), "J"))


# --- compensation --------------------------------------------------------------------------------------------------------------


def _begins(_: int, text: str) -> bool:
    return _codes(text, "G41")


def other_side(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, _begins, lambda _, text: text.replace("G41", "G42"))


def no_compensation(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return without_word(text.replace("G41 ", ""), "D")

    return rewrite(scene, dice, _begins, new)


def other_radius(scene: Scene, dice: random.Random) -> Mistake | None:
    """D of another tool of the shop's list."""

    def new(_: int, text: str) -> str:
        own = int(word(text, "D") or 0)
        radius = scene.bench.pockets[own].radius
        others = [one for one, cutter in scene.bench.pockets.items() if abs(cutter.radius - radius) > 0.3]
        return with_word(text, "D", dice.choice(others))

    return rewrite(scene, dice, _begins, new)


def short_lead_in(scene: Scene, dice: random.Random) -> Mistake | None:
    """The line on which compensation begins starts too near to its end."""
    at = at_random(scene, dice, _begins)
    if at is None:
        return None
    end = [word(scene.texts[at], axis) for axis in "XY"]
    back = next(
        n for n in range(at - 1, 0, -1) if _codes(scene.texts[n], "G0") or word(scene.texts[n], "X") is not None
    )
    way = next(step for step in scene.clean.trace.steps if step.line == at + 1)
    line = [end[0] if end[0] is not None else way.start[0], end[1] if end[1] is not None else way.start[1]]
    part = dice.choice((0.5, 1.0, 1.5, 2.0, 2.5))
    away = [way.start[k] - line[k] for k in (0, 1)]
    length = max((away[0] ** 2 + away[1] ** 2) ** 0.5, 1e-9)
    x, y = (line[k] + away[k] / length * part for k in (0, 1))
    text = f"X{written('X', x)} Y{written('Y', y)}"
    place = _positioned(scene, back)
    if place is None:
        return None
    head = "G0 " if _codes(scene.texts[place], "G0") else ""
    return Mistake(f"`{scene.texts[place]}` → `{head}{text}`", scene.program.put(place, head + text))


def _positioned(scene: Scene, at: int) -> int | None:
    """The rapid across that brought the tool to where a lead-in begins."""
    for n in range(at, 0, -1):
        text = scene.texts[n]
        if _codes(text, "G53"):
            return None
        if (word(text, "X") is not None or word(text, "Y") is not None) and word(text, "Z") is None:
            return n
    return None


def never_cancelled(scene: Scene, dice: random.Random) -> Mistake | None:
    texts = scene.texts
    last = max((at for at, text in enumerate(texts) if _codes(text, "G40")), default=0)
    either = dice.random() < 0.5

    def fits(at: int, text: str) -> bool:
        return _codes(text, "G40") and word(text, "X") is not None and (at == last or either)

    return rewrite(scene, dice, fits, lambda _, text: text.replace("G40 ", ""))


# --- rapids and heights -----------------------------------------------------------------------------------------------------------


def rapid_for_feed(scene: Scene, dice: random.Random) -> Mistake | None:
    """G0 where the tool cuts along."""
    modes = _moded(scene)

    def fits(at: int, text: str) -> bool:
        return _plain(text) and scene.cuts(at) and modes[at] == 1 and word(text, "Z") is None

    def new(_: int, text: str) -> str:
        return text.replace("G1", "G0") if "G1" in text else f"G0 {text}"

    return rewrite(scene, dice, fits, new)


def rapid_down(scene: Scene, dice: random.Random) -> Mistake | None:
    """G0 where the tool goes down into the work, and the end of the way up again is only the next G word's."""

    def fits(_: int, text: str) -> bool:
        return _plain(text) and _codes(text, "G1") and word(text, "Z") is not None

    return rewrite(scene, dice, fits, lambda _, text: text.replace("G1", "G0"))


def approach_too_low(scene: Scene, dice: random.Random) -> Mistake | None:
    """The rapid down ends below the top of the work."""
    top, down = scene.bench.work.blank[2][1], dice.choice((0.5, 1.0, 2.0, 3.0))

    def fits(_: int, text: str) -> bool:
        return re.fullmatch(r"Z[0-9.]+", text) is not None

    return rewrite(scene, dice, fits, lambda _, text: with_word(text, "Z", top - down))


def retract_without_z(scene: Scene, dice: random.Random) -> Mistake | None:
    """G0 without its Z: the next rapid goes across at depth."""
    return rewrite(scene, dice, lambda _, text: re.fullmatch(r"G0 Z[0-9.]+", text) is not None, lambda *_: "G0")


def retract_too_low(scene: Scene, dice: random.Random) -> Mistake | None:
    top, down = scene.bench.work.blank[2][1], dice.choice((0.5, 1.0, 2.0))

    def fits(_: int, text: str) -> bool:
        return re.fullmatch(r"G0 Z[0-9.]+", text) is not None

    return rewrite(scene, dice, fits, lambda _, text: with_word(text, "Z", top - down))


def retract_lost(scene: Scene, dice: random.Random) -> Mistake | None:
    """The whole line is not there: the next way across goes at feed, at depth."""
    return leave_out(scene, dice, lambda _, text: re.fullmatch(r"G0 Z[0-9.]+", text) is not None)


def no_g53(scene: Scene, dice: random.Random) -> Mistake | None:
    return rewrite(scene, dice, lambda _, text: _codes(text, "G53"), lambda _, text: text.replace("G53 ", ""))


def home_through_part(scene: Scene, dice: random.Random) -> Mistake | None:
    """G28 in absolute mode goes through the place that it names."""
    way = dice.choice(("G28 Z0.0", "G28 X0.0 Y0.0 Z0.0"))
    return rewrite(scene, dice, lambda _, text: _codes(text, "G53"), lambda *_: way)


def park_too_early(scene: Scene, dice: random.Random) -> Mistake | None:
    """A park move to the far right, one line before the tool is up."""
    at = at_random(scene, dice, lambda at, text: _codes(text, "G53") and at > scene.sections()[0].first)
    if at is None:
        return None
    text = f"G53 G0 X{dice.choice((290.0, 300.0, 310.0))} Y{dice.choice((60.0, 120.0, 180.0, 225.0))}"
    return Mistake(f"`{text}` before line {at + 1}", scene.program.insert(at, text))


def higher_section(scene: Scene, dice: random.Random) -> Mistake | None:
    """All heights at feed of one tool as for a thicker blank: it cuts air."""
    section = dice.choice(scene.sections())
    up, program, modes = dice.choice((6.0, 9.0, 14.0)), scene.program, _moded(scene)
    changed = 0
    for at in range(section.first, section.last + 1):
        text = scene.texts[at]
        z = word(text, "Z")
        if z is not None and (_codes(text, "G8[13]") or (_plain(text) and modes[at] > 0)):
            program, changed = program.put(at, with_word(text, "Z", z + up)), changed + 1
    if not changed:
        return None
    return Mistake(f"every Z at feed of T{section.pocket} (line {section.first + 1}) {up:g} higher", program)


# --- cycles ---------------------------------------------------------------------------------------------------------------------


def _cycle(_: int, text: str) -> bool:
    return _codes(text, "G81", "G83")


def r_too_low(scene: Scene, dice: random.Random) -> Mistake | None:
    top, down = scene.bench.work.blank[2][1], dice.choice((0.5, 1.0, 2.0, 3.0))
    return rewrite(scene, dice, _cycle, lambda _, text: with_word(text, "R", top - down))


def return_too_low(scene: Scene, dice: random.Random) -> Mistake | None:
    """G99 where G98 was, and an R that clears the plate but not the clamps."""
    top, over = scene.bench.work.blank[2][1], dice.choice((0.6, 0.8, 1.0, 1.5, 2.0, 2.5, 3.0))

    def new(_: int, text: str) -> str:
        return with_word(text.replace("G98", "G99"), "R", top + over)

    return rewrite(scene, dice, _cycle, new)


def hole_too_deep(scene: Scene, dice: random.Random) -> Mistake | None:
    deeper = dice.choice((4.0, 6.0, 10.0, 20.0))

    def new(_: int, text: str) -> str:
        return with_word(text, "Z", (word(text, "Z") or 0.0) - deeper)

    return rewrite(scene, dice, _cycle, new)


def peck_lost(scene: Scene, dice: random.Random) -> Mistake | None:
    def new(_: int, text: str) -> str:
        return without_word(text.replace("G83", "G81"), "Q")

    return rewrite(scene, dice, lambda _, text: _codes(text, "G83"), new)


def peck_too_long(scene: Scene, dice: random.Random) -> Mistake | None:
    times = dice.choice((5.0, 6.0, 8.0, 10.0))

    def new(_: int, text: str) -> str:
        return with_word(text, "Q", (word(text, "Q") or 0.0) * times)

    return rewrite(scene, dice, lambda _, text: _codes(text, "G83"), new)


# --- what a mill cannot do -------------------------------------------------------------------------------------------------------


def plunged(scene: Scene, dice: random.Random) -> Mistake | None:
    """The approach of a face mill mistyped: it comes down on the blank, not beside it."""
    sections = [one for one in scene.sections() if (cutter := scene.bench.pockets.get(one.pocket)) and cutter.dead]
    if not sections:
        return None
    section = dice.choice(sections)
    low, high = scene.bench.work.blank[0]
    x = round(dice.uniform(low + 2, high - 2), 1)
    at = next(
        n for n in range(section.first, section.last) if _codes(scene.texts[n], "G0") and word(scene.texts[n], "X")
    )
    y = round(dice.uniform(*scene.bench.work.blank[1]), 1)
    text = with_word(with_word(scene.texts[at], "X", x), "Y", y)
    return Mistake(f"`{scene.texts[at]}` → `{text}`", scene.program.put(at, text))


def through_the_skin(scene: Scene, dice: random.Random) -> Mistake | None:
    """The last pass goes through what should hold the part."""
    bottom = scene.bench.work.blank[2][0]
    deeper = round(dice.uniform(0.1, 1.2), 1)

    def fits(_: int, text: str) -> bool:
        z = word(text, "Z")
        return _plain(text) and z is not None and bottom < z < bottom + 0.6

    return rewrite(scene, dice, fits, lambda _, text: with_word(text, "Z", bottom - deeper))


def _clamped(scene: Scene) -> bool:
    return bool(scene.bench.work.fixtures)


def _skinned(scene: Scene) -> bool:
    return "skin" in scene.job


KINDS = (
    Kind("sign of Z", "a minus too few or too many in a Z", PART, (*CRASH, *SHAPE), sign_of_z, has_target),
    Kind("sign of X or Y", "the same in X or Y where the tool cuts", PART, SHAPE, sign_of_x, has_target),
    Kind("decimal lost", "a coordinate ten times too large", EXTREMES, CRASH, decimal_lost),
    Kind("digits swapped", "two neighbouring figures of a coordinate changed over", PART, (*CRASH, *SHAPE), digits_swapped, has_target),
    Kind("X for Y", "X and Y of a line changed over", PART, (*SHAPE, "alarm"), x_for_y, has_target),
    Kind("Z missing", "a way down without its Z", PART, SHAPE, no_z, has_target),
    Kind("too deep", "a Z lower by 3 to 12 mm, through the table", ("below", "travel"), ("below",), too_deep),
    Kind("line lost", "a line that cuts left out", PART, (*SHAPE, "alarm"), line_lost, has_target),
    Kind("lines swapped", "two lines in the other order", PART, (*SHAPE, "alarm"), lines_swapped, has_target),
    Kind("arc the other way", "G2 for G3, G3 for G2", PART, (*SHAPE, *CRASH), other_way_round, has_target),
    Kind("arc centre off", "I or J off by some tenths", ("understood", "target"), ("alarm",), wrong_centre),
    Kind("arc centre lost", "an arc without I and J", ("understood",), ("alarm",), no_centre),
    Kind("wrong side", "G42 for G41", PART, (*SHAPE, "alarm"), other_side),
    Kind("G41 missing", "no compensation: the path is the part's own outline", PART, SHAPE, no_compensation),
    Kind("wrong D", "D of another tool", ("target", "understood", "tool"), (*SHAPE, "alarm"), other_radius),
    Kind("lead-in too short", "compensation begins on a line shorter than the radius", ("understood", "target"), ("alarm",), short_lead_in),
    Kind("G40 missing", "compensation never cancelled", ("leftovers", "understood", "target"), ("end", "alarm", *SHAPE), never_cancelled),
    Kind("rapid through stock", "G0 where the tool cuts along", ("rapid_contact",), ("rapid",), rapid_for_feed),
    Kind("rapid down", "G0 where the tool goes down into the work", ("rapid_contact",), ("rapid",), rapid_down),
    Kind("approach too low", "the rapid down ends below the top", ("rapid_contact",), ("rapid", "obstacle"), approach_too_low),
    Kind("retract without Z", "G0 without its Z before a way across", CONTACTS, ("rapid", "obstacle", "body"), retract_without_z),
    Kind("retract too low", "the way up ends below the top", CONTACTS, ("rapid", "obstacle", "body"), retract_too_low),
    Kind("retract lost", "the line of the way up left out", PART, (*SHAPE, *CRASH), retract_lost, has_target),
    Kind("G53 missing", "work Z0 where machine Z0 was meant", CONTACTS, ("rapid", "obstacle", "body"), no_g53),
    Kind("home through part", "G28 through program zero", CONTACTS, ("rapid", "obstacle", "body"), home_through_part),
    Kind("park too early", "across to the rack while the tool is down", ("keep_out", *CONTACTS), ("zone",), park_too_early),
    Kind("air cutting", "every Z at feed of one tool higher", ("cuts", "target"), ("air",), higher_section),
    Kind("R too low", "R of a cycle below the top", ("rapid_contact",), ("rapid",), r_too_low),
    Kind("return too low", "G99, and R lower than the clamps", CONTACTS, ("rapid", "obstacle", "body"), return_too_low, _clamped),
    Kind("hole too deep", "Z of a cycle 4 to 20 mm lower", ("below", "travel", "reach", "target", "body_contact"), ("below", "flute", "body"), hole_too_deep),
    Kind("peck lost", "G81 for G83", ("chips_out",), ("hole",), peck_lost),
    Kind("peck too long", "Q five to ten times too large", ("chips_out",), ("hole",), peck_too_long),
    Kind("plunged", "a mill that does not cut on its centre comes down on the blank", ("reach",), ("dead",), plunged),
    Kind("skin cut through", "the last pass goes through what holds the part", ("holding",), ("freed",), through_the_skin, _skinned),
)  # fmt: skip
