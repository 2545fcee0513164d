"""The commands of the crib, as a person types them."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest

from firstoff.cli.crib import crib

from .conftest import Run

MACHINE = '[shop]\nname = "Mill"\n[control]\nt_means = "pocket"\n'
TOOLS = """
[holder.c6]
steps = [["20 mm", "49 mm"]]
grips = "5.5 mm .. 6 mm"
[holder.c3]
steps = [["16 mm", "49 mm"]]
grips = "2.5 mm .. 3 mm"
[setter]
repeatability = { value = "2.0(2) µm", evidence = "measured" }
drift = "8(1) µm"
[rack]
gap = "1 mm"
[tool.em6]
kind = "flat"
DC = "6 mm"
APMX = "13 mm"
DMM = { value = "6.000(5) mm", evidence = "plate" }
OHX = "22.0(3) mm"
LF = { value = "71.315(2) mm", evidence = "measured", on = 2026-05-01 }   # on the setter
held_in = "c6"
wear_allowed = "0.02 mm"
life = "90 min"
used_up = "100 min"
sister = ["em6-b"]
[tool.em6-b]
kind = "flat"
DC = "6 mm"
APMX = "13 mm"
DMM = { value = "6.000(5) mm", evidence = "plate" }
OHX = "22.0(3) mm"
LF = { value = "71.350(2) mm", evidence = "measured", on = 2026-05-01 }
wear_allowed = "0.02 mm"
holder = [["20 mm", "49 mm"]]
place = "drawer 2"
[tool.dr3]
kind = "drill"
DC = "3 mm"
SIG = "130 deg"
APMX = "16 mm"
DMM = { value = "3.000(5) mm", evidence = "plate" }
[tool.bull]
kind = "flat"
DC = "3 mm"
APMX = "8 mm"
DMM = { value = "3.000(5) mm", evidence = "plate" }
OHX = "20.0(3) mm"
LF = { value = "69.0(1) mm", evidence = "measured", on = 2026-05-01 }
held_in = "c3"
[[pocket]]
number = 1
tool = "em6"
at = ["300.0(1) mm", "0.0(1) mm", "-100.0(1) mm"]
[[pocket]]
number = 2
at = ["300.0(1) mm", "24.0(1) mm", "-100.0(1) mm"]
[[pocket]]
number = 3
tool = "bull"
at = ["300.0(1) mm", "48.0(1) mm", "-100.0(1) mm"]
"""
JOBS = {"plate": '1 = "em6"\n2 = "dr3"\n', "lid": '1 = "em6-b"\n', "cap": '1 = "em6"\n'}


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    (tmp_path / "machine.toml").write_text(MACHINE)
    (tmp_path / "tools.toml").write_text(TOOLS)
    for name, tools in JOBS.items():
        folder = tmp_path / "jobs" / name
        folder.mkdir(parents=True)
        (folder / "job.toml").write_text(f'program = "program.nc"\n[tools]\n{tools}')
        (folder / "program.nc").write_text("G21\nM30\n")
    return tmp_path


def record(done: object) -> dict[str, object]:
    found: dict[str, object] = json.loads(done.stdout)  # type: ignore[attr-defined]
    return found


def test_the_list_says_where_everything_is(firstoff: Run, shop: Path) -> None:
    done = firstoff("crib", "list", "--html", "crib.html")
    assert done.returncode == 0
    for words in (
        "pocket 1",
        "71.3150(20) mm",
        "drawer 2",
        "no holder",
        "111% used",
        "em6-b may stand in",
        "Empty pockets: 2.",
    ):
        assert words in done.stdout, words
    found = record(firstoff("crib", "list", "--json"))
    assert found["schema"] == "firstoff.crib/1"
    assert [one["name"] for one in found["tools"]] == ["em6", "em6-b", "dr3", "bull"]  # type: ignore[attr-defined,index]
    page = (shop / "crib.html").read_text()
    assert page.startswith("<!doctype html>")
    assert "firstoff:crib-list" in page
    assert not re.search(r'(src|href)="http', page)
    assert firstoff("crib", "list", "--html", "tools.toml").returncode == 2  # never over a file that is not ours


def test_loading_and_refusing(firstoff: Run, shop: Path) -> None:
    refused = firstoff("crib", "load", "em6-b", "1")
    assert refused.returncode == 2
    assert "pocket 1 holds em6" in refused.stderr
    done = firstoff("crib", "load", "em6-b", "2", "--why", "for the lid")
    assert "tools.pocket.2.tool: not stated, now em6-b" in done.stdout
    assert "The length check" not in done.stdout
    listed = firstoff("crib", "list").stdout
    assert "The length check cannot tell em6 from em6-b" in " ".join(listed.split())
    assert "# on the setter" in (shop / "tools.toml").read_text()
    assert "No length window for bull: no wear_allowed." in listed
    swapped = record(firstoff("crib", "swap", "em6", "em6-b", "--json"))
    assert {one["path"] for one in swapped["changed"]} == {"tools.pocket.1.tool", "tools.pocket.2.tool"}  # type: ignore[attr-defined,index]
    assert firstoff("crib", "unload", "2", "--to", "box").returncode == 0
    past = record(firstoff("fact", "tools.pocket.2.tool", "--json"))
    assert [one["why"] for one in past["facts"][0]["past"]] == ["for the lid", "", ""]  # type: ignore[index]


def test_a_length_is_measured_checked_and_kept(firstoff: Run, shop: Path) -> None:
    assert firstoff("crib", "check", "em6", "71.31", "71.312").returncode == 0
    broken = firstoff("crib", "check", "em6", "70.6")
    assert broken.returncode == 5
    assert "Broken" in broken.stdout
    assert firstoff("crib", "check", "em6", "71.272").returncode == 4
    assert record(firstoff("crib", "check", "em6", "72.4", "--json"))["outcome"] == "cannot tell"
    lacking = firstoff("crib", "check", "bull", "69.0")
    assert lacking.returncode == 2
    assert "tools.bull.wear_allowed" in lacking.stderr
    done = firstoff("crib", "length", "em6", "71.308", "71.311", "71.309")
    assert "em6 is 71.3093(11) mm long, from 3 readings with the setter's own repeatability" in " ".join(
        done.stdout.split()
    )
    drift = record(firstoff("crib", "drift", "em6", "--json"))
    assert [round(one["LF"], 4) for one in drift["tools"][0]["points"]] == [71.315, 71.3093]  # type: ignore[index]
    assert firstoff("crib", "length", "em6", "71.3", "71.4").returncode == 2
    assert "71.3093(11) mm" in firstoff("crib", "drift").stdout


def test_a_length_that_cannot_be_is_refused(firstoff: Run, shop: Path) -> None:
    before = (shop / "tools.toml").read_bytes()
    for reading, words in (
        ("713.1", "em6 would be 641.785 mm longer than its 71.315 mm"),
        ("61.315", "em6 would be 10.000 mm shorter than its 71.315 mm"),
        ("-5", "this is no length"),
    ):
        refused = firstoff("crib", "length", "em6", reading)
        said = " ".join(refused.stderr.split())
        assert refused.returncode == 2, reading
        assert words in said
        assert (shop / "tools.toml").read_bytes() == before
    said = " ".join(firstoff("crib", "length", "em6", "61.315").stderr.split())
    assert "firstoff crib fresh em6, or firstoff crib grip em6 c6, first; or --yes" in said
    assert firstoff("crib", "grip", "em6", "c6", "--stick-out", "22.0(3) mm").returncode == 0
    parts = firstoff("crib", "length", "em6", "713.1")
    assert parts.returncode == 2
    assert "sticks out 22.000 mm of a holder of 49.000 mm: together 71.000 mm" in " ".join(parts.stderr.split())
    assert firstoff("crib", "length", "em6", "71.4").returncode == 0
    assert firstoff("crib", "length", "em6", "61.315", "--yes").returncode == 0
    assert firstoff("crib", "length", "bull", "85.1").returncode == 2  # it has no window, but a length


def test_readings_that_are_none_and_facts_that_lack(firstoff: Run, shop: Path) -> None:
    for verb in ("length", "check"):
        for reading in ("abc", "-5", "0", "nan", "1e999"):
            refused = firstoff("crib", verb, "em6", reading)
            said = " ".join(refused.stderr.split())
            assert refused.returncode == 2, (verb, reading)
            assert f"this is no length. written {reading} allowed a number above 0 in mm" in said
            assert said.startswith("1 thing in the input cannot be used.")
            assert f"firstoff crib {verb} em6 71.308 71.311" in said
    lacking = firstoff("crib", "check", "dr3", "50")
    said = " ".join(lacking.stderr.split())
    assert lacking.returncode == 2
    assert said.count("has no length window") == 1
    assert "firstoff crib grip dr3 HOLDER first. firstoff crib length dr3 READING..." in said
    bare = firstoff("crib", "length", "dr3", "50")
    assert bare.returncode == 2
    assert "dr3 is in no holder" in bare.stderr
    assert firstoff("crib", "length", "dr3", "50", "--yes").returncode == 0
    assert 'firstoff set tools.dr3.wear_allowed "0.02 mm"' in said


def test_a_new_grip_and_what_it_costs(firstoff: Run, shop: Path) -> None:
    done = firstoff("crib", "grip", "em6", "c6", "--stick-out", "23.0(2) mm")
    assert "Void now: length of em6." in done.stdout
    assert "LF void" in firstoff("crib", "list").stdout
    gone = firstoff("crib", "check", "em6", "71.3")
    assert gone.returncode == 2
    assert "firstoff crib length em6 READING... measures it" in " ".join(gone.stderr.split())
    assert firstoff("crib", "length", "em6", "71.508", "71.511").returncode == 0
    assert firstoff("crib", "check", "em6", "71.510").returncode == 0
    refused = firstoff("crib", "grip", "dr3", "c3")
    assert refused.returncode == 2
    assert "holder c3 grips bull" in refused.stderr


def test_lengths_of_two_edges_are_no_wear(firstoff: Run, shop: Path) -> None:
    """A break and a new edge part the row of lengths, as does a length that the shop says by hand."""
    assert firstoff("crib", "length", "em6", "71.310").returncode == 0
    found = record(firstoff("crib", "drift", "em6", "--json"))["tools"][0]  # type: ignore[index]
    assert len(found["points"]) == 2
    time.sleep(1.1)  # lengths are dated to the second
    assert firstoff("crib", "broke", "em6", "--why", "chips packed").returncode == 0
    time.sleep(1.1)
    assert firstoff("crib", "length", "em6", "71.309").returncode == 0
    found = record(firstoff("crib", "drift", "em6", "--json"))["tools"][0]  # type: ignore[index]
    assert (len(found["points"]), len(found["earlier"])) == (1, 2)
    assert (found["mm_a_month"], found["begins_anew_mm"]) == (None, None)
    time.sleep(1.1)
    assert firstoff("crib", "length", "em6", "70.869", "--yes").returncode == 0
    words = " ".join(firstoff("crib", "drift", "em6").stdout.split())
    assert "It begins anew on" in words
    assert "440 µm shorter" in words
    assert "a month" not in words


def test_today_says_what_to_do_by_hand(firstoff: Run, shop: Path) -> None:
    stands_in = record(firstoff("crib", "today", "cap", "lid", "plate", "--json"))
    assert stands_in["plan"]["hand_changes"] == 2  # type: ignore[index]
    assert stands_in["plan"]["jobs"][2]["stand_in"] == {"1": "em6-b"}  # type: ignore[index]
    (shop / "tools.toml").write_text(TOOLS.replace('sister = ["em6-b"]\n', ""))
    done = firstoff("crib", "today", "cap", "lid", "plate")
    said = " ".join(done.stdout.split())
    assert done.returncode == 0
    assert "dr3 into holder c3, which now grips bull: length and stick-out of bull are void then." in said
    assert "Nobody can tell whether dr3 fits beside its neighbours" in said
    assert "The edge of em6 has cut longer than it is expected to last." in said
    assert "3 changes by hand" in said
    assert "In the order" in said
    assert "it takes 1 less." in said
    found = record(firstoff("crib", "today", "cap", "lid", "plate", "--json"))
    assert (found["plan"]["hand_changes"], found["better_order"]["hand_changes"]) == (3, 2)  # type: ignore[index]
    assert found["grip"] == [{"holder": "c3", "tool": "dr3", "torn_down": "bull"}]
    assert firstoff("crib", "today", "cap", "cap").returncode == 2


def test_a_job_that_the_rack_cannot_serve(firstoff: Run, shop: Path) -> None:
    (shop / "jobs" / "cap" / "job.toml").write_text('program = "program.nc"\n[tools]\n9 = "em6"\n')
    done = firstoff("crib", "today", "cap")
    assert done.returncode == 5
    assert "cap, even alone: the rack has no pocket for T9." in done.stdout


def test_tools_go_out_and_come_in(firstoff: Run, shop: Path) -> None:
    assert firstoff("crib", "export", "tools.csv").returncode == 0
    assert firstoff("crib", "export", "tools.csv").returncode == 2
    before = (shop / "tools.toml").read_bytes()
    assert "The shop says all of it already." in firstoff("crib", "import", "tools.csv").stdout
    table = (shop / "tools.csv").read_text().replace("\nbull,", "\nbull-2,")
    (shop / "tools.csv").write_text(table)
    look = firstoff("crib", "import", "tools.csv", "--look")
    assert "tools.bull-2.LF: not stated, now 69.00(10) mm" in look.stdout
    assert (shop / "tools.toml").read_bytes() == before
    assert firstoff("crib", "import", "tools.csv", "--why", "the other drawer").returncode == 0
    assert "[tool.bull-2]" in (shop / "tools.toml").read_text()
    assert (shop / "tools.toml").read_text().startswith(TOOLS[:400])
    assert firstoff("crib", "export").stdout.count("\n") == 6


def test_a_plain_value_does_not_take_the_place_of_a_measured_one(firstoff: Run, shop: Path) -> None:
    before = (shop / "tools.toml").read_bytes()
    table = shop / "other.csv"
    table.write_text("name,LF [mm],APMX [mm]\nem6,71.3,13\nbull,69.0,8\n")
    for more in ((), ("--look",)):
        refused = firstoff("crib", "import", "other.csv", *more)
        said = " ".join(refused.stderr.split())
        assert refused.returncode == 2
        assert "em6: LF is 71.3150(20) mm, measured, and would be only assumed" in said
        assert "a table that also says evidence(LF) and u(LF)" in said
        assert "--yes" in said
        assert "bull" not in said  # says the same again
        assert (shop / "tools.toml").read_bytes() == before
    table.write_text("name,LF [mm],u(LF) [mm],evidence(LF)\nem6,71.3,0.002,measured\n")
    assert "LF" in firstoff("crib", "import", "other.csv", "--look").stdout
    table.write_text("name,LF [mm]\nem6,71.3\n")
    assert firstoff("crib", "import", "other.csv", "--yes").returncode == 0
    now = record(firstoff("fact", "tools.em6.LF", "--json"))["facts"][0]["now"]  # type: ignore[index]
    assert now["evidence"] == "assumed"


def test_the_table_of_the_control(firstoff: Run, shop: Path) -> None:
    (shop / "map.toml").write_text('[tools]\nlayout = "words"\nT = "T"\npocket = "P"\nlength = "Z"\n')
    (shop / "tool.tbl").write_text("T1 P1 Z70.315\nT3 P3 Z69.0\n")
    done = firstoff("crib", "compare", "map.toml", "--tools", "tool.tbl")
    said = " ".join(done.stdout.split())
    assert done.returncode == 5
    assert "T1 (em6): 70.315 mm in the control, 71.315 mm in the shop: the tip would go 1.0 mm too deep." in said
    assert "If the control is right: measure it again: firstoff crib length em6 READING..." in said
    assert "firstoff set" not in said
    found = record(firstoff("crib", "compare", "map.toml", "--tools", "tool.tbl", "--json"))
    assert found["differences"][0]["set"] is None  # type: ignore[index]
    assert found["differences"][0]["measure"] == ["firstoff", "crib", "length", "em6", "READING..."]  # type: ignore[index]
    (shop / "tool.tbl").write_text("T1 P1 Z71.315\nT3 P3 Z69.0\n")
    agreed = firstoff("crib", "compare", "map.toml", "--tools", "tool.tbl")
    assert agreed.returncode == 0
    assert "agree" in agreed.stdout
    assert firstoff("crib", "compare", "map.toml").returncode == 2
    assert firstoff("crib", "compare", "map.toml", "--offsets", "tool.tbl", "--job", "lid").returncode == 2


def test_what_comparing_proposes_can_be_done(firstoff: Run, shop: Path) -> None:
    """Each command that is proposed is done as it stands there, and the two agree then."""
    at = '["10.00(1) mm", "20.00(1) mm", "-150.00(1) mm"]'
    (shop / "jobs" / "cap" / "job.toml").write_text(
        f'program = "program.nc"\n[tools]\n1 = "em6"\n[offset.G54]\nat = {at}\n'
    )
    (shop / "map.toml").write_text("[tools]\nT = 1\npocket = 2\nlength = 3\n[offsets]\nname = 1\nx = 2\ny = 3\nz = 4\n")
    (shop / "tools.csv").write_text("1,3,71.315\n3,1,69.0\n")
    (shop / "offsets.csv").write_text("54,10,20,-158.6\n")
    words = ("crib", "compare", "map.toml", "--tools", "tools.csv", "--offsets", "offsets.csv", "--job", "cap")
    shown = firstoff(*words)
    assert shown.returncode == 5
    said = " ".join(shown.stdout.split())
    assert 'firstoff set --job cap -- job.offset.G54.at.z "-158.6 mm"' in said
    found = record(firstoff(*words, "--json"))
    proposed = [one["set"] for one in found["differences"] if one["set"]]  # type: ignore[attr-defined]
    assert ["firstoff", "crib", "swap", "em6", "bull"] in proposed
    assert len(proposed) == 2  # the two change places once
    for one in proposed:
        done = firstoff(*one[1:])
        assert done.returncode == 0, (one, done.stderr)
    (shop / "tools.csv").write_text("1,1,69.0\n3,3,71.315\n")
    assert firstoff(*words).returncode == 0
    as_one = '{ value = ["10.00(1) mm", "20.00(1) mm", "-150.00(1) mm"], evidence = "measured" }'
    job = shop / "jobs" / "cap" / "job.toml"
    job.write_text(f'program = "program.nc"\n[tools]\n1 = "em6"\n[offset.G54]\nat = {as_one}\n')
    (one,) = record(firstoff(*words, "--json"))["differences"]  # type: ignore[misc]
    done = firstoff(*one["set"][1:])  # type: ignore[index]
    assert done.returncode == 0, (one, done.stderr)
    assert firstoff(*words).returncode == 0
    z = record(firstoff("fact", "job.offset.G54.at.z", "--job", "cap", "--json"))["facts"][0]  # type: ignore[index]
    assert (z["now"]["value"], z["now"]["evidence"]) == (-158.6, "measured")


def test_a_table_that_the_mapping_cannot_read_is_no_difference(firstoff: Run, shop: Path) -> None:
    (shop / "map.toml").write_text("[tools]\nT = 1\nlength = 7\n[offsets]\nname = 1\nx = 2\ny = 3\nz = 4\n")
    (shop / "tools.csv").write_text("1,3,71.315\n3,1,69.0\n")
    for option in (("--tools", "tools.csv"), ("--offsets", "tools.csv", "--job", "cap")):
        done = firstoff("crib", "compare", "map.toml", *option)
        assert done.returncode == 2
        assert "no line could be read with this mapping" in " ".join(done.stderr.split())
        assert "difference" not in done.stdout


def test_the_spindle_a_break_and_a_new_cutter(firstoff: Run, shop: Path) -> None:
    assert firstoff("crib", "spindle", "em6").returncode == 0
    assert "spindle (1)" in firstoff("crib", "list").stdout
    assert firstoff("crib", "spindle").returncode == 2
    assert "bull is marked suspect" in firstoff("crib", "broke", "bull", "--why", "chips packed in a slot").stdout
    assert "chips packed in a slot" in " ".join(firstoff("crib", "list").stdout.split())
    assert "Void now: length and stick-out of bull." in firstoff("crib", "fresh", "bull").stdout
    assert firstoff("crib", "spindle", "--empty").returncode == 0
    assert firstoff("crib", "put", "em6-b", "box").returncode == 0
    assert firstoff("crib", "loosen", "em6").returncode == 2


def test_the_page_of_the_crib_names_every_command() -> None:
    page = (Path(__file__).parents[2] / "docs/crib.md").read_text()
    known = {command.name or "" for command in crib.registered_commands}
    assert len(known) > 12
    for name in known:
        assert re.search(rf"`(firstoff crib )?{name}\b", page), name
    assert set(re.findall(r"firstoff crib (\w+)", page)) <= known


def test_two_hands_at_one_pocket(shop: Path) -> None:
    """Two processes put two tools into the one empty pocket at once: one does, the other is told who was first, nothing is lost."""
    more = "".join(f'[tool.x{n}]\nkind = "flat"\nDC = "3 mm"\nLF = "60.0(5) mm"\n' for n in range(2))
    (shop / "tools.toml").write_text(TOOLS + more)
    command = [sys.executable, "-m", "firstoff.cli", "crib", "load"]
    running = [
        subprocess.Popen([*command, f"x{n}", "2"], cwd=shop, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        for n in range(2)
    ]
    done = [(one.communicate(timeout=120), one.returncode) for one in running]
    assert sorted(code for _, code in done) == [0, 2], done
    told = [said[1] for said, code in done if code == 2]
    assert all(re.search(r"pocket 2 holds x\d", one) for one in told), told
    text = (shop / "tools.toml").read_text()
    assert text.startswith(TOOLS[:300])
    assert len(re.findall(r'tool = "x\d"', text)) == 1


def test_a_shop_in_inches(firstoff: Run, shop: Path) -> None:
    (shop / "machine.toml").write_text(MACHINE.replace("[control]", 'show = "inch"\n[control]'))
    done = firstoff("crib", "length", "em6", "2.8077", "2.8078")
    assert "em6 is 2.807750(56) in long" in done.stdout
    found = record(firstoff("crib", "list", "--json"))
    assert found["tools"][0]["LF"]["value"] == pytest.approx(2.80775 * 25.4, abs=1e-4)  # type: ignore[index]
    assert firstoff("crib", "check", "em6", "2.8077").returncode == 0
