"""Part: does the path reached stay on the path programmed?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstoff.facts.fact import Leaning
from firstoff.program.moves import Floats
from firstoff.verdict.case import Case, best
from firstoff.verdict.features import Toleranced, nothing_to_judge, toleranced
from firstoff.verdict.followed import Followed, followed
from firstoff.verdict.forms import Form, Scale, exact, of
from firstoff.verdict.joints import Joints, feed_joints
from firstoff.verdict.question import Check, Finding, Limit, Question, Risk
from firstoff.verdict.tools import spindle_tool

QUESTION = Question("path_kept", Risk.PART, "Does the path reached stay on the path programmed?")
CORNER = "machine.control.corner_tolerance"
UM = 1000.0
SMOOTH_RAD = np.radians(15.0)
"""A turn by no more than this between short lines is a curve cut into chords; beyond it the program means a corner (common practice)."""
STRAIGHT_RAD = 1e-4
"""A turn by less is rounding of coordinates."""
TINY_MM = 2.0
"""Lines longer than this are meant as lines: curves are cut into chords far below a millimetre (common practice)."""
NOT_LOOKED_AT = "What the drives lag behind at speed, and the squareness and backlash of the axes, were not looked at."


def find(case: Case, facts: Leaning) -> Finding:
    """Corners rounded within G64, and chords beside the curve they stand for, against half the tolerance of a path."""
    features = toleranced(facts, "path")
    if not features:
        return nothing_to_judge(facts, "no path, profile or contour with a tolerance among the features")
    joints = feed_joints(case)
    joints = joints.where(joints.turn_rad > STRAIGHT_RAD)
    notes = [NOT_LOOKED_AT]
    side: NDArray[np.int8] | None = None
    if isinstance(case.followed, Followed):
        followed(case, facts)
        surfaces = case.followed.surfaces
        stands = surfaces.wall_moves | surfaces.cusp_moves
        joints, side = joints.where(stands[joints.before] | stands[joints.after]), surfaces.wall_side
    else:
        notes.append("The stock is not followed: corners that no wall of the part lies beside count too.")
    limits: list[Limit] = []
    clear: list[str] = []
    for feature in features:
        mine = joints if feature.tool is None else joints.where(case.moves.tool[joints.before] == feature.tool)
        found = _limits(case, facts, feature, mine, side)
        limits += found
        clear.append(_clear(case, facts, feature, found))
    check = Check(Scale.DIFFERENCE, "µm", tuple(limits), (), " ".join(clear))
    return Finding((check,), case.lost, tuple(notes))


def _limits(
    case: Case, facts: Leaning, feature: Toleranced, joints: Joints, side: NDArray[np.int8] | None
) -> list[Limit]:
    """The worst corner that G64 may round as far as it is allowed, the worst that its short blocks bound, the worst chord."""
    chords, bound = _chords(joints)
    room = feature.tol.value / 2
    corners, by_blocks = joints.where(~chords), bound[~chords]
    # Where the blocks alone keep every corner, nobody needs to know the control's tolerance.
    matters = bool((by_blocks > room).any())
    tolerance = facts.number(CORNER) if matters else facts.number_if_known(CORNER)
    capacity = of(feature.tol, UM / 2)
    limits = []
    if tolerance is not None:
        counts = ~_passes_outside(case, facts, corners, tolerance.value, side)
        rounded = np.flatnonzero(counts & (by_blocks > tolerance.value))
        if rounded.size:
            # All are rounded alike: the sharpest stands for them.
            worst = int(rounded[np.argmax(corners.turn_rad[rounded])])
            limits.append(_corner(case, corners, worst, of(tolerance), tolerance.value, capacity, int(rounded.size)))
    short = np.flatnonzero(by_blocks <= (tolerance.value if tolerance is not None else room))
    if short.size:
        worst = int(short[np.argmax(by_blocks[short])])
        kept = float(by_blocks[worst])
        limits.append(_corner(case, corners, worst, exact(kept), kept, capacity, int(short.size)))
    if bool(chords.any()):
        limits.append(_chord(case, joints.where(chords), bound[chords], capacity))
    return limits


def _chords(joints: Joints) -> tuple[NDArray[np.bool_], Floats]:
    """(which joints lie on a curve cut into chords, greatest way off the path in mm at each).

    A chord of length l that turns by θ against the next leaves its curve by l/2·tan(θ/4) (sagitta of an arc). A corner is rounded inside
    the triangle that half of the shorter block spans on either side: l/2·sin(θ/2) high.
    """
    chords = joints.lines & (joints.turn_rad <= SMOOTH_RAD) & (joints.shorter_mm <= TINY_MM)
    half = joints.shorter_mm / 2
    return chords, np.where(chords, half * np.tan(joints.turn_rad / 4), half * np.sin(joints.turn_rad / 2))


def _passes_outside(
    case: Case, facts: Leaning, corners: Joints, rounded_mm: float, side: NDArray[np.int8] | None
) -> NDArray[np.bool_]:
    """Corners of the way round an outside corner of the part whose rounding ends before the part begins.

    An arc that leaves a corner of turn θ by d begins d/tan(θ/4) before it; the part's own corner lies R·tan(θ/2) before it.
    """
    if side is None or not corners.before.size:
        return np.zeros(corners.before.size, dtype=bool)
    inner = np.where(corners.left, 1, 2)
    outside = (side[corners.before] == inner) & (side[corners.after] == inner)
    radius = np.zeros(corners.before.size)
    tools = case.moves.tool[corners.before]
    for tool in np.unique(tools).tolist():
        diameter = facts.number_if_known(f"tools.{spindle_tool(facts, tool)}.DC")
        radius[tools == tool] = diameter.value / 2 if diameter is not None else 0.0
    free: NDArray[np.bool_] = outside & (
        rounded_mm <= radius * np.tan(corners.turn_rad / 2) * np.tan(corners.turn_rad / 4)
    )
    return free


def _corner(case: Case, corners: Joints, at: int, demand: Form, by: float, capacity: Form, many: int) -> Limit:
    place = case.place(int(corners.before[at]))
    turn = np.degrees(corners.turn_rad[at])
    more = f", the sharpest of {many}," if many > 1 else ""
    what = f"Line {place.line}: the corner of {turn:.0f}° at its end{more} may be rounded by {case.units.fine(by)}."
    do = "Write G61 before this line, ask for a tighter corner tolerance, or put an arc into the corner."
    return Limit(place, demand.scaled(UM), capacity, what, do)


def _chord(case: Case, chords: Joints, sagitta: Floats, capacity: Form) -> Limit:
    worst = int(np.argmax(sagitta))
    place, value = case.place(int(chords.before[worst])), float(sagitta[worst])
    what = f"Line {place.line}: the lines here leave the curve they stand for by {case.units.fine(value)}."
    return Limit(
        place, exact(value * UM), capacity, what, "Write the curve out again with shorter lines, or with arcs."
    )


def _clear(case: Case, facts: Leaning, feature: Toleranced, limits: list[Limit]) -> str:
    if not limits:
        return f"No corner beside the {feature.what} is rounded."
    off = max(best(facts.facts, limit.demand) for limit in limits) / UM
    allowed = case.units.fine(feature.tol.value / 2)
    return f"The {feature.what} is left by at most {case.units.fine(off)}; {allowed} either way are allowed."
