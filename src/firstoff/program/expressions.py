"""Values that have to be worked out: parameters, arithmetic, functions.

`compile_value` turns the text of a value into a short instruction list once; `evaluate` runs the list as often as the
program passes there. Operators, their order and the functions are those of NISTIR 6556 (Kramer, Proctor, Messina, 2000,
3.3.2); comparisons, undefined values and bare arithmetic are those of macro dialects (common practice). Where the two
give different numbers and the control does not say which it is, nothing is worked out: `CannotEvaluate` names the fact.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn, cast

from firstoff.errors import FirstoffError
from firstoff.program.blocks import Expression, Value
from firstoff.program.parameters import (
    FAMILY_FACT,
    LAST_PARAMETER,
    MOST_PARAMETERS,
    WHOLE_TOLERANCE,
    Answers,
    CannotEvaluate,
    Parameters,
    whole,
)

__all__ = [
    "WHOLE_TOLERANCE",
    "Answers",
    "CannotEvaluate",
    "NotRead",
    "Parameters",
    "Scanner",
    "assignment_target",
    "compile_assigned",
    "compile_target",
    "compile_value",
    "evaluate",
    "whole",
]


DEEPEST_BRACKETS = 32
"""Brackets within brackets: macro dialects stop at 5 (from memory); more than this is no program of a person's."""


class NotRead(FirstoffError):
    """Text that is no value; `begin` and `end` are positions in the scanner's text."""

    def __init__(self, what: str, begin: int, end: int) -> None:
        self.what = what
        self.begin = begin
        self.end = end
        super().__init__(what)


# --- working out ------------------------------------------------------------------------------------------------------


def evaluate(value: Value, parameters: Parameters) -> float | None:
    """Work `value` out; None = undefined (`#0`, or an empty local). Raises `CannotEvaluate`, never returns NaN or infinity."""
    if not isinstance(value, Expression):
        return value
    stack: list[float | None] = []
    for operation, operand in cast("tuple[tuple[str, Any], ...]", value.code):
        if operation == "push":
            stack.append(operand)
        elif operation == "read":
            stack.append(parameters.read(operand))
        elif operation == "two":
            right = stack.pop()
            stack[-1] = _two(operand, stack[-1], right)
        elif operation == "one":
            stack[-1] = _one(operand, stack[-1])
        elif operation == "indirect":
            stack[-1] = parameters.read(_index(stack[-1]))
        elif operation == "named":
            stack.append(parameters.read_named(operand))
        else:
            stack.append(1.0 if parameters.exists(operand) else 0.0)
    return stack[-1]


def assignment_target(target: Value | str, parameters: Parameters) -> int | str:
    """What an assignment sets: a parameter number, or a name."""
    if isinstance(target, str):
        return target
    return _index(evaluate(target, parameters))


def _index(value: float | None) -> int:
    if value is None:
        raise CannotEvaluate("the number of a parameter is undefined")
    return whole(value, "the number of a parameter")


def _two(name: str, left: float | None, right: float | None) -> float:
    if name == "EQ":
        return float(left == right)
    if name == "NE":
        return float(left != right)
    a, b = left or 0.0, right or 0.0
    try:
        return _finite(_TWO[name](a, b), f"{a:g} {name} {b:g}")
    except ZeroDivisionError:
        raise CannotEvaluate(f"{a:g} {name} {b:g} divides by zero") from None
    except (ValueError, OverflowError):
        raise CannotEvaluate(f"{a:g} {name} {b:g} has no value") from None


def _one(name: str, operand: float | None) -> float:
    a = operand or 0.0
    try:
        return _finite(_ONE[name](a), f"{name.split('-')[0]}[{a:g}]")
    except (ValueError, OverflowError):
        raise CannotEvaluate(f"{name.split('-')[0]}[{a:g}] has no value") from None


def _finite(value: float, what: str) -> float:
    if not math.isfinite(value):
        raise CannotEvaluate(f"{what} has no value")
    return value


def _modulus(a: float, b: float) -> float:
    """Never negative, as in the report's own interpreter (from memory)."""
    if b == 0.0:
        raise ZeroDivisionError
    remainder = math.fmod(a, b)
    return remainder + abs(b) if remainder < 0.0 else remainder


