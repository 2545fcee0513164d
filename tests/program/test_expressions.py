"""Values that have to be worked out, held against Python's own arithmetic and against the rules as they are written."""

from __future__ import annotations

import math
import operator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.program.control import Control
from firstoff.program.expressions import (
    CannotEvaluate,
    NotRead,
    Parameters,
    Scanner,
    compile_assigned,
    compile_value,
    evaluate,
    whole,
)


def control(base: str = "plain", **said: str) -> Control:
    return Control(base, dict(said))


def work_out(text: str, base: str = "plain", parameters: Parameters | None = None, **said: str) -> float | None:
    asked = control(base, **said)
    scan = Scanner(text.replace(" ", "").upper(), asked)
    value = compile_value(scan)
    assert scan.at == len(scan.text), f"{scan.text[scan.at :]!r} was left over"
    return evaluate(value, parameters or Parameters.of(asked))


# --- arithmetic against Python's own ----------------------------------------------------------------------------------

numbers = st.decimals(-1000, 1000, places=3, allow_nan=False).map(lambda d: format(d, "f"))
OPERATORS = {"+": operator.add, "-": operator.sub, "*": operator.mul, "/": operator.truediv, "**": math.pow}
FUNCTIONS = {
    "ABS": abs,
    "SIN": lambda a: math.sin(math.radians(a)),
    "COS": lambda a: math.cos(math.radians(a)),
    "EXP": math.exp,
    "FIX": math.floor,
    "FUP": math.ceil,
    "SQRT": math.sqrt,
    "LN": math.log,
}

trees = st.recursive(
    numbers,
    lambda inner: st.one_of(
        st.tuples(inner, st.sampled_from(sorted(OPERATORS)), inner),
        st.tuples(st.sampled_from(sorted(FUNCTIONS)), inner),
    ),
    max_leaves=12,
)


def written(tree: object) -> str:
    if isinstance(tree, str):
        return tree
    assert isinstance(tree, tuple)
    if len(tree) == 2:
        return f"{tree[0]}[{written(tree[1])}]"
    return f"[{written(tree[0])} {tree[1]} {written(tree[2])}]"


def by_python(tree: object) -> float:
    if isinstance(tree, str):
        return float(tree)
    assert isinstance(tree, tuple)
    if len(tree) == 2:
        return float(FUNCTIONS[tree[0]](by_python(tree[1])))
    result = float(OPERATORS[tree[1]](by_python(tree[0]), by_python(tree[2])))
    if not math.isfinite(result):
        raise OverflowError
    return result


@given(trees)
def test_trees_agree_with_python(tree: object) -> None:
    try:
        expected = by_python(tree)
    except (ValueError, ZeroDivisionError, OverflowError):
        with pytest.raises(CannotEvaluate):
            work_out(written(tree), "rs274ngc")
        return
    assert work_out(written(tree), "rs274ngc") == expected


@given(st.lists(st.tuples(st.sampled_from(["+", "-", "*", "/", "MOD", "**"]), st.integers(1, 9)), min_size=1, max_size=8), st.integers(1, 9))  # fmt: skip
def test_classes_bind_in_order_and_left_to_right(tail: list[tuple[str, int]], head: int) -> None:
    """Reduced class by class in three passes, which is not how the compiler does it (NISTIR 6556, 3.3.2.3)."""
    values, operators = [float(head), *(float(v) for _, v in tail)], [o for o, _ in tail]
    apply = {**OPERATORS, "MOD": lambda a, b: a % b}
    try:
        for group in (("**",), ("*", "/", "MOD"), ("+", "-")):
            at = 0
            while at < len(operators):
                if operators[at] in group:
                    result = apply[operators.pop(at)](values[at], values.pop(at + 1))
                    values[at] = float(result)
                else:
                    at += 1
    except (OverflowError, ZeroDivisionError):
        return
    text = "[" + str(head) + "".join(f" {o} {v}" for o, v in tail) + "]"
    assert work_out(text, "rs274ngc") == pytest.approx(values[0], rel=1e-12, abs=1e-12)


@given(st.text("[]#0123456789.+-*/<>ABCDEFGILMNOPQRSTUX_ =", max_size=60))
def test_any_text_is_a_value_or_refused(text: str) -> None:
    scan = Scanner(text, control())
    try:
        value = compile_assigned(scan)
    except NotRead:
        return
    try:
        result = evaluate(value, Parameters.of(control()))
    except CannotEvaluate:
        return
    assert result is None or math.isfinite(result)


def test_deep_brackets_are_refused_not_overflowing() -> None:
    for text in ("[" * 5000 + "1" + "]" * 5000, "#" * 5000 + "1", "SIN[" * 5000):
        with pytest.raises(NotRead):
            compile_value(Scanner(text, control()))


@pytest.mark.parametrize(
    "text",
    [
        "[1/0]",
        "SQRT[-1]",
        "LN[0]",
        "ACOS[1.1]",
        "ASIN[-2]",
        "[10**400]",
        "[0**-1]",
        "[-8**0.5]",
        "[5 MOD 0]",
        "EXP[1000]",
    ],
)
def test_what_has_no_value_is_said(text: str) -> None:
    with pytest.raises(CannotEvaluate):
        work_out(text)


# --- where families differ --------------------------------------------------------------------------------------------


