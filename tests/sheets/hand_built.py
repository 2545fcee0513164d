"""Examinations built by hand, one of every kind, so that pages are tested without reading or judging anything.

The shop is the demo's: a small maker of water-level loggers.
"""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import datetime

import numpy as np

from firstoff.facts.fact import Evidence, Fact, FactSet, Setting
from firstoff.motion.timeline import Timeline
from firstoff.program.bounds import reach_of_moves
from firstoff.program.moves import (
    NO_LENGTH,
    Arcs,
    Base,
    Event,
    Flag,
    Frames,
    Kind,
    ModalState,
    Moves,
    Problem,
    Reading,
    What,
)
from firstoff.verdict.case import Case, lost, move_masks
from firstoff.verdict.examination import Examination, NotAsked, TimeSpent
from firstoff.verdict.followed import NotFollowed
from firstoff.verdict.forms import Scale, exact, of
from firstoff.verdict.next import Proposal
from firstoff.verdict.question import (
    Answer,
    Answered,
    AnsweredPlace,
    Limit,
    Measure,
    Need,
    Place,
    Question,
    Risk,
    Share,
)
from firstoff.verdict.words import ShopUnits

NOW = datetime(2026, 5, 4, 14, 20)

PROGRAM = """%
(FLOAT CAP, FIRST SIDE)
G21 G17 G90 G94 G40 G49 G80
G53 G0 Z0.
T3 M6
G54 S24000 M3
G0 X-10. Y5.
G43 Z25. H3 M8
Z2.
G1 Z-4. F600.
X64. F2400.
Y20.
X-10.
G0 Z25. M9
M0 (TURN THE CLAMP)
T5 M6
S12000 M3
G0 X20. Y20.
G43 Z25. H5 M8
G1 Z-12. F300.
G0 Z25.
M5 M9
G53 G0 Z0.
M30
%""".splitlines()

FEEDS = (
    # kind, x, y, z, feed mm/s, turns/s, tool, line, Z frame (0 machine, 1 G54 H3, 2 G54 H5)
    (Kind.MACHINE, np.nan, np.nan, 0.0, np.nan, 0.0, -1, 4, 0),
    (Kind.RAPID, -10.0, 5.0, 0.0, np.nan, 400.0, 3, 7, 0),
    (Kind.RAPID, -10.0, 5.0, 25.0, np.nan, 400.0, 3, 8, 1),
    (Kind.RAPID, -10.0, 5.0, 2.0, np.nan, 400.0, 3, 9, 1),
    (Kind.FEED, -10.0, 5.0, -4.0, 10.0, 400.0, 3, 10, 1),
    (Kind.FEED, 64.0, 5.0, -4.0, 40.0, 400.0, 3, 11, 1),
    (Kind.FEED, 64.0, 20.0, -4.0, 40.0, 400.0, 3, 12, 1),
    (Kind.FEED, -10.0, 20.0, -4.0, 40.0, 400.0, 3, 13, 1),
    (Kind.RAPID, -10.0, 20.0, 25.0, np.nan, 400.0, 3, 14, 1),
    (Kind.RAPID, 20.0, 20.0, 25.0, np.nan, 200.0, 5, 18, 1),
    (Kind.RAPID, 20.0, 20.0, 25.0, np.nan, 200.0, 5, 19, 2),
    (Kind.FEED, 20.0, 20.0, -12.0, 5.0, 200.0, 5, 20, 2),
    (Kind.RAPID, 20.0, 20.0, 25.0, np.nan, 200.0, 5, 21, 2),
    (Kind.MACHINE, 20.0, 20.0, 0.0, np.nan, 0.0, 5, 23, 0),
)


