"""Who may ask anything of the pages, and what a stranger's page in the same browser may not."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import given
from hypothesis import strategies as st

from firstoff.pages.app import make_app
from firstoff.pages.door import ASKED, LARGEST_BODY, SESSION_S, TRIES, Door, Limiter, hashed, names_of

from .conftest import ADDRESS

PASSWORD = "correct horse battery"


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def locked(shop: Path, clock: Clock) -> Iterator[TestClient]:
    door = Door(names_of(["mill.local"], 7318), hashed(PASSWORD), clock)
    with TestClient(make_app(shop, door), base_url="http://mill.local:7318", follow_redirects=False) as asked:
        yield asked


def test_this_computer_needs_no_password(client: TestClient) -> None:
    assert client.get("/jobs").status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "localhost.evil.example:7318", "localhost:80", "localhost", "", "192.168.1.4:7318"]
)
def test_a_name_that_leads_here_by_somebody_elses_doing_is_refused(client: TestClient, host: str) -> None:
    assert client.get("/jobs", headers={"host": host}).status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://localhost:7319"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://localhost:7318.evil.example"},
    ],
)
@pytest.mark.parametrize(
    "path",
    [
        "/facts",
        "/machine/today",
        "/jobs/cable-clip/ran",
        "/jobs/cable-clip/examine",
        "/api/jobs/cable-clip/runs",
        "/programs",
        "/programs/any/examine",
    ],
)
def test_a_page_of_somebody_else_changes_nothing(
    client: TestClient, shop: Path, headers: dict[str, str], path: str
) -> None:
    before = {file: file.read_bytes() for file in shop.rglob("*.toml")}
    assert client.post(path, headers=headers, data={"note": "good"}).status_code == 403
    assert {file: file.read_bytes() for file in shop.rglob("*.toml")} == before


def test_our_own_page_may(client: TestClient) -> None:
    headers = {"origin": ADDRESS, "sec-fetch-site": "same-origin"}
    assert client.post("/jobs/cable-clip/ran", data={"note": "good"}, headers=headers).status_code == 303


def test_a_network_asks_for_the_password_first(locked: TestClient) -> None:
    asked = locked.get("/jobs")
    assert (asked.status_code, asked.headers["location"]) == (303, "/enter")
    assert locked.get("/api/jobs").status_code == 401
    assert locked.post("/api/jobs/cable-clip/runs", json={"note": "good"}).status_code == 401
    assert locked.get("/enter").status_code == 200
    assert locked.get("/static/pages.css").status_code == 200
    assert locked.get("/static/%2e%2e/app.py").status_code in (303, 404)


def test_the_password_opens_and_leaving_closes(locked: TestClient) -> None:
    assert locked.post("/enter", data={"password": "wrong"}).status_code == 403
    done = locked.post("/enter", data={"password": PASSWORD})
    assert done.status_code == 303
    cookie = done.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert PASSWORD not in cookie
    assert locked.get("/jobs").status_code == 200
    stolen = dict(locked.cookies)
    assert locked.post("/leave").status_code == 303
    locked.cookies.update(stolen)
    assert locked.get("/jobs").status_code == 303


def test_a_session_ends_by_itself(locked: TestClient, clock: Clock) -> None:
    locked.post("/enter", data={"password": PASSWORD})
    clock.now += SESSION_S - 1
    assert locked.get("/jobs").status_code == 200
    clock.now += 2
    assert locked.get("/jobs").status_code == 303


def test_after_five_wrong_passwords_the_right_one_must_wait_too(locked: TestClient, clock: Clock) -> None:
    for _ in range(TRIES):
        assert locked.post("/enter", data={"password": "guess"}).status_code == 403
    assert locked.post("/enter", data={"password": PASSWORD}).status_code == 403
    clock.now += 61
    assert locked.post("/enter", data={"password": PASSWORD}).status_code == 303


def test_a_made_up_cookie_opens_nothing(locked: TestClient) -> None:
    locked.cookies.set("firstoff_session", "x" * 43)
    assert locked.get("/jobs").status_code == 303


def test_one_address_cannot_ask_without_end(client: TestClient) -> None:
    found = {client.get("/static/mark.svg").status_code for _ in range(ASKED + 5)}
    assert found == {200, 429}


def test_too_much_is_not_taken_in(client: TestClient) -> None:
    refused = client.post("/jobs/cable-clip/version", headers={"content-length": str(LARGEST_BODY + 1)}, content=b"x")
    assert refused.status_code == 413


@pytest.mark.parametrize("path", ["/jobs", "/enter", "/static/pages.css", "/api/jobs", "/nothing"])
def test_every_answer_forbids_what_a_page_does_not_need(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    assert "default-src 'self'" in headers["content-security-policy"]
    assert "script-src" not in headers["content-security-policy"]  # so scripts are our own files, never inline
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"


@given(st.lists(st.floats(0.0, 3.0), min_size=1, max_size=60))
def test_never_more_than_so_many_within_a_time(waits: list[float]) -> None:
    clock, allowed = Clock(), []
    limiter = Limiter(3, 5.0, clock)
    for wait in waits:
        clock.now += wait
        if limiter.allows("one"):
            allowed.append(clock.now)
    assert all(later - first >= 5.0 for first, later in zip(allowed, allowed[3:], strict=False))
    assert limiter.allows("another")


def test_the_kept_hash_is_no_password() -> None:
    kept = hashed(PASSWORD)
    assert kept.startswith("$argon2id$")
    assert PASSWORD not in kept
    assert kept != hashed(PASSWORD)
