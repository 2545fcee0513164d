"""A year of the demo shop, all of it invented: what each fact was before it became what the templates say, what ran, what was noted.

`was` is the value as a file has it (TOML), None where nobody had stated the fact yet; what a fact became is what it `was` before its next
change, and at last what the templates say.
"""

from __future__ import annotations

from dataclasses import dataclass

IDA, JONAS = "ida", "jonas"
"""They build the mill and run it; nobody real."""
FIRST_DAY = 364
"""Days ago that the shop was first described."""


@dataclass(frozen=True, slots=True)
class Changed:
    """So many days ago somebody changed facts: what they were before, by path."""

    days_ago: int
    by: str
    why: str
    was: dict[str, str | None]


@dataclass(frozen=True, slots=True)
class Ran:
    """A run and what was noted of it."""

    days_ago: int
    by: str
    job: str
    note: str = "good"


def _plate(value: str) -> str:
    return f'{{ value = "{value}", evidence = "plate" }}'


def _setter(value: str, df: int = 4) -> str:
    return f'{{ value = "{value}", evidence = "measured", df = {df} }}'


CHANGED = (
    Changed(
        351, IDA, "indicator on the end stops; before that, the drawing",
        {
            "machine.axis.x.travel": '"0 mm .. 320 mm"',
            "machine.axis.y.travel": '"0 mm .. 240 mm"',
            "machine.axis.z.travel": '"-120 mm .. 0 mm"',
        },
    ),
    Changed(
        340, JONAS, "a ramp of the servo amplifier, read off its own trace",
        {f"machine.axis.{axis}.accel": '"2.5 m/s^2"' for axis in "xyz"},
    ),
    Changed(322, IDA, "stopwatch, three starts to 24000", {"machine.spindle.run_up": '"4 s"'}),
    Changed(322, IDA, "read on the inverter, no tool", {"machine.spindle.no_load": None}),
    Changed(
        301, JONAS, "spring balance at the nose; until then a guess",
        {"machine.spindle.stiffness": '{ value = "9(3) N/µm", evidence = "assumed" }'},
    ),
    Changed(
        301, JONAS, "spring balance, 100 N, each axis twice",
        {"machine.frame.stiffness": '{ value = "6(2) N/µm", evidence = "assumed" }'},
    ),
    Changed(
        262, IDA, "power trial with em6, four slots",
        {
            "materials.al-6082.kc": '{ value = "900 N/mm^2", at = "0.03 mm", evidence = "handbook" }',
            "materials.pom.kc": '{ value = "120 N/mm^2", at = "0.03 mm", evidence = "assumed" }',
        },
    ),
    Changed(243, JONAS, "ground and set", {"tools.em6.LF": _setter("72.148(6) mm"), "tools.em6.DC": _plate("6.00(2) mm")}),
    Changed(214, IDA, "weekly length", {"tools.em6.LF": _setter("71.702(6) mm")}),
    Changed(187, IDA, "weekly length", {"tools.em6.LF": _setter("71.699(6) mm")}),
    Changed(173, JONAS, "counted a thousand blocks of 0.1 mm", {"machine.control.block_rate": _plate("250 1/s")}),
    Changed(
        150, JONAS, "it rang in corners: tapped with a soft hammer, heard with a telephone",
        {"machine.frame.first_mode": '{ value = "71(5) Hz", evidence = "measured" }'},
    ),
    Changed(131, IDA, "ground and set", {"tools.em6.LF": _setter("71.694(6) mm")}),
    Changed(118, JONAS, "the old one broke in cable-clip", {"tools.em3.LF": _setter("70.386(6) mm")}),
    Changed(96, IDA, "weekly length", {"tools.em6.LF": _setter("71.331(6) mm")}),
    Changed(82, IDA, "weekly length", {"tools.em3.LF": _setter("69.949(6) mm")}),
    Changed(68, IDA, "weekly length", {"tools.em6.LF": _setter("71.328(6) mm")}),
    Changed(
        33, JONAS, "a brace under the gantry; spring balance, each axis five times",
        {
            "machine.frame.stiffness": '{ value = ["6.1(9) N/µm", "5.2(9) N/µm", "12(3) N/µm"], evidence = "measured", df = 4 }',
            "machine.frame.first_mode": '{ value = "83(5) Hz", evidence = "measured" }',
        },
    ),
    Changed(
        33, JONAS, "end stops again after the brace",
        {
            "machine.axis.x.travel": '{ value = "-1.2(5) mm .. 320.6(5) mm", evidence = "measured", df = 4 }',
            "machine.axis.y.travel": '{ value = "0.0(5) mm .. 242.7(5) mm", evidence = "measured", df = 4 }',
            "machine.axis.z.travel": '{ value = "-120.8(5) mm .. 0.0(5) mm", evidence = "measured", df = 4 }',
        },
    ),
    Changed(
        33, IDA, "power trial with em6, twelve slots",
        {
            "materials.al-6082.kc": '{ value = "1060 N/mm^2", at = "0.03 mm", u = "14 %", df = 2, evidence = "measured" }',
            "materials.pom.kc": '{ value = "150 N/mm^2", at = "0.03 mm", u = "15 %", df = 2, evidence = "measured" }',
        },
    ),
    Changed(33, JONAS, "set anew after the brace", {"tools.em3-long.LF": _setter("80.131(8) mm")}),
    Changed(20, JONAS, "pulled at the nut", {"tools.em6.holder_stiffness": None, "tools.em3.holder_stiffness": None}),
    Changed(
        6, IDA, "weekly lengths",
        {
            "tools.face16.LF": _setter("61.209(6) mm"),
            "tools.em6.LF": _setter("71.322(6) mm"),
            "tools.em3.LF": _setter("69.944(6) mm"),
            "tools.b4.LF": _setter("72.653(6) mm"),
            "tools.dr25.LF": _setter("74.286(8) mm"),
            "tools.ch90.LF": _setter("68.904(8) mm"),
        },
    ),
)  # fmt: skip

