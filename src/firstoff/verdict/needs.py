"""Each fact that can be missing or in doubt: where it is written, how to get it in minutes, and how well that does.

One table serves both "I can't say" and "measure next". Minutes and reaches are common practice for a small mill with a dial gauge
and a probe; they rank trials against each other and enter no answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase

from firstoff.verdict.question import Need


@dataclass(frozen=True, slots=True)
class Trial:
    """A way to settle facts: `pattern` matches their paths, `reach` is the standard uncertainty it leaves (in the fact's unit, or
    as a part of the value if `relative`); a yes-or-no fact has reach 0."""

    pattern: str
    file: str
    how: str
    minutes: float
    reach: float = 0.0
    relative: bool = False


TRIALS: tuple[Trial, ...] = (
    Trial(
        "machine.axis.?.travel*",
        "machine.toml [axis.*] travel",
        'Jog to both ends, read the machine position 1 mm before each stop, write "low .. high".',
        5,
        0.1,
    ),
    Trial(
        "machine.axis.?.max_feed",
        "machine.toml [axis.*] max_feed",
        "Command a long rapid and time it with a stopwatch, or copy the drive's greatest feed.",
        5,
        0.01,
        True,
    ),
    Trial(
        "machine.axis.?.accel",
        "machine.toml [axis.*] accel",
        "Time ten short moves there and back at full feed, or copy the drive's setting.",
        8,
        0.03,
        True,
    ),
    Trial(
        "machine.axis.?.jerk",
        "machine.toml [axis.*] jerk",
        "Copy the drive's setting; if it has none, write a very large one.",
        3,
        0.05,
        True,
    ),
    Trial(
        "machine.spindle.speed*",
        "machine.toml [spindle] speed",
        "Read the lowest and highest speed off the plate or the drive.",
        2,
        0.01,
        True,
    ),
    Trial(
        "machine.spindle.directions",
        "machine.toml [spindle] directions",
        'Look at the drive: does it turn both ways? Write ["cw"] or ["cw", "ccw"].',
        2,
    ),
    Trial(
        "machine.spindle.run_up",
        "machine.toml [spindle] run_up",
        "Start the spindle at the job's speed and time it with a stopwatch, three times.",
        2,
        0.1,
    ),
    Trial(
        "machine.spindle.nose*",
        "machine.toml [spindle] nose",
        "Measure the spindle nose: diameters and lengths upward from the gauge line.",
        5,
        0.2,
    ),
    Trial(
        "machine.changer.change_time",
        "machine.toml [changer] change_time",
        "Time one tool change with a stopwatch.",
        2,
        0.5,
    ),
    Trial(
        "machine.zone*",
        "machine.toml [[zone]]",
        "Jog the spindle to the corners of the kept-out space and write the machine positions.",
        8,
        0.5,
    ),
    Trial(
        "machine.practice.*",
        "machine.toml [practice]",
        "Try it in scrap of the same bar while you listen, and write where it begins to go wrong.",
        20,
        0.1,
        True,
    ),
    Trial(
        "machine.control.look_ahead",
        "machine.toml [control] look_ahead",
        "Read it in the control's parameter list, or run a long line cut into 0.1 mm blocks and time it.",
        8,
        0.05,
        True,
    ),
    Trial(
        "machine.control.block_rate",
        "machine.toml [control] block_rate",
        "Run 1000 blocks of 0.05 mm at high feed and time them.",
        5,
        0.05,
        True,
    ),
    Trial(
        "machine.control.corner_tolerance",
        "machine.toml [control] corner_tolerance",
        "Read the G64 tolerance in the control's parameter list.",
        3,
        0.02,
        True,
    ),
    Trial(
        "machine.control.own_m_codes.*",
        "machine.toml [control] own_m_codes",
        'Read the ladder or the wiring; do not try it. Then write what it does, for example 31 = "nothing moves".',
        10,
    ),
    Trial(
        "job.stock.offset",
        "job.toml [stock] offset",
        "Write the work offset that blank and fixtures are measured in.",
        1,
    ),
    Trial(
        "machine.control.*",
        "machine.toml [control]",
        "Look it up in the control's own settings, or try one line in the air.",
        3,
    ),
    Trial(
        "machine.home.*",
        "machine.toml [home]",
        "Home the machine and read the machine position that G28 goes to.",
        3,
        0.01,
    ),
    Trial(
        "machine.today.*",
        "machine.toml [today]",
        "Home the axes, warm the spindle, read the air gauge, look at the pockets, and date the card.",
        5,
    ),
    Trial(
        "machine.today",
        "machine.toml [today]",
        "Fill in today's card: homed, warm, air, pockets seen, with the date and time.",
        5,
    ),
    Trial(
        "tools.pocket.*", "tools.toml [[pocket]]", "Look at the rack and write down which tool stands in the pocket.", 2
    ),
    Trial("tools.register.*", "tools.toml [[register]]", "Read the line of the control's tool table.", 2),
    Trial("tools.*.LF", "tools.toml LF", "Measure the tool on the setter three times and write the mean.", 2, 0.01),
    Trial("tools.*.DC", "tools.toml DC", "Measure the cutting diameter with a micrometer.", 2, 0.005),
    Trial("tools.*.OHX", "tools.toml OHX", "Measure how far the tool stands out of the holder.", 2, 0.2),
    Trial(
        "tools.*.holder*",
        "tools.toml holder",
        "Measure the holder's diameters and lengths, from the tool end upward.",
        4,
        0.2,
    ),
    Trial("tools.*", "tools.toml", "Read it off the tool or its packet.", 2, 0.02, True),
    Trial(
        "job.tools.0",
        "job.toml [tools]",
        'The program calls no tool: say which one is in the spindle, 0 = "NAME" under [tools] or --tool 0=NAME.',
        1,
    ),
    Trial("job.tools.*", "job.toml [tools]", "Write which tool this T is meant to be.", 1),
    Trial(
        "job.offset.*",
        "job.toml [offset.*] at",
        "Touch off the work zero (or probe it) and copy the machine position.",
        4,
        0.02,
    ),
    Trial(
        "job.around.highest_around",
        "job.toml [around] highest_around",
        "Measure the highest clamp or jaw against the work zero.",
        2,
        0.2,
    ),
    Trial(
        "job.around.allowed_below",
        "job.toml [around] allowed_below",
        "Decide how deep a tool may go under or beside the stock.",
        1,
    ),
    Trial(
        "job.stock.*", "job.toml [stock]", "Measure the blank with a caliper; write each size with its doubt.", 3, 0.05
    ),
    Trial(
        "job.stock", "job.toml [stock]", "Measure the blank with a caliper; write each size with its doubt.", 3, 0.05
    ),
    Trial("job.*", "job.toml", "Write it into the job.", 2),
)
"""First match counts: narrow patterns stand before wide ones."""


def trial_for(path: str) -> Trial:
    """The trial that settles a fact."""
    for trial in TRIALS:
        if fnmatchcase(path, trial.pattern):
            return trial
    return Trial(path, "the shop folder", "Write it down.", 5)


def need(path: str, how: str = "") -> Need:
    """The need for one missing fact, with the way to get it."""
    trial = trial_for(path)
    return Need(path, trial.file, how or trial.how)
