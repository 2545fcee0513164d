"""What stands round a page of this shop."""

from __future__ import annotations

from fastapi import Request

from firstoff.facts.shop import load_shop
from firstoff.pages.render import Frame


def frame_of(request: Request, room: str) -> Frame:
    """The frame, with the shop's name as it is now."""
    state = request.app.state
    return Frame(room, load_shop(state.folder).name, state.door.password_hash is not None)
