"""`make doubt`: docs/doubt.md with its figures, from hidden machines. `--only` does a part."""

from __future__ import annotations

import argparse
import json
import subprocess
import time
from dataclasses import asdict
from pathlib import Path
from typing import Any

import firstoff
from proof.doubt import held_out, next_trial, write
from proof.doubt.situations import ALL
from proof.doubt.study import run_all

ROOT = Path(__file__).parents[2]
MACHINES = 4000
NEXT_MACHINES = 300
STEP = 1000
HELD_OUT, NEXT = "held out", "measure next"
Found = dict[str, Any]


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m proof.doubt", description=__doc__)
    parser.add_argument("--only", nargs="*", metavar="NAME", help=f"situations, {HELD_OUT!r} or {NEXT!r}; default: all")
    parser.add_argument(
        "--machines", type=int, default=MACHINES, help="hidden machines a situation (default %(default)s)"
    )
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--found", type=Path, help="file to keep what is found in, and to go on from")
    given = parser.parse_args()
    found: Found = json.loads(given.found.read_text()) if given.found and given.found.is_file() else {}
    for name in given.only if given.only is not None else [*(one.name for one in ALL), HELD_OUT, NEXT]:
        began = time.perf_counter()
        for machines in _steps(name, given.machines):
            found[name] = _found(name, found.get(name, {}), machines, given.processes)
            if given.found:
                given.found.write_text(json.dumps(found))
        print(f"{name}: {time.perf_counter() - began:.0f} s", flush=True)
    write.write(found, ROOT / "docs")


def _steps(name: str, machines: int) -> list[int]:
    """Machines by the end of each step: what is found is kept after every one."""
    return [machines] if name in (HELD_OUT, NEXT) else [*range(STEP, machines, STEP), machines]


def _found(name: str, before: Found, machines: int, processes: int) -> Found:
    """One part; machines that were examined before by the same version are kept."""
    commit = _commit()
    kept = before.get("found", {}) if before.get("commit") == commit else {}
    if name == HELD_OUT:
        return {"commit": commit, "found": [asdict(row) for row in held_out.hold_out()]}
    if name == NEXT:
        rows = next_trial.tried(min(NEXT_MACHINES, machines), processes)
        return {"commit": commit, "found": [asdict(row) for row in rows]}
    [situation] = [one for one in ALL if one.name == name]
    done = min((len(rows) for rows in kept.values()), default=0)
    more = run_all(situation, range(done, machines), processes)
    return {
        "commit": commit,
        "found": {q: [*kept.get(q, []), *([*asdict(row).values()] for row in rows)] for q, rows in more.items()},
    }


def _commit() -> str:
    """The version that was studied: the last that changed the package or its shops."""
    folder = Path(str(firstoff.__file__)).parent
    told = subprocess.run(
        ["git", "-C", str(folder), "log", "-1", "--format=%h", "--", ".", str(Path(__file__).parent)],
        capture_output=True,
        text=True,
        check=False,
    )
    return told.stdout.strip() or "unknown"


if __name__ == "__main__":
    main()
