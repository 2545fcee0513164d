"""The names that `[judgement]` may speak of: what is at risk, and the questions that may have thresholds of their own."""

from __future__ import annotations

RISKS = ("machine", "tool", "part", "time")

QUESTIONS = (
    "understood", "travel", "keep_out", "rapid_contact", "body_contact", "below", "tool", "spindle", "leftovers", "today",
    "cuts", "reach", "torque", "power", "duty", "chip", "strength", "chips_out",
    "holding", "size", "step", "path_kept", "finish", "target",
    "feed",
)  # fmt: skip
"""Every question of an examination, in the order of its risk. `tool` is also a risk: `[judgement.tool]` speaks of the risk."""
