"""Programs that cannot be read, or that mean nothing, or too much."""

from __future__ import annotations

from proof.bad_input.case import CARE, STOP, UNJUDGED, UNUSABLE, Case

PLATE = """%
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
M30
%
"""
SURE = PLATE.replace("G4 P3\n", "")
"""Without the dwell, whose P means seconds on one control and milliseconds on another."""
HEAD = b"G21 G90 G17 G54\n"
END = b"M30\n"
ASKED = (UNJUDGED, STOP)


def bad(name: str, data: bytes, exits: tuple[int, ...], *names: str, slow: bool = False) -> Case:
    """`read` names the file and what else is told here."""
    return Case(name, {"bad.nc": data}, ("read", "bad.nc"), exits, ("bad.nc", *names), slow=slow, group="read")


def examined(
    name: str, data: bytes, *names: str, exits: tuple[int, ...] = (UNJUDGED, STOP), slow: bool = False
) -> Case:
    """`examine` never calls such a program understood."""
    command = ("examine", "bad.nc", "--json")
    return Case(name, {"bad.nc": data}, command, exits, names, ("understood",), slow, group="examine")


def plain(body: str) -> bytes:
    return HEAD + body.encode() + b"\n" + END


TEXT = [
    bad("cut short in a word", SURE.encode()[:100] + b"G1 X", (UNJUDGED,), "line"),
    bad(
        "cut short after a whole line: no M30",
        SURE.encode()[: SURE.index("X50")] + b"X50 F2000\n",
        (0, UNJUDGED),
        "cut off",
    ),
    bad("binary", bytes(range(256)) * 40, (UNUSABLE,), "text"),
    bad("a picture's first bytes", b"\x89PNG\r\n\x1a\n" + bytes(200), (UNUSABLE,)),
    bad("zeros only", bytes(4096), (UNUSABLE,), "zero"),
    bad("empty", b"", (UNUSABLE,), "empty"),
    bad("only blank lines", b"\n\n  \n", (UNUSABLE,)),
    bad("only a comment", b"(nothing here)\n", (0, UNUSABLE, UNJUDGED), "Nothing moves"),
    bad("CRLF", SURE.replace("\n", "\r\n").encode(), (0,)),
    bad("carriage returns alone", SURE.replace("\n", "\r").encode(), (UNUSABLE,), "CR"),
    bad("UTF-16", SURE.encode("utf-16"), (UNUSABLE,), "UTF-16"),
    bad("UTF-8 with a byte order mark", b"\xef\xbb\xbf" + SURE.encode(), (0,)),
    bad("Latin-1 in a comment", SURE.replace("G80", "G80 (gro\xdf)").encode("latin-1"), (0,)),
    bad("Latin-1 in a word", SURE.replace("G80", "G80\xb0").encode("latin-1"), (UNJUDGED,), "line 3"),
    bad("one line of 2 MB", b"G1 " + b"X1 " * 700_000 + b"\n" + END, (UNUSABLE, UNJUDGED), "line", slow=True),
    bad(
        "200 MB of plain blocks",
        HEAD + b"G1 X1.000 Y1.000 F500\nX2.000 Y2.000\n" * 5_700_000 + END,
        (0, UNUSABLE),
        slow=True,
    ),
]

WORDS = [
    bad("missing subprogram", b"O1\nG21 G90\nM98 P7777\nM30\n", (UNJUDGED,), "7777"),
    bad("missing end", HEAD + b"G0 X1\n", (0, UNJUDGED), "M30", "cut off"),
    bad("endless loop", b"O1\nG21 G90\nN10 G0 X1\nGOTO 10\nM30\n", (UNJUDGED,), "line"),
    bad("endless recursion", b"O1\nG21\nM98 P2\nM30\nO2\nM98 P2\nM99\n", (UNJUDGED,), "line"),
    bad("a loop that never ends by its count", b"G21 G90\n#1=0\nWHILE [#1 LT 10] DO1\nG0 X#1\nEND1\nM30\n", (UNJUDGED,), "line"),
    bad("a subprogram called a million times", b"O1\nG21 G90\nM98 P2 L1000000\nM30\nO2\nG91 G0 X1\nG90\nM99\n", (UNJUDGED, 0), slow=True),
    bad("1e300", plain("G0 X1e300"), (UNJUDGED,), "line 2"),
    bad("20 digits", plain("G0 X12345678901234567890"), (UNJUDGED,), "line 2"),
    bad("20 digits after the point", plain("G0 X1.23456789012345678901"), (0,)),
    bad("400 digits", plain("G0 X" + "9" * 400), (UNJUDGED,), "line 2"),
    bad("NaN", plain("G0 Xnan"), (UNJUDGED,), "line 2"),
    bad("infinity", plain("G0 Xinf"), (UNJUDGED,), "line 2"),
    bad("letter O for zero", b"G21 G9O\nG0 X1O\nM30\n", (UNJUDGED,), "line 1"),
    bad("a comma for the decimal point", plain("G0 X1,5"), (UNJUDGED,), "line 2"),
    bad("two decimal points", plain("G0 X1.5.2"), (UNJUDGED,), "line 2"),
    bad("two signs", plain("G0 X--5"), (UNJUDGED,), "line 2"),
    bad("a word without a number", plain("G0 X"), (UNJUDGED,), "line 2"),
    bad("minus from a word processor", "G21 G90\nG0 Z−5\nM30\n".encode(), (UNJUDGED,), "line 2"),
    bad("conflict markers", b"G21 G90\n<<<<<<< HEAD\nG0 X1\n=======\nG0 X2\n>>>>>>> b\nM30\n", (UNJUDGED,), "line 2"),
    bad("two motions on one line", plain("G0 G1 X1 F100"), (UNJUDGED,), "line 2"),
    bad("X twice on one line", plain("G0 X1 X2"), (UNJUDGED,), "line 2"),
    bad("unknown G", plain("G777 X1"), (UNJUDGED,), "G777"),
    bad("unknown M", plain("G0 X1\nM777"), (UNJUDGED,), "M777"),
    bad("a comment that never ends", plain("G0 X1 (to the end"), (UNJUDGED,), "line 2"),
    bad("division by nought", plain("#1=[1/0]\nG0 X#1"), (UNJUDGED,), "line 2"),
    bad("root of a negative number", plain("G0 X[SQRT[-1]]"), (UNJUDGED,), "line 2"),
    bad("a parameter never set", plain("G0 X#500"), (UNJUDGED,), "500"),
    bad("brackets 400 deep", plain("G0 X" + "[" * 400 + "1" + "]" * 400), (UNJUDGED, 0), ""),
    bad("an option of the command line as a name", plain("G0 X1 --help"), (UNJUDGED,), "line 2"),
]  # fmt: skip

