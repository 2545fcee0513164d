"""Every kind of wrong shop file: one clear fault with file, line, what is wrong and what is allowed; never a traceback."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from firstoff.errors import Fault, InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop

JOB = "jobs/first/job.toml"
FILES = ("machine.toml", "tools.toml", "materials.toml", JOB)


def faults_of(folder: Path) -> tuple[Fault, ...]:
    with pytest.raises(InputError) as caught:
        load_job("first", load_shop(folder))
    return caught.value.faults


def change(folder: Path, file: str, old: str, new: str) -> int:
    """Replace the first `old` in a file by `new`; the line that it stood on."""
    text = (folder / file).read_text()
    assert old in text, old
    (folder / file).write_text(text.replace(old, new, 1))
    return text[: text.index(old)].count("\n") + 1


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        # keys
        ("machine.toml", "max_feed", "max_fed", 'axis.x.max_fed: unknown key: max_fed. Allowed: nearest known: "max_feed"'),
        ("machine.toml", "max_feed", "Max_Feed", 'nearest known: "max_feed"'),
        ("machine.toml", "[spindle]", "[spindel]", 'nearest known: "spindle"'),
        ("machine.toml", "rapid_path", "rapid_paht", 'nearest known: "rapid_path"'),
        ("machine.toml", "[shop]", 'max_feed = "1 m/s"\n[shop]', "belongs under [axis.x]"),
        ("machine.toml", "homed", "hommed", 'nearest known: "homed"'),
        ("machine.toml", "stop_above = 0.30", "stop_abov = 0.30", 'nearest known: "stop_above"'),
        ("machine.toml", "{ care_above = 0.10 }", "{ care_above = 0.10, stop_above = 0.5 }", "unknown key"),
        ("machine.toml", 'evidence = "plate" }', 'evidense = "plate" }', 'nearest known: "evidence"'),
        ("tools.toml", "OHX", "OXH", 'nearest known: "OHX"'),
        ("tools.toml", "\nDC", "\ndc", 'nearest known: "DC"'),
        ("materials.toml", "radial_ratio", "radial_ration", 'nearest known: "radial_ratio"'),
        (JOB, "highest_around", "highest_arond", 'nearest known: "highest_around"'),
        (JOB, "finish_rz", "finish_rs", 'nearest known: "finish_rz"'),
        (JOB, "[offset.G54]", "[offset.G59.1]", 'names with a point need quotes: [offset."G59.1"]'),
        # quantities
        ("machine.toml", '"12 m/min"', '"12 m"', '"m" is a length, not a feed or speed: 12 m'),
        ("machine.toml", '"12 m/min"', '"12"', "the unit is missing: 12"),
        ("machine.toml", '"12 m/min"', "12", "the unit is missing: 12"),
        ("machine.toml", '"12 m/min"', '"12 m/mni"', 'nearest: "m/min"'),
        ("machine.toml", '"12 m/min"', '"-12 m/min"', "impossible: -12 m/min"),
        ("machine.toml", '"12 m/min"', '"1e9 m/min"', "beyond anything a machine tool has: 1e9 m/min"),
        ("machine.toml", '"12 m/min"', "nan", "the unit is missing: nan"),
        ("machine.toml", '"12 m/min"', "true", "must be a quantity in quotes: true"),
        ("machine.toml", '"12 m/min"', "[]", "must be a quantity in quotes: []"),
        ("machine.toml", '"12 m/min"', "{}", "value is missing"),
        ("machine.toml", '"12 m/min"', '{ value = "12 m/min", evidence = "measured" }', 'evidence "measured" without'),
        ("machine.toml", '"12 m/min"', '{ value = "12 m/min", evidence = "guess" }', "evidence is not known"),
        ("machine.toml", '"12 m/min"', '{ value = "12 m/min", u = "5 s" }', "u:"),
        ("machine.toml", '"12 m/min"', '{ value = "12 m/min", df = 0 }', "df cannot be used"),
        ("machine.toml", '"12 m/min"', '{ value = "12 m/min", on = "soon" }', "on is no date"),
        ("machine.toml", '"12 m/min"', '{ value = "12(0) m/min" }', "nothing in the world"),
        ("machine.toml", '"0 mm .. 310 mm"', '"310 mm"', "axis.x.travel: this must be a range"),
        ("machine.toml", '"0 mm .. 310 mm"', '"310 mm .. 0 mm"', "the low end is not below the high end"),
        ("machine.toml", '"0 mm .. 310 mm"', '"0 mm .. 310 s"', "is a time, not a length"),
        ("machine.toml", '["0 mm", "215 mm", "0 mm"]', '["0 mm", "215 mm"]', "must be a list of three"),
        ("machine.toml", '["0 mm", "215 mm", "0 mm"]', '["0 mm", "215 s", "0 mm"]', "home.G28[2]"),
        ("machine.toml", '["60 mm", "45 mm"]', '["60 mm"]', "each row must be [diameter, length]"),
        ("machine.toml", '["24000 1/min", "0.8 kW"]', '["4000 1/min", "0.8 kW"]', "speed must rise"),
        ("machine.toml", 'on_share = "40 %"', 'on_share = "140 %"', "impossible"),
        ("machine.toml", '"6.0(2) bar"', '"6.0(2) barn"', 'nearest: "bar"'),
        ("machine.toml", "care_above = 0.001", "care_above = 1.5", "impossible"),
        ("machine.toml", "care_above = 0.05, stop_above", "care_above = 0.5, stop_above", "stop_above must not be below"),
        # words, counts, dates, tables
        ("machine.toml", '"straight"', '"staright"', 'Nearest: "straight"'),
        ("machine.toml", '["cw"]', '["clockwise"]', "cw, ccw"),
        ("machine.toml", '["cw"]', "[]", "at least one"),
        ("machine.toml", '["cw"]', '"cw"', "a list in [ ]"),
        ("machine.toml", "homed = true", 'homed = "yes"', "true or false"),
        ("machine.toml", "2026-05-04T07:40:00", '"yesterday"', "this is no date"),
        ("machine.toml", "look_ahead = 50", "look_ahead = 0", "impossible"),
        ("machine.toml", "look_ahead = 50", "look_ahead = 2.5e99", "no such number"),
        ("machine.toml", "machine = { care_above = 0.001, stop_above = 0.01 }", "machine = 3", "a table of its own keys"),
        ("machine.toml", 'name = "setter"\n', "", "is missing"),
        ("tools.toml", "ZEFP = 3", "ZEFP = 3.5", "a whole number"),
        ("tools.toml", "ZEFP = 3", "ZEFP = 0", "from 1"),
        ("tools.toml", '"flat"', '"flt"', 'Nearest: "flat"'),
        ("tools.toml", "number = 1", "number = -1", "from 0"),
        ("machine.toml", "31 =", "M31 =", "must be a number"),
        # what must fit together
        ("tools.toml", 'tool = "em6"', 'tool = "em66"', "no tool has this name: em66. Allowed: nearest: em6"),
        ("tools.toml", "[[register]]", '[[pocket]]\nnumber = 1\n[[register]]', "pocket number 1 stands there twice"),
        ("tools.toml", "[[register]]", '[[pocket]]\nnumber = 2\ntool = "em6"\n[[register]]', "tool in two pockets: em6"),
        ("tools.toml", "[[pocket]]", "[[register]]\nT = 1\n[[pocket]]", "T in [[register]] 1 stands there twice"),
        ("tools.toml", "[tool.drill3]", "[tool.pocket]", "this word is taken"),
        ("tools.toml", "[tool.drill3]", '[tool."a drill"]', "must be one word"),
        ("tools.toml", 'RE = "0 mm"', 'RE = "4 mm"', "RE is more than half of DC"),
        ("tools.toml", '"21.0(3) mm"', '"121.0(3) mm"', "OHX is longer than LF"),
        ("tools.toml", '"drill"', '"profile"', "needs the key profile"),
        ("materials.toml", 'at = "0.05 mm", ', "", "does not say at which chip thickness"),
        (JOB, '"al-6082"', '"al-6028"', "no such material: al-6028. Allowed: nearest: al-6082"),
        (JOB, '1 = "em6"', '1 = "em7"', "T1: no tool has this name: em7. Allowed: nearest: em6"),
        (JOB, '1 = "em6"', '1 = "em6"\n01 = "em6"', "T 1 stands there twice"),
        (JOB, '1 = "em6"', 'T1 = "em6"', "must be a number"),
        (JOB, "[offset.G54]", "[offset.G60]", "no such work offset: G60"),
        (JOB, '"program.nc"', '"progam.nc"', "no such program: progam.nc. Allowed: nearest: program.nc"),
        (JOB, "[stock]", '[stock]\nstl = "blank.stl"', "stock is said in two ways"),
        (JOB, "tool = 1", "tool = 9", "T9 is not listed. Allowed: one of [tools]: T1"),
        (JOB, 'grip_height = "8 mm"', 'pressure = "1 bar"', "pressure does not belong to a vice"),
        (JOB, '"8 µm"', '"8(1) µm"', "has no doubt"),
        # not TOML
        ("machine.toml", "[axis.y]", "[axis.y", "not TOML"),
        ("machine.toml", '"0 mm .. 310 mm"', "0 mm .. 310 mm", "not TOML"),
        ("machine.toml", '"0 mm .. 310 mm"', '"0 mm .. 310 mm', "not TOML"),
        ("machine.toml", 'travel = "0 mm .. 310 mm"', "travel", "not TOML"),
        ("machine.toml", "[axis.y]", "[axis.x]", "twice"),
        (JOB, 'material = "al-6082"', 'material = "al-6082"\nmaterial = "pom"', "twice"),
    ],
)  # fmt: skip
def test_fault_names_file_line_and_what_is_allowed(full_shop: Path, file: str, old: str, new: str, words: str) -> None:
    line = change(full_shop, file, old, new)
    shown = "\n".join(str(fault) for fault in faults_of(full_shop))
    assert words in shown
    assert {fault.file for fault in faults_of(full_shop)} == {file}
    lines = {fault.line for fault in faults_of(full_shop) if words in str(fault)}
    here = range(line, line + new.count("\n") + 1)
    assert lines & {*here} if words not in ELSEWHERE else None not in lines


ELSEWHERE = {
    "is missing",  # a key that is not there has no line: its table's head has
    "T in [[register]] 1 stands there twice",  # the second one is the fault, and that is the old one here
}


def test_all_faults_of_all_files_together(full_shop: Path) -> None:
    change(full_shop, "machine.toml", "max_feed", "max_fed")
    change(full_shop, "machine.toml", '"60 m/s^3"', '"60 m/s"')
    change(full_shop, "tools.toml", '"6.00(1) mm"', '"6.00(1)"')
    change(full_shop, "materials.toml", "mc", "cm")
    faults = faults_of(full_shop)
    assert [fault.file for fault in faults] == ["machine.toml", "machine.toml", "tools.toml", "materials.toml"]
    lines = [fault.line or 0 for fault in faults]
    assert lines[0] < lines[1]


def test_several_faults_inside_one_value(full_shop: Path) -> None:
    change(full_shop, JOB, '["0(1) mm .. 64(1) mm", "0(1) mm .. 40(1) mm",', '["0(1) mm .. 64(1) s", "5 mm",')
    faults = faults_of(full_shop)
    assert [fault.what.partition(":")[0] for fault in faults] == ["stock.box[1]", "stock.box[2]"]


def test_line_inside_a_value_over_several_lines(full_shop: Path) -> None:
    line = change(full_shop, JOB, '["121.40(2) mm", "88.10(2) mm", "-130.55(3) mm"]', '["1 mm",\n"2 mm",\n"3 kg"]')
    (fault,) = faults_of(full_shop)
    assert fault.line == line + 2


@pytest.mark.parametrize("file", FILES)
@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "the file is empty"),
        (b" \n\t\n", "the file is empty"),
        ("[shop]\nname = 1\n".encode("utf-16"), "UTF-16"),
        ("[shop]\nname = 1\n".encode("utf-16-le"), "UTF-16"),
        ("[shop]\nname = 1\n".encode("utf-16-be"), "UTF-16"),
        (b"\x7fELF\x02\x01\x00\x00" + bytes(range(256)), "NUL"),
        (b'name = "caf\xe9"\n', "not text in UTF-8: byte 0xe9"),
        (b'[shop]\rname = "x"\r', "bare CR"),
        (b"x = " + b"[" * 20000, "nested too deep"),
        (b"x = " + b"9" * 5000, "nested too deep or a number too long"),
        (b"#" * 5_000_000, "too big"),
        (b"\x89PNG\r\n\x1a\n\xff\xff", "not text in UTF-8"),
    ],
)
def test_file_that_is_no_toml(full_shop: Path, file: str, data: bytes, words: str) -> None:
    (full_shop / file).write_bytes(data)
    (fault,) = faults_of(full_shop)
    assert words in str(fault)
    assert fault.file == file


def test_byte_order_mark_and_windows_lines_are_fine(full_shop: Path) -> None:
    path = full_shop / "machine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_shop(full_shop).name == "My mill"
    line = change(full_shop, "machine.toml", "homed", "hommed")
    assert faults_of(full_shop)[0].line == line


def test_truncated_anywhere(full_shop: Path) -> None:
    """Cut off after any of forty places: loads, or says where it stops making sense."""
    path = full_shop / "tools.toml"
    data = path.read_bytes()
    refused = 0
    for cut in range(1, len(data), len(data) // 40):
        path.write_bytes(data[:cut])
        refused += _outcome(full_shop)
    assert refused > 10


CORRUPTIONS = 200


def _outcome(folder: Path) -> int:
    """1 if the shop was refused with file and line in every fault, 0 if it loaded; anything else fails the test."""
    try:
        load_job("first", load_shop(folder))
    except InputError as error:
        for fault in error.faults:
            if not (fault.file in FILES and fault.line and fault.what):
                pytest.fail(f"a fault without its place: {fault!r}")
        return 1
    return 0


def _corrupted(line: str, chance: random.Random) -> str:
    """One `key = value` line with one thing wrong."""
    key, equals, value = line.partition("=")
    at = chance.randrange(len(line))
    return chance.choice(
        (
            key[:-2] + key[-1:] + equals + value,
            key.rstrip() + "x " + equals + value,
            key + equals + " 5",
            key + equals + " []",
            key + equals + " {}",
            key + equals + ' ""',
            key + equals + ' "nan mm"',
            key + equals + " true",
            key + value,
            re.sub(r"[a-z/µ^2]+\"", '"', line, count=1),
            re.sub(r"\d", "-", line, count=1),
            line.replace('"', "", 1),
            line + "\n" + line,
            line[:at] + line[at + 1 :],
            line[:at] + chance.choice("xX0\"'=[]{}#.,\\") + line[at:],
            line[:at] + "\N{SNOWMAN}" + line[at:],
        )
    )


def test_random_corruptions_never_escape(full_shop: Path) -> None:
    chance = random.Random(20260504)
    refused = 0
    for _ in range(CORRUPTIONS):
        path = full_shop / chance.choice(FILES)
        text = path.read_text()
        lines = text.split("\n")
        number = chance.choice([n for n, line in enumerate(lines) if "=" in line and not line.startswith("#")])
        lines[number] = _corrupted(lines[number], chance)
        path.write_text("\n".join(lines))
        refused += _outcome(full_shop)
        path.write_text(text)
    assert refused > CORRUPTIONS / 2


@pytest.mark.parametrize(
    ("old", "new", "meant"),
    [
        ('directions = ["cw"]', 'directions = ["clockwise"]', '"cw"'),
        ('kind = "vice"', 'kind = "vise"', '"vice"'),
        ('base = "plain"', 'base = "plane"', '"plain"'),
    ],
)
def test_a_word_of_the_trade_is_sent_to_ours(old: str, new: str, meant: str, full_shop: Path) -> None:
    for file in ("machine.toml", "jobs/first/job.toml"):
        path = full_shop / file
        text = path.read_text()
        if old in text:
            path.write_text(text.replace(old, new, 1))
            with pytest.raises(InputError) as caught:
                load_job("first", load_shop(full_shop))
            assert meant in str(caught.value)
            return
    pytest.fail(f"{old} stands nowhere")