EXAMINED = (298, 120)
"""Days ago that the good jobs were examined, beside this morning."""

RAN = (
    Ran(297, IDA, "logger-lid", "rang in the corners at T2"),
    Ran(296, IDA, "logger-lid", "good, at 70 %"),
    Ran(270, JONAS, "logger-lid"),
    Ran(255, JONAS, "sensor-cap"),
    Ran(241, IDA, "logger-lid", "size +0.05 on the pocket width"),
    Ran(240, IDA, "logger-lid"),
    Ran(210, IDA, "cable-clip"),
    Ran(202, IDA, "clamp-ring", "stopped at line 9: the tape let go of a corner"),
    Ran(201, IDA, "clamp-ring"),
    Ran(186, JONAS, "logger-lid"),
    Ran(172, JONAS, "logger-lid"),
    Ran(171, JONAS, "sensor-cap"),
    Ran(151, JONAS, "logger-lid", "rang in the corners at T2"),
    Ran(149, JONAS, "logger-lid"),
    Ran(119, IDA, "cable-clip", "broke T3 at line 131"),
    Ran(117, IDA, "cable-clip"),
    Ran(104, IDA, "sensor-cap"),
    Ran(95, IDA, "logger-lid"),
    Ran(81, JONAS, "cable-clip"),
    Ran(80, JONAS, "clamp-ring"),
    Ran(61, IDA, "logger-lid"),
    Ran(32, JONAS, "logger-lid", "good, quieter than it ever was"),
    Ran(30, JONAS, "cable-clip"),
    Ran(29, JONAS, "sensor-cap", "size -0.03 on the dome"),
    Ran(27, IDA, "sensor-cap"),
    Ran(19, IDA, "logger-lid"),
    Ran(12, IDA, "clamp-ring"),
    Ran(5, JONAS, "logger-lid"),
    Ran(4, JONAS, "cable-clip"),
    Ran(1, IDA, "logger-lid"),
)
