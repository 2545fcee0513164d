"""Values of expressions as the report prints them in its own expression test.

Source: T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556, 2000, appendix C.2 (the value
stands in a comment of each block) and 3.3.2. Rows marked `from memory` were not looked up again.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firstoff.program.control import Control
from firstoff.program.expressions import Parameters, Scanner, compile_assigned, compile_target, compile_value, evaluate
from firstoff.program.expressions import assignment_target as target_of

C2 = "NISTIR 6556 (Kramer, Proctor, Messina, 2000), C.2"
C2_MEMORY = C2 + "; value from memory"
PRINTED = 5e-5
"""The report prints four decimals."""
EXACT = 1e-12

VALUES = [
    ("expr-01", "[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5, EXACT, "NISTIR 6556 (Kramer, Proctor, Messina, 2000), 3.3.2.3"),
    ("expr-02", "[1 + 2 * 3 - 4 / 5]", 6.2, EXACT, C2),
    ("expr-03", "[1 --3]", 4.0, EXACT, C2),
    ("expr-04", "[2 ** 3.0]", 8.0, EXACT, C2),
    ("expr-05", "[15 MOD 4.0]", 3.0, EXACT, C2),
    ("expr-06", "[2 and 2]", 1.0, EXACT, C2),
    ("expr-07", "atan[1.7321]/[1.0]", 60.0, 1e-3, C2),
    ("expr-08", "fix[-2.8]", -3.0, EXACT, "NISTIR 6556 (Kramer, Proctor, Messina, 2000), 3.3.2.4"),
    ("expr-09", "fup[-2.8]", -2.0, EXACT, "NISTIR 6556 (Kramer, Proctor, Messina, 2000), 3.3.2.4"),
    ("expr-10", "round[-0.5001]", -1.0, EXACT, C2),
    ("expr-11", "round[-0.499]", 0.0, EXACT, C2),
    ("expr-12", "[0 or 1]", 1.0, EXACT, C2_MEMORY),
    ("expr-13", "[2 xor 2]", 0.0, EXACT, C2_MEMORY),
    ("expr-14", "sin[30]", 0.5, PRINTED, C2_MEMORY),
    ("expr-15", "tan[60.0]", 1.7321, PRINTED, C2_MEMORY),
    ("expr-16", "sqrt[3]", 1.7321, PRINTED, C2_MEMORY),
    ("expr-17", "acos[0.707107]", 45.0, 1e-3, C2_MEMORY),
    ("expr-18", "asin[1.0]", 90.0, EXACT, C2_MEMORY),
    ("expr-19", "exp[2.3026]", 10.0, 5e-4, C2_MEMORY),
    ("expr-20", "ln[10.0]", 2.3026, PRINTED, C2_MEMORY),
    ("expr-21", "fix[9.975]", 9.0, EXACT, C2_MEMORY),
    ("expr-22", "round[9.975]", 10.0, EXACT, C2_MEMORY),
]


def _work_out(text: str, parameters: Parameters, control: Control) -> float:
    value = evaluate(compile_value(Scanner(text.replace(" ", "").upper(), control)), parameters)
    assert value is not None
    return value


@pytest.mark.parametrize(("check", "text", "expected", "tolerance", "source"), VALUES, ids=[row[0] for row in VALUES])
def test_value(
    truth: Callable[..., None], check: str, text: str, expected: float, tolerance: float, source: str
) -> None:
    control = Control("rs274ngc")
    got = _work_out(text, Parameters.of(control), control)
    truth(check, f"value of {text}", source, expected, got, tolerance)


def test_indirect_parameter(truth: Callable[..., None]) -> None:
    control = Control("rs274ngc")
    parameters = Parameters.of(control)
    for text in ("1=2.0", "#1=0.375"):
        scan = Scanner(text, control)
        target = compile_target(scan)
        assert scan.take("=")
        parameters.assign(target_of(target, parameters), evaluate(compile_assigned(scan), parameters))
    truth("expr-23", "#2 after #1=2.0 and ##1=0.375", C2, 0.375, _work_out("#2", parameters, control), EXACT)


def test_parameter_binds_tighter_than_any_operator(truth: Callable[..., None]) -> None:
    control = Control("rs274ngc")
    parameters = Parameters.of(control)
    parameters.set(1, 2.0)
    source = "NISTIR 6556 (Kramer, Proctor, Messina, 2000), 3.3.2.2"
    truth("expr-24", "[#1+2] with #1=2", source, 4.0, _work_out("[#1+2]", parameters, control), EXACT)
