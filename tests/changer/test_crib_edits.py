"""What is done to the crib by hand: each deed alone, refused ones, and long rows of deeds that must always leave a shop."""

from __future__ import annotations

import contextlib
import math
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstoff.changer import crib_edits
from firstoff.changer.crib import Crib, Whereabouts, crib_of
from firstoff.changer.crib_edits import Done, mean_length
from firstoff.changer.length_window import Setter
from firstoff.errors import InputError
from firstoff.facts.edit import change_shop
from firstoff.facts.shop import load_shop

NOW = datetime(2026, 5, 4, 10, 30)
TOOLS = """# my rack
in_spindle = "em6"

[holder.c6]
steps = [["20 mm", "49 mm"]]
grips = "5.5 mm .. 6 mm"
[holder.c6b]
grips = "5.5 mm .. 6 mm"
[holder.c3]
steps = [["16 mm", "49 mm"]]
grips = "2.5 mm .. 3 mm"

[tool.em6]
kind = "flat"
DC = { value = "6.00(1) mm", evidence = "measured" }
APMX = "13 mm"
DMM = { value = "6.000(5) mm", evidence = "plate" }
OHX = "22.0(3) mm"
LF = { value = "71.315(6) mm", evidence = "measured", on = 2026-05-01 }   # on the setter
held_in = "c6"

[tool.em3]
kind = "flat"
DC = "3 mm"
APMX = "8 mm"
DMM = { value = "3.000(5) mm", evidence = "plate" }
OHX = "20.0(3) mm"
LF = { value = "69.0(1) mm", evidence = "measured", on = 2026-05-01 }
held_in = "c3"

[tool.face]
kind = "flat"
DC = "20 mm"
APMX = "6 mm"
DMM = "8 mm"
OHX = "20.0(3) mm"
LF = "70.0(1) mm"
holder = [["34 mm", "50 mm"]]

[tool.loose]
kind = "flat"
DC = "6 mm"
APMX = "10 mm"
DMM = { value = "6.000(5) mm", evidence = "plate" }
LF = "60.0(5) mm"
place = "drawer 2"

[tool.bare]
kind = "flat"
DC = "6 mm"
place = "drawer 3"

[rack]
gap = "1 mm"

[[pocket]]
number = 1
tool = "em6"
at = [{ value = "300.0(1) mm" }, "0.0(1) mm", "-100.0(1) mm"]
[[pocket]]
number = 2
tool = "em3"
at = ["300.0(1) mm", "24.0(1) mm", "-100.0(1) mm"]
[[pocket]]
number = 3
at = ["300.0(1) mm", "48.0(1) mm", "-100.0(1) mm"]
[[pocket]]
number = 5
at = ["300.0(1) mm", "96.0(1) mm", "-100.0(1) mm"]
""".replace('{ value = "300.0(1) mm" }', '"300.0(1) mm"')


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "machine.toml").write_text('[shop]\nname = "Mill"\n')
    (tmp_path / "tools.toml").write_text(TOOLS)
    return tmp_path


def now_of(folder: Path) -> Crib:
    return crib_of(load_shop(folder).facts)


def done(folder: Path, deed: Done) -> Crib:
    if deed.edits:
        change_shop(folder, deed.edits)
    return now_of(folder)


def where(crib: Crib) -> dict[str, tuple[str, int | None, str | None]]:
    return {item.name: (item.where.value, item.pocket, item.place) for item in crib.items}


def test_the_crib_as_it_is_told(folder: Path) -> None:
    crib = now_of(folder)
    assert where(crib) == {
        "em6": ("spindle", 1, None),
        "em3": ("pocket", 2, None),
        "face": ("not said", None, None),
        "loose": ("place", None, "drawer 2"),
        "bare": ("place", None, "drawer 3"),
    }
    assert [(one.name, one.holds) for one in crib.holders] == [("c6", "em6"), ("c6b", None), ("c3", "em3")]
    loose = crib.item("loose")
    assert loose is not None
    assert not loose.gripped