SHAPES = [
    bad("arc that cannot be", plain("G0 X0 Y0\nG2 X10 Y0 I1 J0 F100"), (UNJUDGED,), "line 3"),
    bad("arc of radius nought", plain("G0 X0 Y0\nG2 X0 Y0 I0 J0 F100"), (UNJUDGED,), "line 3"),
    bad("radius too small for its chord", plain("G0 X0 Y0\nG2 X10 Y0 R3 F100"), (UNJUDGED,), "line 3"),
    bad("arc of 100 km", plain("G0 X0 Y0\nG2 X10 Y0 R1e8 F100"), (UNJUDGED, 0), ""),
    bad("arc without a feed", plain("G0 X0 Y0\nG2 X10 Y0 R5"), (UNJUDGED,), "line 3"),
    bad("feed of nought", plain("G1 X10 F0"), (UNJUDGED,), "line 2"),
    bad("negative feed", plain("G1 X10 F-100"), (UNJUDGED,), "line 2"),
    bad("negative speed", plain("S-1000 M3"), (UNJUDGED,), "line 2"),
    bad("moves of no length", plain("G1 X1 F100\n" + "X1\n" * 50 + "X2"), (0,)),
    bad("a move of a thousand kilometres", plain("G1 X1000000000 F100"), (UNJUDGED, 0), ""),
    bad("a dwell of a year", plain("G4 P31536000"), (UNJUDGED, 0), ""),
    bad("a cycle without its depth", plain("G81 X1 Y1 R2 F100"), (UNJUDGED,), "line 2"),
    bad("pecks of nought", plain("G83 X1 Y1 Z-5 R2 Q0 F100"), (UNJUDGED,), "line 2"),
    bad("T of 20 digits", plain("T12345678901234567890 M6"), (UNJUDGED,), "line 2"),
]  # fmt: skip

EXAMINED = [
    examined(
        "examine: 200 MB of plain blocks",
        HEAD + b"G1 X1.000 Y1.000 F500\nX2.000 Y2.000\n" * 5_700_000 + END,
        "too long",
        exits=(UNUSABLE,),
        slow=True,
    ),
    examined("examine: cut short in a word", SURE.encode()[:100] + b"G1 X"),
    examined("examine: 1e300", plain("G0 X1e300"), "1e300"),
    examined("examine: 20 digits", plain("G0 X12345678901234567890")),
    examined("examine: NaN", plain("G0 Xnan")),
    examined("examine: arc that cannot be", plain("G0 X0 Y0\nG2 X10 Y0 I1 J0 F100")),
    examined("examine: unknown M", plain("G0 X1\nM777"), "M777"),
    examined("examine: endless loop", b"O1\nG21 G90\nN10 G0 X1\nGOTO 10\nM30\n"),
    examined("examine: binary", bytes(range(256)) * 40, "bad.nc", exits=(UNUSABLE,)),
    examined("examine: empty", b"", "bad.nc", exits=(UNUSABLE,)),
    Case(
        "examine: moves of no length", {"bad.nc": plain("G1 X1 F100\n" + "X1\n" * 50)}, ("examine", "bad.nc", "--json"),
        (*ASKED, CARE), group="examine",
    ),
]  # fmt: skip
CASES = [*TEXT, *WORDS, *SHAPES, *EXAMINED]
