"""The hand-built program followed through its stock, by hand too: a groove where it cuts, loads of our own, limits that are easy to check."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from firstoff.facts.assembly import Part
from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.loads.cut_loads import Candidate, CutLoads, Overview, Quantity, Stretch
from firstoff.program.moves import Moves, Reading
from firstoff.removal.field import NOTHING, Field, Grid
from firstoff.removal.swept import Contact, FirstCut, PerMove, Surfaces, Swept
from firstoff.verdict.examination import Examination
from firstoff.verdict.followed import Followed
from firstoff.verdict.forms import Form, of
from firstoff.verdict.question import Answer, Answered, Limit, Place, Question, Risk, Share
from tests.sheets import hand_built as made

KC, FIT = "materials.al-6082.kc", "materials.al-6082.model_factor"
POWER_W, FORCE_N, CHIP_MM = 300.0, 80.0, 0.04
LIMIT_W, MOST_CHIP_MM = 600.0, 0.05
BINS = 1200


def facts() -> FactSet:
    """What the shop knows, with a spindle's curve, a material and a greatest chip; the power is exact, the force known to a fifth."""
    known = made.facts()
    more = (
        Fact(KC, 900.0, 180.0, "N/mm²", evidence=Evidence.HANDBOOK),
        Fact(FIT, 1.0, 0.1, "1", evidence=Evidence.ASSUMED),
        Fact("machine.spindle.power_s1.0.speed", 100.0, 0.0, "1/s"),
        Fact("machine.spindle.power_s1.0.power", LIMIT_W, 0.0, "W"),
        Fact("machine.spindle.power_s1.1.speed", 600.0, 0.0, "1/s"),
        Fact("machine.spindle.power_s1.1.power", LIMIT_W, 0.0, "W"),
        Fact("tools.em6.max_chip", MOST_CHIP_MM, 0.0, "mm"),
    )
    settings = {**known.settings, "job.material": Setting("job.material", "al-6082")}
    return replace(known, facts={**known.facts, **{fact.path: fact for fact in more}}, settings=settings)


def candidate(move: int, value: float) -> Candidate:
    """A load in proportion to kc."""
    return Candidate(
        move, (0.0, 0.0, -4.0), value, ((KC, 1.0), (FIT, 1.0)), 400.0, 40.0, CHIP_MM, 4.0, 6.0, lever_mm=2.0
    )


def stretches() -> tuple[Stretch, ...]:
    """em6 with everything known, dr25 with nothing."""
    loads = {
        Quantity.POWER: (candidate(5, POWER_W), candidate(6, 200.0)),
        Quantity.BENDING: (candidate(5, FORCE_N),),
        Quantity.CHIP: (candidate(7, CHIP_MM),),
    }
    none: dict[Quantity, tuple[Candidate, ...]] = {}
    return (
        Stretch(3, "em6", 4, 7, 400.0, 6.0, 2.0, 0.0, 0.0, 0.0012, 900.0, loads, ()),
        Stretch(5, "dr25", 11, 11, 200.0, 2.0, 0.0, 0.0, 0.0, None, 20.0, none, ("tools.dr25.ZEFP",)),
    )


def overview(reading: Reading) -> Overview:
    """Loads in the time of the cuts; a peak one bin wide, and nothing known of the drill."""
    count = len(reading.moves)
    time = np.arange(BINS) * (2.0 * count / BINS)
    move = np.minimum((time / 2.0).astype(int), count - 1)
    cut = np.isin(move, (5, 6, 7))
    high = {
        "power_w": np.where(cut, 150.0, 0.0),
        "force_n": np.where(cut, 40.0, 0.0),
        "bend_mm": np.where(cut, 0.01, 0.0),
        "chip_mm": np.where(cut, 0.02, 0.0),
        "feed_mm_per_s": np.where(cut, 38.0, 100.0),
        "commanded_mm_per_s": np.where(cut, 40.0, 0.0),
    }
    peak = int(np.flatnonzero(move == 5)[3])
    high["power_w"][peak], high["force_n"][peak], high["chip_mm"][peak] = POWER_W, FORCE_N, CHIP_MM
    for name in ("power_w", "force_n", "bend_mm", "chip_mm"):
        high[name][move == 11] = np.nan
    low = {name: high[name] for name in ("feed_mm_per_s", "commanded_mm_per_s")}
    as_f4 = {name: values.astype(np.float32) for name, values in high.items()}
    return Overview(time.astype(np.float32), reading.moves.line[move], reading.moves.tool[move], as_f4, low)


def loads(reading: Reading) -> CutLoads:
    """By move: the second cut takes all, the others half, the drill nobody knows."""
    count = len(reading.moves)
    part = np.zeros(count, dtype=np.float32)
    part[[5, 6, 7]] = 1.0, 0.5, 0.5
    part[11] = np.nan
    return CutLoads(
        stretches(), (), overview(reading), FORCE_N * part, POWER_W * part, CHIP_MM * part, 0.0
    )  # fmt: skip


