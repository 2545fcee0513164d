"""The table of truth: every check against something outside this project leaves one row in `docs/truth.md`."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

CHECKS = Path(__file__).with_name("checks.txt")
"""The fixed list of check ids, one a line: a check that vanishes is noticed."""

Row = dict[str, object]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--truth-page", default=None, help="write the table of truth to this Markdown file")


@pytest.fixture
def truth(request: pytest.FixtureRequest) -> Callable[..., None]:
    """`truth(id, what, source, expected, got, tolerance, unit="")`: hold `got` against a value from outside.

    `source` names author or publisher, title, year and page, or says `from memory` / `common practice`. The tolerance is absolute.
    """

    def hold(check: str, what: str, source: str, expected: float, got: float, tolerance: float, unit: str = "") -> None:
        known = CHECKS.read_text().split()
        if check not in known:
            pytest.fail(f"check id '{check}' is not in {CHECKS.name}: add it there")
        if len(source.strip()) < 8:
            pytest.fail(f"check '{check}' names no source outside this project")
        row: Row = {
            "id": check,
            "what": what,
            "source": source,
            "expected": float(expected),
            "got": float(got),
            "difference": float(got) - float(expected),
            "tolerance": float(tolerance),
            "unit": unit,
        }
        request.node.user_properties.append(("truth", json.dumps(row)))
        if not abs(row["got"] - row["expected"]) <= tolerance:  # type: ignore[operator]
            pytest.fail(f"{check}: expected {expected} {unit}, got {got} (tolerance {tolerance}); {source}")

    return hold


def pytest_terminal_summary(terminalreporter: object, exitstatus: int, config: pytest.Config) -> None:
    page = config.getoption("--truth-page")
    if page is None or os.environ.get("PYTEST_XDIST_WORKER"):
        return
    rows: dict[str, Row] = {}
    for reports in terminalreporter.stats.values():  # type: ignore[attr-defined]
        for report in reports:
            for name, text in getattr(report, "user_properties", ()):
                if name == "truth" and report.when == "call":
                    row = json.loads(text)
                    rows[row["id"]] = row
    known = CHECKS.read_text().split()
    missing = [check for check in known if check not in rows]
    Path(page).write_text(_page([rows[check] for check in known if check in rows], missing))
    print(f"\n{len(rows)} checks written to {page}" + (f"; not run: {', '.join(missing)}" if missing else ""))


def _page(rows: list[Row], missing: list[str]) -> str:
    head = (
        "# Truth\n\nWritten by `make truth`: every model held against something outside this project. "
        "`from memory` marks a value nobody looked up; `common practice` a trade fact without a source.\n\n"
        "| id | what | source | expected | got | difference | allowed | unit |\n|---|---|---|---|---|---|---|---|\n"
    )
    body = "".join(
        f"| {r['id']} | {r['what']} | {r['source']} | {r['expected']:.8g} | {r['got']:.8g} | {r['difference']:.2g} "
        f"| {r['tolerance']:.2g} | {r['unit']} |\n"
        for r in rows
    )
    tail = f"\nNot run here: {', '.join(missing)}.\n" if missing else ""
    return head + body + tail
