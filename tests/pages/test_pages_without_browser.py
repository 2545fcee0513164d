"""What pages say and do, asked without a browser."""

from __future__ import annotations

import json
import os
import re
import struct
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from firstoff.workflows.book import shop_book
from firstoff.workflows.facts import show_fact

FEED = "machine.axis.x.max_feed"


def finished(client: TestClient, job: str) -> int:
    """Examine a job and wait; returns its number."""
    where = client.post(f"/jobs/{job}/examine").headers["location"]
    number = int(where.rsplit("/", 1)[1])
    work = client.app.state.desk.work(number)  # type: ignore[attr-defined]
    assert work.done.wait(60)
    assert not work.faults, work.faults
    return number


@pytest.mark.parametrize("room", ["jobs", "machine", "tools", "history", "numbers"])
def test_every_room_has_its_page(shared: TestClient, room: str) -> None:
    text = shared.get(f"/{room}").text
    assert "<h1" in text
    assert f'href="/{room}" aria-current="page"' in text


def test_nothing_on_a_page_comes_from_elsewhere(shared: TestClient) -> None:
    for path in (
        "/jobs",
        "/machine",
        "/tools",
        "/history",
        "/numbers",
        "/enter",
        "/static/pages.css",
        "/static-made/tokens.css",
    ):
        for address in re.findall(r"""(?:src|href|action)=["']([^"']*)|url\(["']?([^"')]*)""", shared.get(path).text):
            target = next(one for one in (*address, "") if one or one == "")
            assert not target.startswith(("http:", "https:", "//")), (path, target)


def test_a_job_is_examined_and_its_page_holds_the_answers(shared: TestClient) -> None:
    number = finished(shared, "lid-wrong-length")
    text = shared.get(f"/examined/{number}").text
    assert "Stop." in text
    assert 'id="q-tool"' in text
    assert re.search(r'data-go-line="\d+"', text)
    assert shared.get("/jobs/lid-wrong-length").text.count("Stop.") >= 1
    record = json.loads(shared.get(f"/api/examinations/{number}/record").text)
    assert record["verdict"] == "stop"


def test_the_scene_holds_the_way_in_order_of_time(shared: TestClient) -> None:
    number = finished(shared, "cable-clip")
    block = shared.get(f"/examined/{number}/scene").content
    (size,) = struct.unpack("<I", block[:4])
    head = json.loads(block[4 : 4 + size])
    counts = {one["name"]: one["count"] for one in head["arrays"]}
    assert counts["at"] == 3 * counts["time"] == 3 * counts["line"] == 3 * counts["mark"]
    start = 4 + size + 4 * counts["at"]
    time = np.frombuffer(block, "<f4", counts["time"], start)
    assert (np.diff(time) >= -1e-3).all()
    assert time[-1] == pytest.approx(head["total_s"], rel=0.05)
    lines = shared.get(f"/examined/{number}/lines", params={"first": 1, "count": 5}).json()
    program = (shared.app.state.folder / "jobs/cable-clip/program.nc").read_text().splitlines()  # type: ignore[attr-defined]
    assert lines == program[:5]
    assert len(shared.get(f"/examined/{number}/margins").content) == len(program)


def test_another_version_is_looked_at_and_kept_nowhere(shared: TestClient) -> None:
    shop = shared.app.state.folder  # type: ignore[attr-defined]
    finished(shared, "cable-clip")
    before = len(shared.get("/api/book/examinations").json()["examinations"])
    program = (
        (shop / "jobs/cable-clip/program.nc").read_bytes().replace(b"S18000", b"S29000").replace(b"S24000", b"S29000")
    )
    sent = shared.post("/jobs/cable-clip/version", files={"program": ("faster.nc", program)})
    work = shared.app.state.desk.work(int(sent.headers["location"].rsplit("/", 1)[1]))  # type: ignore[attr-defined]
    assert work.done.wait(60)
    assert work.view.verdict == "stop"
    text = shared.get(sent.headers["location"]).text
    assert "faster.nc" in text
    assert re.search(r"<dt>as it stands</dt>.*Clear\..*<dt>this version</dt>.*Stop\.", text, re.S)
    assert re.search(r'id="q-spindle"[^>]*><details open>', text)
    assert "was clear" in text
    assert 'class="earlier"' in text
    assert re.search(r'a-gone.*S(18|24)000.*a-come.*data-go-line="\d+".*S29000', text, re.S)
    assert len(shared.get("/api/book/examinations").json()["examinations"]) == before
    assert not list(shop.rglob("faster.nc"))


