"""What tools.toml says of the crib: holders, the spindle, sisters, a new grip, a probe; and what it must not say."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.facts.assembly import Part, assembly_of
from firstoff.facts.change import all_stated
from firstoff.facts.fact import RULE
from firstoff.facts.gripped import as_gripped, moment, voided, voided_by
from firstoff.facts.shop import Shop, load_shop

CRIB = """
in_spindle = "em6"

[holder.c6]
steps = [["20.0(1) mm", "28 mm"], ["22 mm", "21 mm"]]
grips = "5.5 mm .. 6 mm"
note = "the long one"

[holder.c3]
grips = "2.5 mm .. 3 mm"

[tool.em6]
kind = "flat"
DC = "6 mm"
APMX = "13 mm"
DMM = "6 mm"
OHX = "22.0(3) mm"
LF = { value = "71.315(6) mm", evidence = "measured", on = 2026-03-01 }
held_in = "c6"
sister = ["em6-b"]
life = "90 min"
used_up = "35(5) min"
broke = 2026-02-11
broke_why = "chips packed in a slot"
wear_allowed = "0.02 mm"

[tool.em6-b]
kind = "flat"
DC = "6 mm"
place = "drawer 2"

[setter]
repeatability = { value = "2.0(3) µm", evidence = "measured" }
drift = "10 µm"
readings = 3

[rack]
gap = "1 mm"

