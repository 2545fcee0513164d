"""What is fed, and what must hold whatever it is fed.

Each target takes bytes and returns nothing; an exception that is not an `InputError` is a finding. Kernels run as plain Python
(`NUMBA_DISABLE_JIT=1`), so that the fuzzer sees their branches.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from firstoff.errors import InputError
from firstoff.facts.job import load_job
from firstoff.facts.shop import load_shop
from firstoff.program.control import Control
from firstoff.program.moves import Reading
from firstoff.program.reading import read_text
from firstoff.removal.shape import shape_of_bytes
from proof.bad_input import programs, shapes, shops

Target = Callable[[bytes], None]
MOST_BYTES = 4096
"""Longer pieces only make the fuzzer slow."""


def same(one: Reading, other: Reading) -> None:
    """The fast path and the slow one must give the same moves and tell the same problems."""
    for name in ("end_mm", "kind", "line", "feed_mm_per_s", "tool", "flags"):
        left, right = getattr(one.moves, name), getattr(other.moves, name)
        if not np.array_equal(left, right, equal_nan=left.dtype.kind == "f"):
            raise AssertionError(f"fast and slow reading differ in {name}")
    if [(p.line, p.kind) for p in one.problems] != [(p.line, p.kind) for p in other.problems]:
        raise AssertionError("fast and slow reading tell other problems")


def reader(data: bytes) -> None:
    """One program in both bases. No move may end nowhere without a problem being told."""
    for base in ("plain", "rs274ngc"):
        control = Control.of(None, base)
        try:
            fast = read_text(data, "fuzzed.nc", control)
            slow = read_text(data, "fuzzed.nc", control, fast=False)
        except InputError:
            continue
        same(fast, slow)
        if np.isinf(fast.moves.end_mm).any():
            raise AssertionError("a move ends at infinity")


def facts(data: bytes) -> None:
    """The bytes as machine.toml, as tools.toml and as a job: each is either loaded or refused, with file and line."""
    whole = {"machine.toml": shops.MACHINE, "tools.toml": shops.TOOLS, "job.toml": shops.JOB}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "program.nc").write_text(programs.SURE)
        for fuzzed in whole:
            for file, text in whole.items():
                (folder / file).write_bytes(data if file == fuzzed else text.encode())
            try:
                shop = load_shop(folder)
                load_job(folder / "job.toml", shop)
            except InputError as error:
                if not error.faults or not all(fault.what for fault in error.faults):
                    raise AssertionError("refused without a reason") from None


def shape(data: bytes) -> None:
    """An STL is a closed shape of finite size, or refused."""
    try:
        found = shape_of_bytes(data, "fuzzed.stl")
    except InputError:
        return
    if not np.isfinite(found.triangles).all():
        raise AssertionError("a shape with a corner nowhere")


TARGETS: dict[str, Target] = {"reader": reader, "facts": facts, "shape": shape}


def seeds(name: str) -> list[bytes]:
    """Where the fuzzer begins: the hand-written cases of `make bad-input`."""
    if name == "reader":
        found = [data for case in programs.CASES for data in case.files.values()]
    elif name == "facts":
        found = [data for case in shops.CASES for path, data in case.files.items() if path.endswith(".toml")]
    else:
        found = [data for case in shapes.CASES for path, data in case.files.items() if path.endswith(".stl")]
    return sorted({data for data in found if len(data) <= MOST_BYTES})
