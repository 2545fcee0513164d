"""Which question asks for which fact, as the examinations of the demo leaned on them: `docs/asked.md`.

``python -m firstoff.demo.asked docs/asked.md`` lays the shop out, examines it and writes the page. What a key means, its unit and the
doubt that is taken where none is stated are told in `docs/facts.md`.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path

from firstoff.demo.show import examine_demo
from firstoff.verdict.questions import ALL

Leaned = Iterable[tuple[str, Iterable[str]]]
"""(question, paths of facts that its answer leaned on)."""
HEAD = """# Which question asks for which fact

Made by `python -m firstoff.demo.asked docs/asked.md` from all examinations of the demo shop; a test compares the two. What a key means, its
unit and the doubt that is taken where none is stated: `facts.md`. A shop of another kind (another way of holding, another blank) leans on
keys of the same sort that do not stand here. `following.` is what the program's own way through the stock brings.
"""
NAMED = (
    (r"^tools\.(?!pocket|register)[^.]+", "tools.NAME"),
    (r"^materials\.[^.]+", "materials.NAME"),
    (r"\.axis\.[xyz]\.", ".axis.AXIS."),
    (r"^job\.offset\.[^.]+", "job.offset.NAME"),
    (r"\.at\.[xyz]$", ".at.AXIS"),
    (r"\.[xyz]\.(low|high)$", ".AXIS.END"),
    (r"\.(low|high)$", ".END"),
    (r"\.\d+(?=\.|$)", ".N"),
)
"""What is of one kind, whatever its name, number, axis or end."""


def kind_of(path: str) -> str:
    """The path with names, numbers and axes taken out."""
    for pattern, instead in NAMED:
        path = re.sub(pattern, instead, path)
    return path


def asked_page(leaned: Leaned) -> str:
    """The page: a row a kind of fact, with the questions that lean on it."""
    order = [question.id for question, _ in ALL]
    found: dict[str, set[str]] = {}
    for question, paths in leaned:
        for path in paths:
            found.setdefault(kind_of(path), set()).add(question)
    rows = [f"| `{kind}` | {', '.join(sorted(found[kind], key=order.index))} |" for kind in sorted(found)]
    return "\n".join((HEAD, "| fact | asked by |", "|---|---|", *rows, ""))


def main(page: Path) -> None:
    """Examine the demo and write the page."""

    def tell(stage: str, _part: float) -> None:
        sys.stderr.write(f"{stage}\n")

    with tempfile.TemporaryDirectory() as folder:
        result = examine_demo(Path(folder) / "shop", tell, datetime.now())
    leaned = [(one.question.id, one.leaned) for _, found in result.jobs for one in found.answers]
    page.write_text(asked_page(leaned), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