def _modulus_unsaid(a: float, b: float) -> float:
    if a < 0.0 or b < 0.0:
        raise CannotEvaluate(f"{a:g} MOD {b:g}: controls differ in the sign of the result; keep both numbers positive")
    return _modulus(a, b)


def _bits(operation: Callable[[int, int], int]) -> Callable[[float, float], float]:
    def run(a: float, b: float) -> float:
        if a < 0.0 or b < 0.0:
            raise CannotEvaluate(f"bits of {min(a, b):g}: a negative number has no agreed bits")
        return float(operation(whole(a, "an operand of AND, OR, XOR"), whole(b, "an operand of AND, OR, XOR")))

    return run


def _truths(operation: Callable[[bool, bool], bool]) -> Callable[[float, float], float]:
    return lambda a, b: float(operation(a != 0.0, b != 0.0))


def _either(truth: Callable[[float, float], float]) -> Callable[[float, float], float]:
    def run(a: float, b: float) -> float:
        if a not in (0.0, 1.0) or b not in (0.0, 1.0):
            raise CannotEvaluate(
                f"AND, OR, XOR of {a:g} and {b:g}: some controls compare truth, some combine bits", FAMILY_FACT
            )
        return truth(a, b)

    return run


def _unsaid(report: Callable[[float], float], macro: Callable[[float], float], name: str) -> Callable[[float], float]:
    def run(a: float) -> float:
        if report(a) != macro(a):
            raise CannotEvaluate(
                f"{name}[{a:g}] is {report(a):g} by the report and {macro(a):g} in macro dialects", FAMILY_FACT
            )
        return report(a)

    return run


def _floor(a: float) -> float:
    return float(math.floor(a))


def _ceil(a: float) -> float:
    return float(math.ceil(a))


def _towards_zero(a: float) -> float:
    return float(math.trunc(a))


def _away_from_zero(a: float) -> float:
    return math.copysign(float(math.ceil(abs(a))), a)


def _nearest(a: float) -> float:
    """Halves away from zero, as in the report's own interpreter (from memory; the text leaves halves open)."""
    return math.copysign(float(math.floor(abs(a) + 0.5)), a)


_TRUTH = {
    "AND": _truths(lambda a, b: a and b),
    "OR": _truths(lambda a, b: a or b),
    "XOR": _truths(lambda a, b: a != b),
}
_TWO: dict[str, Callable[[float, float], float]] = {
    "**": math.pow,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "ATAN": lambda a, b: math.degrees(math.atan2(a, b)),
    "MOD": _modulus,
    "MOD-macro": _modulus_unsaid,
    **_TRUTH,
    "AND-macro": _bits(lambda a, b: a & b),
    "OR-macro": _bits(lambda a, b: a | b),
    "XOR-macro": _bits(lambda a, b: a ^ b),
    **{f"{name}-unsaid": _either(truth) for name, truth in _TRUTH.items()},
    "MOD-unsaid": _modulus_unsaid,
    "GT": lambda a, b: float(a > b),
    "GE": lambda a, b: float(a >= b),
    "LT": lambda a, b: float(a < b),
    "LE": lambda a, b: float(a <= b),
}
_ONE: dict[str, Callable[[float], float]] = {
    "NEG": lambda a: -a,
    "ABS": abs,
    "ACOS": lambda a: math.degrees(math.acos(a)),
    "ASIN": lambda a: math.degrees(math.asin(a)),
    "COS": lambda a: math.cos(math.radians(a)),
    "EXP": math.exp,
    "LN": math.log,
    "ROUND": _nearest,
    "SIN": lambda a: math.sin(math.radians(a)),
    "SQRT": math.sqrt,
    "TAN": lambda a: math.tan(math.radians(a)),
    "FIX": _floor,
    "FUP": _ceil,
    "FIX-macro": _towards_zero,
    "FUP-macro": _away_from_zero,
    "FIX-unsaid": _unsaid(_floor, _towards_zero, "FIX"),
    "FUP-unsaid": _unsaid(_ceil, _away_from_zero, "FUP"),
}
_BY_FAMILY = frozenset({"FIX", "FUP", "MOD", "AND", "OR", "XOR"})

