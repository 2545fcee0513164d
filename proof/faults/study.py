"""One kind of mistake after the other: drawn, replayed, examined, and judged."""

from __future__ import annotations

import random
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from firstoff import workflows
from firstoff.errors import InputError
from firstoff.verdict.examination import Examination
from firstoff.verdict.question import Answer
from proof.faults.bench import bench_of
from proof.faults.kinds import Kind, Mistake, Scene
from proof.faults.outcome import WAYS, Run, begins, differences, run
from proof.faults.shop import NOW, WEIGHT, CleanShop, slug

TRIES = 24
"""Draws for each mistake wanted, before a kind gives up."""
Clean = Mapping[tuple[str, str], Mapping[str, str]]
"""(job, machine) -> question -> answer of the clean program."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One mistake that counted, and what was answered."""

    kind: str
    job: str
    machine: str
    words: str
    injected: tuple[int, ...]
    first: Mapping[str, int]
    """Aspect -> first line whose outcome it is."""
    entries: frozenset[int]
    """Lines at feed with which the cuts of those begin."""
    depends: frozenset[int]
    answers: Mapping[str, str]
    """Of the questions that may answer, those that answer worse."""
    named: frozenset[int]
    """Lines that they name."""
    spoken: bool = False
    """The mistake stands in a table, and an answer speaks of the thing and names no line of the program: none is wrong."""
    refused: str = ""
    """The input was refused, with these words."""

    @property
    def worse(self) -> bool:
        return bool(self.answers) or bool(self.refused)

    @property
    def caught(self) -> bool:
        """At the line of the mistake, or at a first line whose outcome depends on it."""
        elsewhere = [*self.injected, *(self.first[way] for way in WAYS if way in self.first)]
        entries = {
            line for line in self.entries if line >= min(elsewhere, default=0)
        }  # nothing before a mistake depends on it
        at = bool(self.named & {*self.injected, *self.first.values(), *entries})
        return at or self.spoken or bool(self.refused)

    @property
    def near(self) -> bool:
        """At any line whose outcome depends on it."""
        return self.caught or bool(self.named & self.depends)

    @property
    def stopped(self) -> bool:
        return Answer.STOP in self.answers.values() or bool(self.refused)


@dataclass(slots=True)
class Found:
    """All mistakes of one kind."""

    kind: str
    faults: list[Fault] = field(default_factory=list)
    idle: int = 0
    """Drawn, and nothing of what the kind is about changed."""
    broken: list[str] = field(default_factory=list)
    """Examinations that ended in a traceback."""


def study(kind: Kind, shop: CleanShop, clean: Clean, wanted: int, seed: int) -> Found:
    """Draw, replay and examine until `wanted` mistakes count or there are no more places."""
    dice = random.Random(f"{seed} {kind.id}")
    scenes = [one for one in shop.scenes.values() if kind.jobs(one)]
    weights = [WEIGHT.get(one.job_name, 1.0) for one in scenes]
    found, seen = Found(kind.id), set()
    for _ in range(wanted * TRIES):
        if len(found.faults) >= wanted:
            break
        scene = dice.choices(scenes, weights)[0]
        mistake = kind.draw(scene, dice)
        if mistake is None:
            continue
        key = (scene.job_name, scene.machine_name, mistake.program.text, mistake.job, mistake.tools)
        if key in seen or not _may_answer(kind, clean[scene.job_name, scene.machine_name]):
            continue
        seen.add(key)
        faulty = faulty_run(scene, mistake)
        changed = differences(scene.clean, faulty, mistake.program.origin)
        if not any(aspect in changed for aspect in kind.counts):
            found.idle += 1
            continue
        try:
            found.faults.append(_examined(kind, scene, mistake, (faulty, changed), shop.folder, clean))
        except Exception as error:  # a fault of the product's: counted, never hidden
            found.broken.append(f"{scene.job_name} on {scene.machine_name}: {mistake.words}: {error!r}")
    return found


def _may_answer(kind: Kind, answers: Mapping[str, str]) -> bool:
    """Whether one of the questions is asked of this job, and clear on the clean program."""
    return any(answers.get(question) == Answer.CLEAR for question in kind.asks)


def faulty_run(scene: Scene, mistake: Mistake) -> Run:
    """The faulty program replayed, with the tools that really are in the pockets."""
    bench = bench_of(scene.machine, mistake.tools or scene.tools, mistake.job or scene.job)
    really = {
        number: replace(cutter, length=mistake.really.get(cutter.name, cutter.length))
        for number, cutter in bench.pockets.items()
    }
    return run([line.text for line in mistake.program.lines], bench, really, scene.bench.work.blank)


def _examined(
    kind: Kind, scene: Scene, mistake: Mistake, told: tuple[Run, Mapping[str, list[int]]], folder: Path, clean: Clean
) -> Fault:
    faulty, changed = told
    about = {*kind.counts, *WAYS, "alarm", "end"}
    first = {aspect: lines[0] for aspect, lines in changed.items() if aspect in about and lines}
    entries = {entry for line in first.values() for entry in range(begins(faulty, line), line)}
    depends = frozenset(line for lines in changed.values() for line in lines)
    span = mistake.span or (1, 0)
    injected = (*mistake.program.touched, *range(span[0], span[1] + 1))
    place = scene.job_name, scene.machine_name
    fault = Fault(kind.id, *place, mistake.words, injected, first, frozenset(entries), depends, {}, frozenset())
    try:
        examination = examine(folder, scene, mistake, kind.asks)
    except InputError as error:
        return replace(fault, refused=str(error))
    before = clean[place]
    worse, named, spoken = {}, set(), False
    for one in examination.answers:
        was = before.get(one.question.id, Answer.CLEAR)
        if one.question.id in kind.asks and one.answer.rank > Answer(was).rank:
            worse[one.question.id] = str(one.answer)
            named |= {place.place.line for place in one.places if place.answer is not Answer.CLEAR}
            named |= set() if one.first is None else {one.first.place.line}
            spoken |= bool(mistake.thing) and mistake.thing in one.why and "ine " not in one.why
    return replace(fault, answers=worse, named=frozenset(named), spoken=spoken)


def examine(folder: Path, scene: Scene, mistake: Mistake, only: tuple[str, ...]) -> Examination:
    """Examine a faulty job: its tables and its program beside what the clean one has."""
    shop = folder / slug(scene.machine_name)
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for file in ("machine.toml", "materials.toml"):
            shutil.copy(shop / file, place / file)
        (place / "tools.toml").write_text(mistake.tools or scene.tools, encoding="utf-8")
        job = place / "jobs" / "faulty"
        shutil.copytree(shop / "jobs" / scene.job_name, job)
        (job / "job.toml").write_text(mistake.job or scene.job, encoding="utf-8")
        (job / "program.nc").write_text(mistake.program.text, encoding="utf-8")
        return workflows.judge(workflows.prepare(job, now=NOW), only=only)


def examine_clean(folder: Path, job: str, machine: str) -> dict[str, str]:
    """Question -> answer of a clean job."""
    told = workflows.examine_job(folder / slug(machine) / "jobs" / job, now=NOW)
    return {one.question.id: str(one.answer) for one in told.answers}
