"""When an answer is clear, care or stop: the thresholds of `[judgement]`, by what is at risk, and the questions that may
have their own. The shop decides them, so they carry no doubt."""

from __future__ import annotations

RISKS = ("machine", "tool", "part", "time")

QUESTIONS = (
    "understood", "travel", "keep_out", "rapid_contact", "body_contact", "below", "tool", "spindle", "leftovers", "today",
    "cuts", "reach", "torque", "power", "duty", "chip", "strength", "chips_out",
    "holding", "size", "step", "path_kept", "finish", "target",
    "feed",
)  # fmt: skip
"""Every question of an examination, in the order of its risk. `tool` is also a risk: `[judgement.tool]` speaks of the risk."""

DEFAULT_JUDGEMENT: dict[str, float] = {
    "machine.care_above": 0.001,
    "machine.stop_above": 0.01,
    "tool.care_above": 0.05,
    "tool.stop_above": 0.30,
    "part.care_above": 0.10,
    "part.stop_above": 0.50,
    "time.care_above": 0.10,
    "clearance.clear_at": 2.0,
    "clearance.stop_below": 0.5,
}
"""Chances that demand exceeds capacity, and gaps in mm, where the shop has set none of its own (below
``machine.judgement.``). Stricter where the loss is greater: a tool costs an evening, a machine a winter."""
