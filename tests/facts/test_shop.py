"""Finding and loading the shop: which folder, which files, which paths, which stamps."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.facts.derived import is_taken
from firstoff.facts.fact import Evidence, Where
from firstoff.facts.job import Given, load_job
from firstoff.facts.shop import digest, find_shop, load_shop, no_shop

CONTRACTS = Path(__file__).parents[3] / "shared" / "CONTRACTS.md"

FIVE_LINES = """
axis = { x.travel = "0 .. 310 mm", y.travel = "0 .. 215 mm", z.travel = "-120 .. 0 mm" }
spindle = { speed = "5000 .. 24000 1/min", directions = ["cw"] }
"""
FIVE_LINES_JOB = """
program = "plate.nc"
material = "al-6082"
tools = { 3 = "em6" }
offset.G54.at = ["121.4 mm", "88.1 mm", "-96.5 mm"]
stock.box = ["0 .. 64 mm", "0 .. 40 mm", "-14 .. 0 mm"]
around = { highest_around = "-6 mm", allowed_below = "-14.5 mm" }
holding = { kind = "vice", force = "2.4 kN" }
"""


def make(folder: Path, **files: str) -> Path:
    for name, text in files.items():
        path = folder / name.replace("__", "/").replace("_toml", ".toml").replace("_nc", ".nc")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)
    return folder


PATHS = """
machine.axis.x.travel.low machine.axis.x.travel.high machine.axis.x.max_feed machine.axis.y.accel machine.axis.z.jerk
machine.spindle.speed.low machine.spindle.speed.high machine.spindle.run_up machine.spindle.stiffness
machine.spindle.nose.0.diameter machine.spindle.nose.0.length machine.spindle.power_s1.1.power
machine.spindle.power_s6.0.power machine.spindle.power_s6.on_share machine.spindle.power_s6.cycle
machine.changer.change_time machine.zone.setter.box.x.low machine.zone.setter.box.z.high machine.control.block_rate
machine.control.look_ahead machine.control.corner_tolerance machine.home.G28.x machine.home.G30.z machine.today.warm
machine.today.air machine.judgement.machine.care_above machine.judgement.clearance.stop_below tools.em6.DC
tools.em6.LF tools.em6.holder.1.diameter tools.em6.holder.1.length tools.drill3.SIG tools.m3.TP tools.pocket.1.at.x
materials.al-6082.kc materials.al-6082.kc.at materials.al-6082.mc materials.al-6082.radial_ratio job.offset.G54.at.z
job.stock.box.x.low job.around.highest_around job.around.allowed_below job.fixture.0.box.y.high job.holding.force
job.feature.0.size job.feature.0.tol job.ask.finish_rz
"""

# ---- finding -------------------------------------------------------------------------------------------------------


def test_given_folder_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    given = make(tmp_path / "given", machine_toml="[shop]\n")
    named = make(tmp_path / "named", machine_toml="[shop]\n")
    around = make(tmp_path / "around", machine_toml="[shop]\n", jobs__a__program_nc="M30")
    program = around / "jobs/a/program.nc"
    monkeypatch.setenv("FIRSTOFF_SHOP", str(named))
    assert find_shop(program, given) == given
    assert find_shop(program, given / "machine.toml") == given
    assert find_shop(program) == named
    monkeypatch.delenv("FIRSTOFF_SHOP")
    assert find_shop(program) == around
    assert find_shop(around / "jobs") == around


def test_then_above_the_current_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = make(tmp_path / "shop", machine_toml="[shop]\n", jobs__a__program_nc="M30")
    elsewhere = make(tmp_path / "elsewhere", x_nc="M30") / "x.nc"
    assert find_shop(elsewhere) is None
    assert find_shop() is None
    monkeypatch.chdir(shop / "jobs/a")
    assert find_shop(elsewhere) == shop
    assert find_shop(Path("a")) == shop
    assert find_shop() == shop


@pytest.mark.parametrize("how", ["--shop", "FIRSTOFF_SHOP"])
def test_named_folder_that_is_no_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: str) -> None:
    if how == "FIRSTOFF_SHOP":
        monkeypatch.setenv("FIRSTOFF_SHOP", str(tmp_path))
    with pytest.raises(InputError, match=f"{how} names a folder without machine.toml") as caught:
        find_shop(None, tmp_path if how == "--shop" else None)
    assert str(tmp_path) in str(caught.value)
    with pytest.raises(InputError, match="names no folder"):
        find_shop(None, tmp_path / "nothing")


# ---- loading -------------------------------------------------------------------------------------------------------


def test_five_lines_are_enough(tmp_path: Path) -> None:
    shop = load_shop(make(tmp_path, machine_toml=FIVE_LINES, tools_toml='tool.em6 = { DC = "6 mm", LF = "88 mm" }\n'))
    make(tmp_path, jobs__a__job_toml=FIVE_LINES_JOB, jobs__a__plate_nc="M30")
    facts = load_job("a", shop).facts
    assert facts.facts["machine.axis.z.travel.low"].value == -120
    assert facts.facts["machine.axis.z.travel.low"].where == Where("machine.toml", 2)
    assert facts.facts["machine.spindle.speed.high"].value == 400
    assert facts.facts["tools.em6.LF"].u == 0.5
    assert facts.facts["job.stock.box.z.low"].value == -14
    assert facts.facts["job.around.allowed_below"].value == -14.5
    assert facts.settings["job.tools.3"].value == "em6"
    assert facts.settings["job.material"].value == "al-6082"
    assert facts.facts["materials.al-6082.kc"].evidence is Evidence.HANDBOOK


def test_only_machine_toml_must_be_there(tmp_path: Path) -> None:
    shop = load_shop(make(tmp_path / "my-mill", machine_toml='[axis.x]\ntravel = "0 .. 5 mm"\n'))
    assert (shop.name, shop.show, shop.tool_names, shop.job_names) == ("my-mill", "mm", (), ())
    assert list(shop.facts.facts) == ["machine.axis.x.travel.low", "machine.axis.x.travel.high"]
    with pytest.raises(InputError, match=r"machine\.toml: cannot be read"):
        load_shop(tmp_path)


def test_paths_of_the_full_shop(full_shop: Path) -> None:
    facts = load_job("first", load_shop(full_shop)).facts
    numbers, settings = facts.facts, facts.settings
    for path in PATHS.split():
        assert path in numbers, path
        assert numbers[path].path == path
        assert numbers[path].where.line, path
    for path, value in {
        "machine.name": "My mill",
        "machine.show": "mm",
        "machine.spindle.directions": ("cw",),
        "machine.control.rapid_path": "straight",
        "machine.control.program_folders": ("subprograms",),
        "machine.control.own_m_codes.31": "nothing moves",
        "machine.today.homed": True,
        "machine.today.on": datetime(2026, 5, 4, 7, 40),
        "tools.em6.ZEFP": 3,
        "tools.em6.centre_cutting": True,
        "tools.pocket.1.tool": "em6",
        "tools.register.1.T": 1,
        "tools.register.1.H": 1,
        "tools.register.1.tool": "em6",
        "materials.al-6082.coolant": ("flood", "mist", "air"),
        "job.program": "program.nc",
        "job.material": "al-6082",
        "job.tools.1": "em6",
        "job.offset.G54.zero": "top, front left corner",
        "job.fixture.0.name": "fixed jaw",
        "job.holding.kind": "vice",
        "job.feature.0.tool": 1,
    }.items():
        assert settings[path].value == value, path
    assert not [path for path in (*numbers, *settings) if "sources" in path or "publication" in path]


def _one_a_line(match: re.Match[str]) -> str:
    """The page prints the keys of a feature side by side to save room, and says so."""
    return match[0].replace("; ", "\n")


@pytest.mark.skipif(not CONTRACTS.exists(), reason="the page of contracts lies beside the checkout, not in it")
def test_the_shop_of_the_contracts_page_loads(tmp_path: Path) -> None:
    blocks = re.findall(r"```toml\n(.*?)```", CONTRACTS.read_text(), re.DOTALL)
    names = ("machine__toml", "tools__toml", "materials__toml", "jobs__float-cap__job__toml")
    for name, block in zip(names, blocks, strict=True):
        make(tmp_path, **{name.replace("__toml", "_toml"): re.sub(r"^what = .*$", _one_a_line, block, flags=re.M)})
    make(tmp_path, **{"jobs__float-cap__program_nc": "M30"})
    facts = load_job("float-cap", load_shop(tmp_path)).facts
    assert len(facts.facts) > 80
    assert (facts.facts["machine.axis.x.travel.low"].value, facts.facts["machine.axis.x.travel.low"].df) == (-2, 4)
    assert facts.facts["tools.em6.LF"].df == 9


def test_what_is_decided_is_exact(full_shop: Path) -> None:
    for fact in load_job("first", load_shop(full_shop)).facts.facts.values():
        decided = ("machine.judgement.", "job.ask.", "job.feature.", "job.around.allowed_below", "tools.rack.gap")
        if fact.path.startswith(decided) or re.search(r"\.wear_allowed$|\.grips\.", fact.path):
            assert (fact.u, fact.evidence) == (0.0, Evidence.SET), fact.path
        elif not re.search(r"look_ahead|\.speed$|on_share|cycle|kc\.at|correlation", fact.path):
            assert fact.u > 0, fact.path


def test_internal_units(full_shop: Path) -> None:
    units = {fact.unit for fact in load_job("first", load_shop(full_shop)).facts.facts.values()}
    assert units <= {"mm", "s", "N", "W", "rad", "mm/s", "1/s", "mm/s²", "mm/s³", "N/mm", "N/mm²", "N·mm·s²", "1"}


def test_stamps_follow_the_files(full_shop: Path) -> None:
    before = load_shop(full_shop)
    assert [file.path.name for file in before.files] == ["machine.toml", "tools.toml", "materials.toml"]
    assert digest(before) == digest(load_shop(full_shop))
    (full_shop / "tools.toml").write_text((full_shop / "tools.toml").read_text() + "# one more comment\n")
    after = load_shop(full_shop)
    assert digest(before) != digest(after)
    assert [a == b for a, b in zip(before.files, after.files, strict=True)] == [True, False, True]


def test_no_shop_knows_nothing() -> None:
    shop = no_shop()
    assert shop.folder is None
    assert not shop.facts.facts
    assert not shop.facts.settings


def test_shop_is_frozen(full_shop: Path) -> None:
    shop = load_shop(full_shop)
    with pytest.raises(AttributeError):
        shop.name = "other"  # type: ignore[misc]
    with pytest.raises(ValueError, match="frozen"):
        shop.machine.axis = None


# ---- materials -----------------------------------------------------------------------------------------------------


def job_in(folder: Path, materials: str, material: str = "al-6082") -> dict[str, float]:
    make(folder, machine_toml="[shop]\n", jobs__a__program_nc="M30", materials_toml=materials)
    make(folder, jobs__a__job_toml=f'program = "program.nc"\nmaterial = "{material}"\n')
    facts = load_job("a", load_shop(folder)).facts.facts
    return {path: fact.value for path, fact in facts.items() if path.startswith("materials.") and not is_taken(fact)}


def test_own_constants_come_first_and_shipped_ones_fill_in(tmp_path: Path) -> None:
    own = '[material.al-6082]\nkc = { value = "700(50) N/mm^2", at = "0.02 mm", evidence = "measured" }\n'
    facts = job_in(tmp_path, own)
    assert facts["materials.al-6082.kc"] == 700
    assert facts["materials.al-6082.kc.at"] == 0.02
    assert facts["materials.al-6082.mc"] == 0.26


def test_another_temper_stands_alone(tmp_path: Path) -> None:
    assert job_in(tmp_path, '[material.al-6082]\ntemper = "O"\nmc = "0.3"\n') == {"materials.al-6082.mc": 0.3}


def test_only_the_job_s_material_is_taken_from_the_table(tmp_path: Path) -> None:
    facts = job_in(tmp_path, "# nothing of our own\n", "pom")
    assert {path.split(".")[1] for path in facts} == {"pom"}


# ---- bare programs and arguments -----------------------------------------------------------------------------------


def test_argument_of_examine(full_shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shop = load_shop(full_shop)
    job = full_shop / "jobs/first"
    for argument in ("first", job, job / "job.toml"):
        loaded = load_job(argument, shop)
        assert (loaded.name, loaded.bare, loaded.program) == ("first", False, job / "program.nc")
        assert loaded.tools == {1: "em6"}
        assert [file.path.name for file in loaded.files] == ["job.toml"]
    bare = load_job(job / "program.nc", shop)
    assert (bare.name, bare.bare) == ("program", True)
    monkeypatch.chdir(job)
    assert not load_job(".", shop).bare
    assert load_job("program.nc", shop).bare


@pytest.mark.parametrize("argument", ["frist", "jobs", "program.cn", "", "/"])
def test_argument_that_is_nothing(full_shop: Path, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        load_job(argument, load_shop(full_shop))
    assert caught.value.faults[0].allowed
    if argument == "frist":
        assert "nearest: first" in str(caught.value)


def test_bare_program_with_options(full_shop: Path) -> None:
    given = Given(
        material="pom",
        stock="box 0..80 0..50 -12.0(2)..0 mm",
        tools=("3=em6", "T4=drill3"),
        offsets=("G54=121.4(2) 88.1 -96 mm", "g55=1 mm, 2 mm, 3 mm"),
        holding="vice force=2.4(5) kN friction=0.15(4)",
        highest_around="-6 mm",
        allowed_below="-14.5 mm",
    )
    job = load_job(full_shop / "jobs/first/program.nc", load_shop(full_shop), given)
    facts, settings = job.facts.facts, job.facts.settings
    assert job.tools == {3: "em6", 4: "drill3"}
    assert (facts["job.stock.box.z.low"].value, facts["job.stock.box.z.low"].u) == (-12, 0.2)
    assert facts["job.stock.box.x.high"].value == 80
    assert (facts["job.offset.G54.at.x"].value, facts["job.offset.G54.at.x"].u) == (121.4, 0.2)
    assert facts["job.offset.G55.at.z"].value == 3
    assert (facts["job.holding.force"].value, facts["job.holding.force"].u) == (2400, 500)
    assert facts["job.holding.friction"].value == 0.15
    assert facts["job.around.highest_around"].value == -6
    assert settings["job.holding.kind"].value == "vice"
    assert settings["job.material"].value == "pom"
    assert facts["job.stock.box.x.high"].where == Where("command line")


def test_bare_cylinder(full_shop: Path) -> None:
    given = Given(stock="cylinder 40 -20..0 mm", holding="clamps count=3, force=1 kN")
    job = load_job(full_shop / "jobs/first/program.nc", no_shop(), given)
    assert job.facts.facts["job.stock.cylinder.diameter"].value == 40
    assert job.facts.facts["job.stock.cylinder.z.low"].value == -20
    assert job.facts.settings["job.holding.count"].value == 3


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (Given(stock="box 1 2 3 mm"), "--stock cannot be read"),
        (Given(stock="box 0..80 0..50 -12..0"), "--stock cannot be read"),
        (Given(stock="ball 40 mm"), "--stock cannot be read"),
        (Given(stock=""), "--stock cannot be read"),
        (Given(stock="box 0..80 0..50 12..0 mm"), "low end"),
        (Given(tools=("em6",)), "--tool cannot be read"),
        (Given(tools=("x=em6",)), "must be a number"),
        (Given(tools=("3=em7",)), "nearest: em6"),
        (Given(tools=("3=em6", "3=em6")), "given twice"),
        (Given(offsets=("G54",)), "--offset cannot be read"),
        (Given(offsets=("G54=1 2 mm",)), "--offset cannot be read"),
        (Given(offsets=("G54=1 2 3 kg",)), "is a mass"),
        (Given(offsets=("G5=1 2 3 mm",)), "no such work offset"),
        (Given(holding="nails"), "not one of its words"),
        (Given(holding="vice force"), "--holding cannot be read"),
        (Given(holding="vice weight=3 kg"), "unknown key"),
        (Given(holding="vice area=3 mm^2"), "does not belong to a vice"),
        (Given(material="al-6028"), "nearest: al-6082"),
        (Given(highest_around="high"), "there is no number"),
    ],
)
def test_options_that_cannot_be(full_shop: Path, given: Given, words: str) -> None:
    program = full_shop / "jobs/first/program.nc"
    with pytest.raises(InputError, match=re.escape(words)) as caught:
        load_job(program, load_shop(full_shop), given)
    assert all(fault.file == "command line" for fault in caught.value.faults)
    assert all(fault.allowed or fault.do for fault in caught.value.faults)


def test_options_do_not_go_with_a_job(full_shop: Path) -> None:
    with pytest.raises(InputError, match="options are for a bare program: --material --tool"):
        load_job("first", load_shop(full_shop), Given(material="pom", tools=("1=em6",)))


# ---- what importing costs ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("module", "absent"),
    [
        ("firstoff.facts.fact", ("pint", "pydantic", "numpy")),
        ("firstoff.facts.control", ("pint", "pydantic", "numpy")),
        ("firstoff.facts.quantity", ("pint", "pydantic", "numpy")),
        ("firstoff.facts.shop", ("pint", "numba", "scipy")),
        ("firstoff.facts.job", ("pint", "numba", "scipy")),
    ],
)
def test_imports_stay_light(module: str, absent: tuple[str, ...]) -> None:
    code = f"import {module}, sys; print(*[name for name in {absent!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
