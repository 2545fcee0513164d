"""Facts files with every kind of wrong: what is refused names the file and the line; what is only missing leaves a question open."""

from __future__ import annotations

from proof.bad_input.case import STOP, UNJUDGED, UNUSABLE, Case
from proof.bad_input.programs import SURE

MACHINE = """[axis.x]
travel = "0 mm .. 300 mm"
[axis.y]
travel = "0 mm .. 200 mm"
[axis.z]
travel = "-120 mm .. 0 mm"
[spindle]
speed = "3000 1/min .. 24000 1/min"
directions = ["cw"]
run_up = "2.5 s"
"""
TOOLS = """[tool.em6]
kind = "flat"
DC = "6 mm"
DMM = "6 mm"
OHX = "22.0(3) mm"
holder = [["16 mm", "20 mm"], ["25 mm", "22 mm"]]
LF = { value = "64.15(1) mm", evidence = "measured" }
[[pocket]]
number = 1
tool = "em6"
"""
JOB = """program = "program.nc"
material = "al-6082"
[tools]
1 = "em6"
[offset.G54]
at = ["100 mm", "80 mm", "-95 mm"]
[stock]
box = ["-1 mm .. 51 mm", "-1 mm .. 31 mm", "-10 mm .. 0.2 mm"]
[around]
highest_around = "-3 mm"
allowed_below = "-10.5 mm"
[holding]
kind = "vice"
"""
EXAMINE = ("examine", "jobs/plate", "--json")


def shop(
    name: str,
    exits: tuple[int, ...],
    *names: str,
    machine: str | bytes = MACHINE,
    tools: str | bytes = TOOLS,
    job: str | bytes = JOB,
    more: dict[str, bytes] | None = None,
    not_clear: tuple[str, ...] = (),
    slow: bool = False,
    group: str = "facts",
) -> Case:
    """A whole shop with one thing wrong in it."""
    texts = {"machine.toml": machine, "tools.toml": tools, "jobs/plate/job.toml": job, "jobs/plate/program.nc": SURE}
    files = {path: text.encode() if isinstance(text, str) else text for path, text in texts.items()}
    return Case(name, files | (more or {}), EXAMINE, exits, names, not_clear, slow, group=group)


def swapped(text: str, old: str, new: str) -> str:
    if text.count(old) < 1:
        raise ValueError(f"{old!r} does not stand in the text")
    return text.replace(old, new, 1)


def machine(name: str, old: str, new: str, *names: str) -> Case:
    return shop(f"machine: {name}", (UNUSABLE,), "machine.toml", *names, machine=swapped(MACHINE, old, new))


def tools(name: str, old: str, new: str, *names: str) -> Case:
    return shop(f"tools: {name}", (UNUSABLE,), "tools.toml", *names, tools=swapped(TOOLS, old, new))


def job(name: str, old: str, new: str, *names: str) -> Case:
    return shop(f"job: {name}", (UNUSABLE,), "job.toml", *names, job=swapped(JOB, old, new))


