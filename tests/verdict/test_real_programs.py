"""Programs by strangers, on a made-up machine with a made-up tool table: every question is put, and none is left for want of following.

The programs are not part of this repository; without them the tests are skipped.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer
from firstoff.verdict.questions import ALL

from .conftest import NOW
from .test_questions import ONLY_IF_ASKED

PROGRAMS = Path(__file__).resolve().parents[3] / "shared" / "programs"

MACHINE = """
[shop]
name = "Invented bench mill"
[axis.x]
travel = { value = "-1(1) mm .. 421(1) mm", evidence = "measured", df = 4 }
max_feed = { value = "12.0(2) m/min", evidence = "measured" }
accel = { value = "3.0(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.y]
travel = { value = "-1(1) mm .. 301(1) mm", evidence = "measured", df = 4 }
max_feed = { value = "12.0(2) m/min", evidence = "measured" }
accel = { value = "3.0(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.z]
travel = { value = "-161(1) mm .. 0.5(2) mm", evidence = "measured", df = 4 }
max_feed = { value = "8.0(2) m/min", evidence = "measured" }
accel = { value = "2.0(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[spindle]
speed = { value = "800(20) 1/min .. 28000(150) 1/min", evidence = "plate" }
directions = ["cw"]
run_up = { value = "1.6(1) s", evidence = "measured" }
nose = [["50 mm", "40 mm"]]
power_s1 = [["800 1/min", "0.1 kW"], ["20000 1/min", "2.0 kW"], ["28000 1/min", "2.0 kW"]]
stiffness = { value = "12(2) N/µm", evidence = "measured" }
run_out = { value = "2(1) µm", evidence = "measured" }
[frame]
stiffness = { value = "9(1) N/µm", evidence = "measured" }
[changer]
change_time = "8(1) s"
[control]
base = "plain"
rapid_path = "straight"
dwell_p = "s"
look_ahead = 60
block_rate = "1000(50) 1/s"
corner_tolerance = "0.02 mm"
units_at_start = "mm"
[home]
G28 = ["0 mm", "300 mm", "0 mm"]
[today]
on = 2026-05-04T07:40:00
homed = true
warm = { value = "20 min" }
air = "6.0(1) bar"
pockets_seen = true
"""
NO_ZONE = "zone = []\n"


def tool(name: str, kind: str, diameter: str, length: str, more: str = "") -> str:
    """One tool of the made-up table, with everything that its questions need."""
    return f"""
[tool.{name}]
kind = "{kind}"
DC = {{ value = "{diameter} mm", evidence = "measured", u = "0.005 mm" }}
ZEFP = 2
APMX = "25 mm"
FHA = "30 deg"
DMM = "{diameter} mm"
OHX = "34.0(3) mm"
LF = {{ value = "{length} mm", evidence = "measured", u = "0.006 mm" }}
centre_cutting = true
condition = "new"
edge_radius = {{ value = "4(1) µm", evidence = "measured" }}
run_out = {{ value = "3(1) µm", evidence = "measured" }}
material = "carbide"
max_speed = "36000 1/min"
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
{more}"""


@dataclass(frozen=True)
class Real:
    """A program with the tools and the blank that somebody might put under it."""

    file: str
    tools: str
    meant: str
    stock: str
    zero: str
    more: str = ""


PLATE = 'allowed_below = "-60 mm"\nhighest_around = "-30 mm"\n'
REALS = (
    Real(
        "02-inspection-plate.nc",
        tool("m12", "flat", "12.0", "71.0")
        + tool("m3", "flat", "3.0", "66.0")
        + tool("c10", "chamfer", "10.0", "62.0", 'SIG = "90 deg"'),
        '10 = "m12"\n1 = "m3"\n9 = "c10"',
        'box = ["-6.0(2) mm .. 160.0(2) mm", "-42.0(2) mm .. 4.0(2) mm", "-20.0(2) mm .. 0.3(1) mm"]',
        '["120.00(2) mm", "160.00(2) mm", "-110.00(3) mm"]',
    ),
    Real(
        "04-radius-arcs.nc",
        tool("m3", "flat", "3.0", "60.0"),
        '2 = "m3"',
        'box = ["-32.0(2) mm .. 32.0(2) mm", "-34.0(2) mm .. 34.0(2) mm", "-12.0(2) mm .. 0.0(1) mm"]',
        '["150.00(2) mm", "150.00(2) mm", "-110.00(3) mm"]',
    ),
    Real(
        "05-tiny-arcs.nc",
        tool("m6", "flat", "6.0", "66.0"),
        '4 = "m6"',
        'box = ["-50.0(2) mm .. 50.0(2) mm", "-40.0(2) mm .. 55.0(2) mm", "-25.0(2) mm .. 0.0(1) mm"]',
        '["150.00(2) mm", "150.00(2) mm", "-110.00(3) mm"]',
        'touched_with = "m6"',
    ),
    Real(
        "07-v-engraving.nc",
        tool("v60", "chamfer", "6.0", "60.0", 'SIG = "60 deg"'),
        '0 = "v60"',
        'box = ["-5.0(2) mm .. 195.0(2) mm", "-5.0(2) mm .. 20.0(2) mm", "-10.0(2) mm .. 0.0(1) mm"]',
        '["100.00(2) mm", "150.00(2) mm", "-110.00(3) mm"]',
        'touched_with = "v60"',
    ),
    Real(
        "11-adaptive-plywood.nc",
        tool("m4", "flat", "4.0", "60.0"),
        '0 = "m4"',
        'box = ["0.0(2) mm .. 86.0(2) mm", "-50.0(2) mm .. 0.0(2) mm", "0.0(1) mm .. 6.0(2) mm"]',
        '["100.00(2) mm", "150.00(2) mm", "-110.00(3) mm"]',
        'touched_with = "m4"',
    ),
)


def examined(real: Real, folder: Path) -> workflows.Examination:
    """Lay the made-up shop out round a stranger's program and examine it."""
    job = folder / "jobs" / "real"
    job.mkdir(parents=True)
    (folder / "machine.toml").write_text(NO_ZONE + MACHINE)
    pockets = "".join(
        f"[[pocket]]\nnumber = {line.split()[0]}\ntool = {line.split()[2]}\n"
        for line in real.meant.splitlines()
        if not line.startswith("0 ")
    )
    (folder / "tools.toml").write_text(real.tools + "\n" + pockets)
    (job / "program.nc").write_bytes((PROGRAMS / real.file).read_bytes())
    (job / "job.toml").write_text(
        f"""program = "program.nc"
material = "al-6082"
[tools]
{real.meant}
[offset.G54]
at = {real.zero}
{real.more}
[stock]
{real.stock}
[around]
{PLATE}
[holding]
kind = "vice"
force = {{ value = "6.0(5) kN", evidence = "measured" }}
friction = {{ value = "0.15(2)", evidence = "measured" }}
grip_height = {{ value = "6.0(2) mm", evidence = "measured" }}
jaw_width = {{ value = "60(1) mm", evidence = "measured" }}
after_cut_free = "tabs 4 x 3 mm x 0.5 mm"
[[feature]]
what = "outside"
tol = "0.2 mm"
"""
    )
    return workflows.examine_job(job, now=NOW)


@pytest.mark.skipif(not PROGRAMS.is_dir(), reason="the strangers' programs are not here")
@pytest.mark.parametrize("real", REALS, ids=[one.file for one in REALS])
def test_every_question_is_put_to_a_strangers_program(real: Real, tmp_path: Path) -> None:
    examination = examined(real, tmp_path)
    assert isinstance(examination.case.followed, Followed), examination.case.followed
    answers = {one.question.id: one for one in examination.answers}
    for question, _ in ALL:
        if question.id in ONLY_IF_ASKED and question.id not in answers:
            continue
        answered = answers[question.id]
        if answered.answer is Answer.UNJUDGED:  # then for a reason that lies in the program itself, and named
            assert answered.needs or answered.settled_by, question.id
