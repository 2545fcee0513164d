"""`make bad-input`: put every case to the command and write the table to docs/bad-input.md; ends with 1 where an answer is wrong."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from proof.bad_input import programs, shapes, shops
from proof.bad_input.answer import by_command, said, wrong
from proof.bad_input.case import Case

PAGE = Path(__file__).parents[2] / "docs" / "bad-input.md"
CASES: tuple[Case, ...] = (*programs.CASES, *shops.CASES, *shapes.CASES)
HEAD = """# What bad input is answered with

Written by `make bad-input` (`proof/bad_input/`), which runs the command on every row and fails where an answer is not what the row
must have: its exit code, the place named, no traceback, nothing on stdout where nothing was judged, no file changed or left behind, and
no question clear that leans on what cannot be read. `tests/proof/test_bad_input.py` asks all but the largest at every `make test`.

Exit codes: 0 read and understood (what is odd is told as a doubt), 2 cannot be used, 4 unjudged, 5 stop.
"""
TITLES = {
    "read": "Programs, read",
    "examine": "Programs, examined",
    "facts": "Facts: machine, tools, job",
    "stl": "Blanks from STL",
    "command": "The command line",
}
LONGEST = 230


def main() -> int:
    faults, tables = 0, []
    for group, title in TITLES.items():
        rows = [f"\n## {title}\n", "| input | exit | what is said |", "|---|---|---|"]
        for case in (one for one in CASES if one.group == group):
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                case.lay_out(folder)
                answer = by_command(case, folder)
                found = wrong(case, answer, folder)
            for fault in found:
                print(f"{case.name}: {fault}", file=sys.stderr)
            faults += len(found)
            print(f"{case.name}: {answer.exit}", file=sys.stderr)
            words = said(case, answer).replace(f"{folder}/", "").replace("|", "\\|").replace("`", "'")
            rows.append(f"| {case.name} | {answer.exit} | {words[:LONGEST]}{'…' if len(words) > LONGEST else ''} |")
        tables.append("\n".join(rows))
    print(f"{len(CASES)} cases, {faults} answers wrong", file=sys.stderr)
    PAGE.write_text(HEAD + "\n".join(tables) + "\n")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