def reading(text: tuple[str, ...] = tuple(PROGRAM), problems: tuple[Problem, ...] = ()) -> Reading:
    """The program above, read by hand."""
    rows = FEEDS
    count = len(rows)
    end = np.array([row[1:4] for row in rows])
    frame = np.array([[1 if row[8] else 0, 1 if row[8] else 0, row[8]] for row in rows], dtype=np.int16)
    frame[1:, :2] = 1
    flags = np.zeros(count, dtype=np.uint16)
    flags[[1, 9]] = int(Flag.RESTORED)
    moves = Moves(
        kind=np.array([int(row[0]) for row in rows], dtype=np.uint8),
        end_mm=end,
        frame=frame,
        arc=np.full(count, -1, dtype=np.int32),
        feed_mm_per_s=np.array([row[4] for row in rows]),
        spindle_per_s=np.array([row[5] for row in rows]),
        tool=np.array([row[6] for row in rows], dtype=np.int32),
        comp_register=np.full(count, -1, dtype=np.int32),
        flags=flags,
        line=np.array([row[7] for row in rows], dtype=np.int32),
        parent=np.full(count, -1, dtype=np.int32),
    )
    none = np.zeros(0)
    arcs = Arcs(np.zeros((0, 2)), np.zeros(0, dtype=np.uint8), none, none, none)
    frames = Frames(
        base=np.array([[0, 0, 0], [1, 1, 1], [1, 1, 1]], dtype=np.int16),
        shift_mm=np.zeros((3, 3)),
        length=np.array([NO_LENGTH, 3, 5], dtype=np.int32),
        system=np.array([1, 1, 1], dtype=np.int16),
    )
    events = (
        Event(What.TOOL_SELECT, 1, 5, 3),
        Event(What.TOOL_CHANGE, 1, 5, 3),
        Event(What.OFFSET_USED, 1, 6, int(Base.G54)),
        Event(What.SPINDLE, 1, 6, 0, 400.0),
        Event(What.LENGTH, 2, 8, 3),
        Event(What.COOLANT, 2, 8, 2),
        Event(What.COOLANT, 9, 14, 0),
        Event(What.STOP, 9, 15, 0, text="TURN THE CLAMP"),
        Event(What.TOOL_CHANGE, 9, 16, 5),
        Event(What.SPINDLE, 9, 17, 0, 200.0),
        Event(What.LENGTH, 10, 19, 5),
        Event(What.COOLANT, 10, 19, 2),
        Event(What.END, 14, 24, 30),
    )
    final = ModalState(
        "G0", "G17", "G90", "G94", "mm", "G54", "G40", NO_LENGTH, "G64", "G98", "incremental", "off",
        12000.0, 300.0, 5, "off", True, False, "M30", True,
    )  # fmt: skip
    return Reading(
        file="jobs/float-cap/program.nc",
        sha256=hashlib.sha256("\n".join(text).encode()).hexdigest(),
        lines=len(text),
        blocks=22,
        text=text,
        units="mm",
        moves=moves,
        arcs=arcs,
        frames=frames,
        events=events,
        problems=problems,
        final=final,
        before_end=final,
        parameters={},
        end_mm=(20.0, 20.0, 0.0),
        control_used=(),
    )


def _fact(path: str, value: float, u: float, unit: str = "mm", evidence: Evidence = Evidence.MEASURED) -> Fact:
    return Fact(path, value, u, unit, evidence=evidence)


FACTS = tuple(
    _fact(*row)
    for row in (
        ("machine.axis.x.travel.low", -2.0, 1.0),
        ("machine.axis.x.travel.high", 418.0, 1.0),
        ("machine.axis.y.travel.low", 0.0, 0.5),
        ("machine.axis.y.travel.high", 263.0, 0.5),
        ("machine.axis.z.travel.low", -137.0, 0.5),
        ("machine.axis.z.travel.high", 0.0, 0.5),
        ("machine.spindle.speed.low", 4000 / 60, 50 / 60, "1/s", Evidence.PLATE),
        ("machine.spindle.speed.high", 36000 / 60, 200 / 60, "1/s", Evidence.PLATE),
        ("machine.spindle.run_up", 2.4, 0.3, "s"),
        ("tools.em6.LF", 88.140, 0.006),
        ("tools.em6.DC", 5.992, 0.004),
        ("tools.em6.OHX", 21.0, 0.3),
        ("tools.dr25.LF", 92.4, 0.5, "mm", Evidence.ASSUMED),
        ("tools.dr25.DC", 2.5, 0.01),
        ("tools.dr25.OHX", 30.0, 0.5),
        ("tools.em6-old.DC", 5.95, 0.01),
        ("job.offset.G54.at.x", 121.40, 0.02),
        ("job.offset.G54.at.y", 88.10, 0.02),
        ("job.offset.G54.at.z", -96.55, 0.03),
        ("job.stock.box.x.low", 0.0, 1.0),
        ("job.stock.box.x.high", 64.0, 1.0),
        ("job.stock.box.y.low", 0.0, 1.0),
        ("job.stock.box.y.high", 40.0, 1.0),
        ("job.stock.box.z.low", -14.0, 0.2),
        ("job.stock.box.z.high", 0.4, 0.4),
        ("job.around.highest_around", -6.0, 0.5),
        ("job.around.allowed_below", -14.5, 0.5),
        ("job.fixture.0.box.x.low", -30.0, 0.5),
        ("job.fixture.0.box.x.high", 0.0, 0.5),
        ("job.fixture.0.box.y.low", 5.0, 0.5),
        ("job.fixture.0.box.y.high", 35.0, 0.5),
        ("job.fixture.0.box.z.low", -20.0, 0.5),
        ("job.fixture.0.box.z.high", -8.0, 0.5),
        ("job.holding.force", 2400.0, 500.0, "N"),
    )
)
SETTINGS = (
    ("machine.name", "Tarn bench mill"),
    ("machine.spindle.directions", ("cw",)),
    ("machine.control.t_means", "pocket"),
    ("tools.pocket.3.number", 3),
    ("tools.pocket.3.tool", "em6"),
    ("tools.pocket.5.number", 5),
    ("tools.pocket.5.tool", "dr25"),
    ("tools.pocket.6.number", 6),
    ("tools.pocket.6.tool", "em6-old"),
    ("tools.em6.kind", "flat"),
    ("tools.em6.ZEFP", 3),
    ("tools.dr25.kind", "drill"),
    ("tools.em6-old.kind", "flat"),
    ("job.program", "program.nc"),
    ("job.material", "al-6082"),
    ("job.tools.3", "em6"),
    ("job.tools.5", "dr25"),
    ("job.offset.G54.zero", "top, front left corner"),
    ("job.fixture.0.name", "fixed jaw"),
    ("job.holding.kind", "vice"),
)


