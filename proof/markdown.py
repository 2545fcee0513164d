"""Tables in Markdown."""

from __future__ import annotations

from collections.abc import Sequence


def table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table; the first row is its head."""
    head, *body = rows
    return ["| " + " | ".join(row) + " |" for row in (head, ["---"] * len(head), *body)]