def field(deep: bool) -> Field:
    """A blank of 64 × 40, with a groove 4 deep and a hole through it once it is cut."""
    grid = Grid(-1.0, -1.0, 0.5, 132, 84, 0.4)
    top = np.zeros((84, 132), dtype=np.float32)
    top[:2], top[-2:], top[:, :2], top[:, -2:] = NOTHING, NOTHING, NOTHING, NOTHING
    if deep:
        top[8:16, 2:100] = -4.4
        top[60:64, 60:64] = NOTHING
    return Field(grid, top, -14.0, np.zeros((0, 4)))


def swept(count: int) -> Swept:
    none = np.zeros(count, dtype=np.float32)
    per_move = PerMove(none.astype(np.float64), none, none, none, none, none, none)
    touch = Contact(3, 3, Part.EDGE, "stock", -1.0, 0.0, True, True, True, (-10.0, 5.0, 2.0), (2.0, 6.0, 0.4))
    first = FirstCut(3, 4, 5, (0.0, 5.0, -4.0), 4.4, 6.0, 0.4)
    before, after = field(False), field(True)
    maker = np.full(after.top.shape, -1, dtype=np.int32)
    return Swept(before, after, maker, per_move, (touch,), (first,), 0.0, ())


def followed(reading: Reading) -> Followed:
    """The same sweep for all three blanks."""
    count = len(reading.moves)
    one = swept(count)
    no, none = np.zeros(count, dtype=np.bool_), np.zeros(count, dtype=np.float32)
    surfaces = Surfaces(no, no, no, none, (), (), (), (), 0.0)
    return Followed(one, one, one, surfaces, loads(reading), {}, ())


def power_care() -> Answered:
    """The power of the second cut against the curve, in care: the doubt is kc's and the fit's."""
    demand = Form(0.0, ((KC, 1.0), (FIT, 1.0)))
    limit = Limit(Place(11, 5), demand, of(facts().facts["machine.spindle.power_s1.0.power"]), "", "")
    return replace(
        made.off_the_rule(), answer=Answer.CARE, demand=made.measure(POWER_W, 70.0, "W"), capacity=made.measure(LIMIT_W, 0.0, "W"),
        doubt=(Share(KC, 0.8), Share(FIT, 0.2)), margins=(limit,), notes=("em6: chips thinner than the data.",),
    )  # fmt: skip


def torque_clear() -> Answered:
    question = Question("torque", Risk.TOOL, "Has the spindle the torque at that speed?")
    return replace(
        power_care(), question=question, answer=Answer.CLEAR, places=(), why="The hardest cut needs half.", do=""
    )


def touching() -> Answered:
    """A rapid that goes into the stock, at the move of the contact."""
    place = replace(made.room_care().places[0], place=Place(9, 3, (-10.0, 5.0, 2.0), "G54"), answer=Answer.STOP)
    return replace(made.room_care(), answer=Answer.STOP, places=(place,))


def examination(*answers: Answered) -> Examination:
    """The examination of the followed program with these answers, or with one of every kind."""
    answers = answers or (*(make() for make in made.EVERY_KIND), power_care(), torque_clear(), touching())
    unique = {answered.question.id: answered for answered in answers}
    whole = made.examination(*unique.values(), known=facts())
    case = replace(whole.case, followed=followed(whole.case.reading))
    return replace(whole, case=case)


def long_program(count: int) -> Examination:
    """The same shop with a program of `count` short moves over a wavy surface, followed with loads that differ from move to move."""
    whole = examination()
    turn = np.arange(count)
    x = 32.0 + 30.0 * np.sin(turn * 0.1)
    y = 1.0 + 38.0 * turn / count
    z = -2.0 + np.cos(turn * 0.37)
    old = whole.case.moves
    moves = Moves(
        kind=np.full(count, old.kind[5]), end_mm=np.stack([x, y, z], axis=1), frame=np.ones((count, 3), dtype=np.int16),
        arc=np.full(count, -1, dtype=np.int32), feed_mm_per_s=np.full(count, 40.0), spindle_per_s=np.full(count, 400.0),
        tool=np.full(count, 3, dtype=np.int32), comp_register=np.full(count, -1, dtype=np.int32), flags=np.zeros(count, dtype=np.uint16),
        line=np.arange(1, count + 1, dtype=np.int32), parent=np.full(count, -1, dtype=np.int32),
    )  # fmt: skip
    reading = replace(whole.case.reading, moves=moves, events=(), lines=count, blocks=count)
    case = replace(made.case(facts(), reading), followed=Followed(*_long(count, whole)))
    return replace(whole, case=case)


def _long(count: int, whole: Examination) -> tuple[object, ...]:
    told = whole.case.followed
    assert isinstance(told, Followed)
    assert told.loads is not None
    part = (0.5 + 0.5 * np.sin(np.arange(count) * 0.01)).astype(np.float32)
    em6 = replace(stretches()[0], first_move=0, last_move=count - 1)
    costs = replace(
        told.loads, stretches=(em6,), force_n=FORCE_N * part, power_w=POWER_W * part, chip_mm=CHIP_MM * part
    )
    return told.likely, told.largest, told.smallest, told.surfaces, costs, {}, ()