def test_a_version_is_held_against_the_job_as_it_stands_now(shared: TestClient) -> None:
    desk = shared.app.state.desk  # type: ignore[attr-defined]
    shop = shared.app.state.folder  # type: ignore[attr-defined]
    first = finished(shared, "vent-plug")
    program = shop / "jobs/vent-plug/program.nc"
    sent = shared.post("/jobs/vent-plug/version", files={"program": ("same.nc", program.read_bytes())})
    work = desk.work(int(sent.headers["location"].rsplit("/", 1)[1]))
    assert work.done.wait(60)
    assert work.own is desk.work(first).view
    text = shared.get(sent.headers["location"]).text
    assert "Every answer is what it was" in text
    assert "Not a line is written otherwise." in text
    assert "q-moved" not in text
    later = time.time() + 1
    os.utime(program, (later, later))  # somebody wrote it meanwhile
    sent = shared.post("/jobs/vent-plug/version", files={"program": ("same.nc", program.read_bytes())})
    work = desk.work(int(sent.headers["location"].rsplit("/", 1)[1]))
    assert work.done.wait(60)
    assert work.own is desk.newest("vent-plug").view is not desk.work(first).view


@pytest.mark.parametrize("name", ["../../machine.toml", "/etc/passwd", "..", "", "a\\b.nc", "x" * 300 + ".nc"])
def test_the_name_of_an_upload_leads_nowhere(client: TestClient, shop: Path, name: str) -> None:
    before = sorted(shop.rglob("*"))
    client.post("/jobs/cable-clip/version", files={"program": (name, b"G21 G90\nM30\n")})
    assert [
        path for path in sorted(shop.rglob("*")) if path not in before and not path.name.startswith("book.sqlite")
    ] == []
    dropped = Path(client.app.state.dropped)  # type: ignore[attr-defined]
    assert all(path.resolve().is_relative_to(dropped.resolve()) for path in dropped.rglob("*"))


@pytest.mark.parametrize("job", ["nothing", "..", "%2e%2e", "cable-clip%2f..%2f.."])
def test_only_jobs_of_the_shop_have_pages(shared: TestClient, job: str) -> None:
    assert shared.get(f"/jobs/{job}").status_code in (303, 307, 404)


def test_a_fact_is_set_in_its_row_with_its_why(client: TestClient, shop: Path) -> None:
    told = {
        "path": FEED,
        "value": "10 m/min",
        "was": "11 m/min",
        "u": "2 %",
        "evidence": "measured",
        "why": "worn belt",
    }
    assert client.post("/facts", data=told, headers={"accept": "application/json"}).json() == {"changed": 1}
    (shown,) = show_fact(shop_book(shop), FEED)
    assert shown.past[-1].why == "worn belt"
    assert "worn belt" in client.get("/machine").text


def test_two_people_who_edit_one_fact_do_not_overwrite_each_other(client: TestClient, shop: Path) -> None:
    first = {"path": FEED, "value": "10 m/min", "was": "11 m/min", "u": "1 %", "evidence": "measured"}
    client.post("/facts", data=first)
    second = client.post("/facts", data={**first, "value": "9 m/min"}, headers={"accept": "application/json"})
    assert second.status_code == 422
    assert "somebody else" in second.json()["faults"][0]["what"]
    assert "10 m/min" in (shop / "machine.toml").read_text()


def test_edits_of_many_at_once_are_all_there(client: TestClient, shop: Path) -> None:
    paths = [f"machine.axis.{axis}.{key}" for axis in "xyz" for key in ("accel", "jerk")]
    threads = [
        threading.Thread(target=client.post, args=("/facts",), kwargs={"data": {"path": path, "value": "2.5 m/s^2" if path.endswith("accel") else "50 m/s^3", "was": was, "evidence": "assumed" if path.endswith("accel") else "set"}})
        for path, was in zip(paths, ["2.9(2) m/s^2", "55 m/s^3", "2.4(2) m/s^2", "55 m/s^3", "2.0(2) m/s^2", "55 m/s^3"], strict=True)
    ]  # fmt: skip
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    text = (shop / "machine.toml").read_text()
    assert text.count("2.5 m/s^2") == 3
    assert text.count("50 m/s^3") == 3


