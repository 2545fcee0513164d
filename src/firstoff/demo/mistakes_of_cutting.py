"""Mistakes that show in what is cut and what it costs, each a small difference from a good job."""

from __future__ import annotations

from functools import partial

from firstoff.demo.plans import Edit, Mistake, says
from firstoff.demo.programs import CUSP_MM, sensor_cap
from firstoff.demo.ring_shape import ring_stl

MISTAKES_OF_CUTTING = (
    Mistake(
        "clip-wrong-face",
        "cable-clip",
        "The zero was set over a feeler of half a millimetre that nobody took off again: the blank lies lower, and the facing cuts air.",
        says(cuts="stop"),
        (),
        (
            Edit(
                'box = ["-1.0(1) mm .. 33.0(1) mm", "-1.0(1) mm .. 19.0(1) mm", "-14.00(5) mm .. 0.40(5) mm"]',
                'box = ["-1.0(1) mm .. 33.0(1) mm", "-1.0(1) mm .. 19.0(1) mm", "-14.50(5) mm .. -0.10(5) mm"]',
            ),
        ),
    ),
    Mistake(
        "clip-plunged",
        "cable-clip",
        "X12 for X42: the face mill, which does not cut on its centre, comes down on the blank instead of beside it.",
        says(reach="stop"),
        (Edit("G0 X42.0 Y-2.0", "G0 X12.0 Y-2.0", "T1 M6"),),
    ),
    Mistake(
        "clip-deep-slot",
        "cable-clip",
        "The drawing lay upside down on the bench: the slot became 9 deep, not 6, and em3 has an edge of 8.",
        says(reach="stop"),
        tuple(
            Edit(f"G1 Z-{old} F300.0", f"G1 Z-{new} F300.0", "T3 M6")
            for old, new in (("6.0", "9.0"), ("6.0", "9.0"), ("6.0", "9.0"), ("3.0", "4.5"))
        ),
    ),
    Mistake(
        "cap-stub",
        "sensor-cap",
        "em6 is away for grinding and a stub does its work: it reaches the bottom, but its holder does not pass the clamps.",
        says(body_contact="stop"),
        (Edit("G0 G43 Z15.0 H2", "G0 G43 Z15.0 H8", "T2 M6"), Edit("T2 M6", "T8 M6")),
        (Edit('2 = "em6"', '8 = "em6-stub"'), Edit("tool = 2", "tool = 8")),
    ),
    Mistake(
        "ring-one-pass",
        "clamp-ring",
        "Four depths became one to save time: the first pass goes to the bottom at once.",
        says(torque="stop", power="stop", duty="stop", holding="stop"),
        (Edit("G1 Z5.925 F500.0", "G1 Z-0.3 F500.0"),),
    ),
    Mistake(
        "clip-feed-slip",
        "cable-clip",
        "F10000 for F1000 in the slot: one zero too many.",
        says(chip="stop", strength="stop"),
        (Edit("X35.5 F1000.0", "X35.5 F10000.0", "T3 M6"),),
    ),
    Mistake(
        "clip-slow",
        "cable-clip",
        "The last cut round the outline was turned down to F450 because it sounded hard, and saved: the edge rubs.",
        says(chip="care"),
        (Edit("Y24.5 F1300.0", "Y24.5 F450.0", "T2 M6"),),
    ),
    Mistake(
        "cap-straight-down",
        "sensor-cap",
        "The helix into the bore takes for ever, so it became one line straight down.",
        says(chips_out="stop"),
        (
            Edit("X1.0 Y0.0 I-1.0 J0.0", "G3 X1.0 Y0.0 I-1.0 J0.0 F1200.0", "T2 M6"),
            Edit("X1.0 Y0.0 Z0.0083", "G1 Z-8.7 F500.0", "T2 M6", until="G3 X1.0 Y0.0 I-1.0 J0.0 F1200.0"),
        ),
    ),
    Mistake(
        "clip-peck-lost",
        "cable-clip",
        "The cycle was copied from a thin part: G81 instead of G83, and the holes are four and a half diameters deep.",
        says(chips_out="stop"),
        (Edit("G83 G98 X8.0 Y3.5 Z-11.5 R3.0 Q2.5 F360.0", "G81 G98 X8.0 Y3.5 Z-11.5 R3.0 F360.0", "T5 M6"),),
    ),
    Mistake(
        "clip-dry",
        "cable-clip",
        "M9 and M0 were typed in to look at the slot of the first part, and stayed; nothing opens the coolant again.",
        says(chips_out="care", leftovers="care"),
        (Edit("X-3.5 Y8.75", "M0", "T3 M6", beside=True), Edit("M0", "M9", "T3 M6", beside=True)),
    ),
    Mistake(
        "cap-no-skin",
        "sensor-cap",
        "The skin never came out clean, so the last pass goes through: nothing holds the cap then.",
        says(holding="stop"),
        (Edit("G1 Z-8.7 F500.0", "G1 Z-9.2 F500.0", "T2 M6"),),
    ),
    Mistake(
        "ring-small-tape",
        "clamp-ring",
        "The roll was at its end: a strip of tape of 12 by 30 mm under a plate of 60 by 60.",
        says(holding="stop"),
        (),
        (
            Edit('area = { value = "3300(100) mm^2"', 'area = { value = "360(30) mm^2"'),
            Edit('span = { value = "58(1) mm"', 'span = { value = "12(1) mm"'),
        ),
    ),
    Mistake(
        "clip-hand-tight",
        "cable-clip",
        "The handle was at the other machine: the vice is closed by hand.",
        says(holding="stop"),
        (),
        (Edit('force = { value = "2.2(3) kN"', 'force = { value = "0.15(5) kN"'),),
    ),
    Mistake(
        "clip-tight-drawing",
        "cable-clip",
        "The old program for a new drawing: the width of the slot may vary by 0.02 now, and the tool bends by more.",
        says(size="stop"),
        (),
        (Edit('tol  = "0.12 mm"', 'tol  = "0.02 mm"', 'what = "slot width"'),),
    ),
    Mistake(
        "clip-long-tool",
        "cable-clip",
        "em3 was not back yet, and the long one, which looks the same, does its work: twice as far out, it bends many times as much.",
        says(size="stop"),
        (Edit("G0 G43 Z12.0 H3", "G0 G43 Z12.0 H4", "T3 M6"), Edit("T3 M6", "T4 M6")),
        (Edit('3 = "em3"', '4 = "em3-long"'), Edit("tool = 3", "tool = 4"), Edit("tool = 3", "tool = 4")),
    ),
    Mistake(
        "clip-two-tools",
        "cable-clip",
        "The shelf is made by a stub whose length was read with a caliper, and must agree with the slot of another tool.",
        says(step="care"),
        (Edit("G0 G43 Z12.0 H2", "G0 G43 Z12.0 H8", "T2 M6"), Edit("T2 M6", "T8 M6")),
        (Edit('2 = "em6"', '8 = "em6-stub"'), Edit("tool = 2", "tool = 8"), Edit("tool = 2", "tool = 8")),
    ),
    Mistake(
        "cap-tight-profile",
        "sensor-cap",
        "The new drawing halves the tolerance of the pad's profile: the control rounds the corners between its rows by more.",
        says(path_kept="stop"),
        (),
        (Edit('tol  = "0.06 mm"', 'tol  = "0.03 mm"', 'what = "profile of the pad"'),),
    ),
    Mistake(
        "cap-step-over",
        "sensor-cap",
        "Twice the step from row to row of the dome, chosen on the screen to halve the time: the ridges grow four times as high.",
        says(finish="stop"),
        written=partial(sensor_cap, cusp_mm=4 * CUSP_MM),
    ),
    Mistake(
        "ring-new-drawing",
        "clamp-ring",
        "The program of the former drawing for the part of the new one, whose bore is 17, not 18: both are called ring.",
        says(target="stop"),
        (),
        (Edit('target = "ring.stl"', 'target = "ring-b.stl"'),),
        shapes={"ring-b.stl": partial(ring_stl, bore_mm=17.0)},
    ),
    Mistake(
        "cap-chords",
        "sensor-cap",
        "The circles were written as lines of 0.05 mm, at a setting meant for moulds: the control cannot read them fast enough.",
        says(feed="care"),
        written=partial(sensor_cap, chord_mm=0.05),
    ),
    Mistake(
        "clip-next-morning",
        "cable-clip",
        "No mistake but a gap: the job is left in the vice overnight; examined tomorrow, the card of the day is yesterday's.",
        says(today="unjudged"),
        hours_later=22.0,
    ),
)
