"""Three machines: the demo's, and two that differ in what the programs do not depend on."""

from __future__ import annotations

import re

Changes = dict[str, str]
"""Key within its table, as ``table key`` -> the value as TOML."""

LONG_AND_SLOW: Changes = {
    "axis.x travel": '{ value = "-2.0(3) mm .. 412.0(3) mm", evidence = "measured", df = 4 }',
    "axis.y travel": '{ value = "-1.0(3) mm .. 286.0(3) mm", evidence = "measured", df = 4 }',
    "axis.z travel": '{ value = "-134.0(3) mm .. 0.0(3) mm", evidence = "measured", df = 4 }',
    "axis.x max_feed": '{ value = "8 m/min", u = "1 %", evidence = "measured" }',
    "axis.y max_feed": '{ value = "7 m/min", u = "1 %", evidence = "measured" }',
    "axis.z max_feed": '{ value = "5 m/min", u = "1 %", evidence = "measured" }',
    "axis.x accel": '{ value = "2.2(2) m/s^2", evidence = "measured" }',
    "axis.y accel": '{ value = "1.9(2) m/s^2", evidence = "measured" }',
    "axis.z accel": '{ value = "1.6(2) m/s^2", evidence = "measured" }',
    "spindle nose": '[["52 mm", "46 mm"], ["68 mm", "70 mm"]]',
    "spindle run_up": '{ value = "2.9(2) s", evidence = "measured" }',
    "spindle power_s1": '{ points = [["3000 1/min", "0.14 kW"], ["14000 1/min", "0.80 kW"], ["27000 1/min", "0.80 kW"]], evidence = "plate" }',
    "frame first_mode": '{ value = "74(4) Hz", evidence = "measured" }',
    "control rapid_path": '"dog-leg"',
    "control look_ahead": '{ value = "120", evidence = "plate" }',
    "control block_delete": '"on"',
}
SHORT_AND_QUICK: Changes = {
    "axis.x max_feed": '{ value = "18 m/min", u = "1 %", evidence = "measured" }',
    "axis.y max_feed": '{ value = "16 m/min", u = "1 %", evidence = "measured" }',
    "axis.z max_feed": '{ value = "9 m/min", u = "1 %", evidence = "measured" }',
    "axis.x accel": '{ value = "4.4(3) m/s^2", evidence = "measured" }',
    "axis.y accel": '{ value = "3.8(3) m/s^2", evidence = "measured" }',
    "axis.z accel": '{ value = "3.1(3) m/s^2", evidence = "measured" }',
    "axis.x jerk": '{ value = "90 m/s^3", evidence = "set" }',
    "axis.y jerk": '{ value = "90 m/s^3", evidence = "set" }',
    "spindle speed": '{ value = "4500(30) 1/min .. 32000(120) 1/min", evidence = "plate" }',
    "spindle directions": '["cw", "ccw"]',
    "spindle power_s1": '{ points = [["4500 1/min", "0.16 kW"], ["22000 1/min", "0.95 kW"], ["32000 1/min", "0.95 kW"]], evidence = "plate" }',
    "spindle power_s6": '{ points = [["4500 1/min", "0.20 kW"], ["22000 1/min", "1.2 kW"], ["32000 1/min", "1.2 kW"]], on_share = "40 %", cycle = "10 min", evidence = "plate" }',
    "spindle no_load": '{ points = [["4500 1/min", "0.02 kW"], ["22000 1/min", "0.08 kW"], ["32000 1/min", "0.15 kW"]], u = "10 %", evidence = "measured" }',
    "spindle nose": '[["62 mm", "30 mm"], ["84 mm", "58 mm"]]',
    "control corner_tolerance": '{ value = "0.01 mm", evidence = "set" }',
    "control block_rate": '{ value = "900(50) 1/s", evidence = "measured" }',
    "control look_ahead": '{ value = "200", evidence = "plate" }',
    "control macro_family": '"none"',
}
MACHINES: dict[str, tuple[str, Changes]] = {
    "the demo's": ("as the demo lays it out", {}),
    "long and slow": (
        "a quarter more travel, slower axes, a longer and slimmer nose, more torque lower down, rapids that go dog-legged, longer look-ahead",
        LONG_AND_SLOW,
    ),
    "short and quick": (
        "quicker axes, a shorter and thicker nose, a faster and stronger spindle that turns both ways, a quicker control",
        SHORT_AND_QUICK,
    ),
}


def machine_text(demo: str, changes: Changes) -> str:
    """machine.toml of the demo with some values changed. Raises `ValueError` where one is not there."""
    lines = demo.splitlines()
    for path, value in changes.items():
        table, key = path.split()
        start = lines.index(f"[{table}]")
        at = next((n for n in range(start, len(lines)) if re.match(rf"{key}\s*=", lines[n])), None)
        if at is None:
            raise ValueError(f"machine.toml says nothing of {path}")
        lines[at] = f"{key} = {value}"
    return "\n".join(lines) + "\n"
