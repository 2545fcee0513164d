"""The stamp of where a fact comes from: each its own outline, and always beside its word."""

from __future__ import annotations

from firstoff.facts.fact import Evidence

WIDE, TALL = 30, 24

_SHAPES = {
    # broken oval, a wave
    Evidence.ASSUMED: '<rect class="line" x="1.5" y="2.5" width="27" height="19" rx="9.5" stroke-dasharray="4 2.6"/>'
    '<path class="line" d="M9.5 13.2c1.8-3.4 3.7-3.4 5.5-1.2s3.7 2.2 5.5-1.2"/>',
    # arch, an open book
    Evidence.HANDBOOK: '<path class="line" d="M2 22V11.5A9 9 0 0 1 11 2.5H19A9 9 0 0 1 28 11.5V22Z"/>'
    '<path class="line" d="M15 9.5V18M15 9.5C13 8.2 10.5 8 8.5 8.4V16.9C10.5 16.5 13 16.7 15 18C17 16.7 19.5 16.5 21.5 16.9V8.4C19.5 8 17 8.2 15 9.5Z"/>',
    # rectangle, two rivets, three lines
    Evidence.PLATE: '<rect class="line" x="1.5" y="3.5" width="27" height="17"/><circle class="solid" cx="5" cy="12" r="1.3"/>'
    '<circle class="solid" cx="25" cy="12" r="1.3"/><path class="line" d="M9 8.5H21M9 12H18M9 15.5H21"/>',
    # solid with pointed ends, a ruled scale with its index
    Evidence.MEASURED: '<path class="solid" d="M6.5 2H23.5L29 12L23.5 22H6.5L1 12Z"/><path class="cut" d="M8 17.5V13H22V17.5M12.7 13V16M17.3 13V16"/>'
    '<path class="cut-solid" d="M12.4 6H17.6L15 10.4Z"/>',
    # solid with round ends, a tally of five
    Evidence.LEARNED: '<rect class="solid" x="1" y="2" width="28" height="20" rx="10"/>'
    '<path class="cut" d="M9.5 7V17M13 7V17M16.5 7V17M20 7V17M7 15.5L23 8.5"/>',
    # a small open key
    Evidence.SET: '<circle class="line" cx="9" cy="12" r="4.6"/><path class="line" d="M13.6 12H26V16M21.5 12V15"/>',
}


def stamp_svg(evidence: Evidence) -> str:
    """The stamp alone, hidden from readers: its word stands beside it."""
    return f'<svg class="stamp" aria-hidden="true" viewBox="0 0 {WIDE} {TALL}" width="{WIDE}" height="{TALL}">{_SHAPES[evidence]}</svg>'
