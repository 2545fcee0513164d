"""What is in force at one moment of a reading, frozen."""

from __future__ import annotations

from firstoff.program.moves import Flag, ModalState
from firstoff.program.reader import Reader


def modal_state(reader: Reader) -> ModalState:
    """The modal state at this moment, in the words of the language."""
    state, origins = reader.state, reader.origins
    coolant = ("off", "mist", "flood", "both")[state.flags & (Flag.MIST | Flag.FLOOD)]
    system = state.system
    return ModalState(
        motion="none" if state.motion < 0 else _g(state.motion),
        plane=f"G{state.plane}",
        distance=f"G{state.distance}",
        feed_mode=f"G{state.feed_mode}",
        units=f"G{state.units}" if state.units else "not stated",
        wcs=_g(540 + 10 * (system - 1) if system <= 6 else 590 + (system - 6)),
        comp=f"G{state.comp}",
        length=state.length,
        path_mode=state.path_mode,
        return_mode=f"G{state.return_mode}",
        arc_centres=state.arc_centres,
        spindle={0: "off", 1: "cw", -1: "ccw"}[state.turning],
        s_per_min=state.s,
        f=state.f,
        tool=state.tool,
        coolant=coolant,
        overrides=not state.flags & Flag.NO_OVERRIDE,
        shift_left=any(offset.acts for offset in origins.g92) or any(origins.g52) or origins.length_mm != 0.0,
        ended_by=state.ended_by,
        stopped=state.stopped,
    )


def _g(code: int) -> str:
    return f"G{code // 10}" if code % 10 == 0 else f"G{code / 10:.1f}"
