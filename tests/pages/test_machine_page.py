"""The machine page asked without a browser: its sentence, its rows, its filter, its check while typing."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of
from firstoff.pages.fact_rows import curve_of, evidence_of, row_of, short_name
from firstoff.pages.machine_doubt import first_sentence
from firstoff.verdict.words import ShopUnits
from firstoff.workflows import new
from firstoff.workflows.machine import KeyRow

FEED = "machine.axis.x.max_feed"
TOLD = {"path": FEED, "value": "10 m/min", "was": "11 m/min", "u": "2 %", "evidence": "measured"}
JSON = {"accept": "application/json"}
MM = ShopUnits(False)


def key(path: str, *facts: Fact, written: str = "1", words: str = "") -> KeyRow:
    settings = (Setting(path, words),) if words else ()
    return KeyRow(path, facts, settings, written, {}, 3.0, 2)


def fact(
    path: str, value: float = 1.0, u: float = 0.1, unit: str = "mm", evidence: Evidence = Evidence.ASSUMED
) -> Fact:
    return Fact(path, value, u, unit, evidence=evidence)


KNOWN = FactSet(
    {
        path: fact(path)
        for path in (
            *(f"machine.axis.{axis}.travel.{end}" for axis in "xyz" for end in ("low", "high")),
            *(
                "machine.spindle.speed.low",
                "machine.spindle.power_s1.0.power",
                "machine.axis.x.max_feed",
                "machine.spindle.stiffness",
            ),
        )
    },
    {},
)
STIFF, MODE = (key(path, fact(path)) for path in ("machine.spindle.stiffness", "machine.frame.first_mode"))


def test_the_sentence_names_who_carries_the_doubt_and_the_act_measures_it() -> None:
    said = first_sentence([STIFF, MODE], {STIFF.path: 0.5, MODE.path: 0.3, "tools.em6.LF": 0.2}, True, KNOWN)
    assert (
        said.words == "The stiffness of the spindle and the lowest frequency of the frame carry most of today's doubt."
    )
    assert said.act == "Measure stiffness of the spindle"
    assert said.href == f"/machine?open={STIFF.path}#{STIFF.path}"
    assert said.carry == (STIFF.path, MODE.path)


def test_doubt_that_is_not_the_machines_is_said_to_be_another_s() -> None:
    said = first_sentence([STIFF], {"tools.em6.LF": 0.97, STIFF.path: 0.03}, True, KNOWN)
    assert said.words == "The length of em6 carries most of today's doubt; this machine's own facts carry hardly any."
    assert (said.act, said.carry) == ("Look at em6", ())
    some = first_sentence([STIFF], {"tools.em6.LF": 0.8, STIFF.path: 0.2}, True, KNOWN)
    assert some.words.endswith("; of the machine's own it is the stiffness of the spindle.")
    assert some.carry == (STIFF.path,)


def test_rules_of_the_trade_and_the_cells_are_nobodys_to_measure() -> None:
    said = first_sentence(
        [STIFF], {"machine.practice.first_bite": 0.6, "following.grid": 0.3, STIFF.path: 0.1}, True, KNOWN
    )
    assert said.carry == (STIFF.path,)
    assert said.words == "More of today's doubt lies in the stiffness of the spindle than anywhere else."


def test_where_nearly_nothing_is_known_it_says_what_to_write_first() -> None:
    said = first_sentence([], {}, False, FactSet({}, {}))
    assert "write its travel first" in said.words
    assert said.act == "Write X travel"
    assert first_sentence([], {}, False, KNOWN).act == "Examine a job"
    assert first_sentence([], {}, True, KNOWN).words == "No fact's doubt comes near an answer today."


def test_a_row_has_value_and_unit_apart_and_the_least_of_its_evidence() -> None:
    low, high = (
        fact(f"machine.axis.x.travel.{end}", value, 0.3, evidence=Evidence.MEASURED)
        for end, value in (("low", -1.5), ("high", 321.0))
    )
    row = row_of(key("machine.axis.x.travel", low, high), MM)
    assert (row.value, row.unit, row.evidence) == ("\u22121.5(3) to 321.0(3)", "mm", "measured")
    mixed = key(
        "machine.frame.stiffness",
        fact("machine.frame.stiffness.x", evidence=Evidence.PLATE),
        fact("machine.frame.stiffness.y", evidence=Evidence.SET),
    )
    assert evidence_of(mixed) is Evidence.PLATE
    assert row_of(key("machine.control.m6", words="changes"), MM).evidence == "set"
    inch = row_of(key("machine.axis.x.travel", low, high), ShopUnits(True))
    assert inch.unit == "in"


def test_a_curve_is_drawn_over_its_speeds() -> None:
    path = "machine.spindle.power_s1"
    points = [(450.0, 720.0), (50.0, 110.0)]
    facts = [fact(f"{path}.{number}.{what}", value, 0.0 if what == "speed" else 20.0, unit) for number, point in enumerate(points) for what, value, unit in zip(("speed", "power"), point, ("1/s", "W"), strict=True)]  # fmt: skip
    row = key(path, *facts)
    assert curve_of(row) == [(3000.0, 110.0, 20.0), (27000.0, 720.0, 20.0)]
    shown = row_of(row, MM)
    assert (shown.value, shown.unit) == ("to 720", "W")
    assert "720\u00a0W at 27000\u00a01/min" in shown.plot
    assert "spark-line" in shown.spark


@pytest.mark.parametrize(
    "path", ["machine.control.peck_back_off", "machine.spindle.power_s6.on_share", "machine.practice.first_bite"]
)
def test_names_are_short_enough_for_a_row(path: str) -> None:
    assert 3 < len(short_name(path)) <= 26
    assert "machine." not in short_name(path)


def test_a_stamp_shows_as_many_rows_as_it_says_also_without_script(shared: TestClient) -> None:
    text = shared.get("/machine", params={"evidence": "assumed"}).text
    told = int(re.findall(r"<b>(\d+) assumed</b>", text)[0])
    rows = re.findall(r'<details class="fact[^>]*>', text)
    assert told == sum('data-evidence="assumed"' in row and " hidden" not in row for row in rows) > 0
    assert all(" hidden" in row for row in rows if 'data-evidence="assumed"' not in row)
    assert 'data-evidence="assumed" aria-pressed="true"' in text
    assert all(row.count('data-evidence=""') == 0 or "fact-missing" in row for row in rows)  # every value has its stamp


def test_a_job_is_shown_in_the_envelope(shared: TestClient) -> None:
    text = shared.get("/machine/envelope", params={"reach": "cable-clip"}).text
    assert "reach of cable-clip" in text
    assert "cable-clip reaches X 102.2 to 154.2, Y" in text
    assert "reach of" not in shared.get("/machine/envelope", params={"reach": "../../etc"}).text


def test_a_value_is_checked_while_it_is_typed_and_nothing_is_written(client: TestClient, shop: Path) -> None:
    before = (shop / "machine.toml").read_bytes()
    assert client.post("/facts/check", data=TOLD).json() == {"says": "Read as 10000(200) mm/min, measured, doubt 2 %."}
    refused = client.post("/facts/check", data={**TOLD, "value": "10 mm"})
    assert refused.status_code == 200
    assert "10 mm" in refused.json()["faults"][0]["value"]
    assert (shop / "machine.toml").read_bytes() == before


def test_who_was_slower_sees_both_values(client: TestClient) -> None:
    client.post("/facts", data=TOLD)
    slower = client.post("/facts", data={**TOLD, "value": "9 m/min"}, headers=JSON)
    assert slower.status_code == 422
    assert slower.json()["now"] == "10 m/min"
    assert client.post("/facts", data={**TOLD, "value": "9 m/min", "was": "10 m/min"}, headers=JSON).status_code == 200


def test_the_past_of_a_fact_is_told_in_its_row_with_its_steps(client: TestClient) -> None:
    client.post("/facts", data={**TOLD, "why": "worn belt"})
    client.post("/facts", data={**TOLD, "value": "9 m/min", "was": "10 m/min", "why": "worse"})
    text = client.get("/facts/past", params={"path": FEED}).text
    assert text.index("worse") < text.index("worn belt")
    assert "fact-plot" in text
    assert client.get("/facts/past", params={"path": "machine.nothing"}).status_code == 422


def test_the_card_says_whether_it_is_fresh(client: TestClient, shop: Path) -> None:
    assert "fresh: filled in at" in client.get("/machine").text
    file = shop / "machine.toml"
    text = re.sub(r"on           = .*", "on           = 2026-01-02T07:00:00", file.read_text())
    file.write_text(text)
    assert "stale: filled in 2 Jan 2026, 07:00" in client.get("/machine").text


def test_a_shop_that_was_just_begun_says_how_to_go_on(tmp_path: Path) -> None:
    folder = tmp_path / "begun"
    new(folder)
    with TestClient(make_app(folder, Door(names_of([], 7318))), base_url="http://127.0.0.1:7318") as client:
        machine = client.get("/machine").text
        assert "no facts in machine.toml" in machine
        for path in ("machine.spindle.directions", "machine.axis.z.jerk"):
            assert re.search(
                rf'fact-missing" id="{re.escape(path)}"', machine
            )  # questions ask for them: they can be said
        tools = client.get("/tools").text
        example = html.unescape(re.findall(r"<pre[^>]*>(\[tool.*?)</pre>", tools, re.S)[0])
        (folder / "tools.toml").write_text(example, encoding="utf-8")
        tools = client.get("/tools").text
        assert "no length has a date" in tools  # one is measured; nobody wrote when
        assert "[tool.em6]" not in tools


def test_a_card_that_cannot_be_read_leaves_the_old_one_and_says_which_value(client: TestClient, shop: Path) -> None:
    was = (shop / "machine.toml").read_bytes()
    answer = client.post("/machine/today", data={"homed": "true", "warm": "20"}, headers=JSON)
    assert answer.status_code == 422
    assert [(one["what"], one["value"]) for one in answer.json()["faults"]] == [
        ("today.warm: the unit is missing", "20")
    ]
    assert (shop / "machine.toml").read_bytes() == was
