"""The table of all answers of all demo jobs, as `docs/demo.md` has it.

``python -m firstoff.demo.table docs/demo.md`` lays the shop out, examines it and writes the table into the page.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path

from firstoff.demo.show import examine_demo
from firstoff.verdict.question import Risk
from firstoff.verdict.questions import ALL

Answers = Iterable[tuple[str, Mapping[str, str]]]
"""Name of a job, and its answers by question; a question that is not asked is not there."""
LETTERS = {"clear": "·", "care": "C", "unjudged": "U", "stop": "S"}
BEGIN, END = "<!-- answers -->", "<!-- end of answers -->"
PARTS = (("Machine", (Risk.MACHINE,)), ("Tool", (Risk.TOOL,)), ("Part and time", (Risk.PART, Risk.TIME)))


def table(jobs: Answers) -> str:
    """A table for each risk, a row a job, a column a question."""
    rows = list(jobs)
    return "\n\n".join(_part(title, risks, rows) for title, risks in PARTS)


def _part(title: str, risks: tuple[Risk, ...], jobs: list[tuple[str, Mapping[str, str]]]) -> str:
    asked = [question.id for question, _ in ALL if question.risk in risks]
    lines = [f"| {title} | {' | '.join(asked)} |", "|---|" + ":-:|" * len(asked)]
    for name, answers in jobs:
        lines.append(f"| {name} | {' | '.join(LETTERS.get(answers.get(one, ''), '') for one in asked)} |")
    return "\n".join(lines)


def put_into(page: str, written: str) -> str:
    """The page with the table between its marks. Raises `ValueError` if the marks are not there."""
    before, after = page.index(BEGIN) + len(BEGIN), page.index(END)
    return f"{page[:before]}\n{written}\n{page[after:]}"


def main(page: Path) -> None:
    """Examine the demo and write its table into the page."""

    def tell(stage: str, _part: float) -> None:
        sys.stderr.write(f"{stage}\n")

    with tempfile.TemporaryDirectory() as folder:
        result = examine_demo(Path(folder) / "shop", tell, datetime.now())
        answers = [
            (plan.name, {one.question.id: str(one.answer) for one in found.answers}) for plan, found in result.jobs
        ]
    page.write_text(put_into(page.read_text(encoding="utf-8"), table(answers)), encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
