"""The kernels as plain Python: the same source without the compiler."""

from __future__ import annotations

import types
from pathlib import Path

from firstoff.motion import _kernels as motion_kernels
from firstoff.path import _kernels as path_kernels

COMPILER = "from numba import njit\n"
NONE = "def njit(**_options):\n    return lambda function: function\n"


def plain(module: types.ModuleType) -> types.ModuleType:
    """A module of kernels with nothing compiled."""
    source = Path(str(module.__file__)).read_text()
    if COMPILER not in source:
        raise AssertionError(f"{module.__name__} no longer imports the compiler by '{COMPILER.strip()}'")
    twin = types.ModuleType(f"plain_{module.__name__}")
    exec(compile(source.replace(COMPILER, NONE), str(module.__file__), "exec"), twin.__dict__)
    return twin


def plain_motion() -> types.ModuleType:
    return plain(motion_kernels)


def plain_path() -> types.ModuleType:
    return plain(path_kernels)
