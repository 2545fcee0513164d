"""Run the command on one case and say what came of it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from proof.bad_input.case import CARE, STOP, UNJUDGED, UNUSABLE, Case


@dataclass(frozen=True)
class Answer:
    """What a command said: exit code, stdout, stderr."""

    exit: int
    out: str
    err: str

    @property
    def words(self) -> str:
        """All of it, on one line."""
        return " ".join(f"{self.err} {self.out}".split())


BOOK = "book.sqlite"
"""What was judged is kept in the shop's book: that one file may be new."""
JUDGED = (0, UNUSABLE, CARE, UNJUDGED, STOP)
"""Every other exit code is a fault of ours."""


def by_command(case: Case, folder: Path) -> Answer:
    """The command as a person runs it, in the case's folder."""
    environment = {**os.environ, "COLUMNS": "200", "NO_COLOR": "1"}
    environment.pop("FIRSTOFF_SHOP", None)
    done = subprocess.run(
        [sys.executable, "-m", "firstoff.cli", *case.command],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    return Answer(done.returncode, done.stdout, done.stderr)


def _refusal(case: Case, out: str) -> bool:
    """Whether it is what `--json` says of a refusal: its faults, and nothing else."""
    return "--json" in case.command and list(json.loads(out)) == ["faults"]


def wrong(case: Case, answer: Answer, folder: Path) -> list[str]:
    """What is wrong with an answer; empty where nothing is."""
    found = []
    if answer.exit not in case.exits:
        found.append(f"exit {answer.exit}, not one of {case.exits}")
    if "Traceback" in answer.out + answer.err:
        found.append("a traceback")
    found += [f"does not name {word!r}" for word in case.names if word.lower() not in answer.words.lower()]
    if answer.exit == UNUSABLE and answer.out and not _refusal(case, answer.out):
        found.append("an answer on stdout although nothing was judged")
    if answer.exit not in JUDGED:
        return found
    if case.not_clear and answer.exit != UNUSABLE:
        answers = {one["id"]: one["answer"] for one in json.loads(answer.out)["questions"]}
        found += [f"{question} is clear" for question in case.not_clear if answers[question] == "clear"]
    left = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    left -= {*case.files, *((BOOK,) if answer.exit != UNUSABLE else ())}
    found += [f"left {name} behind" for name in sorted(left)]
    found += [f"changed {name}" for name, data in case.files.items() if (folder / name).read_bytes() != data]
    return found


def said(case: Case, answer: Answer) -> str:
    """The heart of an answer in one line."""
    if answer.exit not in JUDGED or answer.exit == UNUSABLE:
        return answer.words
    if case.command[-1] == "--json":
        record = json.loads(answer.out)
        ranks = ("stop", "unjudged", "care", "clear")
        worst = min(record["questions"], key=lambda one: ranks.index(one["answer"]))
        first = next((one for one in record["questions"] if one["id"] in case.not_clear), worst)
        return f"{first['answer']}: {first['why']}"
    told = [line.strip() for line in answer.out.splitlines() if "✓" in line or "{?}" in line]
    return " ".join(" ".join(told[:3]).split()) if told else answer.words
