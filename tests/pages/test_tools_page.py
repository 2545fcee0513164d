"""The tools' page asked without a browser: what it says, what its forms do, and what they refuse."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from firstoff.facts.fact import Evidence
from firstoff.facts.shop import load_shop
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, names_of
from firstoff.pages.tools import on_page
from firstoff.sheets.tool_fares import fares
from firstoff.verdict.question import Answer
from firstoff.verdict.words import ShopUnits
from firstoff.workflows.crib import the_crib

from .conftest import ADDRESS
from .tools_shop import lay_tools

JSON = {"accept": "application/json"}
MAPPING = b'[tools]\nlayout = "words"\nT = "T"\npocket = "P"\nlength = "Z"\ndiameter = "D"\nunit = "mm"\n'


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay_tools(tmp_path_factory.mktemp("tools") / "shop")


@pytest.fixture
def shop(laid: Path) -> Iterator[Path]:
    """The shop, put back as it was afterwards."""
    kept = {path: path.read_bytes() for path in laid.glob("*.toml")}
    yield laid
    for path, data in kept.items():
        path.write_bytes(data)


@pytest.fixture
def client(shop: Path) -> Iterator[TestClient]:
    app = make_app(shop, Door(names_of([], 7318)))
    with TestClient(app, base_url=ADDRESS, follow_redirects=False) as asked:
        yield asked


def cell(text: str, tool: str) -> str:
    """What stands under the pocket of a tool."""
    return text[text.index(f'data-choose-tool="{tool}"') :].partition("</a>")[0]


def test_the_page_opens_with_its_sentence_and_an_act(client: TestClient) -> None:
    text = client.get("/tools").text
    sentence = re.search(r'class="first-sentence">([^<]*)<', text)
    assert sentence is not None
    assert sentence[1].endswith(".")
    assert "b4 is suspect" in sentence[1]
    assert "Put a fresh edge on b4</a>" in text
    assert 'href="/tools" aria-current="page"' in text


@pytest.mark.parametrize(
    ("tool", "answer", "words"),
    [
        ("face16", "clear", ""),
        ("em15", "unjudged", "never measured"),
        ("dr25", "unjudged", "gripped anew, not measured since"),
        ("b4", "care", "suspect"),
        ("m4", "care", "its life is used up"),
        ("em3", "care", "shorter than before"),
        ("globe4", "care", "the length check takes slot12 for it"),
        ("fly40", "care", "overlaps cone3 in 14"),
        ("nobody", "unjudged", "in no holder"),
        ("feeler", "unjudged", "no length window"),
    ],
)
def test_each_tool_has_its_answer_with_the_reason(client: TestClient, tool: str, answer: str, words: str) -> None:
    under = cell(client.get("/tools").text, tool)
    label = re.search(r'aria-label="([^"]*)"', under)
    assert label is not None
    assert f", {answer}" in label[1]
    assert words in label[1]


def test_pockets_stand_in_order_the_spindle_first_and_the_empty_ones_among_them(client: TestClient) -> None:
    text = client.get("/tools").text
    heads = re.findall(r'<text class="rack-number"[^>]*>([^<]*)<', text)
    assert heads == ["spindle", *(str(number) for number in range(1, 25))]
    assert 'aria-label="pocket 17: waits for feeler"' in text
    assert 'aria-label="pocket 18: empty"' in text
    places = text.split('<li class="rack-place')[1:]
    assert ["rack-clash" in one for one in places].index(True) == heads.index("14")
    assert text.count('class="rack-clash"') == 1


def test_lengths_recorded_meanwhile_are_seen_though_the_old_ones_are_kept_in_memory(client: TestClient) -> None:
    before = client.get("/tools", params={"tool": "cone3"}).text
    assert "cone3: 1 length since its last grip" in before
    client.post("/tools/cone3", data={"verb": "length", "readings": "74.291 74.290"}, headers=JSON)
    assert "cone3: 1 length since its last grip" not in client.get("/tools/cone3/chosen").text


def test_what_is_in_no_pocket_is_told_in_a_table_with_the_holders(client: TestClient) -> None:
    text = client.get("/tools").text
    table = text[text.index('<table class="elsewhere"') :].partition("</table>")[0]
    assert "drawer 3" in table
    assert "dr42" in table
    assert "in no holder" in table
    assert "nut-16-a" in text[text.index('<table class="holders"') :]


def test_a_chosen_tool_has_its_chart_its_history_and_rows_that_can_be_set(client: TestClient, shop: Path) -> None:
    text = client.get("/tools", params={"tool": "em6"}).text
    assert 'class="lengths"' in text
    assert 'id="tools.em6.LF"' in text
    assert "was 71.3" in text
    row = text[text.index('id="tools.em6.OHX"') :].partition("</details>")[0]
    was = re.search(r'name="was" value="([^"]*)"', row)
    assert was is not None
    told = {"path": "tools.em6.OHX", "value": "22.4(2) mm", "was": was[1], "evidence": "measured"}
    assert client.post("/facts", data=told, headers=JSON).json() == {"changed": 1}
    assert load_shop(shop).facts.facts["tools.em6.OHX"].value == 22.4


def test_the_parts_of_one_tool_are_those_of_its_page(client: TestClient) -> None:
    whole, parts = client.get("/tools", params={"tool": "cone3"}).text, client.get("/tools/cone3/chosen").text
    for name in ("chosen", "chosen-past", "chosen-facts"):
        assert f'id="{name}"' in parts
    section = parts[parts.index('<section class="part chosen"') :].partition("</section>")[0]
    assert section in whole
    assert client.get("/tools/nothing/chosen").status_code == 404


@pytest.mark.parametrize(
    ("used", "doubt", "kinds"),
    [
        (0.0, 10.0, []),
        (49.0, 10.0, []),
        (51.0, 10.0, ["near"]),
        (59.9, 0.0, []),
        (60.0, 0.0, ["worn"]),
        (75.0, 10.0, ["worn"]),
    ],
)
def test_an_edge_is_in_doubt_from_one_uncertainty_before_its_life_ends(
    shop: Path, used: float, doubt: float, kinds: list[str]
) -> None:
    crib = the_crib(shop)
    item = crib.item("face16")
    assert item is not None
    assert item.life is not None
    assert item.used_up is not None
    life = replace(item.life, value=3600.0, u=60 * doubt)
    worn = replace(item, life=life, used_up=replace(item.used_up, value=60 * used, u=0.0))
    found = fares(worn, crib, None, ShopUnits(inch=False))
    assert [kind for kind, _ in found.reasons] == kinds
    assert found.answer is (Answer.CARE if kinds else Answer.CLEAR)


@pytest.mark.parametrize(
    ("key", "answer"), [("LF", Answer.UNJUDGED), ("window", Answer.UNJUDGED), ("assumed", Answer.UNJUDGED)]
)
def test_a_tool_whose_length_nobody_can_judge_is_never_clear(shop: Path, key: str, answer: Answer) -> None:
    crib = the_crib(shop)
    item = crib.item("face16")
    assert item is not None
    assert item.length is not None
    changed = {
        "LF": replace(item, length=None, window=None),
        "window": replace(item, window=None, window_needs=("tools.setter.drift",)),
        "assumed": replace(item, length=replace(item.length, evidence=Evidence.ASSUMED)),
    }[key]
    assert fares(changed, crib, None, ShopUnits(inch=False)).answer is answer


def test_what_nobody_stated_has_a_row_and_can_be_said_there(client: TestClient, shop: Path) -> None:
    text = client.get("/tools", params={"tool": "feeler"}).text
    row = text[text.index('id="tools.feeler.wear_allowed"') :].partition("</details>")[0]
    assert "not stated" in row
    told = {"path": "tools.feeler.wear_allowed", "value": "20 µm", "was": ""}
    assert client.post("/facts", data=told, headers=JSON).json() == {"changed": 1}
    assert the_crib(shop).item("feeler").window is not None  # type: ignore[union-attr]
    again = client.post("/facts", data={**told, "value": "30 µm"}, headers=JSON)
    assert again.status_code == 422
    assert "somebody else" in again.text


def test_a_shop_in_inches_is_told_in_inches(client: TestClient, shop: Path) -> None:
    file = shop / "machine.toml"
    file.write_text(file.read_text(encoding="utf-8").replace('show = "mm"', 'show = "inch"'), encoding="utf-8")
    assert load_shop(shop).show == "inch"
    text = client.get("/tools", params={"tool": "em6"}).text
    assert re.search(r"LF 2\.807\d+\(\d+\).in", text)
    assert "readings in inches" in text
    client.post("/tools/em15", data={"verb": "length", "readings": "2.5319 2.5320"}, headers=JSON)
    assert load_shop(shop).facts.facts["tools.em15.LF"].value == pytest.approx(64.31, abs=0.01)


# --- acts -------------------------------------------------------------------------------------------------------------


def test_a_length_is_recorded_from_readings_as_they_are_typed(client: TestClient, shop: Path) -> None:
    told = {"verb": "length", "readings": "64,310 64.312; 64,311 mm", "why": "new this morning"}
    assert client.post("/tools/em15", data=told, headers=JSON).json()["changed"] == 1
    fact = load_shop(shop).facts.facts["tools.em15.LF"]
    assert fact.value == pytest.approx(64.311, abs=1e-6)
    assert "new this morning" in client.get("/tools", params={"tool": "em15"}).text
    assert ", unjudged" not in re.search(r'aria-label="([^"]*)"', cell(client.get("/tools").text, "em15"))[1]  # type: ignore[index]


def test_only_checking_writes_nothing(client: TestClient, shop: Path) -> None:
    before = (shop / "tools.toml").read_bytes()
    seen = the_crib(shop).item("face16")
    assert seen is not None
    assert seen.length is not None
    kept = client.post("/tools/face16", data={"verb": "check", "readings": str(seen.length.value)}, headers=JSON)
    assert kept.json()["said"].startswith("Intact:")
    gone = client.post("/tools/face16", data={"verb": "check", "readings": "59.2"})
    assert "Broken:" in gone.text
    assert (shop / "tools.toml").read_bytes() == before


def test_tools_are_moved_by_hand(client: TestClient, shop: Path) -> None:
    def did(tool: str, **told: str) -> dict[str, object]:
        answer = client.post(f"/tools/{tool}", data=told, headers=JSON)
        assert answer.status_code == 200, answer.text
        made: dict[str, object] = answer.json()
        return made

    def where(tool: str) -> tuple[str, int | None, str | None]:
        item = the_crib(shop).item(tool)
        assert item is not None
        return item.where.value, item.pocket, item.place

    did("face16", verb="unload", to="bench")
    assert where("face16") == ("place", None, "bench")
    did("face16", verb="put", to="drawer 4")
    assert where("face16") == ("place", None, "drawer 4")
    did("face16", verb="load", pocket="21")
    assert where("face16") == ("pocket", 21, None)
    did("face16", verb="swap", other="em6")
    assert (where("face16")[1], where("em6")[1]) == (2, 21)
    did("face16", verb="spindle")
    assert where("face16")[0] == "spindle"
    did("face16", verb="spindle")
    assert where("face16") == ("pocket", 2, None)
    assert "Void now: length of face16" in str(
        did("face16", verb="grip", holder="arbor", stick_out="27.0(3) mm")["said"]
    )
    assert did("m4", verb="fresh")["changed"]
    item = the_crib(shop).item("m4")
    assert item is not None
    assert item.length is None
    assert item.condition == "new"
    did("m4", verb="used", minutes="3,5")
    assert the_crib(shop).facts.facts["tools.m4.used_up"].value == pytest.approx(210)
    did("m4", verb="broke", why="bottomed")
    assert the_crib(shop).facts.settings["tools.m4.broke_why"].value == "bottomed"


@pytest.mark.parametrize(
    ("tool", "told", "words"),
    [
        ("em6", {"verb": "length", "readings": "long"}, "long"),
        ("em6", {"verb": "length", "readings": "71.3 71.9", "sure": "true"}, "part by"),
        ("em6", {"verb": "length", "readings": ""}, "no readings"),
        ("em6", {"verb": "load", "pocket": "3"}, "pocket 3 holds em3"),
        ("em6", {"verb": "load", "pocket": "99"}, "99"),
        ("em6", {"verb": "load", "pocket": "1e9"}, "1e9"),
        ("fly40", {"verb": "load", "pocket": "10"}, "10"),
        ("em6", {"verb": "put", "to": "bench"}, "pocket 2"),
        ("em6", {"verb": "swap", "other": "em6"}, "itself"),
        ("em6", {"verb": "grip", "holder": "nut-16-a"}, "grips em3"),
        ("em6", {"verb": "used", "minutes": "-4"}, "-4"),
        ("em6", {"verb": "polish"}, "polish"),
        ("nothing", {"verb": "fresh"}, "nothing"),
        ("em15", {"verb": "check", "readings": "60"}, "no length window"),
    ],
)
def test_what_cannot_be_done_says_why_and_writes_nothing(
    client: TestClient, shop: Path, tool: str, told: dict[str, str], words: str
) -> None:
    before = (shop / "tools.toml").read_bytes()
    answer = client.post(f"/tools/{tool}", data=told, headers=JSON)
    assert answer.status_code == 422
    assert words in answer.text
    assert "firstoff crib" not in answer.text
    assert (shop / "tools.toml").read_bytes() == before


def test_advice_that_names_a_command_is_told_as_the_page_does_it() -> None:
    said = on_page("firstoff crib unload 3 first, or firstoff crib swap em6 em3.")
    assert said == "Take out what stands in pocket 3 first, or let em6 and em3 change places."
    assert on_page("Nobody can tell: tools.em15.LF missing.") == "Nobody can tell: length of em15 missing."


# --- today, and the control's tables ----------------------------------------------------------------------------------


def test_today_says_what_a_hand_does(client: TestClient) -> None:
    client.post("/tools/em6", data={"verb": "unload", "to": "bench"})
    text = client.get("/tools", params={"job": ["cable-clip", "logger-lid"]}).text
    said = text[text.index('class="day-said"') :].partition("</section>")[0]
    assert "by hand" in said
    assert "Put em6" in said or "em6-stub" in said


def test_what_must_only_come_out_is_no_nothing(client: TestClient) -> None:
    text = client.get("/tools", params={"job": "cable-clip"}).text
    said = text[text.index('class="day-said"') :].partition("</section>")[0]
    assert "Take fly40 out of pocket 15." in said
    assert "Nothing needs to be changed" not in said


def test_too_many_jobs_for_a_day_are_refused(client: TestClient) -> None:
    answer = client.get("/tools", params={"job": [f"job-{n}" for n in range(13)]}, headers=JSON)
    assert answer.status_code == 422
    assert "at most 12" in answer.text


def test_a_table_of_the_control_is_held_against_the_shop_and_nothing_changes(client: TestClient, shop: Path) -> None:
    before = {path: path.read_bytes() for path in shop.glob("*.toml")}
    table = b"T1 P1 Z61.204 D16.0\nT2 P2 Z70.9 D5.991\nT3 P4 Z69.861 D2.995\n"
    files = {"mapping": ("../../how.toml", MAPPING), "tools": ("rack.tbl", table)}
    answer = client.post("/tools/control/compare", files=files)
    assert answer.status_code == 200
    held = answer.text[answer.text.index('class="held-said"') :].partition("</section>")[0]
    order = [held.index(words) for words in ("the control has it in pocket 4", "too deep")]
    assert order == sorted(order)
    assert "line 2 of the control" in held
    assert "Nothing was changed" in held
    assert {path: path.read_bytes() for path in shop.glob("*.toml")} == before
    assert not list(shop.rglob("how.toml"))
    assert not [path for path in Path(client.app.state.dropped).rglob("*") if path.is_file()]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("files", "data", "words"),
    [
        ({"mapping": ("m.toml", MAPPING)}, {}, "no table"),
        ({"mapping": ("m.toml", b"[tools"), "tools": ("t", b"T1 P1")}, {}, "not TOML"),
        ({"mapping": ("m.toml", MAPPING), "tools": ("t", b"\xff\xfe\x00")}, {}, "UTF-8"),
        ({"mapping": ("m.toml", MAPPING), "tools": ("t", b"x" * 4_000_001)}, {}, "too big"),
        ({"mapping": ("m.toml", MAPPING), "offsets": ("o", b"54 1 2 3")}, {"job": "../x"}, "no such job"),
    ],
)
def test_tables_that_cannot_be_read_are_refused(
    client: TestClient, files: dict[str, tuple[str, bytes]], data: dict[str, str], words: str
) -> None:
    answer = client.post("/tools/control/compare", files=files, data=data, headers=JSON)
    assert answer.status_code == 422
    assert words in answer.text


def test_a_shop_without_tools_says_so(client: TestClient, shop: Path) -> None:
    (shop / "tools.toml").write_text("# nothing yet\n", encoding="utf-8")
    text = client.get("/tools").text
    assert "No tool is described yet." in text
    assert "no pocket is described" in text
