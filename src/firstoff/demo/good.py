"""The five good jobs of the demo shop (`docs/demo.md` has their stories)."""

from __future__ import annotations

from firstoff.demo.plans import JobPlan, says
from firstoff.verdict.questions import ALL

NOT_ASKED_OF = {
    "logger-lid": ("target",),
    "cable-clip": ("path_kept", "target"),
    "sensor-cap": ("step", "target"),
    "clamp-ring": ("step", "path_kept", "finish"),
}
"""What a job asks nothing of: no line of its drawing says so."""


def _clear(name: str, **other: str) -> JobPlan:
    return JobPlan(
        name, _STORIES[name], says(**{q.id: "clear" for q, _ in ALL if q.id not in NOT_ASKED_OF[name]} | other)
    )


_STORIES = {
    "logger-lid": "A lid with a pocket, a label slot, four holes and a chamfer, in a vice.",
    "cable-clip": "A clip with a shelf, a deep slot and two deep holes, in a vice; short.",
    "sensor-cap": (
        "A cap with a domed pad, cut out of a clamped plate down to a skin. The program stops once so that a person can look at the gap over "
        "the stock."
    ),
    "clamp-ring": (
        "A ring on tape, its outside cut with compensation, held against its drawing: D2 is taken to hold the diameter of em6, and the answer "
        "says so."
    ),
    "vent-plug": "A plug whose slot needs a tool that came this morning: nobody has measured its length.",
}

GOOD = (
    _clear("logger-lid"),
    _clear("cable-clip"),
    _clear("sensor-cap", leftovers="care"),
    _clear("clamp-ring"),
    JobPlan(
        "vent-plug",
        _STORIES["vent-plug"],
        says(understood="clear", tool="unjudged", travel="unjudged", below="unjudged", leftovers="clear", feed="clear"),
    ),
)