# --- reading the text -------------------------------------------------------------------------------------------------

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_NAME = re.compile(r"<([^<>\[\]#]+)>")
_FUNCTION = re.compile(r"(ABS|ACOS|ASIN|ATAN|COS|EXISTS|EXP|FIX|FUP|LN|ROUND|SIN|SQRT|TAN)\[")
_OPERATOR = re.compile(r"\*\*|[*/+-]|MOD|AND|XOR|OR|EQ|NE|GT|GE|LT|LE")
_RANK = {
    "**": 4,
    **dict.fromkeys(("*", "/", "MOD"), 3),
    **dict.fromkeys(("+", "-", "AND", "OR", "XOR"), 2),
    **dict.fromkeys(("EQ", "NE", "GT", "GE", "LT", "LE"), 1),
}
"""Classes of NISTIR 6556, 3.3.2.3; comparisons, which the report has not, bind last."""
_LOGIC = frozenset({"AND", "OR", "XOR"})

Instruction = tuple[str, float | int | str]


@dataclass(slots=True)
class Scanner:
    """A place in a line whose white space and comments are taken out and whose letters are upper case."""

    text: str
    control: Answers
    at: int = 0
    depth: int = 0

    def take(self, wanted: str) -> bool:
        """Step over `wanted` if it stands here."""
        if self.text.startswith(wanted, self.at):
            self.at += len(wanted)
            return True
        return False

    def next(self) -> str:
        """The character here, empty at the end."""
        return self.text[self.at : self.at + 1]

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """Step over `pattern` if it stands here."""
        found = pattern.match(self.text, self.at)
        if found:
            self.at = found.end()
        return found

    @property
    def report(self) -> bool:
        """Whether the report holds to the letter."""
        return self.control.answer("base") == "rs274ngc"

    def refuse(self, what: str, begin: int, end: int | None = None) -> NoReturn:
        raise NotRead(what, begin, len(self.text) if end is None else end)


def compile_value(scan: Scanner) -> Value:
    """Read the value of a word or an assignment here: number, `#…`, `[…]` or a function. Raises `NotRead`."""
    begin = scan.at
    code: list[Instruction] = []
    _operand(scan, code)
    return _value(code, scan.text[begin : scan.at])


def compile_assigned(scan: Scanner) -> Value:
    """Read what stands right of `=`: a value, and except by the report also bare arithmetic such as ``#1-#4``."""
    begin = scan.at
    code: list[Instruction] = []
    if scan.report:
        _operand(scan, code)
        operator = scan.match(_OPERATOR)
        if operator:
            scan.refuse("arithmetic must stand in [ ] by the report: write #1=[#1+1]", begin)
    else:
        _chain(scan, code)
    return _value(code, scan.text[begin : scan.at])


def compile_target(scan: Scanner) -> Value | str:
    """Read what stands left of `=`, after the `#`: a number, a name, or something to be worked out."""
    name = scan.match(_NAME)
    if name:
        _refuse_names_by_report(scan, name)
        return name[1].lower()
    return compile_value(scan)


def _value(code: Sequence[Instruction], text: str) -> Value:
    if len(code) == 1 and code[0][0] == "push":
        return float(code[0][1])
    return Expression(tuple(code), text)


def _chain(scan: Scanner, code: list[Instruction]) -> None:
    """Operands with operators between them, up to the first thing that is no operator; emits postfix order."""
    begin = scan.at
    waiting: list[str] = []
    used: set[str] = set()
    _operand(scan, code)
    while True:
        found = scan.match(_OPERATOR)
        if not found:
            break
        name = found[0]
        if _RANK[name] == 1 and scan.control.answer("macro_family") == "none":
            scan.refuse(f"{name}: the report has no comparisons", found.start(), scan.at)
        while waiting and _RANK[waiting[-1]] >= _RANK[name]:
            code.append(("two", _by_family(scan, waiting.pop())))
        waiting.append(name)
        used.add(name)
        _operand(scan, code)
    while waiting:
        code.append(("two", _by_family(scan, waiting.pop())))
    if used & _LOGIC and used - _LOGIC and not scan.report:
        scan.refuse(
            "controls differ in which comes first here: put [ ] around each part of AND, OR, XOR", begin, scan.at
        )


