"""The starter shop: what `firstoff new DIR` lays out, with every line explained and nothing invented about the machine."""

from __future__ import annotations

import os
import shutil
import tempfile
from importlib import resources
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.facts.control import CONTROL_KEYS, ControlKey
from firstoff.facts.practice import RULES, Rule
from firstoff.interrupts import whole

FIRST_JOB = "first"
_LAYOUT = {
    "machine.toml": "machine.toml",
    "tools.toml": "tools.toml",
    "materials.toml": "materials.toml",
    "job.toml": f"jobs/{FIRST_JOB}/job.toml",
    "program.nc": f"jobs/{FIRST_JOB}/program.nc",
}
_EXAMPLES = {"length": '"0.02 mm"', "rate": '"500(200) 1/s"', "count": "50"}
_COMMENT_COLUMN = 36


def new_shop(folder: Path) -> list[Path]:
    """Lay out a starter shop in `folder`, which must not exist or be empty; returns the files written.

    All or nothing: the files are written beside it and moved into place together. Raises `InputError` if there is something
    in the way.
    """
    with whole():
        return _laid_out(folder)


def _laid_out(folder: Path) -> list[Path]:
    folder = Path(os.path.abspath(folder))  # noqa: PTH100  (a link to the folder stays a link)
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            what = "there is something already" if folder.is_dir() else "there is a file of this name"
            raise InputError(Fault(what, str(folder), "a folder that does not exist yet, or an empty one"))
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as error:
        raise InputError(Fault(f"cannot be made: {error.strerror or error}", str(folder))) from None
    try:
        for name, place in _LAYOUT.items():
            target = made / place
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(starter_text(name), encoding="utf-8")
        made.chmod(0o777 & ~_umask())
        if folder.exists():
            _move_into(made, folder)  # not put in its place: somebody may stand in it
        else:
            made.replace(folder)
    except OSError as error:
        raise InputError(Fault(f"cannot be written: {error.strerror or error}", str(folder))) from None
    finally:
        shutil.rmtree(made, ignore_errors=True)
    return [folder / place for place in _LAYOUT.values()]


def _move_into(made: Path, folder: Path) -> None:
    """Move all that was made into an empty folder; if one thing cannot be moved, none is left there."""
    moved: list[Path] = []
    try:
        for part in sorted(made.iterdir()):
            moved.append(part.replace(folder / part.name))
    except OSError:
        for part in moved:
            part.replace(made / part.name)
        raise


def starter_text(name: str) -> str:
    """Text of one starter file: ``machine.toml``, ``tools.toml``, ``materials.toml``, ``job.toml`` or ``program.nc``."""
    template = resources.files("firstoff.facts") / "data" / "starter" / name
    text = template.read_text(encoding="utf-8")
    text = text.replace("@CONTROL@", "\n".join(_control_line(key, what) for key, what in CONTROL_KEYS.items()))
    return text.replace("@PRACTICE@", "\n".join(_practice_line(key, rule) for key, rule in RULES.items()))


def _control_line(name: str, key: ControlKey) -> str:
    """One key of `[control]`, ready to use, with its words and what the plain base takes for granted."""
    value = f'"{key.plain or key.words[0]}"' if key.words else _EXAMPLES[key.dimension]
    words = ": " + ", ".join(key.words) if key.words else ""
    taken = f" ({key.plain} if left out)" if key.plain else ""
    return f"#{name} = {value}".ljust(_COMMENT_COLUMN) + f"# {key.meaning}{words}{taken}"


def _practice_line(name: str, rule: Rule) -> str:
    """One rule of `[practice]`, as it holds if left out."""
    return f'#{name} = "{rule.written}"'.ljust(_COMMENT_COLUMN) + f"# {rule.meaning}"


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
