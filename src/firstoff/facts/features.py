"""What a line from the drawing asks for: by its `kind` where the job says one, else by the words of `what`."""

from __future__ import annotations

from typing import Literal

FeatureKind = Literal["wall", "floor", "step", "path"]
"""Size across (walls, bores, slots, the outside), size in Z, two tools that must agree in Z, the path itself."""

_WORDS: tuple[tuple[FeatureKind, tuple[str, ...]], ...] = (
    ("step", ("step",)),
    ("floor", ("floor", "depth", "height", "bottom", "thickness")),
    ("path", ("profile", "contour", "path")),
    ("wall", ("wall", "side", "pocket", "bore", "slot", "hole", "width", "length", "diameter")),
)
"""First match counts: the floor of a pocket is a floor, the outside contour is a path."""


def feature_kind(what: str, kind: object = None) -> FeatureKind | None:
    """The kind of a feature; None where neither its `kind` nor its words say one: then no question asks for it."""
    for known, words in _WORDS:
        if kind == known:
            return known
        if kind is None and any(word in what.lower() for word in words):
            return known
    return None
