"""Where a job's program goes in the machine, by cases worked by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from firstoff.errors import InputError
from firstoff.facts.shop import Shop, load_shop
from firstoff.workflows.machine_reach import JobPlace, job_place

MACHINE = """
[shop]
name = "A mill"
[axis.x]
travel = "0 mm .. 300 mm"
[control]
base = "plain"
units_at_start = "mm"
wcs_at_start = "G54"
t_means = "pocket"
m6 = "changes"
g43_acts = "at once"
"""
TOOLS = '[tool.em6]\nkind = "flat"\nDC = "6 mm"\nLF = "70 mm"\n[[pocket]]\nnumber = 1\ntool = "em6"\nat = ["1 mm", "1 mm", "-1 mm"]\n'
JOB = """
program = "program.nc"
[tools]
1 = "em6"
[offset.G54]
at = ["100 mm", "50 mm", "-150 mm"]
[stock]
box = ["0 mm .. 20 mm", "0 mm .. 10 mm", "-6 mm .. 0 mm"]
"""
HEAD = "G21 G90 G17 G54\nT1 M6\nG0 X-5 Y-5\nG43 Z25 H1\n"


def shop_with(folder: Path, program: str, job: str = JOB) -> Shop:
    """A small shop with one job."""
    (folder / "jobs" / "one").mkdir(parents=True)
    (folder / "machine.toml").write_text(MACHINE)
    (folder / "tools.toml").write_text(TOOLS)
    (folder / "jobs" / "one" / "job.toml").write_text(job)
    (folder / "jobs" / "one" / "program.nc").write_text(program)
    return load_shop(folder)


def place_of(folder: Path, program: str, job: str = JOB) -> JobPlace:
    return job_place(shop_with(folder, program, job), "one")


def test_the_reach_is_the_programs_extents_moved_by_the_zero(tmp_path: Path) -> None:
    # X -5 to 20 at 100, Y -5 to 10 at 50, Z -3 to 25 at -150; sideways rapids at Z 25 and, the lower, at Z 5
    found = place_of(tmp_path, HEAD + "S8000 M3\nG1 Z-3 F200\nX20 F400\nY10\nG0 Z5\nG0 X0 Y0\nG0 Z25\nM30\n")
    assert found.why_not == ""
    assert found.zeros == {"G54": (100.0, 50.0, -150.0)}
    assert found.reach is not None
    assert found.reach.spans == ((95.0, 120.0), (45.0, 60.0), (-153.0, -125.0))
    assert found.reach.rapid_z == -145.0
    assert found.tools == (1,)


def test_the_bulge_of_an_arc_is_reached_too(tmp_path: Path) -> None:
    # half a circle of radius 10 from (0, 0) to (20, 0), clockwise over (10, 10)
    found = place_of(tmp_path, HEAD + "S8000 M3\nG0 X0 Y0\nG1 Z-1 F200\nG2 X20 Y0 I10 J0 F300\nG0 Z25\nM30\n")
    assert found.reach is not None
    assert found.reach.spans[1] == pytest.approx((45.0, 60.0))


def test_home_and_the_machines_own_frame_are_no_part_of_the_reach(tmp_path: Path) -> None:
    found = place_of(tmp_path, HEAD + "G53 G0 Z0\nG53 G0 X250 Y200\nM30\n")
    assert found.reach is not None
    assert found.reach.spans[0] == (95.0, 95.0)


def test_without_its_zero_nothing_is_drawn_and_it_is_said(tmp_path: Path) -> None:
    job = JOB.replace('[offset.G54]\nat = ["100 mm", "50 mm", "-150 mm"]\n', "")
    found = place_of(tmp_path, HEAD + "M30\n", job)
    assert found.reach is not None
    assert found.reach.spans == (None, None, None)
    assert found.why_not == "no zero of its program is known"


def test_a_program_too_long_to_look_at_is_not_read(tmp_path: Path) -> None:
    found = place_of(tmp_path, HEAD + "(" + "x" * 80 + ")\n" + "G1 X1 F100\nG1 X2\n" * 25_000)
    assert found.reach is None
    assert found.why_not == "its program is too long to be looked at here"


def test_a_job_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        job_place(shop_with(tmp_path, HEAD), "two")
