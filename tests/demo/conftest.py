"""The demo shop examined once a test run, whatever the number of workers: what each job's examination found is kept in a folder they share."""

from __future__ import annotations

import json
import pickle
import time
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from firstoff.demo import JobPlan, lay_out
from firstoff.demo.good import GOOD
from firstoff.verdict.examination import Examination
from firstoff.workflows import Prepared, examination_json, examine_job, prepare

from ..once import alone

NOW = datetime(2026, 9, 14, 7, 40, 12)
KEPT_WHOLE = ("lid-air-blast", "cap-low-traverse", "clip-tight-drawing", *(plan.name for plan in GOOD))
"""Jobs whose whole examination, stock and all, is wanted by more than one test."""


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
                found = examine_job(self.folder / "jobs" / name, now=self.moment(plan))
                if name in KEPT_WHOLE:
                    file.with_suffix(".pickle").write_bytes(pickle.dumps(found))
                file.write_text(examination_json(found))
        return Record(json.loads(file.read_text()))

    def whole(self, name: str) -> Examination:
        """The examination itself, of a job that is `KEPT_WHOLE`."""
        _ = self[name]
        found = pickle.loads((self._records / f"{name}.pickle").read_bytes())
        assert isinstance(found, Examination)
        return found

    def prepared(self, name: str) -> Prepared:
        """The job loaded and its program read, as it is examined."""
        return prepare(self.folder / "jobs" / name, now=self.moment(self.plans[name]))

    def moment(self, plan: JobPlan) -> datetime:
        """When the job is examined: soon after the shop was laid out, or the next day."""
        return NOW + timedelta(minutes=20, hours=plan.hours_later)


@pytest.fixture(scope="session")
def shop(shared_folder: Path) -> DemoShop:
    return DemoShop(shared_folder / "demo-examined")
