"""Lays out the clean jobs for three machines, and reads them as scenes."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from firstoff.demo.lay_out import lay_out
from firstoff.facts.shop import load_shop
from firstoff.write.language import language_of
from proof.faults.bench import bench_of
from proof.faults.clean_programs import OWN_JOBS
from proof.faults.edits import Program
from proof.faults.kinds import Scene
from proof.faults.machines import MACHINES, machine_text
from proof.faults.outcome import run

CARD = datetime(2026, 3, 2, 7, 30)
NOW = CARD + timedelta(minutes=20)
DEMO_JOBS = {
    "logger-lid": "the demo's lid: faced, pocket, slot, outline, holes, chamfer; vice",
    "cable-clip": "the demo's clip: faced, outline, shelf, open slot, deep holes; vice",
    "sensor-cap": "the demo's cap: dome, helical bore, holes, cut out down to a skin; clamps; stops once by design",
    "clamp-ring": "the demo's ring: round pocket, holes, chamfer, outline with G41; tape; held against its drawing",
}
NOT_MEASURED = "vent-plug"
"""The demo's fifth good job has a tool that nobody has measured: unjudged by design, so that nothing can be put into it."""
WEIGHT = {"logger-lid": 0.25, "sensor-cap": 0.5, "bore-plate": 0.5}
"""How often a job is drawn, against 1: the programs that take longest less often."""


@dataclass(frozen=True, slots=True)
class CleanShop:
    """Folder, scenes by (job, machine), and files that stand beside a job."""

    folder: Path
    scenes: dict[tuple[str, str], Scene]


def slug(name: str) -> str:
    return name.replace("'", "").replace(" ", "-")


def lay_out_all(folder: Path) -> None:
    """A shop a machine, each with all clean jobs."""
    demo = folder / "demo"
    lay_out(demo, CARD)
    language = language_of(load_shop(demo).facts)
    machine = (demo / "machine.toml").read_text(encoding="utf-8")
    for name, (_, changes) in MACHINES.items():
        shop = folder / slug(name)
        (shop / "jobs").mkdir(parents=True)
        for file in ("tools.toml", "materials.toml"):
            shutil.copy(demo / file, shop / file)
        (shop / "machine.toml").write_text(machine_text(machine, changes), encoding="utf-8")
        for job in (*DEMO_JOBS, NOT_MEASURED):
            shutil.copytree(demo / "jobs" / job, shop / "jobs" / job)
        for own in OWN_JOBS:
            place = shop / "jobs" / own.name
            place.mkdir()
            (place / "program.nc").write_text(own.program(language), encoding="utf-8")
            (place / "job.toml").write_text(own.job, encoding="utf-8")
            (place / "drawing.stl").write_bytes(own.drawing())


def job_names() -> tuple[str, ...]:
    """The jobs that mistakes are put into."""
    return (*DEMO_JOBS, *(own.name for own in OWN_JOBS))


def scene(folder: Path, job: str, machine: str) -> Scene:
    """One clean job on one machine, run once by the replay."""
    shop = folder / slug(machine)
    place = shop / "jobs" / job
    texts = [
        path.read_text(encoding="utf-8") for path in (shop / "machine.toml", shop / "tools.toml", place / "job.toml")
    ]
    bench = bench_of(*texts)
    program = Program.of((place / "program.nc").read_text(encoding="utf-8"))
    clean = run([line.text for line in program.lines], bench)
    return Scene(job, machine, program, texts[2], texts[1], texts[0], bench, clean)


def open_shop(folder: Path) -> CleanShop:
    """All scenes of a folder that `lay_out_all` wrote."""
    return CleanShop(
        folder, {(job, machine): scene(folder, job, machine) for job in job_names() for machine in MACHINES}
    )