def facts() -> FactSet:
    """What the shop knows."""
    return FactSet({f.path: f for f in FACTS}, {path: Setting(path, value) for path, value in SETTINGS})


def timeline(count: int) -> Timeline:
    """Every move takes two seconds."""
    feed = np.full(count, 20.0)
    start = np.arange(count + 1) * 2.0
    total = float(start[-1])
    return Timeline(
        start_s=start,
        mean_feed_low=feed,
        mean_feed_likely=feed,
        mean_feed_high=feed,
        limited_by=np.zeros(count, dtype=np.uint8),
        total_low_s=total,
        total_likely_s=total,
        total_high_s=total,
        bracketed_by=(),
        move_s=np.full(count, 2.0),
        pause_s=np.zeros(count + 1),
        untimed=np.zeros(count, dtype=bool),
    )


def case(known: FactSet | None = None, read: Reading | None = None, *, inch: bool = False, timed: bool = True) -> Case:
    """The program in the shop."""
    read = read or reading()
    known = known if known is not None else facts()
    moving, feeding, sure = move_masks(read.moves)
    low, high = reach_of_moves(read.moves, read.arcs)
    return Case(
        reading=read,
        facts=known,
        now=NOW,
        units=ShopUnits(inch),
        low_mm=low,
        high_mm=high,
        moving=moving,
        feeding=feeding,
        sure=sure,
        with_tool=np.ones(len(read.moves), dtype=bool),
        timeline=timeline(len(read.moves)) if timed else None,
        timeline_missing=() if timed else ("machine.axis.x.accel",),
        cutting=None,
        stock_base=int(Base.G54),
        lost=lost(read, moving, sure),
        followed=NotFollowed((), ()),
    )


# --- answers of every kind -------------------------------------------------------------------------------------------


def measure(value: float, u: float, unit: str) -> Measure:
    """A normal measure."""
    return Measure(value, u, unit, value - 1.96 * u, value + 1.96 * u)


def _place(line: int, what: str, do: str, answer: Answer, text: str = "") -> AnsweredPlace:
    return AnsweredPlace(
        Place(line, 3, (1.0, 2.0, 3.0), "G54"), text or PROGRAM[line - 1], 12.0, None, what, do, answer
    )


def counted_stop() -> Answered:
    """Counted: a wrong length register."""
    what = (
        "Line 19: T5 is in the spindle but H3 is called. H3 is 4.3 mm shorter, so the tip would go that much too deep."
    )
    do = "Change H3 to H5, or say why."
    return Answered(
        Question("tool", Risk.MACHINE, "Is every tool the one that is meant?"), Answer.STOP, Scale.COUNT,
        measure(1, 0, ""), measure(0, 0, ""), None, None, (_place(19, what, do, Answer.STOP),), what, do,
        notes=("em6 looks like em6-old: read the shank before it goes into the pocket.",),
    )  # fmt: skip