[[pocket]]
number = 2
tool = "em6"
"""


def shop(folder: Path, text: str = CRIB) -> Shop:
    (folder / "machine.toml").write_text('[shop]\nname = "Mill"\n')
    (folder / "tools.toml").write_text(text)
    return load_shop(folder)


def test_all_of_it_is_read(tmp_path: Path) -> None:
    facts = shop(tmp_path).facts
    words = {path: setting.value for path, setting in facts.settings.items()}
    assert words["tools.in_spindle"] == "em6"  # and its pocket waits for it: no fault
    assert words["tools.em6.held_in"] == "c6"
    assert words["tools.em6.sister"] == ("em6-b",)
    assert words["tools.em6.broke"] == datetime(2026, 2, 11)
    assert words["tools.setter.readings"] == 3
    assert words["tools.em6-b.place"] == "drawer 2"
    numbers = {path: fact.value for path, fact in facts.facts.items()}
    assert numbers["tools.holder.c6.grips.low"] == 5.5
    assert numbers["tools.holder.c6.steps.1.diameter"] == 22
    assert numbers["tools.em6.life"] == 5400
    assert numbers["tools.em6.used_up"] == 2100
    assert numbers["tools.rack.gap"] == 1
    assert facts.facts["tools.rack.gap"].u == 0
    assert numbers["tools.setter.repeatability"] == pytest.approx(0.002)


def test_a_tool_has_the_steps_of_its_holder_and_says_so(tmp_path: Path) -> None:
    plain = shop(tmp_path).facts
    facts = as_gripped(plain)
    step = facts.facts["tools.em6.holder.0.diameter"]
    assert (step.value, step.u, step.where) == (20.0, 0.1, RULE)
    assert step.note == "that of holder c6"
    assert step.rests_on == ("tools.em6.held_in", "tools.holder.c6.steps.0.diameter")
    assert all_stated(facts) == all_stated(plain)
    made, _, missing = assembly_of(facts, "em6", nose=False)
    assert made is not None
    assert missing == ()
    assert max(one.r1_mm for one in made.segments if one.part is Part.HOLDER) == 11.0


def test_steps_of_its_own_go_first(tmp_path: Path) -> None:
    facts = as_gripped(shop(tmp_path, CRIB.replace("held_in", 'holder = [["18 mm", "49 mm"]]\nheld_in')).facts)
    assert facts.facts["tools.em6.holder.0.diameter"].value == 18.0
    assert "tools.em6.holder.1.diameter" not in facts.facts


def test_a_new_grip_voids_what_is_older_and_what_has_no_date(tmp_path: Path) -> None:
    plain = shop(
        tmp_path, CRIB.replace("wear_allowed", 're_gripped = 2026-03-02\ngripped = "25 mm"\nwear_allowed')
    ).facts
    assert {fact.path for fact in voided(plain, "em6")} == {"tools.em6.LF", "tools.em6.OHX", "tools.em6.gripped"}
    facts = as_gripped(plain)
    assert not {"tools.em6.LF", "tools.em6.OHX", "tools.em6.gripped"} & facts.facts.keys()
    assert "tools.em6.DC" in facts.facts
    assert voided_by(facts, "tools.em6.LF") == datetime(2026, 3, 2)
    assert voided_by(facts, "tools.em6.DC") is None
    same_day = shop(tmp_path, CRIB.replace("wear_allowed", "re_gripped = 2026-03-01\nwear_allowed")).facts
    assert {fact.path for fact in voided(same_day, "em6")} == {"tools.em6.OHX"}
    assert voided(same_day, "em6-b") == ()
    assert (moment(datetime(2026, 3, 2)), moment(datetime(2026, 3, 2, 7, 5))) == ("2026-03-02", "2026-03-02 07:05")


def test_a_shop_without_a_crib_is_as_it_was(tmp_path: Path) -> None:
    facts = shop(tmp_path, '[tool.em6]\nkind = "flat"\nDC = "6 mm"\n').facts
    assert as_gripped(facts) is facts


SECOND = '[[pocket]]\nnumber = 5\ntool = "em6"\n[[pocket]]'


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        ('in_spindle = "em6"', 'in_spindle = "em7"', "in_spindle", "no tool has this name"),
        (
            'place = "drawer 2"',
            'held_in = "c6"',
            'held_in = "c6"',
            "holder c6 grips two tools: em6 (line 19) and em6-b",
        ),
        ('held_in = "c6"', 'held_in = "c7"', "held_in", "tool em6: no holder has this name"),
        ('held_in = "c6"', 'held_in = "c3"', "held_in", "tool em6: holder c3 does not take its shank"),
        ('sister = ["em6-b"]', 'sister = ["em6-c"]', "sister", "tool em6: no tool has this name"),
        ('sister = ["em6-b"]', 'sister = ["em6"]', "sister", "tool em6: it is its own sister"),
        ('sister = ["em6-b"]', "sister = []", "sister", ""),
        ("[[pocket]]", SECOND, 'tool = "em6"', "tool in two pockets: em6 stands in 5 (line 42) and in 2"),
        ("[[pocket]]", "[[pocket]]\nnumber = 2\n[[pocket]]", "number = 2", "pocket number 2 stands there twice"),
        ("[tool.em6-b]", "[tool.rack]", "[tool.rack]", "this word is taken"),
        ("[holder.c3]", '[holder."c 3"]', '[holder."c 3"]', "the name of a holder must be one word"),
        ('grips = "2.5 mm .. 3 mm"', 'grips = "3 mm .. 2 mm"', 'grips = "3', "the low end is not below the high end"),
        ('gap = "1 mm"', 'gap = "-1 mm"', "gap", "this value is impossible"),
        ("readings = 3", "readings = 0", "readings", ""),
        ('life = "90 min"', 'life = "90 mm"', "life", ""),
    ],
)
def test_what_cannot_be_is_refused_with_its_line(tmp_path: Path, old: str, new: str, at: str, words: str) -> None:
    """The line of the last place that reads like `at`."""
    assert old in CRIB
    text = CRIB.replace(old, new, 1)
    line = text[: text.rindex(at)].count("\n") + 1
    with pytest.raises(InputError) as caught:
        shop(tmp_path, text)
    assert any(words in fault.what and fault.line == line for fault in caught.value.faults), str(caught.value)
    assert all(fault.file == "tools.toml" for fault in caught.value.faults)


PROBE = """
[tool.feeler]
kind = "probe"
DC = "2.000(2) mm"
DN = "1.5 mm"
stylus = "30 mm"
DMM = "20 mm"
OHX = "60 mm"
LF = "110 mm"
holder = [["25 mm", "50 mm"]]
"""


def test_a_probe_is_a_ball_on_a_stylus_below_its_body(tmp_path: Path) -> None:
    made, _, missing = assembly_of(shop(tmp_path, PROBE).facts, "feeler", nose=False)
    assert missing == ()
    assert made is not None
    assert (made.diameter_mm, made.corner_mm, made.length_mm) == (2.0, 1.0, 110.0)
    widths = [(one.part, one.r1_mm, one.z1_mm) for one in made.segments if one.z1_mm > one.z0_mm]
    assert widths[-1] == (Part.HOLDER, 12.5, 110.0)
    assert (Part.SHANK, 10.0, 60.0) in widths
    assert (Part.NECK, 0.75, 30.0) in widths
    assert made.body_missing == ()


@pytest.mark.parametrize("key", ["DN", "stylus", "DC"])
def test_a_probe_cannot_do_without_its_sizes(tmp_path: Path, key: str) -> None:
    text = "\n".join(line for line in PROBE.splitlines() if not line.startswith(key))
    made, _, missing = assembly_of(shop(tmp_path, text).facts, "feeler", nose=False)
    assert made is None
    assert f"tools.feeler.{key}" in missing


def test_a_stylus_is_thinner_than_its_ball(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="its neck is not thinner than its edge"):
        shop(tmp_path, PROBE.replace('DN = "1.5 mm"', 'DN = "2.5 mm"'))
