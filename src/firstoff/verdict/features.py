"""The lines from the drawing that a job gives, as the questions about the part ask for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.facts.fact import Fact, Leaning
from firstoff.facts.features import FeatureKind, feature_kind
from firstoff.verdict.question import Finding

ACROSS = ("pocket", "bore", "slot", "hole", "width", "length", "diameter", "outside")
"""Words of a size across two walls: what each of them is off counts twice."""


Space = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
"""Least and greatest X, Y and Z, mm."""
AROUND_MM = 0.25
"""How far beside its box a feature still is: walls are seen on cells of a fifth of a millimetre."""


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
    at: Space | None = None
    """Where it is, work frame; None where the job does not say: anywhere."""

    def made_by(self, tool: int) -> bool:
        return self.tool is None or self.tool == tool

    def holds(self, low_mm: Sequence[float], high_mm: Sequence[float]) -> bool:
        """Whether a box from `low_mm` to `high_mm` reaches into where the feature is."""
        ends = zip(self.at or (), low_mm, high_mm, strict=False)
        return all(low - AROUND_MM <= to and start <= high + AROUND_MM for (low, high), start, to in ends)

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
            found.append(
                Toleranced(path, name, kind, tol, size, tool if isinstance(tool, int) else None, _space(facts, path))
            )
    return tuple(found)


def _space(facts: Leaning, path: str) -> Space | None:
    """The box that the job draws round a feature."""
    if not any(facts.facts.under(f"{path}.at.")):
        return None
    ends = []
    for axis in "xyz":
        low, high = facts.number(f"{path}.at.{axis}.low"), facts.number(f"{path}.at.{axis}.high")
        ends.append((-math.inf if low is None else low.value, math.inf if high is None else high.value))
    return ends[0], ends[1], ends[2]


def nothing_to_judge(facts: Leaning, why: str) -> Finding:
    """The finding where no feature has a tolerance: not asked, or not judged because a feature that is listed lacks its own."""
    asked = any(path.startswith("job.feature.") for path in facts.missing)
    return Finding() if asked else Finding(not_asked=why)
