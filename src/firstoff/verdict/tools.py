"""Which tool is which: meant by the job, standing in the pocket, in the spindle, behind a length register."""

from __future__ import annotations

from firstoff.facts.fact import Leaning
from firstoff.program.moves import NO_TOOL


def meant_tool(facts: Leaning, number: int) -> str | None:
    """The tool that T is meant to be, by the job; needed."""
    return _name(facts.setting(f"job.tools.{number}"))


def loaded_tool(facts: Leaning, number: int) -> str | None:
    """The tool that stands where T points, if the shop knows."""
    means = facts.setting_if_known("machine.control.t_means") or "pocket"
    owner = "register" if means == "register" else "pocket"
    return _name(facts.setting_if_known(f"tools.{owner}.{number}.tool"))


def spindle_tool(facts: Leaning, number: int) -> str | None:
    """The tool really in the spindle when the program has called T: what stands in the pocket, else what is meant.

    A program that calls no tool runs with the one tool the job lists, or with the one it lists as 0.
    """
    if number == NO_TOOL:
        listed = list(facts.facts.under("job.tools."))
        touched = [path for path in facts.facts.under("job.offset.") if path.endswith(".touched_with")]
        if not listed and len(touched) == 1:
            return _name(facts.setting(touched[0]))  # the tip that set the zero is in the spindle
        return _name(facts.setting(listed[0] if len(listed) == 1 else "job.tools.0"))
    loaded = loaded_tool(facts, number)
    return loaded if loaded is not None else meant_tool(facts, number)


def register_tool(facts: Leaning, register: int) -> str | None:
    """The tool whose length stands in an H register."""
    means = facts.setting_if_known("machine.control.t_means") or "pocket"
    if means == "register":
        for path in facts.facts.under("tools.register."):
            if path.endswith(".H") and facts.setting_if_known(path) == register:
                return _name(facts.setting(path[: -len("H")] + "tool"))
        return _name(facts.setting(f"tools.register.H{register}"))  # no line has it: missing, by this name
    return spindle_tool(facts, register)


def tool_radius(facts: Leaning, name: str) -> float | None:
    """Best estimate of the greatest radius of edge and shank, mm; the diameter is needed."""
    diameter = facts.number(f"tools.{name}.DC")
    if diameter is None:
        return None
    shank = facts.number_if_known(f"tools.{name}.DMM")
    return max(diameter.value, shank.value if shank else 0.0) / 2


def _name(word: object) -> str | None:
    return word if isinstance(word, str) else None
