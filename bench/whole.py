"""One whole examination in a process of its own, kernels warm: wall time, CPU time of each stage, most memory, as JSON.

`python bench/whole.py JOB WARM_JOB CELL_MM DIAMETER_MM`: cells of that size for the smallest cutter, whatever the product would choose (0 = its
own choice). A stage's CPU time is that of the threads that work on it; tiles and loads have threads of their own.
"""

from __future__ import annotations

import functools
import json
import resource
import sys
import threading
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from firstoff import workflows
from firstoff.loads import _kernels as load_kernels
from firstoff.loads import accumulate
from firstoff.removal import _kernels as removal_kernels
from firstoff.removal import grid
from firstoff.verdict import follow

STAGES = (
    ("read", workflows, "_read"),
    ("motion and what time hangs on", workflows, "time_program"),
    ("place", follow, "_work"),
    ("sweep, all of its thread but tiles", follow, "sweep"),
    ("... tiles: cut, engagement, contact", removal_kernels, "work_tile"),
    ("loads, but stations", accumulate.Loads, "add"),
    ("... loads of stations", load_kernels, "station_loads"),
    ("surfaces", follow, "surfaces_of"),
    ("questions", workflows, "examine"),
)


class Clocks:
    """CPU seconds by stage, summed over threads."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self.lock = threading.Lock()

    def around(self, stage: str, work: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(work)
        def timed(*given: Any, **how: Any) -> Any:
            began = time.thread_time()
            try:
                return work(*given, **how)
            finally:
                with self.lock:
                    self.seconds[stage] = self.seconds.get(stage, 0.0) + time.thread_time() - began

        return timed


def main() -> None:
    job, warm, cell, diameter = Path(sys.argv[1]), Path(sys.argv[2]), float(sys.argv[3]), float(sys.argv[4])
    if cell:
        grid.FINE = round(diameter / cell)  # type: ignore[misc]
    workflows.judge(workflows.prepare(warm, now=datetime.now()))  # kernels are loaded
    clocks = Clocks()
    for stage, room, name in STAGES:
        setattr(room, name, clocks.around(stage, getattr(room, name)))
    began, cpu = time.perf_counter(), time.process_time()
    prepared = workflows.prepare(job, now=datetime.now())
    examined = workflows.judge(prepared)
    told = {
        "wall_s": time.perf_counter() - began,
        "cpu_s": time.process_time() - cpu,
        "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
        "cell_mm": examined.case.followed.likely.before.grid.cell_mm,
        "tools": sorted({one.name for one in examined.case.followed.loads.stretches}),
        "unjudged": [one.question.id for one in examined.answers if one.answer.value == "unjudged"],
    }
    print(json.dumps({**told, "stages": clocks.seconds}))


if __name__ == "__main__":
    main()
