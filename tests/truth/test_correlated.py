"""Facts that were measured together, against the GUM's own example of it."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from firstoff.facts.fact import Fact, FactGroup, FactSet
from firstoff.verdict.forms import Form, Scale
from firstoff.verdict.judge import Draws, budget

SOURCE = "JCGM 100:2008 (GUM), H.2, tables H.2 and H.3 (from memory)"
VOLT, AMPERE, PHI = 4.9990, 19.6610e-3, 1.04446
"""Volt, ampere and phase angle of five simultaneous readings; their standard uncertainties and correlations follow."""
READINGS = FactSet(
    {
        "V": Fact("V", VOLT, 0.0032, "1", 4.0),
        "I": Fact("I", AMPERE, 0.0095e-3, "1", 4.0),
        "phi": Fact("phi", PHI, 0.00075, "1", 4.0),
    },
    {},
    (FactGroup(("V", "I", "phi"), ((1.0, -0.36, 0.86), (-0.36, 1.0, -0.65), (0.86, -0.65, 1.0))),),
)
RESULTS = {
    # name: (value, its exponent of phi, published value, published standard uncertainty), ohm
    "R": (VOLT / AMPERE * math.cos(PHI), -PHI * math.tan(PHI), 127.732, 0.071),
    "X": (VOLT / AMPERE * math.sin(PHI), PHI / math.tan(PHI), 219.847, 0.295),
    "Z": (VOLT / AMPERE, 0.0, 254.260, 0.236),
}


@pytest.mark.parametrize("name", RESULTS)
def test_resistance_reactance_and_impedance(name: str, truth: Callable[..., None]) -> None:
    value, by_phi, published, u_published = RESULTS[name]
    terms = (("V", 1.0), ("I", -1.0), *((("phi", by_phi),) if by_phi else ()))
    draws = Draws(READINGS)
    shares, u, df = budget(Form(0.0, terms), Scale.RATIO, draws)
    assert value == pytest.approx(published, abs=0.002)
    what = f"combined standard uncertainty of {name} from three correlated readings"
    # Correlations are published to two digits: half a digit moves u by up to 1.5 %.
    truth(f"gum-h2-{name}", what, SOURCE, u_published, value * u, 0.015 * u_published, "ohm")
    drawn = value * draws.of(Form(0.0, terms), Scale.RATIO).std()
    # Draws are of t with 4 degrees of freedom: their spread is √(4/2) of u. An estimated spread of heavy tails is good for 10 %.
    truth(f"gum-h2-{name}-drawn", f"spread of joint draws of {name}, over √2", SOURCE, u_published, drawn / math.sqrt(2), 0.1 * u_published, "ohm")  # fmt: skip
    assert [share.fact for share in shares] == ["V"]
    assert df == pytest.approx(4.0)
