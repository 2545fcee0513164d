"""Replacing files whole, only while they hold what was read, and putting all of them back if one cannot be replaced."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from firstoff.errors import Fault, InputError
from firstoff.interrupts import whole

try:
    import fcntl
except ImportError:  # a system without it: files are still only replaced whole, and only if they hold what was read
    fcntl = None  # type: ignore[assignment]

CHANGED = "changed by somebody else since it was read; nothing of yours was written: look at it and set it again"
_PART = ".firstoff-part-"
"""How files begin that live only while one is being replaced."""


@dataclass(frozen=True, slots=True)
class Replacement:
    """One file to be replaced."""

    path: Path
    """The file itself, links followed."""
    old: bytes | None
    """What it holds, or None where there must be no such file yet."""
    new: bytes
    name: str
    """How it is called in messages."""


@contextlib.contextmanager
def folders_locked(folders: set[Path]) -> Iterator[None]:
    """Nobody else who asks for one of these folders gets it in here; waits for its turn. Leaves no file behind, and ends with the process."""
    with contextlib.ExitStack() as held:
        for folder in sorted(folders):
            if held.enter_context(_locked(folder)):
                _sweep(folder)
        yield


@contextlib.contextmanager
def _locked(folder: Path) -> Iterator[bool]:
    """Gives whether the folder really is locked."""
    try:
        handle = -1 if fcntl is None else os.open(folder, os.O_RDONLY)
    except OSError:  # no folder: whoever reads it says so
        handle = -1
    if handle < 0:
        yield False
        return
    try:
        locked = False
        with contextlib.suppress(
            OSError
        ):  # file systems without locks: the check before and after each replacement remains
            fcntl.flock(handle, fcntl.LOCK_EX)
            locked = True
        yield locked
    finally:
        os.close(handle)


def _sweep(folder: Path) -> None:
    """Take away what a killed process left; with the folder locked no other can be using it."""
    with contextlib.suppress(OSError):
        for left in folder.glob(f"{_PART}*"):
            left.unlink()


def replace_files(replacements: Sequence[Replacement]) -> None:
    """Replace all of them, or none: if one cannot be, those before it are put back. Raises `InputError` that names the one that could not."""
    done: list[tuple[Replacement, Path | None]] = []
    with whole():
        try:
            for one in replacements:
                done.append((one, _replace(one)))
        except BaseException:
            for one, kept in reversed(done):
                _put_back(one, kept)
            raise
        finally:
            for _, kept in done:
                if kept is not None:
                    kept.unlink(missing_ok=True)


def _replace(one: Replacement) -> Path | None:
    """Replace one file; returns where its old content is kept meanwhile."""
    part: Path | None = None
    kept: Path | None = None
    try:
        part = _part_of(one)
        if one.old is None:
            _create(one, part)
        else:
            _refuse_other(one, one.path)
            kept = _swapped(one, part)
            _look_again(one, kept)
        _sync_folder(one.path.parent)
    except OSError as error:
        _take_away(kept)
        gone = isinstance(error, FileNotFoundError) and one.old is not None
        told = CHANGED if gone else f"cannot be written: {error.strerror or error}"
        raise InputError(Fault(told, file=one.name, do="" if gone else "Nothing was changed.")) from None
    except BaseException:
        _take_away(kept)
        raise
    finally:
        _take_away(None if part == kept else part)
    return kept


def _swapped(one: Replacement, part: Path) -> Path:
    """Put `part` in its place and return where what stood there is now."""
    if _exchanged(part, one.path):
        return part
    kept = _kept(one)
    try:
        _refuse_other(one, kept)
        part.replace(one.path)
    except BaseException:
        _take_away(kept)
        raise
    return kept


def _look_again(one: Replacement, kept: Path) -> None:
    """Whoever saved between the last look and the replacement saved into `kept`: theirs goes back to its place."""
    if kept.read_bytes() == one.old:
        return
    if not _exchanged(kept, one.path):
        kept.replace(one.path)
    elif kept.read_bytes() != one.new:  # and once more since: the newest stays
        _exchanged(kept, one.path)
    raise InputError(Fault(CHANGED, file=one.name))


def _exchanged(one: Path, other: Path) -> bool:
    """Whether two files have changed names with each other, in one step; False where the system has no such call (renameat2 of Linux)."""
    try:
        call = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    here, exchange = -100, 2  # AT_FDCWD and RENAME_EXCHANGE of linux/fcntl.h and linux/fs.h
    if call(here, os.fsencode(one), here, os.fsencode(other), exchange) == 0:
        return True
    number = ctypes.get_errno()
    if number in (errno.EINVAL, errno.ENOSYS, errno.EPERM, errno.EOPNOTSUPP):
        return False
    raise OSError(number, os.strerror(number), str(other))


def _part_of(one: Replacement) -> Path:
    """The new content beside its place, on the disk, with the rights that the old file has."""
    if one.old is not None and not os.access(one.path, os.W_OK):
        raise InputError(Fault("cannot be written: the file is read-only", file=one.name))
    handle, name = tempfile.mkstemp(prefix=_PART, dir=one.path.parent)
    part = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(one.new)
            file.flush()
            os.fsync(file.fileno())
        _give_rights(part, one.path if one.old is not None else None)
    except BaseException:
        _take_away(part)
        raise
    return part


def _give_rights(part: Path, like: Path | None) -> None:
    if like is None:
        part.chmod(0o644)
        return
    now = like.stat()
    part.chmod(stat.S_IMODE(now.st_mode))
    if hasattr(os, "chown"):
        with contextlib.suppress(OSError):  # only root may give files away
            os.chown(part, now.st_uid, now.st_gid)


def _kept(one: Replacement) -> Path:
    """A second name of the file that will be replaced: whatever is written to it meanwhile is seen there. A copy where links are impossible."""
    handle, name = tempfile.mkstemp(prefix=_PART, dir=one.path.parent)
    os.close(handle)
    kept = Path(name)
    kept.unlink()
    try:
        kept.hardlink_to(one.path)
    except FileNotFoundError:
        raise InputError(Fault(CHANGED, file=one.name)) from None
    except OSError:
        shutil.copy2(one.path, kept)
    return kept


def _refuse_other(one: Replacement, where: Path) -> None:
    """Raises `InputError` if the file is not the one that was read."""
    with contextlib.suppress(FileNotFoundError):
        if where.read_bytes() == one.old:
            return
    raise InputError(Fault(CHANGED, file=one.name))


def _create(one: Replacement, part: Path) -> None:
    """Put a new file in its place, only if nobody was quicker."""
    try:
        try:
            one.path.hardlink_to(part)
        except FileExistsError:
            raise
        except OSError:  # no links here: a file that is made only if there is none
            with one.path.open("xb") as file:
                file.write(one.new)
                file.flush()
                os.fsync(file.fileno())
    except FileExistsError:
        raise InputError(Fault(CHANGED, file=one.name)) from None


def _put_back(one: Replacement, kept: Path | None) -> None:
    """Undo one replacement, unless somebody has saved the file since."""
    with contextlib.suppress(OSError):
        if one.path.read_bytes() != one.new:
            return
        if kept is None:
            one.path.unlink()
        else:
            kept.replace(one.path)
        _sync_folder(one.path.parent)


def _take_away(path: Path | None) -> None:
    if path is not None:
        with contextlib.suppress(OSError):
            path.unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """The new name is on the disk too; where folders cannot be synced, the file system does it in its own time."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
