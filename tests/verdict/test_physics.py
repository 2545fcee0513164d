"""Simple cuts reckoned by hand, put to the whole tool: what a machinist would expect of them, and what would make one laugh.

The closed forms are those of the reference notes on cutting (section 4, chip geometry; section 5, bending; Altintas, Manufacturing
Automation, 2nd ed., ch. 2, from memory); rules are common practice where no source stands beside them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.loads.cut_loads import Quantity, Stretch
from firstoff.verdict.examination import Examination

from .conftest import NOW

KC, AT, MC, PUSH = 900.0, 0.05, 0.25, 0.4
MATERIAL = f"""
[material.al-6082]
temper = "T6"
kc = {{ value = "{KC:g}(72) N/mm^2", at = "{AT} mm", evidence = "measured" }}
mc = {{ value = "{MC}(3)", evidence = "measured" }}
radial_ratio = {{ value = "{PUSH}(1)", evidence = "measured" }}
axial_ratio = {{ value = "0.25(5)", evidence = "measured" }}
modulus = {{ value = "70(2) GPa", evidence = "handbook" }}
coolant = ["flood"]
"""
DC = 5.990
"""Of em6 in the small shop; three edges."""

Cut = Callable[..., Examination]


@pytest.fixture
def cut(shop: Callable[..., Path], tmp_path: Path) -> Cut:
    """`cut(body, "torque", …)`: the small shop with one tool and these lines as its program, asked some questions."""

    def run(body: str, *questions: str, speed: int = 20000, tool: int = 1, job: str = "", **changes: Callable[[str], str]) -> Examination:  # fmt: skip
        program = f"G21 G17 G40 G49 G90 G94\nG80\nG54\nT{tool} M6\nS{speed} M3\nG4 P3\nG0 X-12 Y-12\nG43 H{tool} Z20\nM8\n{body}\nG0 Z20\nM9\nM5\nM30\n"
        job_of = changes.pop("job_text", str)
        folder = shop(program=lambda _: program, job=lambda text: job_of(text) + job, **changes)
        (tmp_path / "materials.toml").write_text(MATERIAL)
        return workflows.judge(workflows.prepare(folder, now=NOW), only=questions)

    return run


def stretch_of(found: Examination) -> Stretch:
    loads = found.case.followed.loads  # type: ignore[union-attr]
    return next(one for one in loads.stretches if one.volume_mm3 > 0)


def worst(found: Examination, quantity: Quantity) -> float:
    return max(abs(one.value) for one in stretch_of(found).candidates[quantity])


def on_line(found: Examination, number: int, column: str) -> float:
    """The greatest load of the program's line as written in the body of `cut` (1 = its first)."""
    loads = found.case.followed.loads  # type: ignore[union-attr]
    return float(getattr(loads, column)[found.case.moves.line == number + 9].max())


# --- what stands beside a cut is not cut -------------------------------------------------------------------------------------


def test_a_pocket_in_levels_costs_as_much_on_its_last_level_as_on_its_second(cut: Cut) -> None:
    """The corners of each level are the walls of all levels before: the tool comes to them, and never cuts them again."""
    ring = "G1 X37 F1800\nG1 Y20\nG1 X13\nG1 Y13"
    levels = [f"G0 X13 Y13\nG1 Z-{depth} F300\n{ring}\nG0 Z1" for depth in range(1, 9)]
    found = cut("G0 X13 Y13\nG0 Z1\n" + "\n".join(levels), "torque", "power")
    first, last = ([3 + 7 * level + line for line in (2, 3, 4)] for level in (1, 7))  # 0.2 mm stand on the first
    for one, other in zip(first, last, strict=True):
        assert on_line(found, other, "force_n") == pytest.approx(on_line(found, one, "force_n"), rel=0.10)
        assert on_line(found, other, "power_w") == pytest.approx(on_line(found, one, "power_w"), rel=0.10)


def test_a_floor_finished_between_standing_walls_is_a_thin_cut(cut: Cut) -> None:
    """Both passes are the same slot, 3 mm deep and then 0.1 mm: all forces go with the depth."""
    found = cut("G0 X5 Y15\nG0 Z1\nG1 Z-3 F300\nG1 X45 F1800\nG0 Z1\nG0 X5 Y15\nG1 Z-3.1 F300\nG1 X45 F1800", "torque")
    rough, fine = (on_line(found, line, "force_n") for line in (4, 8))
    assert fine == pytest.approx(rough * 0.1 / 3.0, rel=0.25)
