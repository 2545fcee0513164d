"""Follow one case through its stock: place the moves, sweep the tools, add up the loads.

Everything here is at best estimates. Doubts come back as exponents of candidates, as forms of contacts (`near`), and as the blank's three
sizes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Event

import numpy as np

from firstoff.facts.assembly import Assembly, leaned_assembly
from firstoff.facts.fact import Evidence, Fact, FactSet, Leaning, Shape
from firstoff.loads.accumulate import STANDARD_WINDOWS_S, Loads
from firstoff.loads.accumulate import Work as LoadWork
from firstoff.loads.grid_doubt import TIME, VOLUME, WIDTH, WIDTH_LOG_U
from firstoff.path._kernels import STRAIGHT_ON
from firstoff.path.pieces import Pieces, Stations
from firstoff.path.placing import EQUAL_SPEEDS, made_at_rapid, pieces_of
from firstoff.path.stations import stations, stations_of_pieces
from firstoff.program.control import Control
from firstoff.program.moves import Floats
from firstoff.removal.contact import CAP_MM, Asked, ask
from firstoff.removal.field import Grid
from firstoff.removal.grid import choose_grid, step_mm
from firstoff.removal.refining import refined
from firstoff.removal.shape import read_shape
from firstoff.removal.standing import Standing, static_contacts, top_of
from firstoff.removal.stock import Blank, CylinderBlank, Faces, field_of, grown
from firstoff.removal.surfaces import surfaces_of
from firstoff.removal.sweep import sweep
from firstoff.removal.swept import Engagement, Swept
from firstoff.verdict.blank import Left, blank_of_job, inward
from firstoff.verdict.blank_in_loads import with_blank, with_blank_facts
from firstoff.verdict.boxes import TOP_FACE, fixture_boxes, fixture_names
from firstoff.verdict.case import AXES, Case, best
from firstoff.verdict.followed import GRID, Followed, NotFollowed
from firstoff.verdict.forms import Form
from firstoff.verdict.judge import thresholds
from firstoff.verdict.passing import place_moves
from firstoff.verdict.positions import TOP_OF_Z, axis_in_work, tip_in_work
from firstoff.verdict.question import Need, Question, Risk
from firstoff.verdict.stock_frame import stock_frame_needs
from firstoff.verdict.tools import register_tool, spindle_tool

RISE_PER_STATION = 0.25
"""Cells that a flat tool may go down between two stations."""
COARSER = 2.0
"""Cells of the passes that only ask what a broken tool would leave, over those of the others."""
ROUNDING_MM = 1e-6
"""No arc is taken to be smaller than this."""
MOST_PIECES_WITHOUT = 200_000
"""Longer programs are not followed once more for each tool that may break."""
CONTACT = Question("rapid_contact", Risk.MACHINE, "")
"""Its thresholds are those that contact is looked at closely for."""
BODY = Question("body_contact", Risk.MACHINE, "")
BEYOND_DOUBT = 3.3
"""Standard uncertainties that a gap may be short by: 1 in 1000, the smallest chance that a question answers to."""
ASKED_AGAIN_S = 0.2
"""How often the sweep beside is asked how far it has come once the likely one is done."""
Tell = Callable[[str, float], None]


@dataclass(frozen=True, slots=True)
class Work:
    """What is followed: the way of the tip, the tools by T, the blank."""

    pieces: Pieces
    assemblies: Mapping[int, Assembly]
    names: Mapping[int, str]
    blank: Blank
    doubt: Faces
    grid: Grid
    fixtures: Mapping[str, Standing]
    """Fixtures that are no boxes; boxes are held against every move exactly, draw by draw (`passing`)."""
    unplaced: tuple[Need, ...]
    """First rapids that nobody can place: questions of contact cannot be clear of them."""
    cap_mm: float
    """Wider gaps than this cannot matter, doubt and all."""


def follow(case: Case, folder: Path, left: Left, tell: Tell) -> Case:
    """The case with its program followed; the grid's own doubt joins its facts."""
    leaning = case.facts.leaning()
    needs = [*case.lost, *stock_frame_needs(case, leaning)]
    work = None if needs else _work(case, leaning, folder, left, needs)
    missing = tuple(leaning.missing)
    if work is None or needs or missing:
        left_out = NotFollowed(tuple(leaning.needed), missing, tuple(dict.fromkeys(needs)), tuple(leaning.leaned))
        return replace(case, followed=left_out)
    told = _against_target(case, folder, _follow(case, work, leaning, tell))
    return replace(case, followed=told, facts=_with_grid(case.facts, work.grid))