def _operand(scan: Scanner, code: list[Instruction]) -> None:
    begin = scan.at
    number = scan.match(_NUMBER)
    if number:
        value = float(number[0])
        if not math.isfinite(value):
            scan.refuse("the number is too large to be one", begin, scan.at)
        code.append(("push", value))
        return
    negative = False
    if scan.next() in ("+", "-") and scan.text[begin + 1 : begin + 2] not in ("+", "-", ""):
        if scan.report:
            scan.refuse("by the report a sign stands only before a number", begin, begin + 1)
        negative = scan.next() == "-"
        scan.at += 1
    _unsigned(scan, code, begin)
    if negative:
        code.append(("one", "NEG"))


def _unsigned(scan: Scanner, code: list[Instruction], begin: int) -> None:
    if scan.take("#"):
        _reference(scan, code, begin)
    elif scan.take("["):
        _bracket(scan, code, begin)
    else:
        function = scan.match(_FUNCTION)
        if not function:
            scan.refuse("a number is missing", begin, begin + 1)
        _function(scan, code, function[1], begin)


def _deeper(scan: Scanner, begin: int) -> None:
    scan.depth += 1
    if scan.depth > DEEPEST_BRACKETS:
        scan.refuse(f"more than {DEEPEST_BRACKETS} brackets or # within each other", begin)


def _bracket(scan: Scanner, code: list[Instruction], begin: int) -> None:
    _deeper(scan, begin)
    _chain(scan, code)
    if not scan.take("]"):
        scan.refuse("a [ is not closed, or something in it is no operator", begin)
    scan.depth -= 1


def _reference(scan: Scanner, code: list[Instruction], begin: int) -> None:
    name = scan.match(_NAME)
    if name:
        _refuse_names_by_report(scan, name)
        code.append(("named", name[1].lower()))
        return
    _deeper(scan, begin)
    index: list[Instruction] = []
    _unsigned_or_number(scan, index, begin)
    scan.depth -= 1
    if len(index) == 1 and index[0][0] == "push":
        code.append(("read", _constant_index(scan, float(index[0][1]), begin)))
    else:
        code.extend(index)
        code.append(("indirect", ""))


def _unsigned_or_number(scan: Scanner, code: list[Instruction], begin: int) -> None:
    number = scan.match(_NUMBER)
    if number:
        code.append(("push", float(number[0])))
    else:
        _unsigned(scan, code, begin)


def _constant_index(scan: Scanner, value: float, begin: int) -> int:
    lowest, highest = (1, LAST_PARAMETER) if scan.report else (0, MOST_PARAMETERS)
    nearest = round(value) if math.isfinite(value) else -1
    if abs(value - nearest) > WHOLE_TOLERANCE or not lowest <= nearest <= highest:
        scan.refuse(f"no such parameter: whole numbers from {lowest} to {highest} are", begin, scan.at)
    return nearest


def _function(scan: Scanner, code: list[Instruction], name: str, begin: int) -> None:
    if name == "EXISTS":
        found = re.compile(r"#<([^<>\[\]#]+)>\]").match(scan.text, scan.at)
        if not found:
            scan.refuse("EXISTS takes one name: EXISTS[#<name>]", begin, scan.at)
        _refuse_names_by_report(scan, found)
        scan.at = found.end()
        code.append(("exists", found[1].lower()))
        return
    _bracket(scan, code, begin)
    if name == "ATAN":
        if not scan.take("/["):
            scan.refuse("ATAN takes two values: ATAN[y]/[x]", begin, scan.at)
        _bracket(scan, code, begin)
        code.append(("two", "ATAN"))
    else:
        code.append(("one", _by_family(scan, name)))


def _by_family(scan: Scanner, name: str) -> str:
    """The operation's name with the family appended where families differ."""
    if name not in _BY_FAMILY:
        return name
    family = scan.control.answer("macro_family")
    if family in ("o-words", "none"):
        return name
    return f"{name}-macro" if family == "macro" else f"{name}-unsaid"


def _refuse_names_by_report(scan: Scanner, name: re.Match[str]) -> None:
    if scan.control.answer("macro_family") == "none":
        scan.refuse("the report has numbered parameters only", name.start(), name.end())
