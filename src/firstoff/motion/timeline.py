"""What goes into the motion plan and what it yields: when each move starts and the feed it really reaches."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from firstoff.motion.profile import Profile
from firstoff.program.moves import Floats


class LimitedBy(IntEnum):
    """What keeps a move below its commanded feed, most telling first."""

    NOTHING = 0
    FEED = 1  # an axis' greatest feed
    ACCELERATION = 2
    JERK = 3
    CORNER = 4
    ARC = 5  # centripetal acceleration or jerk
    BLOCK_RATE = 6
    LOOK_AHEAD = 7


class Pause(NamedTuple):
    """The machine stands still before a move. Nought seconds still means a stop: how long a person takes is not planned."""

    before: int
    """Number of the move; the number of moves = after the last."""
    seconds: float
    kind: str = "change"
    """``change``, ``run-up``, ``stop``."""


@dataclass(frozen=True, slots=True)
class MotionLimits:
    """What the machine and its control can do, at best estimates. Tuples are X, Y, Z.

    None means unknown: the plan is then made for both ends (see `Timeline`). An axis that never moves may have `inf` everywhere.
    """

    max_feed_mm_per_s: tuple[float, float, float]
    accel_mm_per_s2: tuple[float, float, float]
    jerk_mm_per_s3: tuple[float, float, float]
    """`inf` where the control has no jerk limit."""
    corner_tolerance_mm: float | None
    """How far G64 may leave a corner; 0 = exact stop everywhere."""
    look_ahead: int | None
    """Blocks planned in advance, the one being run included."""
    block_rate_per_s: float | None
    change_time_s: float = 0.0
    run_up_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Timeline:
    """`start_s` f8[N + 1]: start of each move and the end of the last, for the likely plan.

    `mean_feed_low/likely/high` f8[N] mm/s: mean feed over the move in the slowest plan (unknown limits at their worst), the
    likely plan, and the quickest (unknown limits taken as boundless). `low` <= `likely` <= `high`; all three are equal where nothing
    is unknown, and 0 for a move that goes nowhere or has no time. `total_low_s` .. `total_high_s` bracket the whole time the same
    way: `total_low_s` is the time at the high feeds.
    """

    start_s: Floats
    mean_feed_low: Floats
    mean_feed_likely: Floats
    mean_feed_high: Floats
    limited_by: NDArray[np.uint8]
    total_low_s: float
    total_likely_s: float
    total_high_s: float
    bracketed_by: tuple[str, ...]
    """Paths of the unknown facts that open the bracket, e.g. ``machine.control.look_ahead``."""
    move_s: Floats
    """f8[N] time of each move itself, likely plan; pauses before it are left out."""
    pause_s: Floats
    """f8[N + 1] seconds the machine stands still before each move, and after the last."""
    untimed: NDArray[np.bool_]
    """bool[N]: the way or the feed of this move is not known, so it takes no time here: the totals are too short by it. The
    machine is at rest before and after it."""
    profile: Profile | None = None
    """Speed at every place of the likely plan; None of programs with more than `profile.MOST_MOVES` moves."""