def _with_grid(facts: FactSet, grid: Grid) -> FactSet:
    """The facts with the doubt of the grid: a gap is known to half a cell's diagonal, loads, volumes and times in the cut to what cells leave of
    them; and with what loads go with where they go with the blank."""
    u = grid.half_diagonal_mm / 3**0.5
    gap = Fact(GRID, 0.0, u, "mm", shape=Shape.UNIFORM, evidence=Evidence.ASSUMED, note=grid.why)
    known = {GRID: gap}
    for path in (WIDTH, VOLUME, TIME):
        known[path] = Fact(path, 1.0, WIDTH_LOG_U, "", shape=Shape.LOGNORMAL, evidence=Evidence.ASSUMED, note=grid.why)
    return with_blank_facts(facts.with_facts(known))


# --- what is followed ------------------------------------------------------------------------------------------------


def _work(case: Case, facts: Leaning, folder: Path, left: Left, needs: list[Need]) -> Work | None:
    found = blank_of_job(facts, folder, left)
    names = _names(case, facts)
    assemblies = {tool: made for tool, name in names.items() if (made := leaned_assembly(facts, name)) is not None}
    start, end = _tips(case, facts, tuple(names))
    if found is None or facts.missing:
        return None
    blank, doubt = found
    pieces = pieces_of(
        case.moves,
        case.reading.arcs,
        start,
        end,
        rapid_path=_word(facts, "machine.control.rapid_path"),
        radii_mm=_radii(case, facts),
        comp_corner=_comp_corner(facts),
        base=Control.of(facts.facts).base,
        rapid_mm_per_s=_rapid_speeds(facts),
    )
    largest = grown(blank, doubt).extent
    fixtures = _fixtures(facts, folder)
    unplaced = _not_placed(case, pieces, start, end, largest.z_high)
    if not _first_rapids(case, pieces):
        needs += unplaced
    tops = [best(facts.facts, box.faces[TOP_FACE]) for box in fixture_boxes(facts)]
    highest = max((*tops, *(top_of(one) for one in fixtures.values())), default=-math.inf)
    unplaced = unplaced or _not_placed(case, pieces, start, end, highest)
    cutting = [assemblies[tool] for tool in _cutting_tools(case) if tool in assemblies]
    try:
        grid = choose_grid(
            (largest.x_low, largest.y_low, largest.z_low), (largest.x_high, largest.y_high, largest.z_high), cutting
        )
    except ValueError as error:
        needs.append(Need("job.stock", "job.toml [stock]", f"The blank cannot be followed: {error}."))
        return None
    return Work(pieces, assemblies, names, blank, doubt, grid, fixtures, unplaced, _cap(case, facts, names))


def _cap(case: Case, facts: Leaning, names: Mapping[int, str]) -> float:
    """The widest gap that can matter: what is clear, and all the doubt that a gap can have (`near.gap_form`) on top of it."""
    known = facts.facts.facts
    tools = [
        known[path].u for name in names.values() for path in (f"tools.{name}.LF", f"tools.{name}.OHX") if path in known
    ]
    places, homes = (
        [known[path].u for start in starts for path in facts.facts.under(start) if path in known]
        for starts in (("job.offset.", "job.stock.", "job.fixture."), ("machine.home.", TOP_OF_Z))
    )
    # Of each sort two can come together: an offset and another one, the tool that cut and the tool that passes.
    u = math.sqrt(sum(2 * max(each, default=0.0) ** 2 for each in (tools, places, homes)))
    clear = max(thresholds(question, case.facts).clear_at_mm for question in (CONTACT, BODY))
    return max(CAP_MM, clear + BEYOND_DOUBT * u)


