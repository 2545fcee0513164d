"""A program that belongs to no job: what is seen of it, and that what cannot be said of it is said beside its field."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from firstoff.demo.lay_out import lay_out
from firstoff.errors import InputError
from firstoff.workflows.by_itself import choices, given_of, refused, see

OURS = "%\nG21 G90 G94\nT3 M6\nG55 S9000 M3\nG0 G43 H3 Z5\nG1 Z-1 F100\nX12.5 F300\nG0 Z5\nM5\nM30\n%\n"
BARE = "G21 G90 G94\nS9000 M3\nG0 X0 Y0 Z5\nG1 Z-1 F100\nG0 Z5\nM5\nM30\n"
GOOD = {
    "material": "al-6082",
    "stock": "box 0..80 0..50 -12..0 mm",
    "tool.3": "em3",
    "offset.G55": "121.4 88.1 -96.5 mm",
    "holding": "vice",
    "held_by": "force=2.4(5) kN friction=0.15",
    "highest_around": "-6 mm",
    "allowed_below": "-14.5 mm",
    "touched_with": "em6",
}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("by-itself") / "shop"
    lay_out(folder, datetime.now())
    return folder


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("dropped") / "strange.nc"
    path.write_text(OURS)
    return path


def test_what_a_program_uses_is_seen_before_anything_is_known_of_it(shop: Path, program: Path, tmp_path: Path) -> None:
    seen = see(shop, program)
    assert [(one.number, one.line, one.loaded) for one in seen.tools] == [(3, 3, "em3")]  # pocket 3 of the demo's rack
    assert seen.offsets == ("G55",)
    assert "Z from \u22121.0" in seen.way
    bare = tmp_path / "bare.nc"
    bare.write_text(BARE)
    seen = see(shop, bare)
    assert [one.number for one in seen.tools] == [0]  # what is in the spindle can still be said
    assert "tool.0" in seen.fields
    assert refused(shop, bare, {"tool.0": "em6"}) == {}
    bare.write_bytes(b"PK\x03\x04\x00\x00")
    with pytest.raises(InputError):
        see(shop, bare)


def test_all_that_may_be_said_is_taken_together(shop: Path, program: Path) -> None:
    assert refused(shop, program, GOOD) == {}
    assert refused(shop, program, {}) == {}
    given = given_of(GOOD)
    assert (given.tools, given.offsets) == (("3=em3",), ("G55=121.4 88.1 -96.5 mm",))
    assert given.holding == "vice force=2.4(5) kN friction=0.15"
    assert given_of({}).said == ()


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("material", "unobtainium", "unobtainium"),
        ("stock", "bx 1..2", "box 0..80"),
        ("stock", "box 0..80 0..50 0..-12 mm", "low end"),
        ("tool.3", "no-such-tool", "no-such-tool"),
        ("offset.G55", "1 2 mm", "121.40(2)"),
        ("held_by", "force=2 mm", "force"),
        ("highest_around", "12", "unit"),
        ("allowed_below", "-3 kg", "mass"),
        ("touched_with", "no-such-tool", "no-such-tool"),
    ],
)
def test_what_cannot_be_is_said_beside_its_own_field(
    shop: Path, program: Path, field: str, typed: str, says: str
) -> None:
    faults = refused(shop, program, {**GOOD, field: typed})
    assert list(faults) == [field]
    told = str(faults[field])
    assert says in told
    assert "--" not in told
    assert "command line" not in told


def test_how_firmly_without_what_holds_it_is_refused_there(shop: Path, program: Path) -> None:
    assert list(refused(shop, program, {"held_by": "force=2.4 kN"})) == ["held_by"]


def test_several_faults_each_have_their_place(shop: Path, program: Path) -> None:
    faults = refused(shop, program, {**GOOD, "stock": "bx", "highest_around": "12", "tool.3": "x"})
    assert set(faults) == {"stock", "highest_around", "tool.3"}


def test_the_shop_says_what_there_is_to_choose_from(shop: Path) -> None:
    found = choices(shop)
    assert {"em3", "em6"} <= set(found.tools)
    assert "vice" in found.kinds
    assert "al-6082" in found.materials
    assert "logger-lid" in found.jobs
