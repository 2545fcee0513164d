"""The lines from the drawing that a job gives, as the questions about the part ask for them."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.facts.fact import Fact, Leaning
from firstoff.facts.features import FeatureKind, feature_kind
from firstoff.verdict.question import Finding

ACROSS = ("pocket", "bore", "slot", "hole", "width", "length", "diameter", "outside")
"""Words of a size across two walls: what each of them is off counts twice."""


@dataclass(frozen=True, slots=True)
class Toleranced:
    """One `[[feature]]` with a tolerance."""

    path: str
    """``job.feature.N``."""
    what: str
    kind: FeatureKind
    tol: Fact
    """Whole width, mm."""
    size: Fact | None
    tool: int | None
    """T that makes it; None where the job does not say: any."""

    def made_by(self, tool: int) -> bool:
        return self.tool is None or self.tool == tool

    @property
    def walls(self) -> int:
        """How many walls a size lies between: two if it is a size across, else one."""
        return 2 if self.size is not None or any(word in self.what.lower() for word in ACROSS) else 1


def toleranced(facts: Leaning, *kinds: FeatureKind) -> tuple[Toleranced, ...]:
    """The features of the kinds asked for that give a tolerance, in the job's order. The tolerance of one without is recorded as missing:
    whoever lists a feature asks for it."""
    found = []
    for path in dict.fromkeys(path.rsplit(".", 1)[0] for path in facts.facts.under("job.feature.")):
        what, said = facts.facts.settings.get(f"{path}.what"), facts.facts.settings.get(f"{path}.kind")
        kind = feature_kind(str(what.value) if what else "", said.value if said else None)
        if kind not in kinds or kind is None:
            continue
        facts.setting(f"{path}.{'what' if said is None else 'kind'}")
        tol, tool = facts.number(f"{path}.tol"), facts.setting_if_known(f"{path}.tool")
        if tol is not None:
            size = facts.number_if_known(f"{path}.size")
            name = str(what.value) if what else kind
            found.append(Toleranced(path, name, kind, tol, size, tool if isinstance(tool, int) else None))
    return tuple(found)


def nothing_to_judge(facts: Leaning, why: str) -> Finding:
    """The finding where no feature has a tolerance: not asked, or not judged because a feature that is listed lacks its own."""
    asked = any(path.startswith("job.feature.") for path in facts.missing)
    return Finding() if asked else Finding(not_asked=why)