def _fixtures(facts: Leaning, folder: Path) -> dict[str, Standing]:
    """Round fixtures and those with a shape from a file, by name."""
    found: dict[str, Standing] = {}
    for number, name in fixture_names(facts).items():
        prefix = f"job.fixture.{number}"
        file = facts.setting_if_known(f"{prefix}.stl")
        if isinstance(file, str):
            found[name] = read_shape(folder / file)
        elif any(facts.facts.under(f"{prefix}.cylinder.")):
            sizes = [facts.number(f"{prefix}.cylinder.{key}") for key in ("diameter", "z.low", "z.high")]
            x, y = (facts.number_if_known(f"{prefix}.cylinder.{axis}") for axis in "xy")
            diameter, low, high = (math.nan if size is None else size.value for size in sizes)
            middle = [0.0 if centre is None else centre.value for centre in (x, y)]
            found[name] = CylinderBlank(middle[0], middle[1], diameter / 2, low, high)
    return found


def _names(case: Case, facts: Leaning) -> dict[int, str]:
    """T -> the tool really in the spindle, for the tools that move at all."""
    tools = np.unique(case.moves.tool[case.moving & case.with_tool]).tolist()
    return {tool: name for tool in tools if (name := spindle_tool(facts, tool)) is not None}


def _cutting_tools(case: Case) -> list[int]:
    tools: list[int] = np.unique(case.moves.tool[case.feeding & case.with_tool]).tolist()
    return tools


def _tips(case: Case, facts: Leaning, tools: tuple[int, ...]) -> tuple[Floats, Floats]:
    """f8[N, 3] tip at start and end of each move in the work frame of the stock; NaN where it is not known or no tool matters."""
    start, end = (np.full((len(case.moves), 3), np.nan) for _ in range(2))
    for tool in tools:

        def point(row: int, axis: int, tool: int = tool) -> Form | None:
            return tip_in_work(case, facts, row, tool) if axis == 2 else axis_in_work(case, facts, row, axis)

        mine = (case.with_tool & (case.moves.tool == tool))[:, None]
        placed = place_moves(case, point)
        np.copyto(start, placed.start, where=mine)
        np.copyto(end, placed.end, where=mine)
    return start, end


def _radii(case: Case, facts: Leaning) -> dict[int, float]:
    """Cutter radius by D register, of the registers that the program uses; a missing diameter is recorded."""
    radii = {}
    registers = case.moves.comp_register
    for register in np.unique(registers[registers >= 0]).tolist():
        name = register_tool(facts, register)
        diameter = facts.number(f"tools.{name}.DC") if name is not None else None
        if diameter is not None:
            radii[register] = diameter.value / 2
    return radii


def _comp_corner(facts: Leaning) -> str | None:
    facts.setting_if_known("machine.control.comp_corner")
    answer = Control.of(facts.facts).answer("comp_corner")
    return answer if isinstance(answer, str) else None


def _rapid_speeds(facts: Leaning) -> tuple[float, float, float]:
    """Greatest feeds of the axes, equal where one is not known: only a dog-leg asks."""
    known = [
        fact.value for axis in AXES if (fact := facts.number_if_known(f"machine.axis.{axis}.max_feed")) is not None
    ]
    return (known[0], known[1], known[2]) if len(known) == len(AXES) else EQUAL_SPEEDS


def _not_placed(case: Case, pieces: Pieces, start: Floats, end: Floats, top: float) -> tuple[Need, ...]:
    """Moves that nobody can place and that may come near what stands up to `top`; one that stays above it for certain is no matter.

    Before its first known height the tip is taken to stand where that height is: what was not judged before cannot be judged by this move.
    """
    unknown = pieces.unknown[case.with_tool[pieces.unknown]]
    if not unknown.size:
        return ()
    z = np.fmin(np.where(np.isnan(start[unknown, 2]), end[unknown, 2], start[unknown, 2]), end[unknown, 2])
    near = unknown[~(z > top)]
    return tuple(_nobody_knows(case, int(move)) for move in near[:1])