X = 'travel = "0 mm .. 300 mm"'
BOX = 'box = ["-1 mm .. 51 mm", "-1 mm .. 31 mm", "-10 mm .. 0.2 mm"]'
TEXT = [
    machine("not TOML", "[axis.x]", "[axis.x", ":1"),
    shop("machine: binary", (UNUSABLE,), "machine.toml", machine=bytes(range(256))),
    shop("machine: UTF-16", (UNUSABLE,), "machine.toml", machine=MACHINE.encode("utf-16")),
    shop("machine: Latin-1", (UNUSABLE,), "machine.toml", machine=('[shop]\nname = "Gr\xfcn"\n' + MACHINE).encode("latin-1")),
    shop("machine: empty", (UNUSABLE,), "machine.toml", "empty", machine=""),
    shop("machine: CRLF", (UNJUDGED, STOP), machine=MACHINE.replace("\n", "\r\n")),
    machine("a key twice", X, X + "\n" + X, ":3"),
    machine("a table twice", "[axis.y]", "[axis.x]", "axis.x"),
    machine("unknown key", "travel =", "travl =", ":2", "travel"),
    machine("unknown table", "[axis.y]", "[axes.y]", ":3"),
    machine("two faults at once", X, 'travl = 1\nmax_feed = "3 kg"', ":2", ":3"),
]  # fmt: skip
VALUES = [
    machine("no unit", X, 'max_feed = "10"', ":2"),
    machine("wrong dimension", X, 'travel = "0 s .. 300 s"', ":2", "mm"),
    machine("a unit nobody knows", X, 'travel = "0 furlongz .. 300 mm"', ":2"),
    machine("range the wrong way round", X, 'travel = "300 mm .. 0 mm"', ":2", "300"),
    machine("negative feed", X, 'max_feed = "-3 m/min"', ":2", "-3"),
    machine("NaN", X, "max_feed = nan", ":2"),
    machine("infinity", X, 'max_feed = "inf m/min"', ":2"),
    machine("1e400", X, 'max_feed = "1e400 m/min"', ":2"),
    machine("20 digits", X, 'max_feed = "12345678901234567890 m/min"', ":2"),
    machine("a number for a quantity", X, "max_feed = 10", ":2"),
    machine("a list for a quantity", X, 'max_feed = ["10 m/min"]', ":2"),
    machine("a date for a quantity", X, "max_feed = 2026-05-04", ":2"),
    machine("brackets that do not close", X, 'max_feed = "10(2 m/min"', ":2", "10(2"),
    machine("negative doubt", X, 'max_feed = { value = "10 m/min", u = "-5 %" }', ":2"),
    machine("evidence nobody knows", X, 'max_feed = { value = "10 m/min", evidence = "felt" }', ":2", "felt"),
    machine("measured without doubt", X, 'max_feed = { value = "10 m/min", evidence = "measured" }', ":2"),
    machine("half a degree of freedom", X, 'max_feed = { value = "10(1) m/min", evidence = "measured", df = 0.5 }', ":2"),
    machine("a shape nobody knows", X, 'max_feed = { value = "10(1) m/min", shape = "round" }', ":2", "round"),
    machine("a direction nobody knows", '["cw"]', '["up"]', ":9", "up"),
    tools("a kind nobody knows", '"flat"', '"square"', ":2", "square"),
    tools("diameter of nought", 'DC = "6 mm"', 'DC = "0 mm"', ":3"),
    shop("tools: stick-out longer than the length", (UNUSABLE, STOP), "OHX", tools=swapped(TOOLS, 'OHX = "22.0(3)', 'OHX = "92.0(3)')),
    tools("two tools in one pocket", "[[pocket]]", '[[pocket]]\nnumber = 1\ntool = "em6"\n[[pocket]]', "pocket"),
    tools("a pocket with a tool nobody knows", 'tool = "em6"', 'tool = "em7"', "em7"),
    tools("a holder without a length", '["16 mm", "20 mm"]', '["16 mm"]', ":6"),
]  # fmt: skip
JOBS = [
    job("not TOML", "[tools]", "[tools", ":3"),
    job("no program", 'program = "program.nc"\n', "", "program"),
    job("a program that is not there", "program.nc", "other.nc", "other.nc"),
    job("a folder for a program", "program.nc", "..", "program"),
    job("a material nobody knows", "al-6082", "unobtainium", "unobtainium"),
    job("a tool nobody knows", '"em6"', '"em60"', "em60"),
    job("an offset of two numbers", '["100 mm", "80 mm", "-95 mm"]', '["100 mm", "80 mm"]', ":6"),
    job("an offset nobody knows", "[offset.G54]", "[offset.G64]", "G64"),
    job("blank of no size", BOX, 'box = ["0 mm .. 0 mm", "0 mm .. 0 mm", "0 mm .. 0 mm"]', ":8", "0 mm"),
    job("blank the wrong way round", BOX, 'box = ["51 mm .. -1 mm", "-1 mm .. 31 mm", "-10 mm .. 0.2 mm"]', ":8", "51"),
    job("blank of a kilometre", BOX, 'box = ["0 m .. 1000 m", "0 m .. 1000 m", "-10 mm .. 0 mm"]', ":8"),
    job("two kinds of blank", BOX, BOX + '\nstl = "a.stl"', "stl"),
    job("blank of an unknown job", BOX, 'after = "nothing"', "nothing"),
    job("blank after itself", BOX, 'after = "plate"', "plate"),
    job("a holding nobody knows", '"vice"', '"magic"', "magic"),
    job("negative tolerance", "[holding]", '[[feature]]\nwhat = "wall"\nkind = "wall"\ntol = "-0.1 mm"\n[holding]', "tol"),
]  # fmt: skip
WORDS = [
    Case("a job that is not there", {"a.nc": SURE.encode()}, ("examine", "nowhere"), (UNUSABLE,), ("nowhere",), group="command"),
    Case("a program that is not there", {}, ("read", "nowhere.nc"), (UNUSABLE,), ("nowhere.nc",), group="command"),
    Case("a folder for a program", {"a/b.nc": b"G0 X1\n"}, ("read", "a"), (UNUSABLE,), ("a",), group="command"),
    Case("a base nobody knows", {"a.nc": SURE.encode()}, ("read", "a.nc", "--base", "klingon"), (UNUSABLE,), ("klingon",), group="command"),
    Case("a command nobody knows", {}, ("sing",), (UNUSABLE,), ("sing",), group="command"),
    Case("a blank in words", {"a.nc": SURE.encode()}, ("examine", "a.nc", "--no-shop", "--stock", "a lump"), (UNUSABLE,), ("a lump",), group="command"),
    Case("an offset in words", {"a.nc": SURE.encode()}, ("examine", "a.nc", "--no-shop", "--offset", "G54=here"), (UNUSABLE,), ("here",), group="command"),
    Case("a page into a folder that is not there", {"a.nc": SURE.encode()}, ("examine", "a.nc", "--no-shop", "--html", "no/such/a.html"), (UNUSABLE,), ("no/such",), group="command"),
    Case("a stock over the program", {"a.nc": SURE.encode()}, ("examine", "a.nc", "--no-shop", "--stock-out", "a.nc"), (UNUSABLE,), ("a.nc",), group="command"),
    Case("a page over the program", {"a.nc": SURE.encode()}, ("examine", "a.nc", "--no-shop", "--html", "a.nc"), (UNUSABLE,), ("a.nc",), group="command"),
]  # fmt: skip
CASES = [*TEXT, *VALUES, *JOBS, *WORDS]
