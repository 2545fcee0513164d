"""The page on doubt: tables, the reliability plot, and why where a figure misses its goal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from proof import svg
from proof.doubt.figures import Bin, Figures
from proof.doubt.held_out import HeldOut
from proof.doubt.next_trial import Versus
from proof.doubt.reasons import REASONS
from proof.doubt.situations import Situation

GOAL = (0.94, 0.96)
FALSE_ALARM = 0.001
"""An honest tool fails a chi-square once in a thousand questions."""
LIKELY = 0.05
Found = Mapping[str, Mapping[str, Figures]]
"""Figures by situation and question."""


def percent(part: float, digits: int = 1) -> str:
    return f"{100 * part:.{digits}f} %"


def coverage_rows(situations: Sequence[Situation], found: Found) -> list[list[str]]:
    rows = [
        [
            "situation",
            "question",
            "machines",
            "covered",
            "exact 95 % bounds",
            "truth below / above the band",
            "goal 94 to 96 %",
        ]
    ]
    for situation in situations:
        for question, one in found.get(situation.name, {}).items():
            above = 1.0 - one.covered - one.below
            rows.append(
                [
                    situation.name,
                    question,
                    f"{one.stated:,} of {one.machines:,}",
                    percent(one.covered, 2),
                    f"{percent(one.low)} to {percent(one.high)}",
                    f"{percent(one.below)} / {percent(above)}",
                    _verdict(situation.name, question, one),
                ]
            )
    return rows


def _verdict(situation: str, question: str, one: Figures) -> str:
    if GOAL[0] <= one.covered <= GOAL[1]:
        return "met"
    by = one.covered - (GOAL[1] if one.covered > GOAL[1] else GOAL[0])
    mark = number_of(situation, question)
    near = ", its bounds reach it" if one.low <= GOAL[1] and one.high >= GOAL[0] else ""
    return f"{100 * by:+.1f} %{near}" + (f" ({mark})" if mark else "")


def number_of(situation: str, question: str) -> str:
    """The note on a row, by its number."""
    keys = list(REASONS)
    return f"note {keys.index((situation, question)) + 1}" if (situation, question) in REASONS else ""


def reliability_rows(situations: Sequence[Situation], found: Found) -> list[list[str]]:
    rows = [
        [
            "situation",
            "question",
            "called on average",
            "really over",
            "of those called 5 to 20 %: mean called, really over (machines)",
            "chi-square p",
        ]
    ]
    for situation in situations:
        for question, one in found.get(situation.name, {}).items():
            ten = next((each for each in one.bins if 0.05 <= each.called < 0.2), None)
            said = "" if ten is None else f"{percent(ten.called)}, {percent(ten.seen)} ({ten.machines:,})"
            p = f"{one.p:.3f}" if one.p >= FALSE_ALARM else f"{one.p:.1e}"
            mark = number_of(situation.name, question)
            flag = f" ({mark})" if one.p < FALSE_ALARM and mark else ""
            rows.append([situation.name, question, percent(one.called), percent(one.seen), said, p + flag])
    return rows


def pooled(found: Found) -> list[Bin]:
    """All questions together, bin by bin."""
    bins = [each for questions in found.values() for one in questions.values() for each in one.bins]
    edges = (0.0, 0.01, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 0.99, 1.01)
    whole = []
    for low, high in pairwise(edges):
        here = [each for each in bins if low <= each.called < high]
        n = sum(each.machines for each in here)
        if n:
            called = sum(each.called * each.machines for each in here) / n
            seen = sum(each.seen * each.machines for each in here) / n
            whole.append(Bin(called, seen, n, 0.0, 0.0))
    return whole


def reliability_plot(found: Found) -> str:
    """A panel a question and situation: chance stated against part really over, with exact 95 % bounds."""
    panels = [(name, question, one) for name, questions in found.items() for question, one in questions.items()]
    ticks = (0.0, 0.5, 1.0)

    def draw(number: int, left: float, top: float) -> str:
        name, question, one = panels[number]
        panel = svg.Panel(
            left + 34,
            top + 24,
            120,
            120,
            svg.Axis(0, 1, ticks, "chance stated"),
            svg.Axis(0, 1, ticks, ""),
            f"{question}, {name}",
        )
        drawn = [panel.frame(), panel.line([(0, 0), (1, 1)], svg.GRID)]
        drawn += [panel.point(each.called, each.seen, svg.COLOURS[0], (each.low, each.high)) for each in one.bins]
        return "\n".join(drawn)

    columns, wide, high = 6, 168, 186
    rows = -(-len(panels) // columns)
    says = "Part of the machines that really go over, against the chance stated, for each question"
    return svg.picture(columns * wide, rows * high, svg.tiled(len(panels), columns, wide, high, draw), says)


def held_out_rows(rows: Sequence[HeldOut]) -> list[list[str]]:
    told = [
        [
            "pool",
            "source held out",
            "its kc, N/mm²",
            "the others'",
            "power with it, W",
            "stated from the others, W",
            "covered",
            "by the constants alone",
        ]
    ]
    for row in rows:
        told.append(
            [
                row.pool,
                row.source,
                f"{row.kc:.0f}",
                f"{row.others_kc:.0f}",
                f"{row.true:.0f}",
                f"{row.low95:.0f} to {row.high95:.0f}",
                "yes" if row.covered else "**no**",
                "yes" if row.covered_bare else "no",
            ]
        )
    return told


def versus_rows(rows: Sequence[Versus]) -> list[list[str]]:
    told = [
        [
            "against",
            "machines",
            "settled a minute by what is named",
            "by the other",
            "better / worse",
            "sign test p",
            "Wilcoxon p",
        ]
    ]
    for row in rows:
        rank = f"{row.rank_p:.1e}" if row.rank_p == row.rank_p else "too few differ"
        told.append(
            [
                row.trial,
                str(row.machines),
                f"{row.named_per_minute:.3f}",
                f"{row.other_per_minute:.3f}",
                f"{row.better} / {row.worse}",
                f"{row.sign_p:.1e}",
                rank,
            ]
        )
    return told