def test_fix_and_fup_by_family() -> None:
    assert work_out("FIX[-2.8]", "rs274ngc") == -3.0
    assert work_out("FUP[-2.8]", "rs274ngc") == -2.0
    assert work_out("FIX[-2.8]", macro_family="macro") == -2.0
    assert work_out("FUP[-2.8]", macro_family="macro") == -3.0
    assert work_out("FIX[-2.8]", macro_family="o-words") == -3.0
    assert work_out("FIX[2.8]") == 2.0
    with pytest.raises(CannotEvaluate) as refusal:
        work_out("FIX[-2.8]")
    assert refusal.value.fact == "machine.control.macro_family"


def test_logic_on_bits_or_truth_by_family() -> None:
    assert work_out("[2 AND 1]", "rs274ngc") == 1.0
    assert work_out("[2 AND 1]", macro_family="macro") == 0.0
    assert work_out("[6 XOR 3]", macro_family="macro") == 5.0
    assert work_out("[1 AND 0]") == 0.0
    with pytest.raises(CannotEvaluate, match="truth"):
        work_out("[2 AND 1]")


def test_remainder_of_negative_numbers_is_left_open() -> None:
    assert work_out("[-7 MOD 4]", "rs274ngc") == 1.0
    with pytest.raises(CannotEvaluate, match="sign"):
        work_out("[-7 MOD 4]")


def test_mixed_logic_and_arithmetic_needs_brackets_outside_the_report() -> None:
    assert work_out("[1 + 0 AND 1]", "rs274ngc") == 1.0
    with pytest.raises(NotRead, match=r"put \[ \]"):
        work_out("[1 + 0 AND 1]")


def test_comparisons_are_not_in_the_report() -> None:
    assert work_out("[3 GT 2]") == 1.0
    assert work_out("[2 + 1 LE 2]") == 0.0
    with pytest.raises(NotRead):
        work_out("[3 GT 2]", "rs274ngc")


def test_bare_arithmetic_only_outside_the_report() -> None:
    assert evaluate(compile_assigned(Scanner("4-3/2", control())), Parameters()) == 2.5
    with pytest.raises(NotRead, match="report"):
        compile_assigned(Scanner("4-3", control("rs274ngc")))


# --- parameters -------------------------------------------------------------------------------------------------------


def test_a_parameter_never_set_is_unknown_not_zero() -> None:
    with pytest.raises(CannotEvaluate, match="#5 is read before it is set"):
        work_out("[#5+1]")


def test_undefined_is_zero_in_sums_and_differs_from_zero_in_comparison() -> None:
    parameters = Parameters.of(control())
    parameters.set(1, None)
    assert work_out("#1", parameters=parameters) is None
    assert work_out("[#1+2]", parameters=parameters) == 2.0
    assert work_out("[#1EQ#0]", parameters=parameters) == 1.0
    assert work_out("[#1EQ0]", parameters=parameters) == 0.0
    assert work_out("[#1NE0]", parameters=parameters) == 1.0


def test_locals_belong_to_their_level() -> None:
    parameters = Parameters.of(control())
    parameters.set(1, 5.0)
    parameters.set(100, 6.0)
    parameters.enter({2: 7.0}, "macro")
    assert parameters.read(1) is None  # empty, not unknown: a macro's locals begin empty
    assert parameters.read(2) == 7.0
    parameters.set(1, 8.0)
    parameters.set(100, 9.0)
    parameters.leave()
    assert parameters.read(1) == 5.0
    assert parameters.read(100) == 9.0
    assert parameters.numbered() == {1: 5.0, 100: 9.0}


def test_values_an_o_word_call_does_not_pass_are_unknown() -> None:
    parameters = Parameters.of(control(macro_family="o-words"))
    parameters.enter({1: 1.0}, "o-words")
    with pytest.raises(CannotEvaluate, match="passes no value"):
        parameters.read(2)


def test_numbers_of_the_control_are_unknown_unless_given() -> None:
    parameters = Parameters.of(control("rs274ngc"))
    with pytest.raises(CannotEvaluate, match="belongs to the control"):
        parameters.read(5161)
    parameters.give(5161, 0.0)
    assert parameters.read(5161) == 0.0
    with pytest.raises(CannotEvaluate, match="setting it"):
        parameters.set(5221, 1.0)
    macro = Parameters.of(control(macro_family="macro"))
    with pytest.raises(CannotEvaluate, match="belongs to the control"):
        macro.read(3011)


def test_names_are_local_or_global() -> None:
    parameters = Parameters.of(control())
    parameters.set_named("depth", 1.0)
    parameters.set_named("_feed", 2.0)
    parameters.enter({}, "o-words")
    assert not parameters.exists("depth")
    assert work_out("[#<_feed>*EXISTS[#<_feed>]]", parameters=parameters) == 2.0
    with pytest.raises(CannotEvaluate):
        parameters.read_named("depth")


def test_the_version_moves_only_with_a_value() -> None:
    parameters = Parameters()
    parameters.set(1, 1.0)
    before = parameters.version
    parameters.set(1, 1.0)
    assert parameters.version == before
    parameters.set(1, 2.0)
    assert parameters.version > before


@given(st.integers(-(10**6), 10**6), st.floats(-9e-5, 9e-5))
def test_whole_numbers_may_be_off_by_a_ten_thousandth(number: int, off: float) -> None:
    assert whole(number + off, "P") == number


def test_what_is_not_whole_is_refused() -> None:
    with pytest.raises(CannotEvaluate, match="whole number"):
        whole(1.01, "P")