def test_a_tool_is_loaded_moved_and_taken_out(folder: Path) -> None:
    crib = done(folder, crib_edits.load(now_of(folder), "loose", 5))
    assert where(crib)["loose"] == ("pocket", 5, None)
    crib = done(folder, crib_edits.load(crib, "loose", 3))
    assert where(crib)["loose"] == ("pocket", 3, None)
    assert 5 not in crib.rack.held
    crib = done(folder, crib_edits.unload(crib, 3, "drawer 4"))
    assert where(crib)["loose"] == ("place", None, "drawer 4")
    assert "# on the setter" in (folder / "tools.toml").read_text()
    assert crib_edits.load(crib, "em3", 2).edits == ()


def test_the_tool_in_the_spindle_goes_back_to_the_pocket_that_waits(folder: Path) -> None:
    crib = done(folder, crib_edits.load(now_of(folder), "em6", 1))
    assert where(crib)["em6"] == ("pocket", 1, None)
    assert crib.rack.in_spindle is None
    crib = done(folder, crib_edits.into_spindle(crib, "loose"))
    assert where(crib)["loose"] == ("spindle", None, None)
    crib = done(folder, crib_edits.into_spindle(crib, "em6"))
    assert where(crib)["loose"] == ("place", None, "bench")
    crib = done(folder, crib_edits.out_of_spindle(crib, None))
    assert where(crib)["em6"] == ("pocket", 1, None)
    crib = done(folder, crib_edits.into_spindle(crib, "em6"))
    crib = done(folder, crib_edits.out_of_spindle(crib, "box"))
    assert where(crib)["em6"] == ("place", None, "box")


def test_tools_change_places(folder: Path) -> None:
    crib = done(folder, crib_edits.swap(now_of(folder), "em3", "loose"))
    assert where(crib)["em3"] == ("place", None, "drawer 2")
    assert where(crib)["loose"] == ("pocket", 2, None)
    crib = done(folder, crib_edits.swap(crib, "loose", "em6"))
    assert where(crib)["loose"] == ("spindle", 1, None)
    assert where(crib)["em6"] == ("pocket", 2, None)


@pytest.mark.parametrize(
    ("deed", "words"),
    [
        (lambda crib: crib_edits.load(crib, "loose", 2), "pocket 2 holds em3"),
        (lambda crib: crib_edits.load(crib, "loose", 1), "pocket 1 waits for its tool: it holds em6"),
        (lambda crib: crib_edits.load(crib, "loose", 9), "the rack has no such pocket: 9. Allowed: 1, 2, 3, 5"),
        (lambda crib: crib_edits.load(crib, "lose", 3), "no tool has this name: lose. Allowed: nearest: loose"),
        (
            lambda crib: crib_edits.load(crib, "face", 3),
            "face does not fit into pocket 3 beside em3 in pocket 2: radii of 17.0 mm and 8.0 mm",
        ),
        (
            lambda crib: crib_edits.load(crib, "bare", 3),
            "bare is in no holder. Allowed: a tool that is gripped. firstoff crib grip bare",
        ),
        (lambda crib: crib_edits.load(crib, "bare", 2), "bare is in no holder"),
        (lambda crib: crib_edits.swap(crib, "bare", "em3"), "bare is in no holder"),
        (lambda crib: crib_edits.swap(crib, "em6", "bare"), "bare is in no holder"),
        (lambda crib: crib_edits.swap(crib, "face", "em6"), "face does not fit into pocket 1 beside em3 in pocket 2"),
        (lambda crib: crib_edits.swap(crib, "em6", "em6"), "cannot change places with itself"),
        (lambda crib: crib_edits.unload(crib, 3), "pocket 3 is empty"),
        (lambda crib: crib_edits.put(crib, "em3", "box"), "em3 is in pocket 2"),
        (lambda crib: crib_edits.grip(crib, "loose", "c6", NOW), "holder c6 grips em6"),
        (lambda crib: crib_edits.grip(crib, "loose", "c7", NOW), "no holder has this name: c7. Allowed: nearest: c6"),
        (
            lambda crib: crib_edits.grip(crib, "em3", "c6b", NOW),
            "holder c6b does not take the shank of em3: 3 mm. Allowed: 5.5 mm to 6 mm",
        ),
        (lambda crib: crib_edits.loosen(crib, "loose", NOW), "nobody says which holder loose is in"),
        (lambda crib: crib_edits.loosen(crib, "em3", NOW), "em3 is in pocket 2"),
    ],
)
def test_what_cannot_be_is_refused_with_the_numbers(folder: Path, deed: object, words: str) -> None:
    with pytest.raises(InputError) as caught:
        deed(now_of(folder))  # type: ignore[operator]
    assert words in str(caught.value)