def _nobody_knows(case: Case, move: int) -> Need:
    line = int(case.moves.line[move])
    if case.moves.comp_register[move] >= 0:
        how = f"Line {line}: with the diameter in its register the compensated path cannot be made here: a corner or arc is too small."
    else:
        how = f"Line {line}: nobody can know where this move goes: name every axis before it."
    return Need(f"where line {line} goes", f"{case.reading.file}:{line}", how)


def _first_rapids(case: Case, pieces: Pieces) -> bool:
    """Whether the only moves that nobody can place are rapids before the first that can be: they cut nothing that is followed."""
    unknown = pieces.unknown[case.with_tool[pieces.unknown]]
    first = int(pieces.move[0]) if len(pieces) else 0
    return bool((made_at_rapid(case.moves)[unknown] & (unknown < first)).all())


def _word(facts: Leaning, path: str) -> str | None:
    word = facts.setting_if_known(path)
    return word if isinstance(word, str) else None


# --- following -------------------------------------------------------------------------------------------------------


def _stations(work: Work, grid: Grid) -> Iterator[Stations]:
    cell, step = grid.cell_mm, _steps(work, grid.cell_mm)
    return stations(
        work.pieces, step, rapid_step_mm=cell, dz_mm=RISE_PER_STATION * cell, turn_rad=STRAIGHT_ON * cell / step
    )


def _stations_in_all(work: Work) -> int:
    cell = work.grid.cell_mm
    step = _steps(work, cell)
    each = stations_of_pieces(
        work.pieces, step, rapid_step_mm=cell, dz_mm=RISE_PER_STATION * cell, turn_rad=STRAIGHT_ON * cell / step
    )
    return int(each.sum())


def _steps(work: Work, cell_mm: float) -> Floats:
    """f8[P] greatest way between stations of each piece, by the size of its tool and how much it bends."""
    pieces = work.pieces
    radius, rows = np.full(len(pieces), math.inf), np.flatnonzero(pieces.arc >= 0)
    radius[rows] = np.maximum(pieces.arcs.radius_mm[pieces.arc[rows]], ROUNDING_MM)
    step = np.full(len(pieces), cell_mm)
    for tool, one in work.assemblies.items():
        mine = pieces.tool == tool
        step[mine] = step_mm(cell_mm, one.diameter_mm, radius[mine])
    return step


def _follow(case: Case, work: Work, facts: Leaning, tell: Tell) -> Followed:
    count = len(case.moves)
    likely_blank = field_of(work.blank, work.grid)
    loads = _loads(case, work)
    asked = ask(work.pieces, work.assemblies, cap_mm=work.cap_mm)
    with _Beside(case, work, asked, tell) as others, _InTurn() as in_turn:
        hear = None if loads is None else in_turn.calling(loads.add)
        likely = sweep(
            likely_blank, _stations(work, work.grid), work.assemblies, count, engagement=hear, asked=asked, tell=others.heard
        )  # fmt: skip
        others.start()
        in_turn.wait()
        surfaces = surfaces_of(likely, work.pieces, work.assemblies, count)
        costs = None if loads is None else loads.finish(surfaces)
        standing = static_contacts(work.pieces, work.assemblies, work.fixtures, work.cap_mm)
        largest, smallest, without = others.found(likely)
    if costs is not None:
        costs = with_blank(costs, case.facts, work.blank.extent, likely.moves, largest.moves, case.moves.line)
    tell("looking closely", 0.9)
    likely = replace(likely, contacts=(*likely.contacts, *standing))
    return Followed(
        likely=_closely(case, work, likely, Faces()),
        largest=_closely(case, work, largest, work.doubt),
        smallest=smallest,
        surfaces=surfaces,
        loads=costs,
        without=without,
        leaned=tuple(facts.needed),
        used=tuple(facts.leaned),
        unplaced=work.unplaced,
        cap_mm=work.cap_mm,
        body_missing=_body_missing(work),
    )


