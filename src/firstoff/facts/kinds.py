"""The kinds of values that the files of a shop have, and what a table of them is: the alphabet of `schema`."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from firstoff.facts.quantity import Kind, Quantity, Range
from firstoff.facts.reads import Axes, Constant, Reads, ReadsMoment, Rows

_PLACE = Kind("length", "place")
_SET_PLACE = Kind("length", "place", exact=True)
_SIZE = Kind("length", "size", 0.0)
_SIZE_OR_0 = Kind("length", "size", 0.0, zero=True)
_FINE = Kind("length", "fine", 0.0, zero=True)
_TURNS = Kind("rate", "rate", 0.0, 10_000.0)
_FEED = Kind("speed", "rate", 0.0)
_POWER = Kind("power", "rate", 0.0)
_ACCEL = Kind("acceleration", "other", 0.0)
_JERK = Kind("jerk", "other", 0.0)
_TIME = Kind("time", "other", 0.0, zero=True)
_FRICTION = Kind("ratio", "other", 0.0, 3.0)
_CHANCE = Kind("ratio", "other", 0.0, 1.0, exact=True)


def one(kind: Kind, **more: Any) -> Reads:
    """How one quantity of a kind is read."""
    return Reads("one", (("", kind),), **more)


Place = Annotated[Quantity, one(_PLACE)]
SetPlace = Annotated[Quantity, one(_SET_PLACE)]
"""A place that the shop decides: no doubt."""
Size = Annotated[Quantity, one(_SIZE)]
SizeOrZero = Annotated[Quantity, one(_SIZE_OR_0)]
Ground = Annotated[Quantity, one(Kind("length", "ground", 0.0))]
"""A size that a tool's maker grinds."""
GroundOrZero = Annotated[Quantity, one(Kind("length", "ground", 0.0, zero=True))]
Fine = Annotated[Quantity, one(_FINE)]
Angle = Annotated[Quantity, one(Kind("angle", "angle", -1.58, 3.15))]
Turns = Annotated[Quantity, one(_TURNS)]
Rate = Annotated[Quantity, one(Kind("rate", "rate", 0.0))]
Feed = Annotated[Quantity, one(_FEED)]
Accel = Annotated[Quantity, one(_ACCEL)]
Jerk = Annotated[Quantity, one(_JERK)]
Time = Annotated[Quantity, one(_TIME)]
Force = Annotated[Quantity, one(Kind("force", "other", 0.0))]
Area = Annotated[Quantity, one(Kind("area", "other", 0.0))]
Stiffness = Annotated[Quantity, one(Kind("stiffness", "other", 0.0))]
Stress = Annotated[Quantity, one(Kind("stress", "other", 0.0))]
Pressure = Annotated[Quantity, one(Kind("pressure", "other", 0.0, 100.0, zero=True))]
Friction = Annotated[Quantity, one(_FRICTION)]
Ratio = Annotated[Quantity, one(Kind("ratio", "other", 0.0, 10.0))]
RatioOrZero = Annotated[Quantity, one(Kind("ratio", "other", 0.0, 10.0, zero=True))]
Part = Annotated[Quantity, one(Kind("ratio", "other", 0.0, 1.0))]
Correlation = Annotated[Quantity, one(Kind("ratio", "other", -1.0, 1.0, zero=True, exact=True))]
EdgeForce = Annotated[Quantity, one(Kind("edge force", "other", 0.0))]
Modulus = Annotated[Quantity, one(Kind("stress", "other", 100.0, 1e6))]
"""From the softest plastic that is milled to diamond: N/mm² written for GPa is a slip."""
ToolStrength = Annotated[Quantity, one(Kind("stress", "other", 100.0, 10_000.0))]
Inertia = Annotated[Quantity, one(Kind("inertia", "other", 0.0))]
Frequency = Annotated[Quantity, one(Kind("frequency", "other", 0.0, 20_000.0))]
AxisStiffness = Annotated[Quantity | Axes, Reads("one or axes", (("", Kind("stiffness", "other", 0.0)),))]
Exponent = Annotated[Quantity, one(Kind("ratio", "other", 0.0, 1.0, zero=True))]
CountQuantity = Annotated[Quantity, one(Kind("count", "other", 0.0, 1e6))]
Chance = Annotated[Quantity, one(_CHANCE)]
SetLength = Annotated[Quantity, one(Kind("length", "size", 0.0, exact=True, zero=True))]
SetSize = Annotated[Quantity, one(Kind("length", "size", 0.0, exact=True))]
SetSizes = Annotated[Range, Reads("range", (("", Kind("length", "size", 0.0, exact=True)),))]

Travel = Annotated[Range, Reads("range", (("", _PLACE),))]
SpeedRange = Annotated[Range, Reads("range", (("", _TURNS),))]
Point = Annotated[Axes, Reads("place", (("", _PLACE),))]
Box = Annotated[Axes, Reads("box", (("", _PLACE),))]
SetBox = Annotated[Axes, Reads("box", (("", _SET_PLACE),))]
Steps = Annotated[Rows, Reads("rows", (("diameter", _SIZE), ("length", _SIZE)))]
Profile = Annotated[Rows, Reads("rows", (("r", _SIZE_OR_0), ("z", Kind("length", "size", 0.0, zero=True))))]
# The speed of a curve's point, and the duty that a rating holds for, say *where* the power holds: the doubt is the power's.
_AT_SPEED = Kind("rate", "rate", 0.0, 10_000.0, exact=True)
_DUTY = (("on_share", Kind("ratio", "other", 0.0, 1.0, exact=True)), ("cycle", Kind("time", "other", 0.0, exact=True)))
PowerCurve = Annotated[Rows, Reads("rows", (("speed", _AT_SPEED), ("power", _POWER)), rising=True)]
DutyCurve = Annotated[Rows, Reads("rows", (("speed", _AT_SPEED), ("power", _POWER)), _DUTY, rising=True)]
CuttingConstant = Annotated[
    Constant,
    one(
        Kind("stress", "other", 0.0, 50_000.0),
        extra=(("at", Kind("length", "fine", 0.0, 2.0, exact=True)),),
    ),
]

Bare = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=0, le=99_999_999)]
Positive = Annotated[int, Field(strict=True, ge=1, le=1000)]
Yes = Annotated[bool, Field(strict=True)]
Text = Annotated[str, Field(strict=True, min_length=1, max_length=500)]
Moment = Annotated[datetime, ReadsMoment()]


class Table(BaseModel):
    """A TOML table: every key optional unless nothing can be said without it, no key but these."""

    model_config = ConfigDict(extra="forbid", frozen=True, arbitrary_types_allowed=True, protected_namespaces=())


def says(meaning: str) -> Any:
    """A key that may be absent, and what it means."""
    return Field(default=None, description=meaning)


def needs(meaning: str) -> Any:
    """A key without which its table says nothing."""
    return Field(description=meaning)
