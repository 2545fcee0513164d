"""The interface for other programs, held against its own description by a fuzzer, bounded."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from schemathesis.specs.openapi.checks import positive_data_acceptance

from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of

from .conftest import lay

SCHEMA = Path(__file__).parents[2] / "docs/schema/examination-1.json"
EXAMPLES = 12
"""Requests of each operation: enough for every kind of value, quick enough for every run."""


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> schemathesis.schemas.BaseSchema:
    door = Door(names_of([], 7318))
    door.asked.most = 10**9
    app = make_app(lay(tmp_path_factory.mktemp("api") / "shop"), door)
    app.state.desk.ask = _no_examination  # a fuzzer asks for hundreds; the desk has its own tests
    return schemathesis.openapi.from_asgi("/api/openapi.json", app, headers={"host": "localhost:7318"})


def _no_examination(job: str, program: Path | None = None, sheet: object = None) -> object:
    from firstoff.pages.desk import Work

    return Work(1, job, program)


OPERATIONS = (
    "GET /api/jobs", "POST /api/jobs/{job}/examination", "GET /api/examinations/{number}", "GET /api/examinations/{number}/record",
    "DELETE /api/examinations/{number}", "GET /api/facts", "GET /api/facts/{path}", "PUT /api/facts/{path}", "GET /api/book/examinations",
    "GET /api/book/runs", "POST /api/jobs/{job}/runs", "GET /api/crib", "GET /api/crib/today", "GET /api/crib/drift",
)  # fmt: skip


def test_all_operations_are_tried(described: schemathesis.schemas.BaseSchema) -> None:
    found = {one.ok().label for one in described.get_all_operations()}
    assert {label for label in found if "/api/" in label} == set(OPERATIONS)


@pytest.mark.parametrize("label", OPERATIONS)
def test_whatever_is_asked_is_answered_as_described(described: schemathesis.schemas.BaseSchema, label: str) -> None:
    operation = next(one.ok() for one in described.get_all_operations() if one.ok().label == label)

    @given(case=operation.as_strategy())
    @settings(
        max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None
    )
    def asked(case: schemathesis.Case) -> None:
        # A text that fits the description may still be no fact of this shop, and no value: it is refused as one.
        left_out = [positive_data_acceptance] if "/facts/{path}" in label else []
        case.call_and_validate(headers={"host": "localhost:7318"}, excluded_checks=left_out)

    asked()


def test_the_record_is_the_published_one(shared: TestClient) -> None:
    told = shared.post("/api/jobs/cable-clip/examination").json()
    work = shared.app.state.desk.work(told["number"])  # type: ignore[attr-defined]
    assert work.done.wait(60)
    assert shared.get(f"/api/examinations/{told['number']}").json()["state"] == "done"
    record = shared.get(f"/api/examinations/{told['number']}/record").json()
    jsonschema.validate(record, json.loads(SCHEMA.read_text()))
    assert shared.delete(f"/api/examinations/{told['number']}").status_code == 204
    assert shared.get("/api/examinations/99").status_code == 404


def test_a_fact_is_set_and_comes_back_with_its_history(client: TestClient) -> None:
    path = "machine.changer.change_time"
    assert (
        client.put(
            f"/api/facts/{path}", json={"value": "11.0(5) s", "evidence": "measured", "why": "stopwatch"}
        ).status_code
        == 200
    )
    told = client.get(f"/api/facts/{path}").json()["facts"][0]
    assert (told["now"]["value"], told["past"][-1]["why"]) == (11.0, "stopwatch")
    assert client.put(f"/api/facts/{path}", json={"value": "10 s", "was": "12(2) s"}).status_code == 422
    assert client.put(f"/api/facts/{path}", json={"value": "10 s", "unknown": 1}).status_code == 422
    assert client.get("/api/facts/machine.nothing").status_code == 422


def test_the_crib_and_its_day_are_those_of_the_command(client: TestClient) -> None:
    assert {one["name"] for one in client.get("/api/crib").json()["tools"]} >= {"em6", "em3"}
    day = client.get("/api/crib/today", params={"job": ["cable-clip", "logger-lid"]}).json()
    assert [one["job"] for one in day["plan"]["jobs"]] == ["cable-clip", "logger-lid"]
    assert client.get("/api/crib/today").status_code == 422
