"""Where gauge point and tip are, as forms in facts.

Two frames. In the *machine* (travel, kept-out spaces) an offset and a length enter as facts: whatever they turn out to be, the registers will
hold that. In the *work* (stock, fixtures, depth) the registers hold numbers, and the blank and the tool are where and as long as they
really are: an offset or a length that was read wrongly is wrong by its doubt there, even though register and tool carry one name.
"""

from __future__ import annotations

from firstoff.facts.fact import Fact, Leaning
from firstoff.program.moves import NO_LENGTH, NO_TOOL, SYSTEM_NAMES, Base
from firstoff.verdict.case import AXES, Case
from firstoff.verdict.forms import Form, of
from firstoff.verdict.tools import register_tool, spindle_tool

TOP_OF_Z = "machine.axis.z.travel.high"
"""After a tool change, and until Z is named, the axis is taken to stand at its top (common practice)."""


def offset_path(base: int, axis: int) -> str:
    """Fact that holds the origin of a base on one axis."""
    if base in (Base.G28, Base.G30):
        return f"machine.home.{Base(base).name}.{AXES[axis]}"
    return f"job.offset.{SYSTEM_NAMES[base - 1]}.at.{AXES[axis]}"


def is_system(base: int) -> bool:
    """Whether a base is one of the work systems."""
    return Base.G54 <= base <= Base.G59_3


def touched_with(facts: Leaning, base: int) -> str | None:
    """The tool whose tip set the zero of a work system, where the job says so: for programs that call no length."""
    if not is_system(base):
        return None
    word = facts.setting_if_known(f"job.offset.{SYSTEM_NAMES[base - 1]}.touched_with")
    return word if isinstance(word, str) else None


def gauge_in_machine(case: Case, facts: Leaning, row: int, axis: int, tool: int) -> Form | None:
    """Machine position of the gauge point at programmed zero on one axis.

    None where nobody can know, or where a fact is missing (which is then recorded).
    """
    base = int(case.reading.frames.base[row, axis])
    if base == Base.START:
        return _at_the_top(facts, axis, tool)
    if base == Base.UNKNOWN:
        return None
    form = Form(float(case.reading.frames.shift_mm[row, axis]))
    if base != Base.MACHINE:
        offset = facts.number(offset_path(base, axis))
        if offset is None:
            return None
        form += of(offset)
    register = int(case.reading.frames.length[row])
    if axis == 2 and register != NO_LENGTH:
        length = register_length(facts, register)
        if length is None:
            return None
        form += of(length)
    return form


def axis_in_work(case: Case, facts: Leaning, row: int, axis: int) -> Form | None:
    """X or Y of the spindle axis at programmed zero, in the work frame of stock and fixtures; None as above."""
    base = int(case.reading.frames.base[row, axis])
    if base in (Base.START, Base.UNKNOWN):
        return None
    return _from_stock_zero(case, facts, base, axis, Form(float(case.reading.frames.shift_mm[row, axis])))


def tip_in_work(case: Case, facts: Leaning, row: int, tool: int) -> Form | None:
    """Height of the tool tip at programmed Z zero, in the work frame of stock and fixtures; None as above."""
    base = int(case.reading.frames.base[row, 2])
    name = spindle_tool(facts, tool)
    if base == Base.UNKNOWN or name is None:
        return None
    register = int(case.reading.frames.length[row])
    touched = touched_with(facts, case.stock_base)
    form = Form(float(case.reading.frames.shift_mm[row, 2]))
    if register != NO_LENGTH:
        held = register_length(facts, register)
        if held is None:
            return None
        form += held.value
    if touched != name:  # the very tip that set the zero is at zero, however long it is
        form_of_lengths = _lengths(facts, name, touched)
        if form_of_lengths is None:
            return None
        form += form_of_lengths
    if base == Base.START:
        top = _at_the_top(facts, 2, tool)
        return None if top is None else _from_stock_zero(case, facts, int(Base.MACHINE), 2, form + top)
    return _from_stock_zero(case, facts, base, 2, form)


def _lengths(facts: Leaning, name: str, touched: str | None) -> Form | None:
    """− length of the tool in the spindle + length of the tool that set the zero."""
    own = facts.number(f"tools.{name}.LF")
    set_with = facts.number(f"tools.{touched}.LF") if touched is not None else None
    if own is None or (touched is not None and set_with is None):
        return None
    return -of(own) if set_with is None else of(set_with) - of(own)


def _from_stock_zero(case: Case, facts: Leaning, base: int, axis: int, form: Form) -> Form | None:
    """A height or place over `base`, told from where the stock's zero really is."""
    path = offset_path(case.stock_base, axis)
    if base == case.stock_base:
        zero = facts.number_if_known(path)
        return form if zero is None else form + zero.value - of(zero)
    if base != Base.MACHINE:
        own = facts.number(offset_path(base, axis))
        if own is None:
            return None
        form += own.value if is_system(base) else of(own)
    stock = facts.number(path)
    return None if stock is None else form - of(stock)


def _at_the_top(facts: Leaning, axis: int, tool: int) -> Form | None:
    """Where an axis stands before the program names it: known for Z after a tool change, else not at all."""
    if axis != 2 or tool == NO_TOOL:
        return None
    top = facts.number(TOP_OF_Z)
    return None if top is None else of(top)


def register_length(facts: Leaning, register: int) -> Fact | None:
    """The length fact that an H register holds, or None (the missing fact is recorded)."""
    name = register_tool(facts, register)
    return None if name is None else facts.number(f"tools.{name}.LF")
