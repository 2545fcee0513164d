"""Every fact that a question can name has a way to get it, told for that fact."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from firstoff.facts.schema import JobFile, Machine, Materials, Table, Tools
from firstoff.facts.validate import inner_table
from firstoff.verdict.needs import TRIALS, Trial, trial_for

WIDE = {"tools.*", "materials.*", "job.*", "job.holding.*"}
"""Patterns that say only where to write it."""
BY_EYE = {
    "tools.x.DC", "tools.x.RE", "tools.x.FHA", "tools.x.GAMF", "tools.x.SIG", "tools.x.TP", "tools.x.gripped", "tools.x.coating",
    "tools.x.max_speed", "materials.x.temper", "job.program", "job.holding.count", "job.holding.grip_height", "job.holding.jaw_width",
    "job.holding.span",
}  # fmt: skip
"""Facts for which a wide pattern says enough: read off tool, packet or part."""
NEVER_ASKED = (
    "machine.judgement.",
    "machine.shop.",
    "machine.changer",
    "job.offset",
    "job.tools",
    "tools.pocket",
    "tools.register",
    # What only the crib keeps: where a tool is, how it is held and how it fares.
    "tools.holder",
    "tools.in_spindle",
    "tools.rack",
    "tools.setter.readings",
    *(f"tools.x.{key}" for key in ("held_in", "re_gripped", "place", "sister", "life", "used_up", "broke")),
)


def paths(model: type[Table], root: str) -> Iterator[str]:
    """Paths of the keys of a file, with ``x`` for names and numbers."""
    for name, field in model.model_fields.items():
        inner, held = inner_table(field.annotation)
        key = field.alias or name
        silent = {"tools": "tool", "materials": "material"}.get(root) == key
        path = root if silent else f"{root}.{key}"
        if inner is None:
            yield path
        elif inner.__name__ != "Source":
            yield from paths(inner, path if held == "one" else f"{path}.x")


ALL = [
    path
    for model, root in ((Machine, "machine"), (Tools, "tools"), (Materials, "materials"), (JobFile, "job"))
    for path in paths(model, root)
    if not path.startswith(NEVER_ASKED) and not path.endswith((".publication", ".name", ".note"))
]


@pytest.mark.parametrize("path", ALL)
def test_each_fact_has_its_own_trial(path: str) -> None:
    trial = trial_for(path)
    assert trial in TRIALS, path
    assert trial.pattern not in WIDE or path in BY_EYE, path
    assert trial.file.startswith(
        {"machine": "mach", "tools": "tool", "materials": "mate", "job": "job."}[path.split(".")[0]]
    )


@pytest.mark.parametrize("trial", TRIALS, ids=lambda trial: trial.pattern)
def test_no_trial_is_hidden_behind_a_wider_one(trial: Trial) -> None:
    assert trial_for(trial.pattern.replace("*", "x").replace("?", "x")) is trial


def test_trials_are_short_sentences_with_a_cost() -> None:
    for trial in TRIALS:
        assert 0 < trial.minutes <= 20
        assert trial.reach >= 0
        assert trial.how.endswith(".")
        assert not trial.relative or trial.reach < 1
