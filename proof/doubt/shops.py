"""The shops of the hidden machines, as a shop would write them: one small mill, tiny jobs whose limits all lie near what is asked.

Invented like everything in the demo. Blanks are a few millimetres wide, so that a whole examination takes some hundredths of a second.
"""

from __future__ import annotations

MACHINE = """
[shop]
name = "Doubt mill"
[axis.x]
travel = { value = "-1.0(4) mm .. 240.0(4) mm", evidence = "measured", df = 4 }
max_feed = { value = "10.0(2) m/min", evidence = "measured" }
accel = { value = "1.20(10) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.y]
travel = { value = "-1.0(4) mm .. 181.0(4) mm", evidence = "measured", df = 4 }
max_feed = { value = "10.0(2) m/min", evidence = "measured" }
accel = { value = "1.20(10) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[axis.z]
travel = { value = "-121.0(4) mm .. 0.5(2) mm", evidence = "measured", df = 4 }
max_feed = { value = "6.0(2) m/min", evidence = "measured" }
accel = { value = "1.20(10) m/s^2", evidence = "measured" }
jerk = { value = "60(5) m/s^3", evidence = "measured" }
[spindle]
speed = { value = "3000(50) 1/min .. 28000(150) 1/min", evidence = "plate" }
directions = ["cw"]
run_up = { value = "1.60(10) s", evidence = "measured", df = 2 }
nose = [["50 mm", "40 mm"]]
power_s1 = [["3000 1/min", "30(1) W"], ["20000 1/min", "200(8) W"], ["28000 1/min", "200(8) W"]]
stiffness = { value = "12(1) N/µm", evidence = "measured" }
run_out = { value = "2.0(2) µm", evidence = "measured" }
[frame]
stiffness = { value = "9(1) N/µm", evidence = "measured", df = 4 }
[changer]
change_time = "8(1) s"
[[zone]]
name = "rack"
box = ["200.0(3) mm .. 240 mm", "-1 mm .. 181 mm", "-121 mm .. -40.0(3) mm"]
[control]
base = "plain"
rapid_path = "straight"
dwell_p = "s"
look_ahead = 60
block_rate = "1000(50) 1/s"
corner_tolerance = "0.0200(10) mm"
[home]
G28 = ["0 mm", "180 mm", "0 mm"]
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
DC = { value = "6.000(4) mm", evidence = "measured", df = 4 }
ZEFP = 2
APMX = { value = "10.0(1) mm", evidence = "measured" }
DMM = "6.00(1) mm"
OHX = { value = "24.0(3) mm", evidence = "measured", df = 4 }
LF = { value = "64.150(6) mm", evidence = "measured", df = 4 }
centre_cutting = true
FHA = "30(1) deg"
condition = "new"
edge_radius = { value = "4.0(4) µm", evidence = "measured", df = 4 }
run_out = { value = "4.0(5) µm", evidence = "measured", df = 4 }
core_ratio = "0.80(3)"
strength = "300(50) N/mm^2"
max_chip = "0.040(6) mm"
max_speed = "36000 1/min"
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
[tool.em4]
kind = "flat"
DC = { value = "4.000(4) mm", evidence = "measured" }
ZEFP = 2
APMX = "8.0(1) mm"
DMM = "4.00(1) mm"
OHX = { value = "20.0(3) mm", evidence = "measured" }
LF = { value = "58.400(6) mm", evidence = "measured", df = 2 }
centre_cutting = true
FHA = "30(1) deg"
condition = "new"
edge_radius = { value = "4.0(4) µm", evidence = "measured" }
run_out = { value = "3.0(3) µm", evidence = "measured" }
core_ratio = "0.80(3)"
max_speed = "36000 1/min"
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
[tool.em2]
kind = "flat"
DC = "2.0 mm"
ZEFP = 2
APMX = "3 mm"
DMM = "3 mm"
OHX = "20 mm"
LF = { value = "60.000(5) mm", evidence = "measured" }
centre_cutting = true
condition = "new"
holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]
[[pocket]]
number = 9
tool = "em2"
[[pocket]]
number = 1
tool = "em6"
[[pocket]]
number = 2
tool = "em4"
"""

MATERIALS = """
[material.proof-bar]
kc = { value = "900(90) N/mm^2", at = "0.05 mm", evidence = "measured" }
mc = { value = "0.25(3)", evidence = "measured" }
kc_mc_correlation = -0.4
radial_ratio = { value = "0.40(5)", evidence = "measured" }
axial_ratio = { value = "0.25(3)", evidence = "measured" }
min_chip_ratio = { value = "0.30(4)", evidence = "measured" }
modulus = "70(2) GPa"
welds_to_edge = "no"
coolant = ["air"]
"""

JOB = """
program = "program.nc"
material = "proof-bar"
[tools]
1 = "em6"
2 = "em4"
9 = "em2"
[offset.G54]
at = ["100.00(2) mm", "80.00(2) mm", "-100.00(3) mm"]
zero = "top, front left corner"
[stock]
box = ["0.0(1) mm .. 15.0(1) mm", "0.0(1) mm .. 8.0(1) mm", "-9.0(1) mm .. 0.2(1) mm"]
[around]
highest_around = "-8.0(2) mm"
allowed_below = "-9.5 mm"
[holding]
kind = "vice"
force = { value = "300(30) N", evidence = "measured", df = 4 }
friction = { value = "0.15(2)", evidence = "measured" }
grip_height = { value = "3.0(2) mm", evidence = "measured" }
jaw_width = { value = "15.0(3) mm", evidence = "measured" }
after_cut_free = "nothing is cut free"
"""

HEAD = """%
G21 G17 G40 G49 G90 G94
G80
G54
T1 M6
S20000 M3
G4 P3
"""
TAIL = """M5
M30
%
"""

SIDE = (
    HEAD
    + """G0 X-5 Y-1.5
G43 H1 Z10
Z4
G1 Z-4 F800
G1 X20 F1600
G0 Z10
"""
    + TAIL
)
"""One pass along the front: 1.5 mm wide, 4 mm deep; its wall and its floor stand at the end."""

FINE_CELLS = """M5
T9 M6
S20000 M3
G4 P3
G0 X-60 Y-60
G43 H9 Z20
G1 X-61 F600
G0 Z30
"""
"""Said before the end, a tool of 2 mm that feeds in the air far away: cells are a thirtieth of the smallest cutter, so the stock is followed
three times as finely, and nothing else changes."""