def test_what_cannot_be_a_fact_says_why_and_changes_nothing(client: TestClient, shop: Path) -> None:
    before = (shop / "machine.toml").read_bytes()
    told = {"path": FEED, "value": "10 mm", "was": "11 m/min", "evidence": "assumed"}
    refused = client.post("/facts", data=told, headers={"accept": "application/json"})
    assert refused.status_code == 422
    assert "10 mm" in json.dumps(refused.json())
    assert "This cannot be used" in client.post("/facts", data=told).text
    assert (shop / "machine.toml").read_bytes() == before


def test_the_card_of_the_day_is_filled_in_at_once(client: TestClient, shop: Path) -> None:
    assert client.post("/machine/today", data={"homed": "true", "warm": "31 min", "air": ""}).status_code == 303
    text = (shop / "machine.toml").read_text()
    assert 'warm         = "31 min"' in text
    assert "pockets_seen = false" in text
    assert not re.search(r"^air", text, re.MULTILINE)


def test_progress_is_told_until_it_is_done(shared: TestClient) -> None:
    where = shared.post("/jobs/cable-clip/examine").headers["location"]
    told = [
        json.loads(line[6:]) for line in shared.get(f"{where}/progress").text.splitlines() if line.startswith("data: ")
    ]
    assert told[-1]["state"] == "done"
    parts = [one["part"] for one in told if "part" in one]
    assert parts == sorted(parts)


def test_a_shop_that_cannot_be_read_is_told_on_the_page(client: TestClient, shop: Path) -> None:
    (shop / "machine.toml").write_text("[axis.x\n")
    answer = client.get("/machine")
    assert answer.status_code == 422
    assert "machine.toml" in answer.text


def test_the_set_up_sheet_is_a_pdf_of_this_moment(shared: TestClient) -> None:
    answer = shared.get("/jobs/cable-clip/sheet.pdf", params={"paper": "letter", "units": "inch"})
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    assert shared.get("/jobs/cable-clip/sheet.pdf", params={"paper": "a0"}).status_code == 422
    assert shared.get("/jobs/nothing/sheet.pdf").status_code == 404


def test_a_job_examined_again_is_held_against_itself_once_a_fact_has_changed(client: TestClient, shop: Path) -> None:
    finished(client, "cable-clip")
    same = client.get(f"/examined/{finished(client, 'cable-clip')}").text
    assert 'class="against"' not in same
    assert "earlier" not in same.partition("<main")[2]
    file = shop / "machine.toml"
    text = file.read_text()
    assert ".. 27000(120) 1/min" in text
    file.write_text(text.replace(".. 27000(120) 1/min", ".. 20000(120) 1/min"))
    now = client.get(f"/examined/{finished(client, 'cable-clip')}").text
    assert re.search(r"<dt>at \d\d:\d\d</dt>.*Clear\..*<dt>now</dt>.*Stop\.", now, re.S)
    assert re.search(r'id="q-spindle"[^>]*><details open>', now)
    assert "facts were changed" in now
    assert "How did it run?" in now  # it is the job's own page all the same


def test_a_job_that_cannot_be_used_says_what_to_mend_and_is_examined_once_it_is(client: TestClient, shop: Path) -> None:
    file = shop / "jobs/cable-clip/job.toml"
    whole = file.read_text()
    file.write_text(whole.replace("[stock]", "[stok]"))
    desk = client.app.state.desk  # type: ignore[attr-defined]
    where = client.post("/jobs/cable-clip/examine").headers["location"]
    assert desk.work(int(where.rsplit("/", 1)[1])).done.wait(60)
    told = client.get(where)
    assert told.status_code == 422
    assert "It cannot be examined." in told.text
    assert "jobs/cable-clip/job.toml" in told.text
    assert "stok" in told.text
    assert f'action="{where}/again"' in told.text
    file.write_text(whole)
    again = client.post(f"{where}/again").headers["location"]
    work = desk.work(int(again.rsplit("/", 1)[1]))
    assert work.done.wait(60)
    assert work.state == "done"


def test_a_shop_that_cannot_be_read_still_has_a_page_that_says_so(client: TestClient, shop: Path) -> None:
    (shop / "machine.toml").write_text("[[[")
    told = client.get("/machine")
    assert told.status_code == 422
    assert 'href="/machine">Mended: look again' in told.text
    assert "machine.toml" in told.text
