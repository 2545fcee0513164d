"""What several answers share is said once, not in each: the constant that stands in all forces, and notes about how loads were found."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from firstoff.facts.fact import FactSet
from firstoff.sheets.wording import TOPICS, WORTH_NAMING, doubt_words, fact_name, fact_words
from firstoff.verdict.examination import Examination
from firstoff.verdict.forms import Scale
from firstoff.verdict.needs import trial_for
from firstoff.verdict.question import Answered
from firstoff.verdict.words import listed

HANG_ON_FORCES = ("torque", "power", "duty", "strength", "holding", "size")
"""Questions whose demand is a cutting force, or grows with one."""
CONSTANTS = ("kc", "model_factor")
"""Of a material: every force is in proportion to both."""
FEWEST = 2
"""What one answer alone hangs on is said in that answer."""
NO_BETTER = 1.2
"""A doubt within this factor of what its trial leaves is not bettered by the trial."""
NOT_LINEAR = "The doubt is not linear in its facts: the draws are shown."


@dataclass(frozen=True, slots=True)
class SharedDoubt:
    """`facts` are the constants, the most telling first; `questions` those whose answers need not name them again."""

    facts: tuple[str, ...]
    questions: tuple[str, ...]
    sentence: str


def shared_doubt(examination: Examination) -> SharedDoubt | None:
    """The doubt that several forces share, or None where there is none to speak of."""
    material = examination.facts.settings.get("job.material")
    if material is None:
        return None
    constants = [f"materials.{material.value}.{name}" for name in CONSTANTS]
    sums = dict.fromkeys(constants, 0.0)
    questions = []
    for answered in examination.answers:
        own = {share.fact: share.share for share in answered.doubt if share.fact in sums}
        asked = answered.question.id in HANG_ON_FORCES and answered.scale is not Scale.COUNT
        if asked and sum(own.values()) >= WORTH_NAMING:
            questions.append(answered.question.id)
            for path, share in own.items():
                sums[path] += share
    if len(questions) < FEWEST:
        return None
    total = sum(sums.values())
    facts = tuple(sorted((path for path in sums if sums[path] >= WORTH_NAMING * total), key=lambda path: -sums[path]))
    return SharedDoubt(facts, tuple(questions), _sentence(facts, questions, examination.facts))


def _sentence(paths: tuple[str, ...], questions: list[str], facts: FactSet) -> str:
    named = listed([f"{fact_name(path)} ({_known(path, facts)})" for path in paths])
    number, subject = ("one constant", "it is") if len(paths) == 1 else ("two constants", "one of them is")
    rise = listed([TOPICS[question] for question in questions], len(HANG_ON_FORCES))
    return f"All forces hang on {number}: {named}. If {subject} higher, {rise} all rise together. {_trial(paths[0], facts)}".strip()


def _known(path: str, facts: FactSet) -> str:
    return f"{facts.facts[path].evidence.value}, known to {_part(path, facts) * 100:.0f} %"


def _trial(path: str, facts: FactSet) -> str:
    """What would settle the greatest of them; empty where nothing short does better than what is known."""
    trial = trial_for(path)
    if _part(path, facts) <= NO_BETTER * trial.reach:
        return ""
    return f"A power trial of {trial.minutes:.0f} minutes would settle most of it."


def _part(path: str, facts: FactSet) -> float:
    """Standard uncertainty as a part of the value."""
    fact = facts.facts[path]
    return fact.u / abs(fact.value)


def own_doubt(answered: Answered, facts: FactSet, shared: SharedDoubt | None) -> str:
    """Whose the doubt of one answer is, without what is said once for all; empty where nothing else is worth naming."""
    if shared is None or answered.question.id not in shared.questions:
        return doubt_words(answered, facts)
    rest = sorted(
        (share for share in answered.doubt if share.fact not in shared.facts and share.share >= WORTH_NAMING),
        key=lambda share: -share.share,
    )
    beside = (
        f"Besides what all forces share: {listed([fact_words(share.fact, facts) for share in rest], 2)}."
        if rest
        else ""
    )
    return f"{beside} {NOT_LINEAR if answered.nonlinear else ''}".strip()


def shared_notes(examination: Examination) -> tuple[str, ...]:
    """Notes that more than one answer makes, in their order."""
    made = Counter(note for answered in examination.answers for note in dict.fromkeys(answered.notes))
    return tuple(note for note, times in made.items() if times > 1)


def without_notes(answered: Answered, said: tuple[str, ...]) -> Answered:
    """An answer without the notes that are said elsewhere."""
    return replace(answered, notes=tuple(note for note in answered.notes if note not in said))
