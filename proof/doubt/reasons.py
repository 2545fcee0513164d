"""Why a figure misses its goal, by situation and question: found by looking at the machines that miss."""

from __future__ import annotations

REASONS: dict[tuple[str, str], str] = {}