def difference_stop() -> Answered:
    """Difference: X beyond its travel."""
    what = "Line 11: X would go to 421.6 mm; travel ends at 418 mm, 3.6 mm short."
    do = "Move the work zero in X minus, or shift the part on the table; then touch off again."
    return Answered(
        Question("travel", Risk.MACHINE, "Does every move stay inside the travel?"), Answer.STOP, Scale.DIFFERENCE,
        measure(3.6, 1.0, "mm"), measure(0, 0, "mm"), 0.9998, 0.9998, (_place(11, what, do, Answer.STOP),),
        what + " Chance that it goes over: certain.", do, (Share("machine.axis.x.travel.high", 1.0),),
    )  # fmt: skip


def ratio_care() -> Answered:
    """Ratio: a speed near the spindle's highest."""
    what = "Line 6: S asks 35800 1/min, below the spindle's highest of 36000 1/min."
    do = "Write at most S36000 and lower the feed in the same proportion."
    limit = Limit(Place(6), exact(10.49), of(_fact("machine.spindle.speed.high", 600, 3.3)), what, do)
    return Answered(
        Question("spindle", Risk.MACHINE, "Is the spindle on, the right way, in range, and at speed at first contact?"),
        Answer.CARE, Scale.RATIO, measure(35800, 0, "1/min"), measure(36000, 200, "1/min"), 0.16, 0.16,
        (_place(6, what, do, Answer.CARE), _place(17, "Line 17: S asks 12000 1/min.", "", Answer.CLEAR)),
        what + " Chance that it goes over: 1 in 6.", do, (Share("machine.spindle.speed.high", 1.0),), margins=(limit,),
    )  # fmt: skip


def room_care() -> Answered:
    """Difference with a clearance: a rapid near the stock."""
    what = "Line 9: em6 at rapid passes 1.6 mm above the top of the stock."
    do = "Retract at least 1.4 mm higher before this move, or measure what stands there."
    return Answered(
        Question("rapid_contact", Risk.MACHINE, "Does a rapid meet stock, fixture or table?"),
        Answer.CARE, Scale.DIFFERENCE, measure(0, 0, "mm"), measure(1.6, 0.4, "mm"), 0.0002, 0.0002,
        (_place(9, what, do, Answer.CARE),), what + " Chance that it goes over: under 1 in 1000.", do,
        (Share("job.stock.box.z.high", 0.97), Share("tools.em6.LF", 0.03)), by_clearance=True,
    )  # fmt: skip


def part_care() -> Answered:
    """An upper limit with doubt on both sides, the picture book case."""
    what = "Line 12: the wall bends 14.2(46) µm; the drawing allows 20.0(5) µm."
    do = "Take the last pass twice."
    return Answered(
        Question("size", Risk.PART, "Will walls and floors be on size?"), Answer.CARE, Scale.RATIO,
        measure(14.2, 4.6, "µm"), measure(20.0, 0.5, "µm"), 0.1, 0.104, (_place(12, what, do, Answer.CARE),),
        what + " Chance that it goes over: 1 in 10.", do,
        (Share("tools.em6.OHX", 0.4), Share("machine.spindle.stiffness", 0.35), Share("tools.em6.DC", 0.25)),
    )  # fmt: skip


def unjudged_nothing() -> Answered:
    """Both sides missing."""
    need = Need(
        "machine.zone",
        "machine.toml [[zone]]",
        "Write each kept-out space as a [[zone]] with its box in machine coordinates; if there is none, write zone = [].",
    )
    return Answered(
        Question("keep_out", Risk.MACHINE, "Does anything enter the rack, the setter or another kept-out space?"),
        Answer.UNJUDGED, Scale.COUNT, None, None, None, None, (), "I can't say: machine.zone is missing.", need.how, needs=(need,),
    )  # fmt: skip


def unjudged_no_stop() -> Answered:
    """The capacity is missing."""
    need = Need("tools.em6.APMX", "tools.toml APMX", "Read it off the tool or its packet.")
    return Answered(
        Question("reach", Risk.TOOL, "Long enough flute, centre-cutting where it plunges?"), Answer.UNJUDGED,
        Scale.DIFFERENCE, measure(2.8, 0.06, "mm"), None, None, None, (), "I can't say: tools.em6.APMX is missing.", need.how,
        needs=(need,),
    )  # fmt: skip


