"""A program that belongs to no job, from the list of jobs to its page; asked without a browser."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.pages.job import MOST_DROPPED, file_name
from tests.workflows.test_by_itself import GOOD, OURS


def dropped(client: TestClient, text: bytes = OURS.encode(), name: str = "strange.nc") -> str:
    """Drop a program; returns the address of its page."""
    sent = client.post("/programs", files={"program": (name, text)})
    assert sent.status_code == 303, sent.text
    return str(sent.headers["location"])


def examined(client: TestClient, at: str, typed: dict[str, str]) -> tuple[str, str]:
    """Examine it by itself; returns the address of the examination and its page when it is done."""
    sent = client.post(f"{at}/examine", data=typed)
    assert sent.status_code == 303, sent.text
    where = sent.headers["location"]
    work = client.app.state.desk.work(int(where.rsplit("/", 1)[1]))  # type: ignore[attr-defined]
    assert work.done.wait(60)
    assert not work.faults, work.faults
    return where, client.get(where).text


def test_its_page_asks_what_it_is_and_lists_its_tools(shared: TestClient) -> None:
    text = shared.get(dropped(shared)).text
    assert "What is this program?" in text
    assert "T3, called at line 3" in text
    assert 'name="offset.G55"' in text
    assert "<option>cable-clip</option>" in text


def test_with_nothing_said_it_is_examined_and_what_is_missing_is_named(shared: TestClient) -> None:
    shop = shared.app.state.folder  # type: ignore[attr-defined]
    files = sorted(path for path in shop.rglob("*") if not path.name.startswith("book.sqlite"))
    kept = shared.get("/api/book/examinations").json()
    at = dropped(shared)
    _, text = examined(shared, at, {})
    assert re.search(r"Unjudged\.|Stop\.", text)
    assert "Measure the blank" in text
    assert f'href="{at}"' in text  # more can be said of it
    assert "How did it run?" not in text
    assert "Set-up sheet" not in text
    assert shared.get("/api/book/examinations").json() == kept
    assert sorted(path for path in shop.rglob("*") if not path.name.startswith("book.sqlite")) == files


def test_what_is_said_is_used_and_said_again_on_its_page(shared: TestClient) -> None:
    at = dropped(shared)
    where, text = examined(shared, at, GOOD)
    assert "Measure the blank" not in text
    number = where.rsplit("/", 1)[1]
    record = shared.get(f"/api/examinations/{number}/record").json()
    assert next(one for one in record["questions"] if one["id"] == "cuts")["answer"] != "unjudged"
    form = shared.get(at).text
    assert 'value="box 0..80 0..50 -12..0 mm"' in form
    assert re.search(r"<option selected>em3</option>", form)
    again = shared.post(f"{where}/again").headers["location"]
    work = shared.app.state.desk.work(int(again.rsplit("/", 1)[1]))  # type: ignore[attr-defined]
    assert work.done.wait(60)
    assert work.view.verdict == record["verdict"]


def test_what_cannot_be_is_refused_beside_its_field_and_nothing_typed_is_lost(shared: TestClient) -> None:
    at = dropped(shared)
    refused = shared.post(f"{at}/examine", data={**GOOD, "stock": "bx <1>", "highest_around": "12"})
    assert refused.status_code == 422
    assert 'value="bx &lt;1&gt;"' in refused.text
    assert re.search(r'name="stock"[^>]* autofocus aria-invalid="true" aria-describedby="no-stock"', refused.text)
    assert len(re.findall(r'class="p-refused"', refused.text)) == 2
    assert 'value="-14.5 mm"' in refused.text
    assert re.search(r"<option selected>al-6082</option>", refused.text)


def test_it_may_be_another_version_of_a_job(shared: TestClient) -> None:
    at = dropped(shared)
    sent = shared.post(f"{at}/version", data={"job": "cable-clip"})
    work = shared.app.state.desk.work(int(sent.headers["location"].rsplit("/", 1)[1]))  # type: ignore[attr-defined]
    assert work.job == "cable-clip"
    assert work.done.wait(60)
    assert "as it stands" in shared.get(sent.headers["location"]).text
    assert shared.post(f"{at}/version", data={"job": "../cable-clip"}).status_code == 404


def test_what_is_no_text_is_refused_and_kept_nowhere(shared: TestClient) -> None:
    before = set(Path(shared.app.state.dropped).iterdir())  # type: ignore[attr-defined]
    sent = shared.post(
        "/programs", files={"program": ("a.zip", b"PK\x03\x04\x00")}, headers={"accept": "application/json"}
    )
    assert sent.status_code == 422
    assert "zero byte" in sent.json()["faults"][0]["what"]
    assert set(Path(shared.app.state.dropped).iterdir()) == before  # type: ignore[attr-defined]
    assert shared.get("/programs/nothing").status_code == 404
    assert shared.post("/programs/nothing/examine").status_code == 404


def test_only_so_many_programs_lie_about(client: TestClient) -> None:
    first = dropped(client)
    folder = Path(client.app.state.dropped)  # type: ignore[attr-defined]
    for number in range(MOST_DROPPED + 1):
        (folder / f"older-{number}").mkdir()
    dropped(client, name="../../evil.nc")
    assert len(list(folder.iterdir())) <= MOST_DROPPED + 2
    assert all(path.resolve().is_relative_to(folder.resolve()) for path in folder.rglob("*"))
    assert client.get(first).status_code == 404


@pytest.mark.parametrize(
    ("sent", "kept"),
    [("../../etc/x.nc", "x.nc"), ("a\0b.nc", "ab.nc"), ("..", "program.nc"), ("", "program.nc"), ("C:\\cam\\lid.nc", "lid.nc")],
)  # fmt: skip
def test_of_a_name_that_is_sent_a_file_name_is_kept(sent: str, kept: str) -> None:
    assert file_name(sent) == kept


@pytest.mark.parametrize("letter", ["a", "é", "\U0001f600", "\ud800"])
def test_a_name_that_is_sent_is_never_too_long_for_a_file(letter: str) -> None:
    assert 0 < len(file_name(letter * 300 + ".nc").encode()) <= 80
