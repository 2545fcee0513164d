"""What earlier runs say of a job."""

from __future__ import annotations

from collections.abc import Sequence

from firstoff.book.kept import RunSaid
from firstoff.sheets.fact_words import date_words

GOOD = "good"
MOST_NOTES = 3
"""Sorts of runs that did not go well, told in an examination; the book has all."""


def run_sentences(said: Sequence[RunSaid]) -> tuple[str, ...]:
    """How often a job ran well, with what it would be made with now and otherwise, and the last of what did not go well."""
    well = [one for one in said if one.run.outcome == GOOD]
    same = [one for one in well if one.alike]
    others = len(well) - len(same)
    told = []
    if same:
        last = date_words(same[-1].run.at)
        told.append(
            f"It has run well {_times(len(same))} with this program, these tools, stick-outs and stock, last on {last}."
        )
    if others:
        more = " more" if same else ""
        told.append(f"It has run well {_times(others)}{more} with another program, tool, stick-out or stock.")
    for one in _worth_telling(said):
        otherwise = "" if one.alike else " (set up otherwise)"
        told.append(f"{date_words(one.run.at)}: {one.run.note.rstrip('.')}{otherwise}.")
    return tuple(told)


WORST_FIRST = ("broke", "stopped", "size", "rang", "other")


def _worth_telling(said: Sequence[RunSaid]) -> list[RunSaid]:
    """Of what did not go well the newest of each sort, the worst sorts first where there is no room for all, in the order of days."""
    newest = {one.run.outcome: one for one in said}
    chosen = [newest[outcome] for outcome in WORST_FIRST if outcome in newest][:MOST_NOTES]
    return sorted(chosen, key=lambda one: one.run.number)


def _times(number: int) -> str:
    return {1: "once", 2: "twice"}.get(number, f"{number} times")
