"""From a block to an order: values worked out, words that cannot stand together refused, parameters set."""

from __future__ import annotations

from firstoff.program.blocks import Assignment, Block, Value, Word
from firstoff.program.expressions import assignment_target, evaluate
from firstoff.program.parameters import CannotEvaluate
from firstoff.program.reader import Reader
from firstoff.program.words import (
    AXIS_LETTERS,
    AXIS_USERS,
    CYCLE,
    M_GROUPS,
    MOST_M,
    MOTION,
    ONCE,
    PLAIN_GROUPS,
    PLAIN_M,
    REPORT_GROUPS,
    REPORT_M,
    VEIL,
    Order,
)

CODE_TOLERANCE = 1e-4
"""How far ten times a G code, an M code or an index may be off a whole number (NISTIR 6556, 3.3.2.1)."""
LARGEST_NUMBER = 999_999_999.0
"""Nine digits before the point: a thousand kilometres, or an eight-digit tool number; more is a slip."""
HARMLESS = frozenset({3000, 3006, *range(3100, 3200)})
"""Numbers of the control that hold messages and alarms, no positions (macro dialects, from memory)."""


def sort(reader: Reader, block: Block, broken: bool) -> Order:
    """The order a block gives, in the state before it; `broken` blocks were not understood as text already.

    Every value of the block is read before any parameter is set (NISTIR 6556, 3.3.3).
    """
    order = Order(block, reader.line, broken=broken)
    for word in block.words:
        _take(reader, order, word)
    _check_m(reader, order)
    _check_groups(reader, order)
    assign(reader, block.assignments)
    return order


def _take(reader: Reader, order: Order, word: Word) -> None:
    value = _work_out(reader, order, word)
    if value is None:
        return
    if word.letter == "G":
        _take_g(reader, order, word, value)
    elif word.letter == "M":
        _take_m(reader, order, word, value)
    elif word.letter in order.words:
        order.broken = True
        reader.fault(
            word, f"more than one {word.letter} in a block: each letter but G and M may stand once", loses=True
        )
    else:
        order.words[word.letter] = word
        order.values[word.letter] = value


def _work_out(reader: Reader, order: Order, word: Word) -> float | None:
    """The number of a word; None where the word is ignored or spoils the block."""
    try:
        value = evaluate(word.value, reader.parameters)
    except CannotEvaluate as refusal:
        loses = word.letter not in "FS"
        order.broken = order.broken or loses
        if refusal.fact:
            column, text = word.column, word.text
            reader.findings.depends_on(refusal.fact, reader.line, column, text, reader.where + refusal.what, loses)
        else:
            reader.fault(word, refusal.what, loses)
        _forget(reader, word.letter)
        return None
    if value is None:
        if word.letter in "GM":
            order.broken = True
            reader.fault(word, f"{word.letter} with an undefined value", loses=True)
        else:
            reader.note("undefined", word, "a word whose value is undefined is ignored, as in macro dialects")
        return None
    if abs(value) > LARGEST_NUMBER:
        order.broken = True
        reader.fault(
            word, f"{word.letter}{value:.6g} is too large to be meant: up to {LARGEST_NUMBER:.0f} is read", loses=True
        )
        return None
    return value + 0.0  # no minus before zero


def _forget(reader: Reader, letter: str) -> None:
    """A feed or speed that cannot be worked out replaces the former all the same."""
    if letter == "F":
        reader.state.f = reader.state.feed = float("nan")
        reader.state.feed_asked = 1
    elif letter == "S":
        reader.state.s = float("nan")
        reader.state.turn(reader.state.turning)


def _take_g(reader: Reader, order: Order, word: Word, value: float) -> None:
    code = round(value * 10.0)
    near = abs(value * 10.0 - code) <= CODE_TOLERANCE and value >= 0.0
    groups = REPORT_GROUPS if reader.control.report else PLAIN_GROUPS
    group = groups.get(code) if near else None
    if group is None:
        order.broken = True
        reader.fault(
            word, f"{word.text} is no G code that is known here: what it does to the position is not known", loses=True
        )
        return
    if code in order.code_words:
        if reader.control.report or group == ONCE:
            reader.fault(word, f"{word.text} stands twice")
        return
    order.code_words[code] = word
    if group == ONCE:
        order.once.append(code)
    elif group == VEIL:
        order.veils.append(code)
    elif group in order.g:
        order.broken = True
        other = order.code_words[order.g[group]].text
        reader.fault(
            word, f"{other} and {word.text} are of one group ({group}): only one may stand in a block", loses=True
        )
    else:
        order.g[group] = code