def test_a_refused_tool_is_told_where_it_fits(folder: Path) -> None:
    with pytest.raises(InputError, match="pockets that it fits in: 5"):
        crib_edits.load(now_of(folder), "face", 3)
    crib = done(folder, crib_edits.load(now_of(folder), "face", 5))
    assert where(crib)["face"] == ("pocket", 5, None)
    assert crib.clashes == ()


def test_a_new_grip_makes_length_and_stick_out_void(folder: Path) -> None:
    crib = done(folder, crib_edits.unload(now_of(folder), 2, "bench"))
    deed = crib_edits.loosen(crib, "em3", NOW)
    assert deed.remarks == (
        "Holder c3 is free.",
        "Void now: length and stick-out of em3. Measure again before it runs.",
    )
    crib = done(folder, deed)
    item = crib.item("em3")
    assert item is not None
    assert (item.length, item.stick_out, item.holder, item.gripped) == (None, None, None, False)
    crib = done(folder, crib_edits.grip(crib, "em3", "c3", datetime(2026, 5, 4, 11), "21.0(2) mm"))
    item = crib.item("em3")
    assert item is not None
    assert item.stick_out is not None
    assert (item.length, item.stick_out.value, item.stick_out.u, item.holder) == (None, 21.0, 0.2, "c3")
    later = datetime(2026, 5, 4, 11, 10)
    crib = done(folder, crib_edits.measured(crib, "em3", mean_length([69.50, 69.502], None), later))
    item = crib.item("em3")
    assert item is not None
    assert item.length is not None
    assert (item.length.value, item.length.on) == (pytest.approx(69.501), later)


def test_own_steps_give_way_to_those_of_the_holder(folder: Path) -> None:
    tools = folder / "tools.toml"
    tools.write_text(tools.read_text().replace('DMM = "8 mm"', 'DMM = "6 mm"'))
    deed = crib_edits.grip(now_of(folder), "face", "c6b", NOW)
    assert any("steps that stood with face are taken out" in one for one in deed.remarks)
    assert any("Nobody has measured holder c6b" in one for one in deed.remarks)
    crib = done(folder, deed)
    assert not crib.facts.has("tools.face.holder.0.diameter")


def test_a_break_and_a_new_cutter(folder: Path) -> None:
    crib = done(folder, crib_edits.broke(now_of(folder), "em3", date(2026, 5, 4), "chips packed"))
    item = crib.item("em3")
    assert item is not None
    assert (item.condition, item.broke, item.broke_why) == ("suspect", datetime(2026, 5, 4), "chips packed")
    deed = crib_edits.fresh(crib, "em6", NOW)
    assert any("DC was measured on the edge before" in one for one in deed.remarks)
    item = done(folder, deed).item("em6")
    assert item is not None
    assert item.used_up is not None
    assert (item.condition, item.used_up.value, item.length) == ("new", 0.0, None)


def test_minutes_of_cutting_add_up(folder: Path) -> None:
    deed = crib_edits.used(now_of(folder), {"em6": 12.5, "em3": 3.0})
    assert [one for one in deed.remarks if "em6" in one] == [
        "Nobody said what the edge of em6 had cut before: its minutes count from now."
    ]
    crib = done(folder, deed)
    crib = done(folder, crib_edits.used(crib, {"em6": 0.25}))
    item = crib.item("em6")
    assert item is not None
    assert item.used_up is not None
    assert item.used_up.value == pytest.approx(12.75 * 60)
    fresh = done(folder, crib_edits.used(done(folder, crib_edits.fresh(crib, "em6", NOW)), {"em6": 1.0})).item("em6")
    assert fresh is not None
    assert fresh.condition == "used"
    for wrong in (0.0, -1.0, math.nan, 1e9):
        with pytest.raises(InputError, match="no edge cuts for so long"):
            crib_edits.used(crib, {"em6": wrong})


