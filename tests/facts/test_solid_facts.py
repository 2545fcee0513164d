"""Facts about shapes, holding and what is asked: what is read, and what cannot be."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstoff.errors import InputError
from firstoff.facts.features import feature_kind
from firstoff.facts.held import AfterCutFree, after_cut_free
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop

from .test_faults import change, faults_of

JOB = "jobs/first/job.toml"
BLANK = 'box = ["0(1) mm .. 64(1) mm", "0(1) mm .. 40(1) mm", "-14.0(2) mm .. 0.4(4) mm"]'
JAW = 'box = ["-30 mm .. 0 mm", "5 mm .. 35 mm", "-20 mm .. -8 mm"]'


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("machine.toml", '"60(20) Hz"', '"60 N"', "is a force, not a frequency"),
        ("machine.toml", '"5000 1/min .. 24000 1/min"', '"5000 .. 24000 Hz"', "Hz is the supply's frequency"),
        ("machine.toml", '"5(3) N/µm"', '["5 N/µm", "4 N/µm"]', "frame.stiffness: this must be a list of three"),
        ("machine.toml", '"0.00010(3) kg m^2"', '"0.1 kg"', "is a mass, not a moment of inertia"),
        ("tools.toml", 'SIG = "130 deg"', 'SIG = "3 deg"', "tool drill3: no tool has this point angle: 3 deg"),
        ("tools.toml", 'KAPR = "86 deg"', 'KAPR = "4 deg"', "tool cone: its edge cannot stand like this: 4 deg"),
        ("tools.toml", 'LU = "18 mm"', 'LU = "12 mm"', "tool em6: APMX is longer than LU: 13 mm"),
        ("tools.toml", '"2.4 mm"', '"6 mm"', "dead_diameter is not below DC: 6 mm. Allowed: less than DC, 6 mm"),
        ("tools.toml", '"0.12(4) mm"', '"12 µm"', ""),
        ("tools.toml", '"0.12(4) mm"', '"12 mm"', "a chip as thick as the tool"),
        ("tools.toml", '"580(30) GPa"', '"58 N/mm^2"', "modulus: this value is impossible: 58 N/mm^2"),
        ("tools.toml", '"0.80(5)"', '"1.2"', "impossible: 1.2"),
        ("tools.toml", 'kind = "drill"\nDC = "3.00(2) mm"', 'kind = "lollipop"\nDC = "3 mm"\nDN = "3 mm"', "its neck is not thinner"),
        ("tools.toml", 'kind = "drill"', 'kind = "tee"\nAPMX = "1 mm"\nRE = "0.8 mm"', "two corners are higher than the disc"),
        ("tools.toml", 'kind = "drill"', 'kind = "chamfer"\nAPMX = "0.2 mm"', "its cone is higher than APMX"),
        ("tools.toml", 'kind = "drill"', 'kind = "chamfer"\nKAPR = "90 deg"', "an upright edge makes no chamfer"),
        ("tools.toml", 'kind = "drill"', 'profile = [["0 mm", "1 mm"]]', "does not begin at the tip: [0, 1]"),
        ("tools.toml", 'kind = "drill"', 'profile = [["1 mm", "0 mm"], ["1 mm", "2 mm"], ["0 mm", "1 mm"]]', "goes down again"),
        ("tools.toml", 'kind = "drill"', 'profile = [["2 mm", "0 mm"]]', "wider than DC: [2, 0]. Allowed: radii up to 1.5 mm"),
        ("materials.toml", "kc_mc_correlation = -0.3", "kc_mc_correlation = -1.3", "impossible: -1.3"),
        ("materials.toml", 'mc = "0.25(5)"', "", "kc_mc_correlation needs the keys kc and mc"),
        ("materials.toml", '"12(5) N/mm"', '"12 N/mm^2"', "not a force per length of edge"),
        (JOB, JAW, "", "fixture[1] says nothing. Allowed: exactly one of box, cylinder, stl"),
        (JOB, JAW, JAW + '\ncylinder = { diameter = "9 mm", z = "-9 .. 0 mm" }', "fixture[1] is said in two ways: box, cyl"),
        (JOB, JAW, 'stl = "jaw.stl"', "no such file: jaw.stl"),
        (JOB, BLANK, 'stl = "blank.stl"', "no such file: blank.stl"),
        (JOB, BLANK, 'after = "firt"', "no such job: firt. Allowed: nearest: first"),
        (JOB, BLANK, 'after = "first"', "a job cannot follow itself"),
        (JOB, 'material = "al-6082"', 'target = "part.stl"', "no such file: part.stl"),
        (JOB, '"8 µm"', '"8 µm"\ntarget_band = "0.1 mm"', "target_band needs the key target"),
        (JOB, 'jaw_width = "60 mm"', 'span = "60 mm"', "span does not belong to a vice"),
        (JOB, 'kind = "wall"', 'kind = "wal"', 'Nearest: "wall"'),
    ],
)  # fmt: skip
def test_each_slip_is_one_fault_with_its_line(full_shop: Path, file: str, old: str, new: str, words: str) -> None:
    line = change(full_shop, file, old, new)
    if not words:
        load_job("first", load_shop(full_shop))
        return
    found = faults_of(full_shop)
    assert len(found) == 1, found
    assert words in str(found[0])
    assert found[0].line is not None
    assert abs(found[0].line - line) <= 12  # where a pair is wrong, the line is that of one of the two


def test_jobs_that_wait_for_each_other(full_shop: Path) -> None:
    change(full_shop, JOB, BLANK, 'after = "second"')
    for name, after in (("second", "third"), ("third", "first")):
        folder = full_shop / "jobs" / name
        folder.mkdir()
        (folder / "job.toml").write_text(f'program = "program.nc"\n[stock]\nafter = "{after}"\n')
        (folder / "program.nc").write_text("M30\n")
    with pytest.raises(InputError, match="wait for each other: first after second after third after first") as caught:
        load_job("first", load_shop(full_shop))
    assert len(caught.value.faults) == 1


def test_stiffness_of_the_frame_is_one_fact_or_three(full_shop: Path) -> None:
    facts = load_job("first", load_shop(full_shop)).facts
    assert facts.facts["machine.frame.stiffness"].value == pytest.approx(5000)
    assert facts.facts["machine.frame.first_mode"].value == 60
    assert facts.facts["machine.spindle.inertia"].value == pytest.approx(0.1)  # 1 kg m² = 1 N m s² = 1000 N mm s²
    change(full_shop, "machine.toml", '"5(3) N/µm"', '{ value = ["4 N/µm", "5 N/µm", "12 N/µm"], u = "30 %" }')
    facts = load_job("first", load_shop(full_shop)).facts
    assert [facts.facts[f"machine.frame.stiffness.{axis}"].value for axis in "xyz"] == [4000, 5000, 12000]
    assert not facts.has("machine.frame.stiffness")


def test_a_round_fixture_and_files_that_are_there(full_shop: Path) -> None:
    change(full_shop, JOB, JAW, 'cylinder = { diameter = "20 mm", z = "-20 mm .. 5 mm", x = "70 mm" }')
    change(full_shop, JOB, 'material = "al-6082"', 'material = "al-6082"\ntarget = "part.stl"')
    (full_shop / "jobs/first/part.stl").write_text("solid part\nendsolid part\n")
    facts = load_job("first", load_shop(full_shop)).facts
    assert facts.facts["job.fixture.0.cylinder.diameter"].value == 20
    assert facts.facts["job.fixture.0.cylinder.z.high"].value == 5
    assert facts.settings["job.target"].value == "part.stl"


@pytest.mark.parametrize(
    ("words", "meaning"),
    [
        ("nothing is cut free", AfterCutFree("nothing free")),
        ("Nothing is cut free.", AfterCutFree("nothing free")),
        ("skin 0.2 mm", AfterCutFree("skin", 0.2)),
        ("a skin of 0.2(1) mm", AfterCutFree("skin", 0.2)),
        ("skin 200 µm", AfterCutFree("skin", 0.2)),
        ("tabs 4 x 3 mm x 0.5 mm", AfterCutFree("tabs", 0.5, 4, 3.0)),
        ("4 tabs × 3 mm × 0.5 mm", AfterCutFree("tabs", 0.5, 4, 3.0)),
        ("tape", AfterCutFree("tape")),
        ("screws", AfterCutFree("screws")),
        ("the neighbour holds it", None),
        ("skin", None),
        ("skin 0.2", None),
        ("skin -0.2 mm", None),
        ("tabs 0 x 3 mm x 0.5 mm", None),
        ("4 x 3 mm x 0.5 mm", None),
        ("no skin 0.2 mm", None),
        ("", None),
    ],
)
def test_what_holds_at_the_last_cut(words: str, meaning: AfterCutFree | None) -> None:
    found = after_cut_free(words)
    if meaning is None or found is None:
        assert found is meaning
        return
    assert (found.by, found.count, found.wide_mm) == (meaning.by, meaning.count, meaning.wide_mm)
    assert found.thick_mm == pytest.approx(meaning.thick_mm)


@given(st.text(max_size=40))
def test_any_words_are_read_or_not_understood(words: str) -> None:
    found = after_cut_free(words)
    assert found is None or found.by


@pytest.mark.parametrize(
    ("what", "kind", "expected"),
    [
        ("pocket wall", None, "wall"),
        ("outside", None, "wall"),
        ("bore", None, "wall"),
        ("pocket floor", None, "floor"),
        ("depth of the slot", None, "floor"),
        ("step between facings", None, "step"),
        ("outside contour", None, "path"),
        ("seat", None, None),
        ("seat", "floor", "floor"),
        ("pocket wall", "step", "step"),
    ],
)
def test_what_a_feature_asks_for(what: str, kind: str | None, expected: str | None) -> None:
    assert feature_kind(what, kind) == expected
