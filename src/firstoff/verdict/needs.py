"""Each fact that can be missing or in doubt: where it is written, how to get it in minutes, and how well that does.

One table serves both "I can't say" and "measure next". Minutes and reaches are common practice for a small mill with a dial gauge
and a probe; they rank trials against each other and enter no answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase

from firstoff.facts.fact import FactSet
from firstoff.facts.gripped import moment, voided_by
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


# fmt: off
TRIALS: tuple[Trial, ...] = (
    Trial("machine.axis.?.travel*", "machine.toml [axis.*] travel",
          'Jog to both ends, read the machine position 1 mm before each stop, write "low .. high".', 5, 0.1),
    Trial("machine.axis.?.max_feed", "machine.toml [axis.*] max_feed",
          "Command a long rapid and time it with a stopwatch, or copy the drive's greatest feed.", 5, 0.01, True),
    Trial("machine.axis.?.accel", "machine.toml [axis.*] accel",
          "Time ten short moves there and back at full feed, or copy the drive's setting.", 8, 0.03, True),
    Trial("machine.axis.?.jerk", "machine.toml [axis.*] jerk",
          "Copy the drive's setting; if it has none, write a very large one.", 3, 0.05, True),
    Trial("machine.spindle.speed*", "machine.toml [spindle] speed",
          "Read the lowest and highest speed off the plate or the drive.", 2, 0.01, True),
    Trial("machine.spindle.directions", "machine.toml [spindle] directions",
          'Look at the drive: does it turn both ways? Write ["cw"] or ["cw", "ccw"].', 2),
    Trial("machine.spindle.run_up", "machine.toml [spindle] run_up",
          "Start the spindle at the job's speed and time it with a stopwatch, three times.", 2, 0.1),
    Trial("machine.spindle.power_s1*", "machine.toml [spindle] power_s1",
          "Copy the power curve of the spindle's data sheet: speed and power at the tool.", 3, 0.05, True),
    Trial("machine.spindle.power_s6*", "machine.toml [spindle] power_s6",
          "Copy what the data sheet allows now and then, with its share of time and its cycle.", 3, 0.05, True),
    Trial("machine.spindle.no_load*", "machine.toml [spindle] no_load",
          "Run the spindle empty at three speeds and read the drive's power.", 3, 0.05, True),
    Trial("machine.spindle.inertia", "machine.toml [spindle] inertia",
          "Copy it from the spindle's data sheet, or have the drive show it.", 3, 0.1, True),
    Trial("machine.spindle.stiffness", "machine.toml [spindle] stiffness",
          "Push the nose sideways with a spring balance (50 N) and read an indicator on it: force over way.", 5, 0.1, True),
    Trial("machine.spindle.run_out", "machine.toml [spindle] run_out",
          "Turn the spindle by hand with an indicator inside its taper.", 2, 0.001),
    Trial("machine.frame.stiffness*", "machine.toml [frame] stiffness",
          "Pull the spindle nose towards the table with a spring balance (100 N), read an indicator between the two, each axis.", 5, 0.1, True),
    Trial("machine.frame.first_mode", "machine.toml [frame] first_mode",
          "Tap the nose with a soft hammer and read the lowest strong tone off a sound spectrum.", 5, 0.05, True),
    Trial("machine.spindle.nose*", "machine.toml [spindle] nose",
          "Measure the spindle nose: diameters and lengths upward from the gauge line.", 5, 0.2),
    Trial("machine.changer.change_time", "machine.toml [changer] change_time", "Time one tool change with a stopwatch.", 2, 0.5),
    Trial("machine.zone*", "machine.toml [[zone]]",
          "Jog the spindle to the corners of the kept-out space and write the machine positions.", 8, 0.5),
    Trial("machine.practice.*", "machine.toml [practice]",
          "Try it in scrap of the same bar while you listen, and write where it begins to go wrong.", 20, 0.1, True),
    Trial("machine.control.look_ahead", "machine.toml [control] look_ahead",
          "Read it in the control's parameter list, or run a long line cut into 0.1 mm blocks and time it.", 8, 0.05, True),
    Trial("machine.control.block_rate", "machine.toml [control] block_rate",
          "Run 1000 blocks of 0.05 mm at high feed and time them.", 5, 0.05, True),
    Trial("machine.control.corner_tolerance", "machine.toml [control] corner_tolerance",
          "Read the G64 tolerance in the control's parameter list.", 3, 0.02, True),
    Trial("machine.control.own_m_codes.*", "machine.toml [control] own_m_codes",
          'Read the ladder or the wiring; do not try it. Then write what it does, for example 31 = "nothing moves".', 10),
    Trial("job.stock.offset", "job.toml [stock] offset", "Write the work offset that blank and fixtures are measured in.", 1),
    Trial("machine.control.*", "machine.toml [control]", "Look it up in the control's own settings, or try one line in the air.", 3),
    Trial("machine.home.*", "machine.toml [home]", "Home the machine and read the machine position that G28 goes to.", 3, 0.01),
    Trial("machine.today.*", "machine.toml [today]",
          "Home the axes, warm the spindle, read the air gauge, look at the pockets, and date the card.", 5),
    Trial("machine.today", "machine.toml [today]", "Fill in today's card: homed, warm, air, pockets seen, with the date and time.", 5),
    Trial("tools.setter.repeatability", "tools.toml [setter] repeatability",
          "Measure one tool ten times and write the standard deviation of the readings.", 5, 0.2, True),
    Trial("tools.setter.drift", "tools.toml [setter] drift",
          "Measure one tool cold and again when the machine is warm; write the difference.", 5, 0.003),
    Trial("tools.*.wear_allowed", "tools.toml wear_allowed", "Say how much shorter it may get and still be used.", 1),
    Trial("tools.*.stylus", "tools.toml stylus", "Measure from the ball's tip to the probe's body with a caliper.", 1, 0.2),
    Trial("tools.pocket.*", "tools.toml [[pocket]]", "Look at the rack and write down which tool stands in the pocket.", 2),
    Trial("tools.register.*", "tools.toml [[register]]", "Read the line of the control's tool table.", 2),
    Trial("tools.*.LF", "tools.toml LF", "Measure the tool on the setter three times and write the mean.", 2, 0.01),
    Trial("tools.*.DC", "tools.toml DC", "Measure the cutting diameter with a micrometer.", 2, 0.005),
    Trial("tools.*.OHX", "tools.toml OHX", "Measure how far the tool stands out of the holder.", 2, 0.2),
    Trial("tools.*.holder_stiffness", "tools.toml holder_stiffness",
          "Push the shank beside the holder with a spring balance (20 N) and read an indicator on it.", 5, 0.15, True),
    Trial("tools.*.holder*", "tools.toml holder", "Measure the holder's diameters and lengths, from the tool end upward.", 4, 0.2),
    Trial("tools.*.kind", "tools.toml kind",
          "Write its shape: flat, bull, ball, tapered, chamfer, drill, tap, tee, lollipop, or profile with its rows.", 1),
    Trial("tools.*.ZEFP", "tools.toml ZEFP", "Count its edges.", 1),
    Trial("tools.*.APMX", "tools.toml APMX", "Measure the length of its edges along the axis with a caliper.", 1, 0.2),
    Trial("tools.*.LU", "tools.toml LU", "Measure from the tip to where the full shank begins.", 1, 0.2),
    Trial("tools.*.DN", "tools.toml DN", "Measure the neck above the edge with a caliper.", 1, 0.02),
    Trial("tools.*.DMM", "tools.toml DMM", "Measure the shank with a caliper.", 1, 0.02),
    Trial("tools.*.KAPR", "tools.toml KAPR", "Take half of the cone's angle from 90 deg: 86 deg for 4 deg a side.", 1, 0.01, True),
    Trial("tools.*.centre_cutting", "tools.toml centre_cutting", "Look at its end: does an edge reach the middle? Write true or false.", 1),
    Trial("tools.*.dead_diameter", "tools.toml dead_diameter", "Measure the gap between its end teeth, across the axis.", 2, 0.1),
    Trial("tools.*.edge_radius", "tools.toml edge_radius",
          "Look at the edge under a microscope beside a wire of known size, or ask its maker.", 8, 0.2, True),
    Trial("tools.*.run_out", "tools.toml run_out", "Put an indicator on the shank beside the edge and turn the spindle by hand.", 2, 0.001),
    Trial("tools.*.condition", "tools.toml condition", "Look at its edges through a glass: new, used or suspect.", 1),
    Trial("tools.*.wear_factor", "tools.toml wear_factor",
          "Look at its edges through a glass and write condition, or make one cut with it and one with a new tool: the ratio of power.", 2, 0.05, True),
    Trial("tools.*.core_ratio", "tools.toml core_ratio",
          "Measure the core between the gullets with a caliper's tips and write it over DC.", 2, 0.04, True),
    Trial("tools.*.modulus", "tools.toml material", "Write what it is made of: carbide weighs nearly twice what steel does.", 1, 0.05, True),
    Trial("tools.*.material", "tools.toml material", "Write what it is made of: carbide weighs nearly twice what steel does.", 1),
    Trial("tools.*.strength", "tools.toml strength",
          "Ask its maker for the bending strength of the grade, and take half of it.", 10, 0.15, True),
    Trial("tools.*.max_chip", "tools.toml max_chip", "Copy the greatest feed per edge of its maker's table.", 3, 0.15, True),
    Trial("tools.*.coolant_through", "tools.toml coolant_through", "Look at its end: is there a hole? Write true or false.", 1),
    Trial("tools.*.profile*", "tools.toml profile", "Draw its cutting end: radii and heights from the tip upward, [[r, z], ...].", 8, 0.05),
    Trial("tools.*", "tools.toml", "Read it off the tool or its packet.", 2, 0.02, True),
    Trial("materials.*.kc_mc_correlation", "materials.toml kc_mc_correlation", "Take it from the fit that gave kc and mc.", 2),
    Trial("materials.*.kc*", "materials.toml kc",
          "Make one slot with a sharp tool, read the drive's power, take off that without cutting: kc is power over volume a second.", 15, 0.1, True),
    Trial("materials.*.mc", "materials.toml mc", "Make the same slot at three feeds and fit power against chip.", 20, 0.15, True),
    Trial("materials.*.edge_force", "materials.toml edge_force",
          "Make the same slot at three feeds: what power is left at no feed.", 20, 0.2, True),
    Trial("materials.*.model_factor", "materials.toml model_factor",
          "Make one cut of the job, read the drive's power, and write it over what is foretold here.", 15, 0.1, True),
    Trial("materials.*.radial_ratio", "materials.toml radial_ratio",
          'Few can measure it; write "0.45(20)", which is common practice for sharp edges.', 1, 0.3, True),
    Trial("materials.*.axial_ratio", "materials.toml axial_ratio",
          'Few can measure it; write "0.25(15)", which is common practice for helical edges.', 1, 0.4, True),
    Trial("materials.*.min_chip_ratio", "materials.toml min_chip_ratio",
          "Cut one wall at ever smaller feeds until it turns shiny: that chip over the edge's radius.", 20, 0.15, True),
    Trial("materials.*.modulus", "materials.toml modulus",
          "Look it up: aluminium 70 GPa, brass 100 GPa, steel 208 GPa, POM 2.8 GPa.", 1, 0.04, True),
    Trial("materials.*.shear_strength", "materials.toml shear_strength",
          "Shear a pin or a strip of it in a press and read the force, or take six tenths of the tensile strength on its certificate.", 15, 0.1, True),
    Trial("materials.*.welds_to_edge", "materials.toml welds_to_edge",
          "Look at a used edge: do chips stick to it? Write yes, no or some.", 1),
    Trial("materials.*.coolant", "materials.toml coolant", "Write what serves for it as coolant, best first.", 1),
    Trial("materials.*", "materials.toml", "Write it under the material's name.", 3, 0.1, True),
    Trial("job.tools.0", "job.toml [tools]",
          'The program calls no tool: say which one is in the spindle, 0 = "NAME" under [tools] or --tool 0=NAME.', 1),
    Trial("job.tools.*", "job.toml [tools]", "Write which tool this T is meant to be.", 1),
    Trial("job.offset.*", "job.toml [offset.*] at", "Touch off the work zero (or probe it) and copy the machine position.", 4, 0.02),
    Trial("job.around.highest_around", "job.toml [around] highest_around",
          "Measure the highest clamp or jaw against the work zero.", 2, 0.2),
    Trial("job.around.allowed_below", "job.toml [around] allowed_below", "Decide how deep a tool may go under or beside the stock.", 1),
    Trial("job.stock.*", "job.toml [stock]", "Measure the blank with a caliper; write each size with its doubt.", 3, 0.05),
    Trial("job.stock", "job.toml [stock]", "Measure the blank with a caliper; write each size with its doubt.", 3, 0.05),
    Trial("job.material", "job.toml material", "Write the material's name: one of the shipped table, or your own.", 1),
    Trial("job.holding.force", "job.toml [holding] force",
          "Take the torque on the screw over 0.2 times its diameter, or press a gauge between the jaws.", 4, 0.15, True),
    Trial("job.holding.friction", "job.toml [holding] friction",
          "Lay the part on the jaw's face and tilt until it slides: rise over run.", 3, 0.1, True),
    Trial("job.holding.strength", "job.toml [holding] strength", "Pull a known area off with a spring balance.", 4, 0.15, True),
    Trial("job.holding.pressure", "job.toml [holding] pressure", "Read the gauge with the part in place.", 1, 0.05, True),
    Trial("job.holding.area", "job.toml [holding] area", "Measure what lies on it, less the holes.", 2, 0.05, True),
    Trial("job.holding.after_cut_free", "job.toml [holding] after_cut_free",
          "Write what holds part and slugs at the last cut: a skin, tabs, tape, screws, or that nothing is cut free.", 1),
    Trial("job.holding.kind", "job.toml [holding]", "Write how the part is held: kind, and the numbers of that kind.", 2),
    Trial("job.holding.*", "job.toml [holding]", "Measure it with a caliper.", 1, 0.2),
    Trial("job.holding", "job.toml [holding]", "Write how the part is held: kind, and the numbers of that kind.", 2),
    Trial("job.fixture.*", "job.toml [[fixture]]", "Measure the solid against the work zero.", 3, 0.2),
    Trial("job.feature*", "job.toml [[feature]]", "Copy it from the drawing.", 1),
    Trial("job.ask*", "job.toml [ask]", "Copy it from the drawing.", 1),
    Trial("job.target*", "job.toml target", "Save the finished part as an STL file in the work frame, beside the job.", 3),
    Trial("job.*", "job.toml", "Write it into the job.", 2),
)
# fmt: on
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


def why_void(each: Need, facts: FactSet) -> Need:
    """The same need, saying when its tool was gripped anew where that is what took the fact away."""
    anew = voided_by(facts, each.fact)
    if anew is None:
        return each
    how = f"It was gripped anew on {moment(anew)}, and nothing says what it is since then. {each.how}"
    return Need(each.fact, each.where, how)
