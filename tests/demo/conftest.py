"""The demo shop examined once a test run, whatever the number of workers: each job's published record is kept in a folder they share."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from firstoff.demo import JobPlan, lay_out
from firstoff.workflows import examination_json, examine_job

NOW = datetime(2026, 9, 14, 7, 40, 12)
LONGEST_S = 600.0


@dataclass(frozen=True, slots=True)
class Record:
    """One examination as it is published."""

    told: dict[str, Any]

    @property
    def verdict(self) -> str:
        return str(self.told["verdict"])

    @property
    def answers(self) -> dict[str, str]:
        """Answer by question, of those that were asked."""
        return {one["id"]: one["answer"] for one in self.told["questions"]}

    def worst_line(self, question: str) -> int:
        return int(self._of(question)["places"][0]["line"])

    def said(self, question: str) -> str:
        found = self._of(question)
        return f"{found['answer']}: {found['why']}"

    def _of(self, question: str) -> dict[str, Any]:
        return next(one for one in self.told["questions"] if one["id"] == question)


class DemoShop:
    """The shop, with each job examined when first asked for, by whichever worker asks first."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "shop"
        self._records = folder / "records"
        with alone(folder / "laying-out"):
            if self._records.exists():
                self.plans = {plan.name: plan for plan in lay_out(folder / "again" / str(time.monotonic_ns()), NOW)}
            else:
                self.plans = {plan.name: plan for plan in lay_out(self.folder, NOW)}
                self._records.mkdir()

    def __getitem__(self, name: str) -> Record:
        plan, file = self.plans[name], self._records / f"{name}.json"
        with alone(self._records / name):
            if not file.exists():
                file.write_text(examination_json(self.examine(plan)))
        return Record(json.loads(file.read_text()))

    def examine(self, plan: JobPlan) -> Any:
        moment = NOW + timedelta(minutes=20, hours=plan.hours_later)
        return examine_job(self.folder / "jobs" / plan.name, now=moment)


@contextmanager
def alone(place: Path) -> Iterator[None]:
    """One worker at a time; a folder that can be made only once is the key."""
    key, since = place.with_suffix(".key"), time.monotonic()
    while True:
        try:
            key.mkdir(parents=True)
            break
        except FileExistsError:
            if time.monotonic() - since > LONGEST_S:
                raise
            time.sleep(0.05)
    try:
        yield
    finally:
        key.rmdir()


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> DemoShop:
    base = tmp_path_factory.getbasetemp()
    return DemoShop((base if worker_id == "master" else base.parent) / "demo-examined")
