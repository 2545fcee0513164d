"""Words as text of a page: escaped, and a figure never parted from its unit at the end of a line."""

from __future__ import annotations

import re
from html import escape

_UNIT = re.compile(
    r"(?<=[\d)]) (?=(?:%|mm|cm|µm|in|thou|°|deg|N·m|N/mm²|kN|N|kW|W|J|s|min|h|1/min|mm/min|in/min|bar|× diameter)(?![\w/·²]))"
)
_JOINED = "\u00a0"


def html(words: str) -> str:
    """Text for a page."""
    return escape(joined(words))


def joined(words: str) -> str:
    """The same with figures and units that stay together."""
    return _UNIT.sub(_JOINED, words)