class _InTurn:
    """Calls in a thread of its own, one after the other, while the caller goes on, at most one call ahead."""

    def __init__(self) -> None:
        self.pool = ThreadPoolExecutor(1)
        self.last: Future[None] | None = None

    def __enter__(self) -> _InTurn:
        return self

    def __exit__(self, *_: object) -> None:
        self.pool.shutdown()

    def calling(self, function: Callable[[Engagement], None]) -> Callable[[Engagement], None]:
        def call(told: Engagement) -> None:
            self.wait()
            self.last = self.pool.submit(function, told)

        return call

    def wait(self) -> None:
        """Until all is done; raises what a call raised."""
        if self.last is not None:
            self.last.result()


class _Beside:
    """The sweeps through other blanks, and without tools that may break, in a thread beside the likely sweep and its loads.

    They share nothing but what nobody changes, so what they find is the same as one after the other. They begin when the first part of the
    likely sweep is done: its kernels are compiled then, and the compiler hears no interrupt in a thread of its own.
    """

    def __init__(self, case: Case, work: Work, asked: Asked, tell: Tell) -> None:
        self.case, self.work, self.asked, self.tell = case, work, asked, tell
        self.doubtful = work.doubt != Faces()
        self.stations = _stations_in_all(work)
        self.likely_done = self.largest_done = 0
        self.pool = ThreadPoolExecutor(1)
        self.ended = Event()
        self.future: Future[tuple[Swept | None, Swept | None, dict[int, Swept]]] | None = None

    def __enter__(self) -> _Beside:
        self._told()
        return self

    def __exit__(self, *_: object) -> None:
        self.ended.set()
        self.pool.shutdown()

    def heard(self, done: int) -> None:
        """What the likely sweep calls part by part; only its thread tells how far both have come."""
        self.likely_done = done
        self._told()
        self.start()

    def start(self) -> None:
        if self.future is None:
            self.future = self.pool.submit(self._follow)

    def _told(self) -> None:
        whole = max(self.stations * (2 if self.doubtful else 1), 1)
        done = self.likely_done + self.largest_done
        stage = "following the stock" if self.likely_done < self.stations else "following other blanks"
        self.tell(stage, 0.1 + 0.75 * min(done / whole, 1.0))

    def _follow(self) -> tuple[Swept | None, Swept | None, dict[int, Swept]]:
        count = len(self.case.moves)
        largest = self._largest(count) if self.doubtful else None
        smallest = self._smallest(count) if self.doubtful else None
        return largest, smallest, _broken(self.work, count, self.ended.is_set)

    def _largest(self, count: int) -> Swept:
        def note(done: int) -> None:
            self.largest_done = done

        work = self.work
        blank = field_of(grown(work.blank, work.doubt), work.grid)
        return sweep(
            blank, _stations(work, work.grid), work.assemblies, count, asked=self.asked, sampled=False, tell=note, cancelled=self.ended.is_set
        )  # fmt: skip

    def _smallest(self, count: int) -> Swept:
        """Only what it leaves uncut is asked of the smallest blank: coarser cells tell that as well, unless it is held against a target part."""
        work = self.work
        grid = work.grid if self.case.facts.has("job.target") else _coarser(work, work.assemblies.values())
        blank = field_of(grown(work.blank, inward(work.doubt)), grid)
        return sweep(blank, _stations(work, grid), work.assemblies, count, sampled=False, cancelled=self.ended.is_set)

    def found(self, likely: Swept) -> tuple[Swept, Swept, dict[int, Swept]]:
        """(largest, smallest, without each tool), once they are there; the likely sweep where the blank has no doubt."""
        assert self.future is not None
        while not self.future.done():
            wait([self.future], ASKED_AGAIN_S)
            self._told()
        largest, smallest, without = self.future.result()
        return largest if largest is not None else likely, smallest if smallest is not None else likely, without


def _body_missing(work: Work) -> tuple[str, ...]:
    """Facts that bodies lack. How thick a shank is matters only where it comes down to something."""
    tops = (grown(work.blank, work.doubt).extent.z_high, *(top_of(one) for one in work.fixtures.values()))
    highest = max(tops) + work.cap_mm
    missing: dict[str, None] = {}
    for tool, one in work.assemblies.items():
        mine = work.pieces.tool == tool
        low = min(
            (float(ends[mine, 2].min()) for ends in (work.pieces.start_mm, work.pieces.end_mm) if mine.any()),
            default=math.inf,
        )
        comes_down = low + (one.usable_mm or 0.0) < highest
        missing |= dict.fromkeys(path for path in one.body_missing if comes_down or not path.endswith(".DMM"))
    return tuple(missing)


