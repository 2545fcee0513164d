"""A whole program: safe start, then for each tool the change, the spindle, the offsets, its operations, and everything off again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstoff.write.blocks import (
    Block,
    Blocks,
    Change,
    Coolant,
    CoolantTo,
    Drill,
    Dwell,
    LengthOn,
    Point,
    Rapid,
    Remark,
    SafeStart,
    SpindleOff,
    SpindleOn,
    WorkSystem,
)
from firstoff.write.language import Language
from firstoff.write.refusal import Refusal
from firstoff.write.text import text_of
from firstoff.write.tooling import Spindle, Tool
from firstoff.write.touching import TouchCheck, touch_blocks

HIGHEST_NUMBER = 99
"""T, H and D beyond two digits are not written: many tables are shorter."""
SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


@dataclass(frozen=True, slots=True)
class Section:
    """All that one tool does, in order; each of `operations` begins and ends at the safe height."""

    tool: Tool
    spindle: Spindle
    operations: tuple[Blocks, ...]
    check: TouchCheck | None = None
    """Held over the stock, with the spindle still off, before anything is cut."""


@dataclass(frozen=True, slots=True)
class Program:
    """A job for one clamping."""

    title: str
    sections: tuple[Section, ...]
    safe_z_mm: float
    system: str = "G54"
    remarks: tuple[str, ...] = ()


def write_program(program: Program, language: Language) -> str:
    """The program's text. Raises `InputError` if it cannot be written."""
    return text_of(program_blocks(program), language)


def program_blocks(program: Program) -> Blocks:
    """The program as blocks; the spindle turns and the coolant flows before the first cut of each tool, and both end off."""
    _check(program)
    blocks: list[Block] = [Remark(program.title), *(Remark(text) for text in program.remarks)]
    blocks += [Remark(f"T{section.tool.number} {section.tool.name}") for section in _first_uses(program.sections)]
    blocks += [SafeStart(), Rapid(z_mm=0.0, machine=True)]
    for section in program.sections:
        blocks += section_blocks(section, program.system, program.safe_z_mm)
    return tuple(blocks)


def section_blocks(section: Section, system: str, safe_z_mm: float) -> Blocks:
    """One tool from its change, which finds the spindle stopped and at machine Z zero, to the lift at its end."""
    tool, spindle = section.tool, section.spindle
    operations = [block for operation in section.operations for block in operation]
    first = first_point(operations)
    blocks: list[Block] = [Remark(f"T{tool.number} {tool.name}"), Change(tool.number), WorkSystem(system)]
    if section.check is not None:
        blocks += touch_blocks(section.check, tool, safe_z_mm)
    blocks.append(SpindleOn(spindle.speed_per_min, spindle.clockwise))
    if spindle.run_up_s > 0:
        blocks.append(Dwell(spindle.run_up_s))
    blocks += [Rapid(x_mm=first[0], y_mm=first[1]), LengthOn(tool.h, safe_z_mm)]
    if spindle.coolant is not Coolant.OFF:
        blocks.append(CoolantTo(spindle.coolant))
    return (*blocks, *operations, *lift_and_stop())


def lift_and_stop() -> Blocks:
    """Gauge point to machine Z zero, then coolant and spindle off."""
    return (Rapid(z_mm=0.0, machine=True), CoolantTo(Coolant.OFF), SpindleOff())


def first_point(blocks: Sequence[Block]) -> Point:
    """X and Y of the first block that goes somewhere across."""
    for block in blocks:
        if isinstance(block, Drill):
            return block.holes[0]
        x, y = getattr(block, "x_mm", None), getattr(block, "y_mm", None)
        if x is not None and y is not None:
            return (x, y)
    raise ValueError("an operation without a move")  # a fault of ours: every operation moves


def _first_uses(sections: tuple[Section, ...]) -> list[Section]:
    seen: dict[int, Section] = {}
    for section in sections:
        seen.setdefault(section.tool.number, section)
    return list(seen.values())


def _check(program: Program) -> None:
    refusal = Refusal(f"program {program.title}")
    refusal.finite(safe_z_mm=program.safe_z_mm)
    refusal.unless(bool(program.sections), "no tool does anything", "no section", "one or more")
    refusal.unless(program.system in SYSTEMS, "unknown work system", program.system, ", ".join(SYSTEMS))
    for section in program.sections:
        tool, name = section.tool, f"T{section.tool.number}"
        refusal.unless(bool(section.operations), f"{name} does nothing", "no operation", "one or more")
        for letter, number in (("T", tool.number), ("H", tool.h), ("D", tool.d)):
            allowed = f"1 to {HIGHEST_NUMBER}"
            refusal.unless(0 < number <= HIGHEST_NUMBER, f"{name}: {letter} out of range", str(number), allowed)
        refusal.positive(**{f"{name} speed_per_min": section.spindle.speed_per_min})
        refusal.not_negative(**{f"{name} run_up_s": section.spindle.run_up_s})
        heights = [block.z_mm for blocks in section.operations for block in blocks if isinstance(block, Rapid)]
        top = max((z for z in heights if z is not None), default=program.safe_z_mm)
        refusal.at_most(
            f"{name} rises above the program's safe height", top, program.safe_z_mm, "safe_z_mm of the program"
        )
    refusal.settle()
