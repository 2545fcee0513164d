"""What the crib knows, as the questions see it: a new grip, a probe, holders by name, lengths that cannot be told apart."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from firstoff.verdict.question import Answer

from .conftest import Examine, swap

CLEAR, CARE, UNJUDGED, STOP = Answer.CLEAR, Answer.CARE, Answer.UNJUDGED, Answer.STOP
LENGTH = 'LF = { value = "64.150(6) mm", evidence = "measured", df = 9'
STICK_OUT = 'OHX = "24.0(3) mm"'
ANEW = 'condition = "new"\nre_gripped = 2026-05-02T10:00:00'


def both(*changes: Callable[[str], str]) -> Callable[[str], str]:
    def change(text: str) -> str:
        for one in changes:
            text = one(text)
        return text

    return change


def answers(examination: object) -> dict[str, Answer]:
    return {one.question.id: one.answer for one in examination.answers}  # type: ignore[attr-defined]


def test_a_new_grip_takes_length_and_stick_out_away(examine: Examine) -> None:
    anew = swap('condition = "new"', ANEW)
    found = examine(only={"tool", "travel", "body_contact"}, tools=anew)
    told = {one.question.id: one for one in found.answers}
    assert {name: told[name].answer for name in told} == dict.fromkeys(("travel", "body_contact", "tool"), UNJUDGED)
    needs = {need.fact: need.how for need in told["tool"].needs}
    assert needs["tools.em6.LF"].startswith(
        "It was gripped anew on 2026-05-02 10:00, and nothing says what it is since then."
    )
    measured = swap(LENGTH, f"{LENGTH}, on = 2026-05-03")
    (body,) = examine(only={"body_contact"}, tools=both(anew, measured)).answers
    assert body.answer is UNJUDGED
    assert {need.fact for need in body.needs} == {"tools.em6.OHX"}


@pytest.mark.parametrize(
    ("length", "void"),
    [("2026-05-02T09:59:00", True), ("2026-05-02", True), ("2026-05-02T10:00:00", False), ("2026-05-03", False)],
)
def test_what_is_measured_from_then_on_stands(examine: Examine, length: str, void: bool) -> None:
    dated = swap(LENGTH, f"{LENGTH}, on = {length}")
    out = swap(STICK_OUT, 'OHX = { value = "24.0(3) mm", on = 2026-05-03 }')
    found = examine(only={"tool"}, tools=both(swap('condition = "new"', ANEW), dated, out))
    assert answers(found)["tool"] is (UNJUDGED if void else CLEAR)


def test_nothing_changes_without_a_new_grip(examine: Examine) -> None:
    assert answers(examine(only={"tool"}))["tool"] is CLEAR


def test_steps_of_a_holder_serve_the_tool_in_it(examine: Examine) -> None:
    """The same answers to the last digit whether the steps stand with the tool or with its holder."""
    own = examine(only={"body_contact", "rapid_contact"})
    holder = '\n[holder.c16]\nsteps = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]\n'
    named = both(
        swap('holder = [["16 mm", "20 mm"], ["25 mm", "20 mm"]]', 'held_in = "c16"'), lambda text: text + holder
    )
    shared = examine(only={"body_contact", "rapid_contact"}, tools=named)
    assert [one.answer for one in shared.answers] == [one.answer for one in own.answers]
    assert [one.demand for one in shared.answers] == [one.demand for one in own.answers]
    assert {"tools.em6.held_in", "tools.holder.c16.steps.0.diameter"} <= set(shared.answers[0].leaned)
    nobody = both(named, swap(holder, '\n[holder.c16]\nnote = "nobody measured it"\n'))
    lost = examine(only={"body_contact"}, tools=nobody)
    assert lost.answers[0].answer is UNJUDGED


def test_a_sister_in_the_pocket_is_still_a_stop_that_says_what_to_do(examine: Examine) -> None:
    (told,) = examine(
        only={"tool"},
        tools=both(swap("[tool.em6]", '[tool.em6]\nsister = ["em4"]'), swap('tool = "em6"', 'tool = "em4"')),
    ).answers
    assert told.answer is STOP
    assert "em4 may stand in for em6: write it at 1 in [tools]" in told.do


def test_moves_before_the_first_tool_ask_for_none(examine: Examine) -> None:
    found = examine(only={"tool", "spindle"}, program=swap("G54\nT1 M6", "G54\nG53 G0 Z0\nT1 M6"))
    assert set(answers(found).values()) == {CLEAR}


# --- a probe ----------------------------------------------------------------------------------------------------------

PROBE = """
[tool.feeler]
kind = "probe"
DC = { value = "2.000(2) mm", evidence = "plate" }
DN = "1.5 mm"
stylus = "30 mm"
DMM = "20 mm"
OHX = "60.0(5) mm"
LF = { value = "110.00(1) mm", evidence = "measured", df = 9 }
holder = [["25 mm", "50 mm"]]
[[pocket]]
number = 9
tool = "feeler"
"""
TOUCH = """M9
M5
T9 M6
G0 X-5 Y15
G43 H9 Z10
Z4
G1 Z-2 F800
G38.2 X10 F100
G1 X-5 F800
G0 Z10
T2 M6
"""
PUSH = TOUCH.replace("G38.2 X10 F100", "G1 X10 F100")
AT = "M9\nM5\nT2 M6\n"


def probing(examine: Examine, program: str) -> object:
    return examine(
        only={"tool", "body_contact"},
        tools=lambda text: text + PROBE,
        job=swap('2 = "dr3"', '2 = "dr3"\n9 = "feeler"'),
        program=swap(AT, program),
    )


def tool_answer(examination: object) -> tuple[Answer, str]:
    told = next(one for one in examination.answers if one.question.id == "tool")  # type: ignore[attr-defined]
    return told.answer, told.why


def test_a_probe_that_touches_is_no_fault(examine: Examine) -> None:
    assert tool_answer(probing(examine, TOUCH))[0] is CLEAR


def test_a_probe_needs_no_spindle_on(examine: Examine) -> None:
    """Beside the stock and below its top at feed: with a cutter a stop, with a probe as it must be."""
    places = {}
    for kind in ("probe", "ball"):
        (told,) = examine(
            only={"spindle"},
            tools=both(lambda text: text + PROBE, swap('kind = "probe"', f'kind = "{kind}"')),
            job=swap('2 = "dr3"', '2 = "dr3"\n9 = "feeler"'),
            program=swap(AT, TOUCH),
        ).answers
        places[kind] = [place.place.line for place in told.places]
    assert places["ball"][0] == 24
    assert 24 not in places["probe"]


def test_a_probe_that_is_fed_through_the_stock_is_a_stop(examine: Examine) -> None:
    answer, why = tool_answer(probing(examine, PUSH))
    assert answer is STOP
    assert "the probe feeler is fed through the stock" in why


@pytest.mark.parametrize("where", ["G0 X-5 Y15\n", "G0 Z10\nT2 M6"])
def test_a_probe_that_turns_is_a_stop(examine: Examine, where: str) -> None:
    answer, why = tool_answer(probing(examine, TOUCH.replace(where, "S500 M3\n" + where)))
    assert answer is STOP
    assert "the spindle turns with the probe feeler in it" in why


# --- lengths ----------------------------------------------------------------------------------------------------------

SETTER = '\n[setter]\nrepeatability = { value = "2.0(2) µm", evidence = "measured" }\ndrift = "10(2) µm"\n'


def test_lengths_that_the_check_cannot_tell_apart_are_named(examine: Examine) -> None:
    alike = both(
        swap("71.020(6)", "64.200(6)"),
        swap('OHX = "30.0(3) mm"', 'OHX = "44.2(3) mm"'),
        swap("[tool.em6]", '[tool.em6]\nwear_allowed = "0.02 mm"'),
        swap("[tool.dr3]", '[tool.dr3]\nwear_allowed = "0.02 mm"'),
        lambda text: text + SETTER,
    )
    found = examine(only={"tool"}, tools=alike)
    (told,) = found.answers
    assert any("The length check cannot tell em6 from dr3: 50 µm apart" in note for note in told.notes), told.notes
    apart = both(swap("64.200(6)", "66.200(6)"), swap("44.2(3)", "46.2(3)"))
    (told,) = examine(only={"tool"}, tools=both(alike, apart)).answers
    assert not any("length check" in note for note in told.notes)