def _take_m(reader: Reader, order: Order, word: Word, value: float) -> None:
    code = round(value)
    if abs(value - code) > CODE_TOLERANCE or code < 0:
        order.broken = True
        reader.fault(word, f"{word.text}: an M code is a whole number", loses=True)
        return
    if code in order.m_words:
        reader.fault(word, f"{word.text} stands twice")
        return
    order.m.append(code)
    order.m_words[code] = word


def _check_m(reader: Reader, order: Order) -> None:
    groups: dict[str, int] = {}
    for code in order.m:
        group = M_GROUPS.get(code)
        if group is not None and group in groups:
            word = order.m_words[code]
            other = order.m_words[groups[group]].text
            reader.fault(word, f"{other} and {word.text} are of one group ({group}): only one may stand in a block")
        if group is not None:
            groups.setdefault(group, code)
    if 9 in order.m and (7 in order.m or 8 in order.m):
        reader.fault(order.m_words[9], "coolant on and off in one block")
    if len(order.m) > MOST_M:
        what = f"more than {MOST_M} M words in a block"
        if reader.control.report:
            reader.fault(order.m_words[order.m[MOST_M]], what)
        else:
            reader.note("many M", order.m_words[order.m[MOST_M]], f"{what}: many controls take only one")


def _check_groups(reader: Reader, order: Order) -> None:
    """Codes of different groups that cannot share a block."""
    cycle = order.g.get(CYCLE)
    if cycle == 800 and MOTION in order.g:
        reader.note("G80 beside motion", order.code_words[800], "G80 stands beside a motion code: an error by the report, usual on controls that keep cycles in a group of their own")  # fmt: skip
    elif cycle is not None and MOTION in order.g:
        order.broken = True
        words = order.code_words[order.g[MOTION]].text, order.code_words[cycle].text
        reader.fault(
            order.code_words[cycle],
            f"{words[0]} and {words[1]}: only one kind of motion may stand in a block",
            loses=True,
        )
    users = [code for code in order.once if code in AXIS_USERS]
    if len(users) > 1:
        order.broken = True
        reader.fault(order.code_words[users[1]], "two codes that use the axis words of the block", loses=True)
    motion = order.g.get(MOTION, order.g.get(CYCLE, 800))
    if users and motion != 800 and order.has(AXIS_LETTERS):
        word = order.code_words[motion]
        home = users[0] in (280, 300)
        if home and motion == 0 and not reader.control.report:
            reader.note("G0 beside G28", word, "G0 stands beside G28 or G30, which take the axis words: an error by the report, usual elsewhere")  # fmt: skip
        else:
            order.broken = True
            other = order.code_words[users[0]].text
            reader.fault(word, f"{other} and {word.text} both use the axis words: write them in two blocks", loses=True)


def known_m(reader: Reader) -> frozenset[int]:
    """M codes with a meaning of their own in this base."""
    return REPORT_M if reader.control.report else PLAIN_M


def assign(reader: Reader, assignments: tuple[Assignment, ...]) -> None:
    """Set parameters; what cannot be worked out makes its parameter unknown."""
    ready: list[tuple[Assignment, int | str, float | None]] = []
    for assignment in assignments:
        try:
            target = assignment_target(assignment.target, reader.parameters)
        except CannotEvaluate as refusal:
            reader.fault(assignment, f"which parameter is set is not known: {refusal.what}", loses=True)
            reader.lose_for_good("parameters that may hold anything")
            continue
        value = _assigned(reader, assignment, assignment.value, target)
        if not isinstance(value, Unknown):
            ready.append((assignment, target, value))
    for assignment, target, value in ready:
        try:
            reader.parameters.assign(target, value)
        except CannotEvaluate as refusal:
            harmless = target in HARMLESS
            reader.fault(assignment, refusal.what, loses=not harmless)
            if not harmless:
                reader.lose_for_good("numbers of the control that the program sets")


class Unknown:
    """A value that could not be worked out."""


def _assigned(reader: Reader, at: Assignment, value: Value, target: int | str) -> float | Unknown | None:
    try:
        return evaluate(value, reader.parameters)
    except CannotEvaluate as refusal:
        if refusal.fact:
            reader.findings.depends_on(refusal.fact, reader.line, at.column, at.text, reader.where + refusal.what)
        else:
            reader.fault(at, refusal.what)
        reader.parameters.forget(target)
        return Unknown()
