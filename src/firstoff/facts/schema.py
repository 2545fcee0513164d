"""What the four files of a shop may say: every key, what it means, and what kind of value it takes.

The models hold what was written, in internal units, and nothing else: no defaults are filled in, so that a missing fact
stays missing. `docs/facts.md` is made from this module.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, create_model

from firstoff.facts.control import CONTROL_KEYS
from firstoff.facts.judgement import QUESTIONS
from firstoff.facts.kinds import (
    Accel,
    Angle,
    Area,
    AxisStiffness,
    Bare,
    Box,
    Chance,
    Correlation,
    Count,
    CountQuantity,
    CuttingConstant,
    DutyCurve,
    EdgeForce,
    Exponent,
    Feed,
    Fine,
    Force,
    Frequency,
    Friction,
    Ground,
    GroundOrZero,
    Inertia,
    Jerk,
    Modulus,
    Moment,
    Part,
    Place,
    Point,
    Positive,
    PowerCurve,
    Pressure,
    Profile,
    Rate,
    Ratio,
    RatioOrZero,
    SetBox,
    SetLength,
    SetPlace,
    SetSize,
    SetSizes,
    Size,
    SizeOrZero,
    SpeedRange,
    Steps,
    Stiffness,
    Stress,
    Text,
    Time,
    ToolStrength,
    Travel,
    Turns,
    Yes,
    needs,
    one,
    says,
)
from firstoff.facts.kinds import Table as Table
from firstoff.facts.practice import RULES
from firstoff.facts.quantity import Quantity

# ---- machine.toml --------------------------------------------------------------------------------------------------


class ShopHead(Table):
    name: Text | None = says("what the machine is called in answers")
    show: Literal["mm", "inch"] | None = says("units that answers are shown in")


class Axis(Table):
    travel: Travel | None = says("how far the spindle gauge point can go, machine frame (ISO 841), low .. high")
    max_feed: Feed | None = says("greatest feed of this axis, rapids included")
    accel: Accel | None = says("greatest acceleration of this axis")
    jerk: Jerk | None = says("greatest jerk of this axis")


class AxisTables(Table):
    x: Axis | None = says("the X axis")
    y: Axis | None = says("the Y axis")
    z: Axis | None = says("the Z axis, + away from the table")


class Spindle(Table):
    speed: SpeedRange | None = says("lowest and highest speed that it may turn at")
    directions: Annotated[tuple[Literal["cw", "ccw"], ...], Field(min_length=1)] | None = says(
        "ways it can turn: cw (M3), ccw (M4)"
    )
    power_s1: PowerCurve | None = says(
        "power at the tool that it can hold for ever, by speed: [speed, power]; torque = P/(2πn)"
    )
    power_s6: DutyCurve | None = says("power in intermittent duty: points, on_share, cycle (IEC 60034-1, S6)")
    run_up: Time | None = says("time from standstill to full speed")
    stiffness: Stiffness | None = says("radial stiffness at the gauge line")
    nose: Steps | None = says("steps of the spindle nose, from the gauge line upward: [diameter, length]")
    run_out: Fine | None = says("run-out of the spindle taper")
    no_load: PowerCurve | None = says("power it takes to turn without cutting, by speed: [speed, power]")
    inertia: Inertia | None = says("moment of inertia of all that turns")


class Frame(Table):
    stiffness: AxisStiffness | None = says(
        "stiffness between spindle nose and table without spindle and tool: one for all axes, or [X, Y, Z]"
    )
    first_mode: Frequency | None = says("lowest natural frequency between nose and table")


class Changer(Table):
    change_time: Time | None = says("time of one tool change")


class Zone(Table):
    name: Text = needs("name of the space that nothing may enter, except during a change")
    box: Box = needs("the space, machine frame: X, Y and Z range")


class Home(Table):
    G28: Point | None = says("machine position that G28 goes to")
    G30: Point | None = says("machine position that G30 goes to")


class Today(Table):
    on: Moment | None = says("when this card was filled in")
    homed: Yes | None = says("homed since the last emergency stop")
    warm: Time | None = says("warm-up done")
    air: Pressure | None = says("air pressure on the gauge")
    pockets_seen: Yes | None = says("the pocket list agrees by eye")


class Chances(Table):
    care_above: Chance | None = says("chance that demand exceeds capacity above which the answer is care")
    stop_above: Chance | None = says("chance above which the answer is stop")


class CareOnly(Table):
    care_above: Chance | None = says("chance above which the answer is care; time never stops a job")


class Clearance(Table):
    clear_at: SetLength | None = says("gap from which contact is clear, after all doubt")
    stop_below: SetLength | None = says("gap below which the answer is stop")


class QuestionJudgement(Table):
    care_above: Chance | None = says("as above, for this question alone")
    stop_above: Chance | None = says("as above, for this question alone")
    clear_at: SetLength | None = says("as above, for this question alone")
    stop_below: SetLength | None = says("as above, for this question alone")


def _control_model() -> type[Table]:
    fields: dict[str, Any] = {}
    for name, key in CONTROL_KEYS.items():
        annotation: Any
        if key.words:
            annotation = Literal[key.words]
        else:
            annotation = {"length": SizeOrZero, "rate": Rate, "count": CountQuantity}[key.dimension]
        fields[name] = (annotation | None, says(key.meaning))
    fields["program_folders"] = (
        tuple[Text, ...] | None,
        says("folders searched for subprograms after the program's own"),
    )
    code = Annotated[str, Field(pattern=r"^\d{1,4}(\.\d)?$")]
    fields["own_m_codes"] = (dict[code, Text] | None, says("M codes of the builder's own and what each does"))
    return create_model("Control", __base__=Table, **fields)


def _judgement_model() -> type[Table]:
    fields: dict[str, Any] = {
        "machine": (Chances | None, says("what is at risk: the machine")),
        "tool": (Chances | None, says("what is at risk: the tool")),
        "part": (Chances | None, says("what is at risk: the part")),
        "time": (CareOnly | None, says("what is at risk: the time")),
        "clearance": (Clearance | None, says("gaps of all contact questions")),
    }
    for question in QUESTIONS:
        fields.setdefault(question, (QuestionJudgement | None, says(f'the question "{question}" on its own')))
    return create_model("Judgement", __base__=Table, **fields)


def _practice_model() -> type[Table]:
    fields: dict[str, Any] = {
        name: (Annotated[Quantity, one(rule.kind)] | None, says(rule.meaning)) for name, rule in RULES.items()
    }
    return create_model("Practice", __base__=Table, **fields)


Control = _control_model()
Judgement = _judgement_model()
Practice = _practice_model()


class Machine(Table):
    shop: ShopHead | None = says("the shop's own word on this machine")
    axis: AxisTables | None = says("the axes")
    spindle: Spindle | None = says("the spindle")
    frame: Frame | None = says("what carries spindle and table")
    changer: Changer | None = says("the tool changer, or the hand that changes")
    zone: tuple[Zone, ...] | None = says("spaces that nothing may enter")
    control: Control | None = says("how the control reads programs; a missing key that a program depends on is named")  # type: ignore[valid-type]
    home: Home | None = says("stored positions")
    today: Today | None = says("the dated card; older than a shift or missing: the machine's risk cannot be clear")
    judgement: Judgement | None = says("when an answer is clear, care or stop")  # type: ignore[valid-type]
    practice: Practice | None = says("rules of the trade as this shop knows them; else common practice with its doubt")  # type: ignore[valid-type]


# ---- tools.toml ----------------------------------------------------------------------------------------------------


class Tool(Table):
    kind: (
        Literal["flat", "bull", "ball", "tapered", "chamfer", "drill", "tap", "tee", "lollipop", "profile", "probe"]
        | None
    ) = says(
        "shape of the cutting end; profile = as drawn under profile; probe = a stylus with a ball: it never cuts and never turns"
    )
    DC: Ground | None = says("cutting diameter (ISO 13399); of a probe: diameter of its ball")
    RE: GroundOrZero | None = says("corner radius (ISO 13399)")
    ZEFP: Positive | None = says("effective cutting edges (ISO 13399)")
    APMX: Size | None = says("usable depth of cut (ISO 13399)")
    FHA: Angle | None = says("helix angle (ISO 13399)")
    GAMF: Angle | None = says("radial rake (ISO 13399)")
    SIG: Angle | None = says("point angle of a drill or chamfer cutter (ISO 13399)")
    KAPR: Angle | None = says(
        "cutting edge angle of a tapered or chamfer cutter, between edge and the plane across the axis (ISO 13399): 90 deg less its half angle"
    )
    TP: Size | None = says("thread pitch of a tap (ISO 13399)")
    DN: Ground | None = says("neck diameter (ISO 13399); of a probe: diameter of its stylus")
    stylus: Size | None = says("of a probe: length of its stylus, tip to where the probe's own body begins (DMM wide)")
    LU: Size | None = says("usable length, tip to where the shank begins (ISO 13399); a neck needs it")
    DMM: Ground | None = says("shank diameter (ISO 13399)")
    OHX: Size | None = says("overhang out of the holder (ISO 13399)")
    LF: Size | None = says("functional length, gauge line to tip (ISO 13399)")
    centre_cutting: Yes | None = says("whether it cuts on its own axis")
    dead_diameter: Size | None = says("diameter round its axis that nothing cuts, where it does not cut on its centre")
    edge_radius: Fine | None = says("radius of the cutting edge itself")
    run_out: Fine | None = says("run-out read at the tip, in the spindle")
    gripped: Size | None = says("length held in the holder")
    holder_stiffness: Stiffness | None = says(
        "radial stiffness of the holder with its seat and collet, at the tool's end"
    )
    condition: Literal["new", "used", "suspect"] | None = says("its state")
    wear_factor: Ratio | None = says("force of its edge over that of a sharp one")
    coating: Text | None = says("coating, in words")
    material: Text | None = says("what it is made of, in words")
    modulus: Modulus | None = says("modulus of elasticity of what it is made of")
    strength: ToolStrength | None = says("bending stress that it bears for long")
    core_ratio: Part | None = says("diameter of a round rod as stiff and strong as its fluted part, over DC")
    max_chip: Fine | None = says("thickest chip that its edge and its gullets take")
    coolant_through: Yes | None = says("whether coolant comes out of it")
    max_speed: Turns | None = says("greatest speed its maker or its balance allows")
    holder: Steps | None = says("steps of the holder, from the tool end upward: [diameter, length]")
    profile: Profile | None = says("radii and heights of the cutting end: [r, z], from the tip upward")
    held_in: Text | None = says(
        "holder that grips it, by its name under [holder.NAME]: without steps of its own it has that holder's"
    )
    re_gripped: Moment | None = says(
        "when it was last gripped anew: LF, OHX, gripped and run_out that are not dated from then on are void (write the time too if both are of one day)"
    )
    place: Text | None = says("where it is while it is in no pocket, in words: drawer 2, bench")
    sister: Annotated[tuple[Text, ...], Field(min_length=1)] | None = says("tools that may stand in for it, by name")
    life: Time | None = says("time of cutting that one edge is expected to last")
    used_up: Time | None = says("time that this edge has cut so far")
    broke: Moment | None = says("when one of this name last broke")
    broke_why: Text | None = says("why it broke, in words")
    wear_allowed: SetLength | None = says("length that it may lose and still be whole: for the length window")


class HolderItem(Table):
    steps: Steps | None = says("its steps, from the tool end upward to the gauge line: [diameter, length]")
    grips: SetSizes | None = says("shank diameters that it takes, low .. high")
    note: Text | None = says("what else is known of it, in words")


class Setter(Table):
    repeatability: Fine | None = says("standard deviation of one reading of a length")
    drift: Fine | None = says("thermal change of a measured length since its reference: lies within ± this")
    readings: Positive | None = says("readings that are averaged at a check; one if left out")


class RackTable(Table):
    gap: SetLength | None = says("least room between the bodies of two neighbours")


class Pocket(Table):
    number: Count = needs("number on the rack")
    tool: Text | None = says(
        "name of the tool that stands in it, or that it waits for while that is in the spindle; absent = empty"
    )
    at: Point | None = says("machine position of the gauge point when it is held there")


class Register(Table):
    T: Count = needs("T number of this line of the control's tool table")
    H: Count | None = says("length register")
    D: Count | None = says("radius register")
    tool: Text | None = says("name of the tool that this line is meant for")


class Tools(Table):
    tool: dict[str, Tool] | None = says("tools by name: a name is one assembly of cutter and holder")
    pocket: tuple[Pocket, ...] | None = says("pockets of the rack")
    register_lines: tuple[Register, ...] | None = Field(
        default=None, alias="register", description="lines of the control's tool table"
    )
    holder: dict[str, HolderItem] | None = says("holders by name: each grips one tool at a time")
    in_spindle: Text | None = says("tool that is in the spindle now")
    setter: Setter | None = says("the tool setter, as far as repeats and warmth go")
    rack: RackTable | None = says("the rack as a whole")


# ---- materials.toml ------------------------------------------------------------------------------------------------


class Source(Table):
    """What one publication says of a cutting constant; forces per chip area in N/mm², per edge length in N/mm."""

    by: Text = needs("key of the publication")
    row: Text | None = says("row, group or alloy in it")
    kc11: Bare | None = says("specific cutting force at 1 mm, N/mm²")
    mc: Bare | None = says("its exponent")
    Kt: Bare | None = says("tangential constant of an edge-force model, N/mm²")
    Ke: Bare | None = says("its edge force, N/mm")
    Kr: Bare | None = says("radial constant, N/mm²")
    Kre: Bare | None = says("its edge force, N/mm")
    Ka: Bare | None = says("axial constant, N/mm²")
    Kae: Bare | None = says("its edge force, N/mm")
    kc: Bare | None = says("specific cutting force stated at the chip thickness that the material's kc holds at, N/mm²")
    over: Literal["feed per tooth", "feed"] | None = says("what its abscissa is, if not chip thickness")
    mark: Literal["found", "from memory"] = needs("whether anybody looked it up")


class Material(Table):
    temper: Text | None = says("temper or condition; constants of another temper are not taken over")
    kc: CuttingConstant | None = says("specific cutting force of a sharp edge at the chip thickness `at`")
    mc: Exponent | None = says("exponent of chip thickness: kc(h) = kc·(h/at)^-mc")
    kc_mc_correlation: Correlation | None = says(
        "correlation of kc at `at` with mc, where both are from one fit; 0 if left out"
    )
    edge_force: EdgeForce | None = says("force per length of edge that does not depend on the chip (edge-force models)")
    radial_ratio: Ratio | None = says("radial over tangential force")
    axial_ratio: RatioOrZero | None = says("axial over tangential force")
    model_factor: Ratio | None = says("true force over what the model says, shared by all cuts in this material")
    min_chip_ratio: Part | None = says("least chip that cuts over the radius of the edge")
    modulus: Modulus | None = says("modulus of elasticity")
    shear_strength: Stress | None = says("shear stress at which it parts: what a skin or tabs bear")
    welds_to_edge: Literal["yes", "no", "some"] | None = says("whether chips stick to the tool")
    coolant: Annotated[tuple[Literal["flood", "mist", "air", "dry"], ...], Field(min_length=1)] | None = says(
        "what serves as coolant, best first"
    )
    sources: tuple[Source, ...] | None = says("what the constants rest on")


class Materials(Table):
    material: dict[str, Material] | None = says("materials by name")
    publication: dict[str, Text] | None = says("publications that sources are from: author, title, year, page")


# ---- job.toml ------------------------------------------------------------------------------------------------------


class Offset(Table):
    at: Point | None = says("machine position of the gauge point that puts the gauge point on work zero")
    zero: Text | None = says("where work zero is, in words, for the sheet")
    touched_with: Text | None = says(
        "the tool whose tip was set on work zero, for programs without G43: its length is in Z already"
    )


class Cylinder(Table):
    diameter: Size = needs("diameter, axis along Z")
    z: Travel = needs("bottom .. top")
    x: Place | None = says("X of its axis (0 if absent)")
    y: Place | None = says("Y of its axis (0 if absent)")


class Stock(Table):
    box: Box | None = says("the blank, work frame; a blank is not the drawing: give every size its doubt")
    cylinder: Cylinder | None = says("a round blank, axis along Z, work frame")
    stl: Text | None = says("file of the blank's shape, beside the job")
    after: Text | None = says("the blank is what that job leaves")
    faces: Place | None = says(
        "stl and after: how far its faces lie outside of that shape (0 if it is that shape), with the doubt of all of them"
    )
    offset: Text | None = says(
        "the work offset that blank, fixtures and [around] are measured in, where a job has several"
    )


class Around(Table):
    highest_around: Place | None = says("top of clamps and jaws, work frame")
    allowed_below: SetPlace | None = says("how deep a tool may go under or beside the stock, work frame")


class Fixture(Table):
    name: Text | None = says("what it is called in answers")
    box: Box | None = says("a solid, work frame: X, Y and Z range")
    cylinder: Cylinder | None = says("a round solid, axis along Z, work frame")
    stl: Text | None = says("file of its shape in the work frame, beside the job")


HOLDING_NUMBERS: dict[str, tuple[str, ...]] = {
    "vice": ("force", "friction", "grip_height", "jaw_width"),
    "clamps": ("force", "count", "friction", "span"),
    "screws": ("force", "count", "friction", "span"),
    "tape": ("area", "strength", "friction", "span"),
    "glue": ("area", "strength", "friction", "span"),
    "vacuum": ("area", "pressure", "friction", "span"),
    "wax": ("area", "strength", "friction", "span"),
}
"""The numbers that each kind of holding has."""


class Holding(Table):
    kind: Literal["vice", "clamps", "screws", "tape", "glue", "vacuum", "wax"] = needs(
        "how the part is held; each kind has its own numbers"
    )
    force: Force | None = says("vice: closing force; clamps and screws: force of each")
    count: Positive | None = says("clamps, screws: how many")
    friction: Friction | None = says("coefficient of friction between part and what holds it")
    grip_height: Size | None = says("vice: height of the part inside the jaws")
    jaw_width: Size | None = says("vice: length of the part that the jaws hold, along them")
    span: Size | None = says(
        "all but a vice: breadth of what holds, across its narrower side; between the outermost clamps or screws"
    )
    area: Area | None = says("tape, glue, wax, vacuum: area that holds")
    strength: Stress | None = says("tape, glue, wax: stress at which it lets go")
    pressure: Pressure | None = says("vacuum: pressure difference")
    after_cut_free: Text | None = says(
        "what holds the part, and every slug, at the last cut: nothing is cut free, skin 0.2 mm, tabs 4 x 3 mm x 0.5 mm, tape, screws"
    )


class Feature(Table):
    what: Text = needs("what it is, such as pocket wall")
    kind: Literal["wall", "floor", "step", "path"] | None = says(
        "what its tolerance is asked of, where the words of `what` do not say it"
    )
    size: SetSize | None = says("size on the drawing")
    tol: SetSize | None = says("tolerance on the drawing, whole width")
    tool: Count | None = says("T that makes it")
    at: SetBox | None = says(
        "where it is, work frame: X, Y and Z range round it; only walls and floors there are judged"
    )


class Ask(Table):
    finish_rz: SetSize | None = says("roughness Rz asked for")
    finish_floor_rz: SetSize | None = says("roughness Rz asked for on floors, where it is another than on walls")
    target_band: SetSize | None = says("how far the part may lie off its target, on either side")


class JobFile(Table):
    program: Text = needs("file of the program, beside this one")
    material: Text | None = says("name of the material")
    tools: dict[Annotated[str, Field(pattern=r"^\d{1,8}$")], Text] | None = says(
        "what each T is meant to be: T = tool name"
    )
    offset: dict[str, Offset] | None = says("work offsets by name, G54 to G59.3")
    stock: Stock | None = says("the blank: box, cylinder, stl or after")
    around: Around | None = says("two numbers that serve before any fixture is drawn")
    target: Text | None = says("STL file of the finished part in the work frame, beside this one")
    fixture: tuple[Fixture, ...] | None = says("what stands around the part")
    holding: Holding | None = says("how the part is held")
    feature: tuple[Feature, ...] | None = says("lines from the drawing; a kind not given is a question not asked")
    ask: Ask | None = says("what is asked of the part")
