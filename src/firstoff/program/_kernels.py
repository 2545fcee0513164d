"""The fast layer of reading: bytes of plain lines to moves, from and into the modal state that both layers share.

A plain line holds words of letter and number among G0-3, G17-19, G20/21, G90/91, G94 and F I J K N R S X Y Z, and comments. At any
other line the kernel stops before it changes anything, so that Python reads that one line from the same state.

State arrays: `whole` i8[`WHOLES`] and `real` f8[`REALS`], indexed by the names below. Outputs: one row a move, one row an arc; the
kernel never writes past their ends but returns `FULL`.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Columns = tuple[NDArray[Any], ...]
"""Output columns, in the order of `record.MOVE_COLUMNS` or `record.ARC_COLUMNS`."""

# What `read_plain` returns.
DONE, ODD, FULL = 0, 1, 2

# Rows of `whole`.
(
    CURSOR,  # byte position of the next line
    LINE,  # number of that line, from 1
    SPOKEN_LINE,  # line that moves are credited to instead (the call of a subprogram in another file); 0 = none
    MOVES,  # rows written
    ARCS,
    BLOCKS,  # lines with at least one word that were run
    MOTION,  # ten times the G code; -1 = none yet
    STRAIGHT_MOTION,  # G0 or G1, whichever was last (times ten)
    PLANE,
    DISTANCE,
    UNITS,  # 20, 21, or 0 = not stated
    UNITS_ASKED,  # the missing unit is on record
    UNITS_STATED,  # 1: the program itself named a unit
    FEED_MODE,
    FEED_ASKED,  # the missing feed is on record
    FLAGS,  # `moves.Flag` bits in force
    TOOL,
    COMP_REGISTER,
    FRAME,  # row of the frame that words are read in
    X_FRAME,  # row of the frame each axis stands in
    Y_FRAME,
    Z_FRAME,
    LOST,  # axis bits: position not trusted
    BLIND,  # axis bits: even an absolute word does not bring the position back
    FOUND_LINE,  # line on which the last lost axis was given absolutely
    RESTORE,  # the next move is the first after a tool change
    PLAIN,  # 1: ; begins a comment, and line numbers may be long
    LEAST,  # 1: numbers without a point count least increments
    STATED,  # `SAID_*` bits of what the program stated
    RELIED,  # ... and of what it relied on without stating it
    RELIED_LINE,
    Z_WAITS,  # a length offset acts with the next Z word only
    ABSOLUTE_CENTRES,  # 1: I J K are coordinates (G90.1)
    WHOLES,
) = range(34)

SAID_DISTANCE, SAID_PLANE, SAID_FEED_MODE, SAID_RETURN = 1, 2, 4, 8

# Rows of `real`.
(
    X,
    Y,
    Z,
    UNIT,  # mm a program unit
    FEED,  # mm/s
    F,  # as written
    S,  # as written, 1/min
    SPINDLE,  # signed turns a second
    ARC_TOLERANCE,  # mm: below this no control minds
    REALS,
) = range(10)

# Flags, kinds: the numbers of `moves.Flag` and `moves.Kind` (a test holds them together).
COMPENSATED = 8 | 16
UNSURE = 256
RESTORED = 2048
RAPID, STRAIGHT, ARC = 0, 1, 2

# Results of the arc functions.
FITS, SHORT, SAME_POINT, NO_RADIUS = 0, 1, 2, 3

# Rows of the arc functions' result.
CENTRE_1, CENTRE_2, RADIUS, SWEEP, MISS = 0, 1, 2, 3, 4

MOST_DIGITS = 15
"""Any integer of this many digits, and any power of ten up to it, is exact in a double: one division rounds correctly."""
MOST_WHOLE_DIGITS = 9
"""Larger numbers are for Python, which refuses them."""
TEN_TO = np.array([10.0**k for k in range(MOST_DIGITS + 1)])
LONGEST_N, LONGEST_PLAIN_N = 5, 9
"""Digits of a line number by the report and by custom; `language` holds the same numbers."""
LONGEST_LINE = 256
"""Longer lines are for Python (NISTIR 6556, 3.3)."""
SAME_PLACE_MM = 1e-6
"""Closer than this start and end are one point: far below the last digit of any program (0.00001 in = 0.00025 mm)."""

TAB, NEWLINE, RETURN, SPACE = 9, 10, 13, 32
OPEN, CLOSE, PLUS, MINUS, POINT, ZERO, NINE, SEMICOLON = 40, 41, 43, 45, 46, 48, 57, 59
L_F, L_G, L_I, L_J, L_K, L_M, L_N, L_R, L_S, L_X, L_Y, L_Z = 5, 6, 8, 9, 10, 12, 13, 17, 18, 23, 24, 25
VALUE_LETTERS = (1 << L_F) | (1 << L_I) | (1 << L_J) | (1 << L_K) | (1 << L_R) | (1 << L_S) | (7 << L_X)
AXES = 7 << L_X
CENTRES = 7 << L_I
LENGTHS = AXES | CENTRES | (1 << L_R)


@njit(cache=True, nogil=True)
def arc_by_centre(s1: float, s2: float, e1: float, e2: float, c1: float, c2: float, turn: float, out: Floats) -> int:
    """Sweep of the arc from (s1, s2) to (e1, e2) about (c1, c2), all in the plane's axes, mm; `turn` +1 counter-clockwise, -1 clockwise.

    Fills `out` f8[5]; `MISS` is the difference of end and start radius. End on start is a full circle (NISTIR 6556, 3.5.3.2).
    """
    radius = math.sqrt((s1 - c1) * (s1 - c1) + (s2 - c2) * (s2 - c2))
    end_radius = math.sqrt((e1 - c1) * (e1 - c1) + (e2 - c2) * (e2 - c2))
    out[CENTRE_1] = c1
    out[CENTRE_2] = c2
    out[RADIUS] = radius
    out[MISS] = abs(end_radius - radius)
    out[SWEEP] = 0.0
    if radius <= SAME_PLACE_MM:
        return NO_RADIUS
    if abs(e1 - s1) <= SAME_PLACE_MM and abs(e2 - s2) <= SAME_PLACE_MM:
        out[SWEEP] = turn * 2.0 * math.pi
        return FITS
    ahead = turn * (math.atan2(e2 - c2, e1 - c1) - math.atan2(s2 - c2, s1 - c1))
    if ahead <= 0.0:
        ahead += 2.0 * math.pi
    out[SWEEP] = turn * ahead
    return FITS


@njit(cache=True, nogil=True)
def arc_by_radius(s1: float, s2: float, e1: float, e2: float, radius: float, turn: float, out: Floats) -> int:
    """As `arc_by_centre`, for the radius format: R > 0 turns at most half, R < 0 more (NISTIR 6556, 3.5.3.1).

    `SHORT`: R is less than half the chord by `MISS`; the arc filled in is then the half circle about the chord's midpoint.
    """
    d1 = e1 - s1
    d2 = e2 - s2
    chord = math.sqrt(d1 * d1 + d2 * d2)
    size = abs(radius)
    out[MISS] = 0.0
    if chord <= SAME_PLACE_MM:
        return SAME_POINT
    if size <= SAME_PLACE_MM:
        return NO_RADIUS
    half = chord / 2.0
    if size < half:
        out[CENTRE_1] = s1 + d1 / 2.0
        out[CENTRE_2] = s2 + d2 / 2.0
        out[RADIUS] = half
        out[SWEEP] = turn * math.pi
        out[MISS] = half - size
        return SHORT
    height = math.sqrt(size * size - half * half)
    side = turn if radius > 0.0 else -turn
    out[CENTRE_1] = s1 + d1 / 2.0 - side * height * d2 / chord
    out[CENTRE_2] = s2 + d2 / 2.0 + side * height * d1 / chord
    out[RADIUS] = size
    angle = 2.0 * math.atan2(half, height)
    out[SWEEP] = turn * (angle if radius > 0.0 else 2.0 * math.pi - angle)
    return FITS


@njit(cache=True, nogil=True)
def scan_number(text: Bytes, at: int, end: int) -> tuple[float, int, int, int]:
    """Number at `text[at]`: (value, position after it, digits before the point, digits after it, or -1 where there is no point).

    A value of too many digits, or none at all, gives position -1. A minus before zero counts for nothing.
    """
    negative = False
    if at < end and (text[at] == PLUS or text[at] == MINUS):
        negative = text[at] == MINUS
        at += 1
    value = 0
    before = 0
    while at < end and ZERO <= text[at] <= NINE:
        value = value * 10 + (int(text[at]) - ZERO)
        before += 1
        at += 1
        if before > MOST_WHOLE_DIGITS:
            return 0.0, -1, 0, 0
    after = -1
    if at < end and text[at] == POINT:
        after = 0
        at += 1
        while at < end and ZERO <= text[at] <= NINE:
            value = value * 10 + (int(text[at]) - ZERO)
            after += 1
            at += 1
            if before + after > MOST_DIGITS:
                return 0.0, -1, 0, 0
    if before + max(after, 0) == 0:
        return 0.0, -1, 0, 0
    number = float(value)
    if after > 0:
        number = number / TEN_TO[after]
    return (-number if negative and value != 0 else number), at, before, after


@njit(cache=True, nogil=True)
def _comment_end(text: Bytes, at: int, end: int) -> int:
    """Position after the `)` of the comment whose `(` stands at `at`; -1 where Python must look (nested, unclosed, a message)."""
    at = _after_blanks(text, at + 1, end)
    if at < end and (text[at] & 0xDF) == 65 + L_M:
        ahead = _after_blanks(text, at + 1, end)
        if ahead < end and (text[ahead] & 0xDF) == 65 + L_S:
            return -1
    while at < end:
        c = text[at]
        if c == CLOSE:
            return at + 1
        if c == OPEN or c == NEWLINE or c == RETURN or c == 0:
            return -1
        at += 1
    return -1


@njit(cache=True, nogil=True)
def _group(code: int) -> int:
    """Place of a G code (times ten) in `words`: one for each modal group; -1 for a code that needs Python."""
    if code == 0 or code == 10 or code == 20 or code == 30:
        return 1
    if code == 170 or code == 180 or code == 190:
        return 2
    if code == 900 or code == 910:
        return 3
    if code == 200 or code == 210:
        return 4
    if code == 940:
        return 5
    return -1


@njit(cache=True, nogil=True)
def _after_blanks(text: Bytes, at: int, end: int) -> int:
    while at < end and (text[at] == SPACE or text[at] == TAB):
        at += 1
    return at


@njit(cache=True, nogil=True)
def _after_semicolon(text: Bytes, at: int, end: int) -> int:
    """Position of the line end after a `;` comment; -1 where the comment holds what no text should."""
    while at < end and text[at] != NEWLINE:
        if text[at] == 0 or (text[at] == RETURN and at + 1 < end and text[at + 1] != NEWLINE):
            return -1
        at += 1
    return at


@njit(cache=True, nogil=True)
def _may_be_code(text: Bytes, at: int, end: int) -> bool:
    """Whether a letter with a number stands behind a `;`."""
    at = _after_blanks(text, at, end)
    if at >= end or not 65 <= (text[at] & 0xDF) <= 90:
        return False
    at = _after_blanks(text, at + 1, end)
    if at >= end:
        return False
    c = text[at]
    return bool(ZERO <= c <= NINE or c == POINT or c == MINUS or c == PLUS)


@njit(cache=True, nogil=True)
def scan_line(text: Bytes, at: int, end: int, plain: int, words: Ints, values: Floats) -> int:
    """Take the plain line at `text[at]` apart.

    Fills `values` f8[26] and `words` i8[7]: seen letters (bits), motion, plane, distance, units, feed mode (0 or -1 = not named),
    1 if a length was written without a point. Returns the position of the next line, or -1 where Python must look.
    """
    begin = at
    words[:] = 0
    words[1] = -1
    named = False
    while at < end:
        c = int(text[at])
        if c == SPACE or c == TAB:
            at += 1
            continue
        if c == NEWLINE:
            break
        if c == RETURN:
            if at + 1 < end and text[at + 1] != NEWLINE:
                return -1
            at += 1
            continue
        if c == OPEN:
            at = _comment_end(text, at, end)
            if at < 0:
                return -1
            continue
        if c == SEMICOLON:
            if plain == 0 or (named and _may_be_code(text, at + 1, end)):
                return -1
            at = _after_semicolon(text, at, end)
            if at < 0:
                return -1
            break
        letter = (c & 0xDF) - 65
        if letter < 0 or letter > 25 or c > 122:
            return -1
        at = _after_blanks(text, at + 1, end)
        first = int(text[at]) if at < end else 0
        value, at, before, after = scan_number(text, at, end)
        if at < 0:
            return -1
        if letter == L_N:
            if named or after >= 0 or before > (LONGEST_PLAIN_N if plain == 1 else LONGEST_N) or first < ZERO:
                return -1
            named = True
            continue
        named = True
        if letter == L_G:
            code = round(value * 10.0)
            if first < ZERO or after > 1 or before > 3:
                return -1
            slot = _group(code)
            if slot < 0 or (slot == 1 and words[1] >= 0) or (slot > 1 and words[slot] > 0):
                return -1
            words[slot] = code if slot == 1 else code // 10
            continue
        bit = 1 << letter
        if (bit & VALUE_LETTERS) == 0 or (words[0] & bit) != 0:
            return -1
        words[0] |= bit
        values[letter] = value
        if after < 0 and (bit & LENGTHS) != 0:
            words[6] = 1
    return at + 1 if at - begin <= LONGEST_LINE else -1


@njit(cache=True, nogil=True)
def _is_odd(words: Ints, values: Floats, whole: Ints, real: Floats) -> bool:
    """Whether the line taken apart in `words`, `values` needs Python: anything that could be questioned does."""
    seen = words[0]
    axes = seen & AXES
    motion = words[1] if words[1] >= 0 else whole[MOTION]
    feed_given = (seen >> L_F) & 1
    if words[4] > 0 and (words[4] != whole[UNITS] or whole[UNITS_STATED] == 0):
        return True
    if words[1] >= 0 and whole[MOTION] > 30:
        return True  # a series of cycles ends
    if words[2] > 0 and (whole[FLAGS] & COMPENSATED) != 0:
        return True
    if words[5] > 0 and whole[FEED_MODE] != 94:
        return True
    if (seen >> L_S) & 1 and not (values[L_S] == real[S] and values[L_S] > 0.0):
        return True
    if feed_given and (whole[FEED_MODE] != 94 or not values[L_F] > 0.0):
        return True
    if feed_given and whole[UNITS] == 0 and whole[UNITS_ASKED] == 0:
        return True
    if axes == 0:
        return bool(words[1] >= 0 or (seen & (CENTRES | (1 << L_R))) != 0)
    if motion < 0 or motion > 30 or (whole[BLIND] & ~whole[LOST]) != 0:
        return True
    if whole[UNITS] == 0 and whole[UNITS_ASKED] == 0:
        return True
    if words[6] == 1 and whole[LEAST] == 1:
        return True
    if whole[Z_WAITS] == 1 and (seen >> L_Z) & 1:
        return True
    if motion > 0 and whole[FEED_MODE] != 94:
        return True
    if motion > 0 and not feed_given and not real[FEED] > 0.0 and (real[F] == 0.0 or whole[FEED_ASKED] == 0):
        return True
    return bool(motion < 20 and (seen & (CENTRES | (1 << L_R))) != 0)


@njit(cache=True, nogil=True)
def _targets(words: Ints, values: Floats, whole: Ints, real: Floats, target: Floats, stands: Ints) -> None:
    """Where the axis words lead: fills `target` f8[3] (mm) and `stands` i8[3] (frame rows)."""
    distance = words[3] if words[3] > 0 else whole[DISTANCE]
    for axis in range(3):
        target[axis] = real[X + axis]
        stands[axis] = whole[X_FRAME + axis]
        if (words[0] >> (L_X + axis)) & 1:
            value = values[L_X + axis] * real[UNIT]
            if distance == 90:
                target[axis] = value
                stands[axis] = whole[FRAME]
            else:
                target[axis] = target[axis] + value


@njit(cache=True, nogil=True)
def _plane_axes(plane: int) -> tuple[int, int, int]:
    """Axis numbers (first, second, normal) of a plane."""
    if plane == 18:
        return 2, 0, 1
    if plane == 19:
        return 1, 2, 0
    return 0, 1, 2


@njit(cache=True, nogil=True)
def _arc_fits(words: Ints, values: Floats, whole: Ints, real: Floats, target: Floats, arc: Floats) -> bool:
    """Fills `arc` f8[5] for an arc of a plain line; False where Python must look."""
    seen = words[0]
    plane = words[2] if words[2] > 0 else whole[PLANE]
    first, second, normal = _plane_axes(plane)
    motion = words[1] if words[1] >= 0 else whole[MOTION]
    turn = 1.0 if motion == 30 else -1.0
    if ((seen >> (L_X + first)) & 1) == 0 and ((seen >> (L_X + second)) & 1) == 0:
        return False
    for axis in range(3):
        needed = axis != normal or ((seen >> (L_X + axis)) & 1) == 1
        if needed and whole[X_FRAME + axis] != whole[FRAME]:
            return False
    s1 = real[X + first]
    s2 = real[X + second]
    if math.isnan(s1) or math.isnan(s2):
        return False
    if (seen & (1 << L_R)) != 0:
        if (seen & CENTRES) != 0:
            return False
        radius = values[L_R] * real[UNIT]
        return arc_by_radius(s1, s2, target[first], target[second], radius, turn, arc) == FITS
    has_1 = (seen >> (L_I + first)) & 1
    has_2 = (seen >> (L_I + second)) & 1
    if (has_1 == 0 and has_2 == 0) or (seen >> (L_I + normal)) & 1 or whole[ABSOLUTE_CENTRES] == 1:
        return False
    c1 = s1 + (values[L_I + first] * real[UNIT] if has_1 else 0.0)
    c2 = s2 + (values[L_I + second] * real[UNIT] if has_2 else 0.0)
    status = arc_by_centre(s1, s2, target[first], target[second], c1, c2, turn, arc)
    return bool(status == FITS and arc[MISS] <= real[ARC_TOLERANCE])


@njit(cache=True, nogil=True)
def _apply_modal(words: Ints, values: Floats, whole: Ints, real: Floats) -> None:
    """Carry over what a plain line sets besides moving."""
    seen = words[0]
    if (seen >> L_F) & 1:
        real[F] = values[L_F]
        real[FEED] = values[L_F] * real[UNIT] / 60.0
    if words[1] >= 0:
        whole[MOTION] = words[1]
        if words[1] <= 10:
            whole[STRAIGHT_MOTION] = words[1]
    if words[2] > 0:
        whole[PLANE] = words[2]
        whole[STATED] |= SAID_PLANE
    if words[3] > 0:
        whole[DISTANCE] = words[3]
        whole[STATED] |= SAID_DISTANCE
    if words[5] > 0:
        whole[STATED] |= SAID_FEED_MODE


@njit(cache=True, nogil=True)
def _rely(whole: Ints, line: int) -> None:
    """Note what a move relies on that the program never stated."""
    need = SAID_DISTANCE
    if whole[MOTION] >= 10:
        need |= SAID_FEED_MODE
    if whole[MOTION] >= 20:
        need |= SAID_PLANE
    need &= ~whole[STATED]
    if need != 0 and whole[RELIED] == 0:
        whole[RELIED_LINE] = line
    whole[RELIED] |= need


@njit(cache=True, nogil=True)
def _find_again(words: Ints, whole: Ints, line: int) -> None:
    """Clear the lost bits of the axes that were given absolutely."""
    if whole[DISTANCE] == 90:
        named = (words[0] >> L_X) & 7
        whole[LOST] = (whole[LOST] & ~named) | (whole[BLIND] & named)
        if whole[LOST] == 0:
            whole[FOUND_LINE] = line


@njit(cache=True, nogil=True)
def _write_arc(words: Ints, whole: Ints, real: Floats, target: Floats, arc: Floats, arcs: Columns) -> int:
    """One row of the arc columns; returns its number."""
    centre_mm, plane, radius_mm, sweep_rad, rise_mm = arcs
    row = int(whole[ARCS])
    whole[ARCS] += 1
    normal = _plane_axes(whole[PLANE])[2]
    centre_mm[row, 0] = arc[CENTRE_1]
    centre_mm[row, 1] = arc[CENTRE_2]
    plane[row] = whole[PLANE]
    radius_mm[row] = arc[RADIUS]
    sweep_rad[row] = arc[SWEEP]
    rise_mm[row] = target[normal] - real[X + normal] if (words[0] >> (L_X + normal)) & 1 else 0.0
    return row


@njit(cache=True, nogil=True)
def _write_move(
    whole: Ints, real: Floats, target: Floats, stands: Ints, flags_now: int, arc_row: int, line: int, moves: Columns
) -> None:
    """One row of the move columns, and the axes stand at its end."""
    kind, end_mm, frame, arc, feed, spindle, tool, comp_register, flags, line_no, parent = moves
    row = whole[MOVES]
    whole[MOVES] += 1
    motion = whole[MOTION]
    kind[row] = RAPID if motion == 0 else STRAIGHT if motion == 10 else ARC
    for axis in range(3):
        real[X + axis] = target[axis]
        whole[X_FRAME + axis] = stands[axis]
        end_mm[row, axis] = target[axis]
        frame[row, axis] = stands[axis]
    arc[row] = arc_row
    feed[row] = real[FEED]
    spindle[row] = real[SPINDLE]
    tool[row] = whole[TOOL]
    comp_register[row] = whole[COMP_REGISTER]
    flags[row] = flags_now
    line_no[row] = line
    parent[row] = -1


@njit(cache=True, nogil=True)
def _flags_now(words: Ints, whole: Ints, line: int) -> int:
    """`moves.Flag` bits of the move of this line."""
    flags = int(whole[FLAGS])
    if whole[LOST] != 0:
        flags |= UNSURE
        _find_again(words, whole, line)
    if whole[RESTORE] == 1:
        flags |= RESTORED
        whole[RESTORE] = 0
    return flags


@njit(cache=True, nogil=True)
def read_plain(text: Bytes, whole: Ints, real: Floats, moves: Columns, arcs: Columns) -> int:
    """Read plain lines of `text` u1[:] from `whole[CURSOR]` on, writing moves and arcs and changing the state in place.

    Returns `DONE` at the end of the text, `ODD` before a line that needs Python, `FULL` before a line that has no room.
    """
    end = text.size
    move_room = moves[0].size
    arc_room = arcs[1].size
    words = np.zeros(7, np.int64)
    values = np.zeros(26)
    target = np.zeros(3)
    stands = np.zeros(3, np.int64)
    arc = np.zeros(5)
    while whole[CURSOR] < end:
        if whole[MOVES] >= move_room or whole[ARCS] >= arc_room:
            return FULL
        following = scan_line(text, whole[CURSOR], end, whole[PLAIN], words, values)
        if following < 0:
            return ODD
        if words[0] != 0 or words[1] >= 0 or words[2] > 0 or words[3] > 0 or words[4] > 0 or words[5] > 0:
            if _is_odd(words, values, whole, real):
                return ODD
            line = whole[SPOKEN_LINE] if whole[SPOKEN_LINE] > 0 else whole[LINE]
            moving = (words[0] & AXES) != 0
            turning = moving and (words[1] if words[1] >= 0 else whole[MOTION]) >= 20
            if moving:
                _targets(words, values, whole, real, target, stands)
            if turning and not _arc_fits(words, values, whole, real, target, arc):
                return ODD
            _apply_modal(words, values, whole, real)
            if moving:
                _rely(whole, line)
                arc_row = _write_arc(words, whole, real, target, arc, arcs) if turning else -1
                flags = _flags_now(words, whole, line)
                _write_move(whole, real, target, stands, flags, arc_row, line, moves)
            whole[BLOCKS] += 1
        whole[CURSOR] = following
        whole[LINE] += 1
    return DONE