def unjudged_no_demand() -> Answered:
    """The demand is missing."""
    need = Need("materials.al-6082.kc", "materials.toml kc", "Make the power trial.")
    return Answered(
        Question("power", Risk.TOOL, "Has the spindle the power at that speed?"), Answer.UNJUDGED, Scale.RATIO, None,
        measure(640, 25, "W"), None, None, (), "I can't say: materials.al-6082.kc is missing.", need.how, needs=(need,),
    )  # fmt: skip


def clear_room() -> Answered:
    """Clear by a room of 11 mm."""
    return Answered(
        Question("below", Risk.MACHINE, "Does anything cut deeper or wider than is allowed?"), Answer.CLEAR, Scale.DIFFERENCE,
        measure(-10.9, 0.52, "mm"), measure(0, 0, "mm"), 0.0, 0.0,
        (_place(20, "Line 20: dr25 goes to Z -12.0 mm.", "Raise the depth.", Answer.CLEAR),),
        "The deepest tip stays 10.9 mm above the lowest allowed.", "", (Share("job.around.allowed_below", 1.0),),
        notes=("Wider than allowed was not looked at: that needs the stock to be followed.",),
    )  # fmt: skip


def clear_ratio() -> Answered:
    """Clear ratio without a unit."""
    return Answered(
        Question("feed", Risk.TIME, "Is the feed reached, and how long does it take?"), Answer.CLEAR, Scale.RATIO,
        measure(1.043, 0.02, ""), measure(1.25, 0, ""), 0.0, 0.0, (),
        "Cutting takes 18 min; the feeds commanded say 17 min (96% of the feed is reached).", "",
        (Share("machine.axis.x.accel", 0.7), Share("machine.control.block_rate", 0.3)),
    )  # fmt: skip


def clear_lower() -> Answered:
    """Clear against a lower limit: the run-up is done before the first cut."""
    limit = Limit(Place(10), of(_fact("machine.spindle.run_up", 2.4, 0.3)), exact(5.0), "", "")
    return Answered(
        Question("spindle", Risk.MACHINE, "Is the spindle at speed at first contact?"), Answer.CLEAR, Scale.DIFFERENCE,
        measure(2.4, 0.3, "s"), measure(5.0, 0.0, "s"), 0.0, 0.0, (), "At speed before each first cut.", "",
        (Share("machine.spindle.run_up", 1.0),), margins=(limit,),
    )  # fmt: skip


def clear_count() -> Answered:
    """Clear: nothing counted."""
    return Answered(
        Question("understood", Risk.MACHINE, "Did I understand every word?"), Answer.CLEAR, Scale.COUNT,
        measure(0, 0, ""), measure(0, 0, ""), None, None, (), "All 25 lines read, 22 blocks run.", "",
    )  # fmt: skip


def counted_care() -> Answered:
    """Counted: a stop in the program."""
    what = "Line 15: the program stops (M0)."
    return Answered(
        Question("leftovers", Risk.MACHINE, "What does the program stop at, change, and leave on?"), Answer.CARE, Scale.COUNT,
        measure(1, 0, ""), measure(0, 0, ""), None, None, (_place(15, what, "TURN THE CLAMP", Answer.CARE),), what,
        "TURN THE CLAMP",
    )  # fmt: skip


def off_the_rule() -> Answered:
    """A demand far beyond the end of its rule."""
    what = "Line 11: the spindle would need 1900 W; it has 640 W."
    return Answered(
        Question("power", Risk.TOOL, "Has the spindle the power at that speed?"), Answer.STOP, Scale.RATIO,
        measure(1900, 300, "W"), measure(640, 25, "W"), 1.0, 1.0, (_place(11, what, "Halve the width.", Answer.STOP),),
        what + " Chance that it goes over: certain.", "Halve the width.", (Share("materials.al-6082.kc", 0.9),),
    )  # fmt: skip


EVERY_KIND = (
    clear_count, clear_room, clear_ratio, clear_lower, counted_stop, difference_stop, ratio_care, room_care, part_care,
    unjudged_nothing, unjudged_no_stop, unjudged_no_demand, counted_care, off_the_rule,
)  # fmt: skip

NOT_ASKED = (
    NotAsked("cuts", "needs the stock to be followed; not in this version"),
    NotAsked("reach", "needs the stock to be followed; not in this version"),
    NotAsked("torque", "needs cutting forces; not in this version"),
    NotAsked("finish", "no roughness is asked for"),
)
NEXT = (
    Proposal("machine.zone", "Jog the spindle to the corners of the kept-out space and write the machine positions.", 8.0, ("keep_out",), 1.0, 1.0),
    Proposal("tools.em6.OHX", "Measure how far the tool stands out of the holder.", 2.0, ("size", "rapid_contact"), 0.74, 0.3),
)  # fmt: skip


