"""What a kind of mistake is, and the scene that it is put into."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from proof.faults.bench import Bench
from proof.faults.edits import Program, is_remark, word
from proof.faults.outcome import Run
from proof.faults.steps import Step


@dataclass(frozen=True, slots=True)
class Section:
    """What one call of a tool does: places of its lines from its change to the one before the next change."""

    pocket: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Scene:
    """A clean job on a machine."""

    job_name: str
    machine_name: str
    program: Program
    job: str
    tools: str
    machine: str
    bench: Bench
    clean: Run

    @property
    def texts(self) -> list[str]:
        return [line.text for line in self.program.lines]

    def steps_at(self, at: int) -> list[Step]:
        """What a line does, by its place."""
        return [step for step in self.clean.trace.steps if step.line == at + 1]

    def cuts(self, at: int) -> bool:
        """Whether a line takes material away."""
        return self.clean.at(at + 1).volume > 0

    def sections(self) -> list[Section]:
        texts = self.texts
        calls = [at for at, text in enumerate(texts) if not is_remark(text) and word(text, "T") is not None]
        ends = [*calls[1:], len(texts)]
        return [Section(int(word(texts[at], "T") or 0), at, end - 1) for at, end in zip(calls, ends, strict=True)]

    def section_of(self, at: int) -> Section | None:
        return next((one for one in self.sections() if one.first <= at <= one.last), None)

    def pockets(self) -> list[int]:
        """The pockets that the program calls."""
        return sorted({one.pocket for one in self.sections()})


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake put into a scene: what is written otherwise, in words, and whatever changed."""

    words: str
    program: Program
    job: str | None = None
    tools: str | None = None
    span: tuple[int, int] | None = None
    """Lines, from 1, anywhere between which what was left out could stand."""
    thing: str = ""
    """What the mistake is about, where it stands in a table and no line of the program is wrong."""
    really: Mapping[str, float] = field(default_factory=dict)
    """Tool by name -> its true length, where the tables tell another."""


Draw = Callable[[Scene, random.Random], Mistake | None]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of mistake."""

    id: str
    words: str
    """What is done, for the table."""
    asks: tuple[str, ...]
    """The questions any of which may answer it."""
    counts: tuple[str, ...]
    """Aspects of the outcome one of which must change, else the mistake does not count."""
    draw: Draw
    jobs: Callable[[Scene], bool] = lambda _: True


def has_target(scene: Scene) -> bool:
    """Whether the job is held against a drawing."""
    return scene.bench.work.target


def at_random(scene: Scene, dice: random.Random, fits: Callable[[int, str], bool]) -> int | None:
    """A place of the program, drawn among those that fit."""
    places = [at for at, text in enumerate(scene.texts) if not is_remark(text) and fits(at, text)]
    return dice.choice(places) if places else None


def one_of(dice: random.Random, many: Sequence[float]) -> float | None:
    return dice.choice(many) if many else None


def rewrite(
    scene: Scene, dice: random.Random, fits: Callable[[int, str], bool], new: Callable[[int, str], str | None]
) -> Mistake | None:
    """One line that fits, written otherwise; None where there is none or `new` has nothing to say."""
    at = at_random(scene, dice, fits)
    if at is None:
        return None
    text = new(at, scene.texts[at])
    if text is None or text == scene.texts[at]:
        return None
    return Mistake(f"`{scene.texts[at]}` → `{text}`", scene.program.put(at, text))


def leave_out(
    scene: Scene, dice: random.Random, fits: Callable[[int, str], bool], head: bool = False
) -> Mistake | None:
    """One line that fits, not written. `head`: it could stand anywhere in the head of its section."""
    at = at_random(scene, dice, fits)
    if at is None:
        return None
    mistake = Mistake(f"line {at + 1} `{scene.texts[at]}` left out", scene.program.drop(at))
    return replace(mistake, span=head_of(scene, mistake.program, at)) if head else mistake


def head_of(scene: Scene, program: Program, at: int) -> tuple[int, int] | None:
    """Lines of the faulty program from the change of the tool to its first feed, round a place of the clean one."""
    section = scene.section_of(at)
    if section is None:
        return None
    feeds = (
        n for n in range(section.first, section.last) if word(scene.texts[n], "F") is not None and scene.steps_at(n)
    )
    first = next(feeds, section.last)
    now = {was: line for line, was in enumerate(program.origin, 1) if was is not None}
    inside = [now[n + 1] for n in range(section.first, first + 1) if n + 1 in now]
    return (inside[0], inside[-1]) if inside else None
