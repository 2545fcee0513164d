"""Duty: the greatest sums of power and torque over any window of time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from firstoff.loads import _kernels as kernels
from firstoff.loads.cut_loads import Duty
from firstoff.program.moves import Floats, Ints
from firstoff.removal.profile import frozen

Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Spell:
    """Spans of cutting in order: begin f8[K], then f4[K] each: length in seconds, power W, d ln(power)/d mc, the part of edge forces in
    it, and the power of the grid's doubt of widths that it goes with; i4[K] stretch and move."""

    begin_s: Floats
    span_s: Singles
    power_w: Singles
    by_mc: Singles
    by_edge: Singles
    by_width: Singles
    stretch: Ints
    move: Ints


@dataclass(frozen=True, slots=True)
class Turning:
    """What a stretch turns: its speed, the paths of its facts, and its mc."""

    turns_per_s: float
    paths: Mapping[str, str]
    mc: float


def joined(spells: Sequence[Spell]) -> Spell:
    """Spells one after the other."""
    if not spells:
        none, whole = np.empty(0, dtype=np.float32), np.empty(0, dtype=np.int32)
        return Spell(np.empty(0), none, none, none, none, none, whole, whole)
    return Spell(*(np.concatenate([getattr(spell, one.name) for spell in spells]) for one in fields(Spell)))


def duties_of(spell: Spell, windows_s: Sequence[float], end_s: float, turning: Sequence[Turning]) -> tuple[Duty, ...]:
    """For each window its greatest mean power and, over its own worst window, the greatest root mean square of torque. `turning` by stretch.

    A program shorter than a window counts as if it ran again at once: the mean is taken over its own time.
    """
    order = np.argsort(spell.begin_s, kind="stable")
    in_order = Spell(*(getattr(spell, one.name)[order] for one in fields(Spell)))
    return tuple(_duty(in_order, window, end_s, turning) for window in sorted(set(windows_s)) if window > 0.0)


def _duty(spell: Spell, window_s: float, end_s: float, turning: Sequence[Turning]) -> Duty:
    over = min(window_s, end_s) if end_s > 0.0 else window_s
    power = spell.power_w.astype(np.float64)
    omega = 2.0 * np.pi * np.array([one.turns_per_s for one in turning] or [1.0])
    torque = power * 1e3 / omega[spell.stretch]
    energy, start = _busiest(spell, power, over, end_s)
    heat, hottest = _busiest(spell, torque**2, over, end_s)
    share, warmth = _inside(spell, start, over) * power, _inside(spell, hottest, over) * torque**2
    move, turned = (int(spell.move[int(np.argmax(one))]) if one.size else -1 for one in (share, warmth))
    rms = float(np.sqrt(heat / over))
    by_power, by_torque = (_exponents(spell, one, turning) for one in (share, warmth))
    return Duty(window_s, energy / over, rms, start, move, by_power, hottest, turned, by_torque)


def _inside(spell: Spell, start_s: float, over_s: float) -> Floats:
    """f8[K] seconds of each span that lie in a window."""
    inside = np.minimum(spell.begin_s + spell.span_s, start_s + over_s) - np.maximum(spell.begin_s, start_s)
    clipped: Floats = np.clip(inside, 0.0, None)
    return clipped


def _busiest(spell: Spell, load: Floats, over: float, end_s: float) -> tuple[float, float]:
    best = np.zeros(2)
    span = frozen(spell.span_s.astype(np.float64))
    kernels.busiest_window(frozen(spell.begin_s), span, frozen(load), over, 0.0, end_s, best)
    return float(best[0]), float(best[1])


def _exponents(spell: Spell, share: Floats, turning: Sequence[Turning]) -> tuple[tuple[str, float], ...]:
    """Of the sum in a window, energy or squared torque by time: each station's own exponents, weighted by its share of the sum. A root
    mean square goes with the torque by the same power as its square goes with the square of the torque."""
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
            "mc": float(np.sum(part * spell.by_mc[here])) * turning[stretch].mc,
            "model_factor": all_of_it,
            "wear_factor": all_of_it,
            "width": float(np.sum(part * spell.by_width[here])),
        }
        for name, exponent in sums.items():
            path = turning[stretch].paths.get(name)
            if path is not None and exponent != 0.0:
                found[path] = found.get(path, 0.0) + exponent
    return tuple(found.items())
