"""Duty: the greatest sums of power and torque over any window of time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstoff.loads import _kernels as kernels
from firstoff.loads.cut_loads import Duty
from firstoff.program.moves import Floats, Ints
from firstoff.removal.profile import frozen


@dataclass(frozen=True, slots=True)
class Spell:
    """Spans of cutting in order; f8[K] each: begin and length in seconds, power W, torque N·mm, d ln(power)/d mc, and the part of edge
    forces in it; i4[K] stretch and move."""

    begin_s: Floats
    span_s: Floats
    power_w: Floats
    torque_nmm: Floats
    by_mc: Floats
    by_edge: Floats
    stretch: Ints
    move: Ints


def duties_of(
    spell: Spell, windows_s: Sequence[float], end_s: float, paths: Sequence[dict[str, str]], mc: Sequence[float]
) -> tuple[Duty, ...]:
    """For each window its greatest mean power and, over its own worst window, the greatest root mean square of torque.

    A program shorter than a window counts as if it ran again at once: the mean is taken over its own time. `paths` and `mc` by stretch.
    """
    return tuple(_duty(spell, window, end_s, paths, mc) for window in sorted(set(windows_s)) if window > 0.0)


def _duty(spell: Spell, window_s: float, end_s: float, paths: Sequence[dict[str, str]], mc: Sequence[float]) -> Duty:
    over = min(window_s, end_s) if end_s > 0.0 else window_s
    energy, start = _busiest(spell, spell.power_w, over, end_s)
    heat, _ = _busiest(spell, spell.torque_nmm**2, over, end_s)
    inside = np.clip(
        np.minimum(spell.begin_s + spell.span_s, start + over) - np.maximum(spell.begin_s, start), 0.0, None
    )
    share = inside * spell.power_w
    move = int(spell.move[int(np.argmax(share))]) if share.size else -1
    return Duty(window_s, energy / over, float(np.sqrt(heat / over)), start, move, _exponents(spell, share, paths, mc))


def _busiest(spell: Spell, load: Floats, over: float, end_s: float) -> tuple[float, float]:
    best = np.zeros(2)
    kernels.busiest_window(spell.begin_s, spell.span_s, frozen(load), over, 0.0, end_s, best)
    return float(best[0]), float(best[1])


def _exponents(
    spell: Spell, share: Floats, paths: Sequence[dict[str, str]], mc: Sequence[float]
) -> tuple[tuple[str, float], ...]:
    """Of the energy in a window: each station's own exponents, weighted by its energy."""
    total = float(share.sum())
    found: dict[str, float] = {}
    if total <= 0.0:
        return ()
    for stretch in np.unique(spell.stretch[share > 0.0]).tolist():
        here = spell.stretch == stretch
        part = share[here] / total
        edge = float(np.sum(part * spell.by_edge[here]))
        all_of_it = float(part.sum())
        sums = {
            "kc": all_of_it - edge,
            "edge_force": edge,
            "mc": float(np.sum(part * spell.by_mc[here])) * mc[stretch],
            "model_factor": all_of_it,
            "wear_factor": all_of_it,
        }
        for name, exponent in sums.items():
            path = paths[stretch].get(name)
            if path is not None and exponent != 0.0:
                found[path] = found.get(path, 0.0) + exponent
    return tuple(found.items())
