"""Mistakes that happen in real shops and that show in where and how a program moves, each a small edit of a good job."""

from __future__ import annotations

from firstoff.demo.plans import Edit, Mistake, says

MISTAKES_OF_MOVING = (
    Mistake(
        "lid-wrong-length",
        "logger-lid",
        "The head of the second section was copied from the first, and H stayed H1: the end mill would go 10 mm too deep.",
        says(tool="stop", below="stop"),
        (Edit("G0 G43 Z12.0 H2", "G0 G43 Z12.0 H1", "T2 M6"),),
    ),
    Mistake(
        "lid-decimal-slip",
        "logger-lid",
        "Typed at the machine: the last hole 80.0 mm deep instead of 8.0.",
        says(below="stop", travel="stop"),
        (Edit("X6.0 Y34.0", "X6.0 Y34.0 Z-80.0", "T5 M6"),),
    ),
    Mistake(
        "lid-spindle-off",
        "logger-lid",
        "The drill's section was pasted without S, M3 and the wait; the change has stopped the spindle.",
        says(spindle="stop"),
        (Edit("G4 P4.5", None, "T5 M6"), Edit("S9000 M3", None, "T5 M6")),
    ),
    Mistake(
        "lid-wrong-pocket",
        "logger-lid",
        "The program takes the 3 mm end mill from pocket 4; since then the rack was re-filled and pocket 4 holds the long one.",
        says(tool="stop"),
        (Edit("G0 G43 Z12.0 H3", "G0 G43 Z12.0 H4", "T3 M6"), Edit("T3 M6", "T4 M6")),
        (Edit('3 = "em3"', '4 = "em3"'),),
    ),
    Mistake(
        "lid-park",
        "logger-lid",
        "A park move was added so that the table comes to the door, one line too early: the tool is still down and the rack is in the way.",
        says(keep_out="stop"),
        (Edit("G53 G0 Z0.0", "G53 G0 X300.0 Y225.0", "T6 M6", beside=True),),
    ),
    Mistake(
        "lid-incremental",
        "logger-lid",
        "G91 G28 Z0 typed from habit; the G90 that used to follow had been tidied away.",
        says(travel="stop"),
        (Edit("G54 G90", "G54", "T6 M6"), Edit("G53 G0 Z0.0", "G91 G28 Z0.0", "T5 M6")),
    ),
    Mistake(
        "lid-no-run-up",
        "logger-lid",
        "The waits after M3 were deleted to save time.",
        says(spindle="stop"),
        (Edit("G4 P4.5", None, "T2 M6"),),
    ),
    Mistake(
        "lid-air-blast",
        "logger-lid",
        "The air blast was wired to M52 last month and nobody wrote it down: a gap, not a mistake.",
        says(understood="unjudged"),
        (Edit("G0 G43 Z12.0 H5", "M52", "T5 M6", beside=True),),
    ),
    Mistake(
        "cap-low-traverse",
        "sensor-cap",
        "G99 instead of G98: between two holes the drill rises to Z3 only, and a clamp of 6 mm stands between them.",
        says(rapid_contact="stop"),
        (Edit("G83 G98 X26.0 Y-18.0 Z-8.0 R3.0 Q2.5 F480.0", "G83 G99 X26.0 Y-18.0 Z-8.0 R3.0 Q2.5 F480.0", "T5 M6"),),
    ),
    Mistake(
        "cap-into-the-board",
        "sensor-cap",
        "The plate is 9 mm; the last pass of the cut-out is that of a 14 mm plate.",
        says(below="stop"),
        (Edit("G1 Z-8.7 F500.0", "G1 Z-13.7 F500.0", "T2 M6"),),
    ),
    Mistake(
        "cap-too-fast",
        "sensor-cap",
        "The speed is the one on the tool maker's page; this spindle ends at 27 000 1/min.",
        says(spindle="stop"),
        (Edit("S24000 M3", "S32000 M3", "T7 M6"),),
    ),
    Mistake(
        "ring-inch",
        "clamp-ring",
        "The head of an inch program was kept above numbers in mm.",
        says(travel="stop"),
        (Edit("G21 G17 G40 G49 G90 G94 G64", "G20 G17 G40 G49 G90 G94 G64"),),
    ),
    Mistake(
        "ring-second-station",
        "clamp-ring",
        "job.toml still holds the work zero of the right-hand station, where the rack now stands.",
        says(travel="stop", keep_out="stop"),
        (),
        (Edit('at = { value = ["148.75(2) mm"', 'at = { value = ["312.75(2) mm"'),),
    ),
    Mistake(
        "ring-home-absolute",
        "clamp-ring",
        "G28 Z0 in absolute mode passes through program Z0, which is the bottom of the plate.",
        says(rapid_contact="stop"),
        (Edit("G53 G0 Z0.0", "G28 Z0.0", "T6 M6"),),
    ),
    Mistake(
        "ring-shifted",
        "clamp-ring",
        "G92 typed at the machine last week to nudge a worn edge by a quarter of a millimetre, saved with the program, never taken back.",
        says(leftovers="care"),
        (
            Edit("G0 X0.0 Y-2.7", "G92 X0.25", "T2 M6", beside=True),
            Edit("G92 X0.25", "G0 X0.0", "T2 M6", beside=True),
        ),
    ),
)
