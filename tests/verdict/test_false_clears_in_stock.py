"""Nothing that would crash into stock as it is cut by then, or into what stands round it, is called clear.

First single cases that once were clear. Then random programs against a slow mill of their own (`slow_mill`), which knows no reading, no path
and no removal of ours: whatever it hits by more than a third of a millimetre must be stop or unjudged in the question that owns it.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from firstoff import workflows
from firstoff.removal.field import Field
from firstoff.verdict.followed import Followed
from firstoff.verdict.question import Answer

from ..removal import solids
from .conftest import NOW, Examine, swap
from .random_work import random_bench, random_program
from .slow_mill import Stock

BEGIN = "%\nG21 G17 G40 G49 G90 G94 G80\nG54\nT1 M6\nS20000 M3\nG4 P3\nG0 X-5 Y-5\nG43 H1 Z10\n"
SLOT = "G0 X20 Y10\nZ4\nG1 Z-5 F300\nX30 F600\n"
END = "G0 Z20\nM5\nM30\n%\n"
PIN = '[[fixture]]\nname = "pin"\n[fixture.cylinder]\ndiameter = "6.00(1) mm"\nz = "-20 mm .. 12.0(1) mm"\nx = "70.0(1) mm"\ny = "10.0(1) mm"\n'
CLAMP = '[[fixture]]\nname = "clamp"\nbox = ["67.0(1) mm .. 73.0(1) mm", "7.0(1) mm .. 13.0(1) mm", "-20 mm .. 12.0(1) mm"]\n'
FROM_FILE = '[[fixture]]\nname = "pin"\nstl = "pin.stl"\n'
NOTHING_HIGH = swap('highest_around = "-3.0(2) mm"', 'highest_around = "-9.0(2) mm"')
Change = Callable[[str], str]
NOT_CLEAR = (Answer.STOP, Answer.UNJUDGED)


def both(*changes: Change) -> Change:
    """One change after the other."""

    def change(text: str) -> str:
        for one in changes:
            text = one(text)
        return text

    return change


def more(text: str) -> Change:
    return lambda before: before + text


def program(blocks: str) -> Change:
    return lambda _: f"{BEGIN}{blocks}{END}"


@pytest.fixture
def judged(shop: Callable[..., Path]) -> Callable[..., Answer]:
    """The answer of one question; a pin of STL stands beside the job."""

    def run(question: str, **changes: Change) -> Answer:
        folder = shop(**changes)
        pin = solids.block((67.0, 7.0, -20.0), (73.0, 13.0, 12.0))
        (folder / "pin.stl").write_bytes(solids.binary(np.asarray(pin)))
        return workflows.judge(workflows.prepare(folder, now=NOW), only=[question]).answer(question).answer

    return run


# --- single cases --------------------------------------------------------------------------------------------------------------------------

THIN = both(
    swap('DC = { value = "5.990(4) mm"', 'DC = { value = "1.000(4) mm"'), swap('APMX = "14 mm"', 'APMX = "5 mm"')
)
"""An edge of 1 mm on a shank of 6 mm."""


@pytest.mark.parametrize("fixture", [PIN, FROM_FILE, CLAMP], ids=["round", "from a file", "box"])
def test_a_shank_that_is_wider_than_its_edge_meets_a_fixture_at_rapid(
    judged: Callable[..., Answer], fixture: str
) -> None:
    """The axis passes 2.7 mm from the pin: the edge at 2.2 mm, the shank 0.3 mm inside."""
    past = program(f"{SLOT}G0 Z10\nG0 X90 Y-10\nZ4\nG0 X75.7\nG0 Y30\n")
    assert judged("rapid_contact", program=past, tools=THIN, job=more(fixture)) is Answer.STOP


@pytest.mark.parametrize("fixture", [PIN, FROM_FILE, CLAMP], ids=["round", "from a file", "box"])
@pytest.mark.parametrize(
    "first", ["G0 G43 H1 Z8\nX20 Y10\n", "G0 G43 H1 X20 Y10 Z8\n"], ids=["Z, then X Y", "all at once"]
)
def test_a_first_rapid_from_nobody_knows_where_may_cross_any_fixture(
    judged: Callable[..., Answer], first: str, fixture: str
) -> None:
    told = BEGIN.replace("G0 X-5 Y-5\nG43 H1 Z10\n", first) + "G1 Z-2 F300\nX30 F600\n" + END
    for question in ("rapid_contact", "body_contact"):
        assert judged(question, program=lambda _: told, job=more(fixture)) is Answer.UNJUDGED


@pytest.mark.parametrize(("height", "answer"), [("0.7", Answer.STOP), ("2.5", Answer.CARE), ("4", Answer.CLEAR)])
def test_a_first_rapid_from_nobody_knows_where_passes_the_blank_at_its_height(
    judged: Callable[..., Answer], height: str, answer: Answer
) -> None:
    told = BEGIN.replace("G0 X-5 Y-5\nG43 H1 Z10\n", f"G0 G43 H1 X20 Y10 Z{height}\n") + "G1 Z-2 F300\nX30 F600\n" + END
    assert judged("rapid_contact", program=lambda _: told) is answer


@pytest.mark.parametrize(("known", "answer"), [("70.0(1)", Answer.CLEAR), ("70(2)", Answer.STOP)])
def test_a_round_fixture_stands_only_as_surely_as_its_place_is_known(
    judged: Callable[..., Answer], known: str, answer: Answer
) -> None:
    past = program(f"{SLOT}G0 Z10\nG0 X90 Y-10\nZ4\nG0 X79\nG0 Y30\n")
    job = more(PIN.replace("70.0(1)", known))
    assert judged("rapid_contact", program=past, job=job) is answer


def test_a_shank_that_nobody_measured_is_clear_of_nothing(judged: Callable[..., Answer]) -> None:
    """A slot much deeper than the edge is long, taken in steps: whether the shank fits in it hangs on its diameter."""
    deep = program("G0 X20 Y10\nZ4\nG1 Z-2 F300\nX30 F600\nZ-4\nX20\nZ-6\nX30\nZ-8\nX20\n")
    for question in ("rapid_contact", "body_contact", "reach"):
        known = both(THIN, swap('APMX = "5 mm"\nDMM = "6 mm"', 'APMX = "3 mm"'))
        assert judged(question, program=deep, tools=known) is Answer.UNJUDGED


DOUBTS = [
    # what is known badly, question, blocks, changes of tools, job and machine
    ("a length", "rapid_contact", "G0 Z4.9\nX45\nY25\n", swap("64.150(6) mm", "64(3) mm"), NOTHING_HIGH, str),
    ("an overhang", "body_contact", "G1 Z-8 F300\n", swap("24.0(3) mm", "13(3) mm"), str, str),
    (
        "a zero in Z",
        "rapid_contact",
        "G0 Z4.9\nX45\nY25\n",
        str,
        both(NOTHING_HIGH, swap("-100.00(3)", "-100(3)")),
        str,
    ),
    (
        "a zero in X",
        "rapid_contact",
        "G0 X59.5 Y-20\nZ-5\nY40\nZ10\n",
        str,
        both(NOTHING_HIGH, swap('"100.00(2)', '"100(3)')),
        str,
    ),
    (
        "nothing, but 6 mm are asked",
        "rapid_contact",
        "G0 Z4.9\nX45\nY25\n",
        str,
        NOTHING_HIGH,
        more('[judgement]\nclearance = { clear_at = "6 mm", stop_below = "5 mm" }\n'),
    ),
]


@pytest.mark.parametrize(
    ("question", "blocks", "tools", "job", "machine"), [row[1:] for row in DOUBTS], ids=[row[0] for row in DOUBTS]
)
def test_a_gap_counts_as_far_as_its_doubt_reaches(
    judged: Callable[..., Answer], question: str, blocks: str, tools: Change, job: Change, machine: Change
) -> None:
    """All pass at 4.5 to 5 mm, wider than is looked for where everything is known well."""
    told = program(f"G0 X25 Y15\n{blocks}G0 X20 Y10\nG1 Z-2 F300\nX30\n")
    assert judged(question, program=told, tools=tools, job=job, machine=machine) is Answer.STOP


BALL_ON_A_NECK = '[tool.em6]\nkind = "lollipop"\nDN = "3.00(1) mm"\nLU = "20 mm"\n'


@pytest.mark.parametrize(("out", "answer"), [("G1 X-12 F500\n", Answer.CLEAR), ("G1 Z8 F200\n", Answer.STOP)])
def test_an_undercutting_edge_does_not_go_up_through_what_it_left_standing(
    judged: Callable[..., Answer], out: str, answer: Answer
) -> None:
    tools = swap('[tool.em6]\nkind = "flat"\n', BALL_ON_A_NECK)
    # The neck goes beside the blank, the globe 0.6 mm deep in its side.
    under = program(f"G0 X-12 Y-3.4\nZ-7\nG1 X20 F300\n{out}")
    job = swap('highest_around = "-3.0(2) mm"', 'highest_around = "-9.9(1) mm"')
    assert judged("reach", program=under, tools=tools, job=job) is answer


# --- good programs stay good ----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("blocks", "answer"),
    [
        ("G0 Z-4\nX22\n", Answer.CARE),  # along its own walls it may rub
        ("G1 Y14\nX20\nY18\nX30\nG0 Z-3\nX25 Y15\n", Answer.CARE),  # off the wall, over its own floor
        ("G0 Z10\nX60 Y-20\nX20 Y10\nZ-4.8\nG1 Z-6 F200\nX30 F600\n", Answer.CLEAR),  # down its own slot
    ],
    ids=["back through its slot", "across its pocket", "down its slot"],
)
def test_rapids_in_what_was_cut_pass_no_jaw_that_stands_lower_than_the_blank(
    judged: Callable[..., Answer], blocks: str, answer: Answer
) -> None:
    """Jaws reach up to −3 beside the blank; nothing but the blank stands where the blank stands."""
    assert judged("rapid_contact", program=program(SLOT + blocks)) is answer


def test_a_jaw_beside_the_blank_still_stands_there(judged: Callable[..., Answer]) -> None:
    out = program("G0 X25 Y15\nZ4\nG1 Z-4 F300\nX40 F600\nG0 Z-3.5\nX60\n")
    assert judged("rapid_contact", program=out) is Answer.STOP


# --- random programs against a slow mill ----------------------------------------------------------------------------------------------------

OWNERS = {
    "rapid_contact": ("rapid_contact",),
    "body_contact": ("body_contact",),
    "rapid_body": ("rapid_contact", "body_contact"),  # neck or shank at rapid: one of the two
    "reach": ("reach",),
    "cuts": ("cuts",),
}
SEEDS = (4, 8, 13, 14, 16, 20, 31, 33, 43, 53, 56, 58, 64, 68, 71, 74)
"""Short programs, most with one slip: a stop for one thing hides that another is missed."""


@pytest.mark.parametrize("seed", SEEDS)
def test_what_a_slow_mill_hits_is_never_clear(examine: Examine, seed: int) -> None:
    dice = random.Random(seed)
    bench = random_bench(dice)
    random_program(dice, bench)
    examination = examine(("rapid_contact", "body_contact", "reach", "cuts"), **bench.texts())
    assert bench.mill.hits, "a program that hits nothing proves nothing"
    for what, where in bench.mill.hits.items():
        answers = [examination.answer(question) for question in OWNERS[what]]
        told = [f"{one.question.id} {one.answer.value}: {one.why}" for one in answers]
        assert any(one.answer in NOT_CLEAR for one in answers), f"{where}: {told}"
    followed = examination.case.followed
    assert isinstance(followed, Followed), followed
    assert not parts_from(followed.likely.after, bench.mill.stock).any()


def parts_from(field: Field, stock: Stock) -> NDArray[np.bool_]:
    """Places where the two mills leave stock that parts by more than a millimetre over three cells each way: no wall, no slope."""
    grid = field.grid
    row = ((stock.y - grid.y0_mm) / grid.cell_mm).astype(int)
    column = ((stock.x - grid.x0_mm) / grid.cell_mm).astype(int)
    height = field.top[row[:, None], column].astype(float) + grid.z0_mm
    apart = np.abs(np.maximum(height, stock.bottom) - np.maximum(stock.top, stock.bottom)) > 1.0
    return np.asarray(sliding_window_view(apart, (3, 3)).all(axis=(2, 3)))
