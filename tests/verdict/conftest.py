"""A small shop for the questions' tests: every fact is there, everything is clear, and a test takes away or spoils one thing."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from pathlib import Path

import pytest

from firstoff import workflows
from firstoff.verdict.examination import Examination

NOW = datetime(2026, 5, 4, 9, 30)

MACHINE = """
[shop]
name = "Bench mill"
[axis.x]
travel = { value = "-1(1) mm .. 301(1) mm", evidence = "measured", df = 4 }
max_feed = { value = "10.0(2) m/min", evidence = "measured" }
accel = { value = "2.0(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.y]
travel = { value = "-1(1) mm .. 201(1) mm", evidence = "measured", df = 4 }
max_feed = { value = "10.0(2) m/min", evidence = "measured" }
accel = { value = "2.0(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.z]
travel = { value = "-121(1) mm .. 0.5(2) mm", evidence = "measured", df = 4 }
max_feed = { value = "6.0(2) m/min", evidence = "measured" }
accel = { value = "1.5(1) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[spindle]
speed = { value = "3000(50) 1/min .. 28000(150) 1/min", evidence = "plate" }
directions = ["cw"]
run_up = { value = "1.6(1) s", evidence = "measured" }
nose = [["50 mm", "40 mm"]]
power_s1 = [["3000 1/min", "0.3 kW"], ["20000 1/min", "2.0 kW"], ["28000 1/min", "2.0 kW"]]
stiffness = { value = "12(2) N/µm", evidence = "measured" }
run_out = { value = "2(1) µm", evidence = "measured" }
[frame]
stiffness = { value = "9(1) N/µm", evidence = "measured" }
[changer]
change_time = "8(1) s"
[[zone]]
name = "rack"
box = ["270 mm .. 301 mm", "-1 mm .. 201 mm", "-121 mm .. -50 mm"]
[control]
base = "plain"
rapid_path = "straight"
dwell_p = "s"
look_ahead = 60
block_rate = "1000(50) 1/s"
corner_tolerance = "0.02 mm"
[home]
G28 = ["0 mm", "200 mm", "0 mm"]
[today]
on = 2026-05-04T07:40:00
homed = true
warm = { value = "20 min" }
air = "6.0(1) bar"
pockets_seen = true
"""

TOOLS = """
[tool.em6]
kind = "flat"
DC = { value = "5.990(4) mm", evidence = "measured" }
ZEFP = 3
APMX = "14 mm"
DMM = "6 mm"
OHX = "24.0(3) mm"
LF = { value = "64.150(6) mm", evidence = "measured", df = 9 }
centre_cutting = true
FHA = "38 deg"
condition = "new"
edge_radius = { value = "4(1) µm", evidence = "measured" }
run_out = { value = "3(1) µm", evidence = "measured" }
max_speed = "36000 1/min"
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
[tool.dr3]
kind = "drill"
DC = "3.0 mm"
SIG = "140 deg"
APMX = "20 mm"
ZEFP = 2
centre_cutting = true
condition = "new"
run_out = { value = "3(1) µm", evidence = "measured" }
DMM = "3 mm"
OHX = "30.0(3) mm"
holder = [["16 mm", "20 mm"]]
LF = { value = "71.020(6) mm", evidence = "measured", df = 9 }
[tool.em4]
kind = "flat"
DC = "4 mm"
LF = { value = "58.400(6) mm", evidence = "measured", df = 9 }
[[pocket]]
number = 1
tool = "em6"
[[pocket]]
number = 2
tool = "dr3"
"""

JOB = """
program = "program.nc"
material = "al-6082"
[tools]
1 = "em6"
2 = "dr3"
[offset.G54]
at = ["100.00(2) mm", "80.00(2) mm", "-100.00(3) mm"]
zero = "top, front left corner"
[stock]
box = ["-1.0(3) mm .. 51.0(3) mm", "-1.0(3) mm .. 31.0(3) mm", "-10.0(2) mm .. 0.2(2) mm"]
[around]
highest_around = "-3.0(2) mm"
allowed_below = "-10.5 mm"
[holding]
kind = "vice"
force = { value = "6.0(5) kN", evidence = "measured" }
friction = { value = "0.15(2)", evidence = "measured" }
grip_height = { value = "6.0(2) mm", evidence = "measured" }
jaw_width = { value = "60(1) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"
"""

PROGRAM = """%
G21 G17 G40 G49 G90 G94
G80
G54
T1 M6
S20000 M3
G4 P3
G0 X-5 Y-5
G43 H1 Z10
Z4
M8
G1 Z-2 F800
G1 X50 F2000
G1 Y30
G1 X-5
G1 Y-5
G0 Z10
M9
M5
T2 M6
S12000 M3
G4 P3
G0 X10 Y10
G43 H2 Z10
M8
G81 X10 Y10 Z-8 R4 F300
X40
X40 Y20
G80
G0 Z10
M9
M5
M30
%
"""

Examine = Callable[..., Examination]


@pytest.fixture
def shop(tmp_path: Path) -> Callable[..., Path]:
    """`shop(program=…, machine=…, tools=…, job=…)` writes the shop, with each text changed by the given function, and returns the job folder."""

    def write(
        program: Callable[[str], str] = str,
        machine: Callable[[str], str] = str,
        tools: Callable[[str], str] = str,
        job: Callable[[str], str] = str,
    ) -> Path:
        folder = tmp_path / "jobs" / "plate"
        folder.mkdir(parents=True, exist_ok=True)
        (tmp_path / "machine.toml").write_text(machine(MACHINE))
        (tmp_path / "tools.toml").write_text(tools(TOOLS))
        (folder / "job.toml").write_text(job(JOB))
        (folder / "program.nc").write_text(program(PROGRAM))
        return folder

    return write


@pytest.fixture
def examine(shop: Callable[..., Path]) -> Examine:
    """Examine the shop's one job with texts changed as for `shop`; all questions or `only` some."""

    def run(only: Collection[str] = (), **changes: Callable[[str], str]) -> Examination:
        return workflows.judge(workflows.prepare(shop(**changes), now=NOW), only=only)

    return run


def swap(old: str, new: str, once: bool = True) -> Callable[[str], str]:
    """A change of text that must find what it changes."""

    def change(text: str) -> str:
        if old not in text:
            raise AssertionError(f"{old!r} is not in the text")
        return text.replace(old, new, 1 if once else -1)

    return change
