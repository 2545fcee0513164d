"""One piece of bad input and what an answer to it must do."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

UNUSABLE, CARE, UNJUDGED, STOP = 2, 3, 4, 5
"""Exit codes of CONTRACTS: the input cannot be used, and the answers that are not clear."""


@dataclass(frozen=True)
class Case:
    """Files of one folder, the command that reads them, and what must come of it."""

    name: str
    files: dict[str, bytes]
    command: tuple[str, ...]
    exits: tuple[int, ...]
    """Exit codes that are right; a clear verdict (0) is so only where the input is odd and yet means one thing."""
    names: tuple[str, ...] = ()
    """Each of these must stand in the answer, whatever its case: the file, the line, the value, the key."""
    not_clear: tuple[str, ...] = ()
    """Questions that must not be clear (`examine --json` only)."""
    slow: bool = False
    """Too large for the quick tests."""
    group: str = field(default="", kw_only=True)

    def lay_out(self, folder: Path) -> None:
        for name, data in self.files.items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