# --- lengths from readings --------------------------------------------------------------------------------------------


def test_readings_alone_and_with_the_setter() -> None:
    alone = mean_length([10.0, 10.002, 10.004], None)
    assert (alone.mean_mm, alone.df) == (pytest.approx(10.002), 2)
    assert alone.u_mm == pytest.approx(0.002 / math.sqrt(3))
    pooled = mean_length([10.0, 10.002, 10.004], Setter(0.003, df=8))
    assert pooled.df == 10
    assert pooled.u_mm == pytest.approx(math.sqrt((8 * 9 + 2 * 4) / 10) * 1e-3 / math.sqrt(3))
    one = mean_length([10.0], Setter(0.003, df=8))
    assert (one.u_mm, one.df) == (pytest.approx(0.003), 8)
    assert mean_length([10.0, 10.0], Setter(0.003)).u_mm == pytest.approx(0.003 / math.sqrt(2))


@pytest.mark.parametrize(
    ("readings", "setter", "words"),
    [
        ([10.0], None, "one reading tells no spread"),
        ([10.0, 10.0], None, "all readings are alike"),
        ([], None, "cannot be used"),
        ([math.nan], Setter(0.002), "cannot be used"),
        ([10.0, 10.05, 10.0], Setter(0.002), "the readings part by 0.05 mm"),
    ],
)
def test_readings_that_tell_nothing_are_refused(readings: list[float], setter: Setter | None, words: str) -> None:
    with pytest.raises(InputError, match=words):
        mean_length(readings, setter)


# --- long rows of deeds -----------------------------------------------------------------------------------------------

NAMES, POCKETS, HOLDERS = ["em6", "em3", "face", "loose", "bare"], [1, 2, 3, 5, 7], ["c6", "c6b", "c3"]
deeds = st.one_of(
    st.tuples(st.just("load"), st.sampled_from(NAMES), st.sampled_from(POCKETS)),
    st.tuples(st.just("unload"), st.sampled_from(POCKETS)),
    st.tuples(st.just("swap"), st.sampled_from(NAMES), st.sampled_from(NAMES)),
    st.tuples(st.just("put"), st.sampled_from(NAMES), st.just("box")),
    st.tuples(st.just("into_spindle"), st.sampled_from(NAMES)),
    st.tuples(st.just("out_of_spindle"), st.sampled_from([None, "box"])),
    st.tuples(st.just("grip"), st.sampled_from(NAMES), st.sampled_from(HOLDERS), st.just(NOW)),
    st.tuples(st.just("loosen"), st.sampled_from(NAMES), st.just(NOW)),
)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(deeds, min_size=1, max_size=7))
def test_whatever_is_done_each_tool_is_in_one_place(folder: Path, row: list[tuple[object, ...]]) -> None:
    """Every deed is refused, or leaves a shop that can be read, in which everything is somewhere and nothing twice."""
    (folder / "tools.toml").write_text(TOOLS)
    crib = now_of(folder)
    for name, *words in row:
        with contextlib.suppress(InputError):
            crib = done(folder, getattr(crib_edits, str(name))(crib, *words))
        held = list(crib.rack.held.values())
        assert len(set(held)) == len(held)
        assert len(crib.items) == len(NAMES)
        for item in crib.items:
            assert not (item.loaded and item.place is not None), item
            assert (item.where is Whereabouts.SPINDLE) == (crib.rack.in_spindle == item.name)
        gripped = [one.holds for one in crib.holders if one.holds is not None]
        assert len(set(gripped)) == len(gripped)
        assert all(pair.fit.value != "does not fit" for pair in crib.clashes)
