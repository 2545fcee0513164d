"""A what-if is laid over the shop's files key by key, with its own evidence, and its faults name it."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime
from pathlib import Path

import pytest

from firstoff.demo import lay_out
from firstoff.errors import InputError
from firstoff.facts.change import all_stated, changes
from firstoff.facts.job import load_job
from firstoff.facts.overlay import Overlay, load_overlay, newcomers, strangers
from firstoff.facts.shop import Shop, load_shop
from firstoff.facts.toml_file import TomlFile

MACHINE = """
[shop]
name = "Bench mill"
[axis.x]
travel = { value = "-1(1) mm .. 301(1) mm", evidence = "measured", df = 4 }
[spindle]
stiffness = { value = "12(1) N/µm", evidence = "measured", df = 4, note = "spring balance" }
nose = [["58 mm", "40 mm"], ["76 mm", "62 mm"]]
[frame]
stiffness = { value = ["8.5(6) N/µm", "7.5(6) N/µm", "15(2) N/µm"], evidence = "measured" }
first_mode = { value = "96(4) Hz", evidence = "measured" }
[[zone]]
name = "rack"
box = ["282 mm .. 321 mm", "0 mm .. 243 mm", "-190 mm .. -55 mm"]
[[zone]]
name = "setter"
box = ["-2 mm .. 26 mm", "206 mm .. 243 mm", "-190 mm .. -96 mm"]
"""
TOOLS = """
[tool.em6]
kind = "flat"
DC = "6.00(1) mm"
LF = { value = "71.315(6) mm", evidence = "measured" }
[tool.T03]
kind = "drill"
DC = "3.00(1) mm"
[[pocket]]
number = 1
tool = "em6"
at = ["301 mm", "14 mm", "-118 mm"]
[[pocket]]
number = 2
"""
JOB = 'program = "p.nc"\nmaterial = "al-6082"\n[holding]\nkind = "vice"\nfriction = "0.15(4)"\n[tools]\n1 = "em6"\n'


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "machine.toml").write_text(MACHINE)
    (tmp_path / "tools.toml").write_text(TOOLS)
    job = tmp_path / "jobs" / "plate"
    job.mkdir(parents=True)
    (job / "job.toml").write_text(JOB)
    (job / "p.nc").write_text("G21 G90\nG54\nM30\n")
    return tmp_path


def laid(shop: Path, text: str = "", sets: tuple[str, ...] = ()) -> Shop:
    file = shop / "what-if.toml"
    file.write_text(text)
    return load_shop(shop, overlay=load_overlay(file if text else None, sets))


def moved(shop: Path, text: str = "", sets: tuple[str, ...] = ()) -> set[str]:
    """Paths that a what-if changes."""
    before, after = all_stated(load_shop(shop).facts), all_stated(laid(shop, text, sets).facts)
    return {change.path for change in changes(before, after)}


def faults(shop: Path, text: str = "", sets: tuple[str, ...] = ()) -> list[str]:
    with pytest.raises(InputError) as caught:
        laid(shop, text, sets)
    return [str(fault) for fault in caught.value.faults]


def test_a_value_takes_the_place_of_the_old_one_with_its_evidence_and_its_place(shop: Path) -> None:
    text = '# what if\n[machine.spindle]\nstiffness = { value = "20(2) N/µm", evidence = "plate" }\n'
    fact = laid(shop, text).facts.facts["machine.spindle.stiffness"]
    assert (fact.value, fact.u, fact.evidence, fact.note, fact.df) == (20e3, 2e3, "plate", "", float("inf"))
    assert str(fact.where) == "what-if.toml:3"
    assert moved(shop, text) == {"machine.spindle.stiffness"}


def test_a_list_of_rows_is_one_value(shop: Path) -> None:
    found = laid(shop, '[machine.spindle]\nnose = [["80 mm", "120 mm"]]\n')
    assert found.facts.facts["machine.spindle.nose.0.diameter"].value == 80
    assert "machine.spindle.nose.1.diameter" not in found.facts.facts


@pytest.mark.parametrize("table", ["tools.em6", "tools.tool.em6"])
def test_a_tool_is_called_as_in_its_file_or_as_in_its_path(shop: Path, table: str) -> None:
    text = f'[{table}]\nholder_stiffness = "25(3) N/µm"\n'
    assert moved(shop, text) == {"tools.em6.holder_stiffness"}


def test_a_tool_with_a_number_for_a_name_is_found_however_it_is_written(shop: Path) -> None:
    assert moved(shop, '[tools.T03]\nDC = "3.1(1) mm"\n') == {"tools.T03.DC"}


def test_zones_and_pockets_are_told_apart_by_their_names(shop: Path) -> None:
    text = '[[machine.zone]]\nname = "setter"\nbox = ["-2 mm .. 26 mm", "200 mm .. 243 mm", "-190 mm .. -96 mm"]\n'
    text += '[[tools.pocket]]\nnumber = 2\ntool = "T03"\n[[tools.pocket]]\nnumber = 3\nat = ["301 mm", "60 mm", "-118 mm"]\n'
    found = laid(shop, text)
    assert [zone.name for zone in found.machine.zone or ()] == ["rack", "setter"]
    assert moved(shop, text) == {
        "machine.zone.setter.box.y.low",
        "tools.pocket.2.tool",
        "tools.pocket.3.number",
        *(f"tools.pocket.3.at.{axis}" for axis in "xyz"),
    }
    assert str(found.facts.settings["tools.pocket.2.tool"].where) == "what-if.toml:6"
    assert str(found.facts.settings["tools.pocket.1.tool"].where) == "tools.toml:11"


def test_what_is_removed_is_gone(shop: Path) -> None:
    text = 'remove = ["machine.frame.first_mode", "machine.zone.setter", "tools.em6.LF"]\n'
    gone = moved(shop, text)
    assert {"machine.frame.first_mode", "tools.em6.LF", "machine.zone.setter.box.x.low"} <= gone
    assert all(path.startswith(("machine.frame.first_mode", "machine.zone.setter.", "tools.em6.LF")) for path in gone)


def test_a_table_that_the_shop_does_not_have_yet(shop: Path) -> None:
    (shop / "tools.toml").unlink()
    assert moved(shop, '[tools.em9]\nkind = "flat"\nDC = "9.0(1) mm"\n') == {"tools.em9.kind", "tools.em9.DC"}
    assert moved(shop, '[machine.changer]\nchange_time = "6(1) s"\n') == {"machine.changer.change_time"}
    assert moved(shop, '[materials.al-6082]\nkc = { value = "700(70) N/mm^2", at = "0.05 mm" }\n') >= {
        "materials.al-6082.kc"
    }


@pytest.mark.parametrize(
    ("said", "path", "value"),
    [
        ("machine.spindle.stiffness=20(2) N/µm", "machine.spindle.stiffness", 20e3),
        ('machine.spindle.stiffness={ value = "20 N/µm", evidence = "plate" }', "machine.spindle.stiffness", 20e3),
        ("machine.axis.x.travel.high=400(1) mm", "machine.axis.x.travel.high", 400.0),
        ("machine.zone.rack.box.x.low=270 mm", "machine.zone.rack.box.x.low", 270.0),
        ("machine.frame.stiffness.y=9.0(6) N/µm", "machine.frame.stiffness.y", 9e3),
        ("machine.spindle.nose.1.length=70 mm", "machine.spindle.nose.1.length", 70.0),
        ("tools.pocket.1.at.y=15 mm", "tools.pocket.1.at.y", 15.0),
        ("tools.em6.LF=72.0(1) mm", "tools.em6.LF", 72.0),
    ],
)  # fmt: skip
def test_one_fact_on_the_command_line(shop: Path, said: str, path: str, value: float) -> None:
    fact = laid(shop, sets=(said,)).facts.facts[path]
    assert fact.value == value
    assert str(fact.where) == f"--set {said.partition('=')[0]}"
    others = moved(shop, sets=(said,)) - {path}
    assert all(
        other.rpartition(".")[0] == path.rpartition(".")[0] for other in others
    )  # the other cells of a row or place


def test_words_on_the_command_line_and_a_pocket_that_is_new(shop: Path) -> None:
    assert laid(shop, sets=("machine.name=Other mill",)).name == "Other mill"
    assert laid(shop, sets=("tools.em6.ZEFP=3",)).facts.settings["tools.em6.ZEFP"].value == 3
    assert laid(shop, sets=("tools.pocket.2.tool=T03",)).facts.settings["tools.pocket.2.tool"].value == "T03"


def test_the_command_line_is_laid_over_the_file(shop: Path) -> None:
    text = '[machine.spindle]\nstiffness = "20(2) N/µm"\n'
    found = laid(shop, text, ("machine.spindle.stiffness=22(2) N/µm",))
    assert found.facts.facts["machine.spindle.stiffness"].value == 22e3


def test_facts_of_jobs_hold_for_every_job(shop: Path) -> None:
    found = laid(shop, '[job.holding]\nfriction = "0.25(4)"\n', ("job.ask.finish_rz=6.3 µm",))
    facts = load_job(shop / "jobs" / "plate", found).facts
    assert facts.facts["job.holding.friction"].value == 0.25
    assert facts.settings["job.holding.kind"].value == "vice"
    assert str(facts.facts["job.holding.friction"].where) == "what-if.toml:2"
    assert load_job(shop / "jobs" / "plate", load_shop(shop)).facts.facts["job.holding.friction"].value == 0.15


def test_a_job_that_never_had_it_is_as_good_as_one_that_lost_it(shop: Path) -> None:
    found = laid(shop, 'remove = ["job.holding.friction", "job.ask.finish_rz"]\n')
    facts = load_job(shop / "jobs" / "plate", found).facts
    assert "job.holding.friction" not in facts.facts


def test_names(shop: Path) -> None:
    file = shop / "stiff.toml"
    file.write_text('name = "stiffer"\n')
    assert load_overlay(file).name == "stiffer"
    file.write_text("[machine.spindle]\n")
    assert load_overlay(file).name == "stiff"
    assert load_overlay(None, ("machine.spindle.stiffness=20 N/µm",)).name == "machine.spindle.stiffness = 20 N/µm"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[machine.spindle]\nstifness = "20(2) N/µm"\n', r"what-if\.toml:2: spindle\.stifness: unknown key: stifness"),
        ('[machine.spindle]\nstiffness = "20 mm"\n', r"what-if\.toml:2: spindle\.stiffness: .*20 mm"),
        ('[mashine.spindle]\nstiffness = "20 N/µm"\n', r'what-if\.toml:1: unknown key: mashine.*"machine"'),
        ('[tools.em6]\nDC = "6"\nDD = 1\n', r"what-if\.toml:3: tool\.em6\.DD: unknown key"),
        ('[[tools.pocket]]\nnumber = 2\ntool = "em7"\n', r"what-if\.toml:3: no tool has this name: em7"),
        ("name = 3\n", r"what-if\.toml:1: name: "),
        ("machine = 3\n", r"what-if\.toml:1: machine: this must be a table"),
        ('remove = ["machine.frame.second_mode"]\n', r"what-if\.toml:1: .*second_mode"),
        ('remove = ["machine.spindle.run_out"]\n', r"what-if\.toml:1: remove: the shop does not state this"),
        ('remove = ["nowhere.at.all"]\n', r"what-if\.toml:1: remove: no fact begins like this"),
        ('remove = "machine"\n', r"what-if\.toml:1: remove: this must be a list"),
        ("[machine.spindle\n", r"what-if\.toml:1: not TOML"),
    ],
)  # fmt: skip
def test_faults_name_the_what_if_and_its_line(shop: Path, text: str, told: str) -> None:
    found = faults(shop, text)
    assert len(found) == 1 or "6" in text
    assert re.search(told, "\n".join(found)), found


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("machine.spindle.stiffness", "--set cannot be read"),
        ("spindle.stiffness=3 N/µm", "--set: no fact begins like this"),
        ("machine.spindle.stifness=3 N/µm", "--set machine.spindle.stifness: unknown key"),
        ("machine.spindle.stiffness=3 mm", "--set machine.spindle.stiffness: spindle.stiffness: "),
        ("tools.em9.DC=3 mm", "--set tools.em9.DC: no such tool: em9"),
        ("machine.axis.y.travel.high=3 mm", "one end of this range cannot be set by itself"),
    ],
)
def test_faults_of_the_command_line(shop: Path, said: str, told: str) -> None:
    assert told in "\n".join(faults(shop, sets=(said,)))


def test_a_fault_of_the_shop_still_names_the_shop(shop: Path) -> None:
    (shop / "tools.toml").write_text(TOOLS + 'tools = "x"\n')
    assert any("tools.toml:" in one for one in faults(shop, '[machine.spindle]\nstiffness = "20 N/µm"\n'))


def test_a_shop_laid_over_itself_is_itself(tmp_path: Path) -> None:
    """And over one that says nothing, it is all that is said."""
    lay_out(tmp_path / "demo", datetime(2026, 9, 14))
    files = {
        name: tomllib.loads((tmp_path / "demo" / f"{name}.toml").read_text())
        for name in ("machine", "tools", "materials")
    }
    overlay = Overlay("the same", TomlFile("same.toml", files, {}))
    facts = load_shop(tmp_path / "demo").facts
    for folder in ("demo", "empty"):
        (tmp_path / folder).mkdir(exist_ok=True)
        if folder == "empty":
            (tmp_path / folder / "machine.toml").write_text("[shop]\n")
        laid_over = load_shop(tmp_path / folder, overlay=overlay).facts
        assert changes(all_stated(facts), all_stated(laid_over)) == ()
        assert {fact.where.file for fact in laid_over.facts.values()} == {"same.toml"}


def test_nothing_is_written(shop: Path) -> None:
    before = {path: path.read_bytes() for path in shop.rglob("*.toml") if path.name != "what-if.toml"}
    laid(shop, 'remove = ["machine.frame"]\n[tools.em6]\nDC = "5.9(1) mm"\n', ("machine.name=x",))
    assert before == {path: path.read_bytes() for path in shop.rglob("*.toml") if path.name != "what-if.toml"}


THERE = {"tool": ("em3", "em6", "T03"), "material": ("al-6082",), "zone": ("rack", "setter"), "pocket": ("1", "2")}
WHOLE_TOOL = '[tools.em9]\nkind = "flat"\nDC = "9.0(1) mm"\nLF = "70.0(1) mm"\n'


def over(text: str, sets: tuple[str, ...] = ()) -> Overlay:
    loaded = load_overlay(None, sets)
    return Overlay("x", TomlFile("x.toml", tomllib.loads(text), {}), loaded.sets)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[tools.tool.emm3]\nLF = "60(1) mm"\n', r"adds a tool emm3 that the shop does not have.*nearest: em3"),
        ('[tools.emm3]\nLF = "60(1) mm"\n', r"adds a tool emm3 that the shop does not have.*nearest: em3"),
        ('[[machine.zone]]\nname = "rak"\n', r"adds a zone rak that the shop does not have.*nearest: rack"),
        ('[[machine.zone]]\nname = "rak"\nbox = []\n', r"adds a zone rak that the shop does not have.*nearest: rack"),
        ("[[tools.pocket]]\nnumber = 22\n", r"adds a pocket 22 that the shop does not have.*nearest: 2"),
        ('[materials.al-6083]\nkc = "9 MPa"\n', r"adds a material al-6083 that the shop does not have.*al-6082"),
        (WHOLE_TOOL, r"adds a tool em9 that the shop does not have.*nearest: .*em[36].*put into a pocket"),
        ('[tools.em9]\nkind = "flat"\n[job.tools]\n3 = "em9"\n', r"adds a tool em9 .*kind, DC and LF"),
        ('[tools.qqq]\nLF = "60(1) mm"\n', r"adds a tool qqq .*one of: em3, em6, T03"),
    ],
)
def test_a_name_that_the_shop_does_not_have_is_no_new_thing_by_itself(text: str, told: str) -> None:
    found = [str(fault) for fault in strangers(over(text), THERE)]
    assert len(found) == 1
    assert re.search(told, found[0]), found


@pytest.mark.parametrize(
    ("text", "sets"),
    [
        (WHOLE_TOOL + '[[tools.pocket]]\nnumber = 2\ntool = "em9"\n', ()),
        (WHOLE_TOOL + '[job.tools]\n3 = "em9"\n', ()),
        (WHOLE_TOOL, ("tools.pocket.2.tool=em9",)),
        ('[[machine.zone]]\nname = "coolant tank"\nbox = []\n', ()),
        ("[[tools.pocket]]\nnumber = 3\nat = []\n", ()),
        ('[materials.brass]\nkc = "9 MPa"\n[job]\nmaterial = "brass"\n', ()),
    ],
)
def test_a_new_thing_is_told_whole_and_named(text: str, sets: tuple[str, ...]) -> None:
    overlay = over(text, sets)
    assert strangers(overlay, THERE) == []
    assert len(newcomers(overlay, THERE)) == 1


def test_names_that_the_shop_has_are_no_newcomers() -> None:
    text = '[tools.T03]\nLF = "1 mm"\n[tools.setter]\nrepeatability = "1 µm"\n[[machine.zone]]\nname = "rack"\n[[tools.pocket]]\nnumber = 1\n'
    assert newcomers(over(text), THERE) == ()
    assert newcomers(load_overlay(None, ("tools.em6.LF=1 mm",)), THERE) == ()