def _against_target(case: Case, folder: Path, told: Followed) -> Followed:
    """With the finished stock held against the target part, where the job gives its file and its band."""
    file, band = case.facts.settings.get("job.target"), case.facts.facts.get("job.ask.target_band")
    if file is None or band is None:
        return told
    # Only here: few jobs have a target, and what holds stock against it takes time to load.
    from firstoff.removal.target import check_target

    shape = read_shape(folder / str(file.value))
    likely = check_target(told.likely, shape, band.value)
    small = likely if told.smallest.after is told.likely.after else check_target(told.smallest, shape, band.value)
    return replace(told, target=likely, small_target=small)


def _loads(case: Case, work: Work) -> Loads | None:
    """What adds up the loads; None where the feed reached is not known (`Case.timeline_missing` names why)."""
    if case.timeline is None:
        return None
    material = case.facts.settings.get("job.material")
    name = str(material.value) if material is not None else None
    windows = (*STANDARD_WINDOWS_S, *_rated_windows(case.facts))
    from_drawing = any(case.facts.under("job.feature."))
    return Loads(
        LoadWork(
            case.moves, case.timeline, work.pieces, work.assemblies, case.facts, name, windows, work.grid.cell_mm, made=from_drawing
        )
    )  # fmt: skip


def _rated_windows(facts: FactSet) -> tuple[float, ...]:
    """The loaded part of the cycle that the spindle's intermittent rating speaks of (IEC 60034-1, S6), s, and the lengths within the cycle
    from which on the other rating holds more: of power, and of torque, whose square counts. A load that lasts too long is told best there."""
    share, cycle = (facts.facts.get(f"machine.spindle.power_s6.{key}") for key in ("on_share", "cycle"))
    if share is None or cycle is None:
        return ()
    always, duty = (
        max((facts.facts[path].value for path in facts.under(start) if path.endswith(".power")), default=0.0)
        for start in ("machine.spindle.power_s1.", "machine.spindle.power_s6.")
    )  # fmt: skip
    times = max(duty / always, 1.0) if always > 0.0 else 1.0
    return tuple(min(share.value * cycle.value * times**power, cycle.value) for power in (0, 1, 2))


def _coarser(work: Work, assemblies: Iterable[Assembly]) -> Grid:
    """A grid of larger cells over the same blank."""
    extent = work.blank.extent
    low, high = (extent.x_low, extent.y_low, extent.z_low), (extent.x_high, extent.y_high, extent.z_high)
    return choose_grid(low, high, assemblies, coarser=COARSER)


def _closely(case: Case, work: Work, swept: Swept, by: Faces) -> Swept:
    """The sweep with contacts that hang on the grid looked at again on finer cells."""
    if not swept.contacts:
        return swept
    limits = thresholds(CONTACT, case.facts)
    asked_for = (0.0, limits.stop_below_mm, limits.clear_at_mm)
    blank = grown(work.blank, by)
    finer = refined(
        swept.contacts, asked_for, lambda grid: field_of(blank, grid), work.grid, work.pieces, work.assemblies
    )
    return replace(swept, contacts=finer)


def _broken(work: Work, count: int, cancelled: Callable[[], bool]) -> dict[int, Swept]:
    """The sweep without each tool but the last, on a coarser grid: what an unseen break would leave for the others."""
    if len(work.pieces) > MOST_PIECES_WITHOUT:
        return {}
    called = list(dict.fromkeys(work.pieces.tool.tolist()))
    grid = _coarser(work, work.assemblies.values())
    found = {}
    for tool in called[:-1]:
        whole = {number: one for number, one in work.assemblies.items() if number != tool}
        asked = ask(work.pieces, whole)
        found[tool] = sweep(
            field_of(work.blank, grid),
            _stations(work, grid),
            whole,
            count,
            asked=asked,
            sampled=False,
            cancelled=cancelled,
        )
    return found