def examination(
    *answers: Answered, known: FactSet | None = None, inch: bool = False, timed: bool = True
) -> Examination:
    """An examination with just these answers."""
    made = case(known, inch=inch, timed=timed)
    spent = TimeSpent(1420.0, 1180.0, 96.0, 132.0, 12.0) if timed else None
    return Examination(made, made.facts, answers, NOT_ASKED, spent, NEXT)


def every_kind() -> Examination:
    """One of every kind on one page."""
    return examination(*(make() for make in EVERY_KIND))


def all_clear() -> Examination:
    """Nothing but clear, for every risk."""
    tool = replace(clear_room(), question=Question("reach", Risk.TOOL, "Long enough flute?"))
    part = replace(clear_room(), question=Question("size", Risk.PART, "Will walls be on size?"))
    return examination(clear_count(), clear_room(), tool, part, clear_ratio())


def some_care() -> Examination:
    """What a shop sees most often: care at two places, one fact missing, the rest clear, two risks nobody looks at."""
    return examination(clear_count(), clear_room(), room_care(), counted_care(), unjudged_nothing(), clear_ratio())


def nothing_known() -> Examination:
    """A bare program without a shop: no stock, no offset, no tool, no name."""
    return examination(clear_count(), unjudged_nothing(), unjudged_no_demand(), known=FactSet(), timed=False)


def inch_shop() -> Examination:
    """The same job in a shop that reads inches."""
    return examination(clear_count(), clear_room(), room_care(), part_care(), counted_care(), clear_ratio(), inch=True)


LONG = "a name that nobody would give to anything but that somebody will give to something one day, twice over, and then some more"


def overfull() -> Examination:
    """Everything far too long and far too much: fourteen tools, twelve stops, ten offsets, endless words."""
    read = many_tools(14)
    known = facts()
    settings = dict(known.settings)
    numbers = dict(known.facts)
    for number in range(1, 15):
        name = f"tool-with-a-long-name-{number}"
        settings[f"tools.pocket.{number}.tool"] = Setting(f"tools.pocket.{number}.tool", name)
        settings[f"job.tools.{number}"] = Setting(f"job.tools.{number}", name)
        settings[f"tools.{name}.kind"] = Setting(f"tools.{name}.kind", "flat")
        for key, value, u in (("LF", 100.123456, 0.0123456), ("DC", 12.3456, 0.012), ("OHX", 101.25, 1.25)):
            numbers[f"tools.{name}.{key}"] = _fact(f"tools.{name}.{key}", value, u)
    settings["job.offset.G54.zero"] = Setting("job.offset.G54.zero", LONG)
    settings["machine.name"] = Setting("machine.name", LONG)
    settings["job.holding.after_cut_free"] = Setting("job.holding.after_cut_free", LONG)
    known = FactSet(numbers, settings)
    made = case(known, read)
    wordy = tuple(
        replace(
            make(),
            why=f"{LONG} {LONG}",
            do=f"{LONG} {LONG}",
            places=(replace(_place(11, LONG, LONG, Answer.CARE), text=LONG),),
        )
        for make in (counted_care, room_care, part_care, ratio_care, counted_care)
    )
    return Examination(made, known, wordy, NOT_ASKED, None, NEXT)


def many_tools(count: int) -> Reading:
    """The program with `count` tools that each make the same cuts, and a stop before each."""
    one = reading()
    rows = np.arange(1, 9)
    order = np.concatenate([[0], *(rows for _ in range(count))])
    moves = one.moves
    tool = np.concatenate([[-1], *(np.full(8, number + 1) for number in range(count))]).astype(np.int32)
    taken = {
        name: getattr(moves, name)[order]
        for name in (
            "kind",
            "end_mm",
            "frame",
            "arc",
            "feed_mm_per_s",
            "spindle_per_s",
            "comp_register",
            "flags",
            "line",
            "parent",
        )
    }
    stops = tuple(
        Event(What.STOP, 1 + 8 * number, 15 + number, 0, text=LONG if number % 2 else "") for number in range(count)
    )
    return replace(
        one, moves=Moves(tool=tool, **taken), events=(*one.events, *stops), file=LONG + ".nc", text=(LONG,) * 25
    )
