"""From the bytes of a file to lines: what is no program text at all is refused here, before anything reads it."""

from __future__ import annotations

from dataclasses import dataclass

from firstoff.errors import Fault, InputError

LARGEST_FILE = 1_000_000_000
"""Bytes; more moves than memory holds."""
_SAVE = "Save it as plain text (ASCII or UTF-8, lines ending in LF or CR LF)"


@dataclass(frozen=True, slots=True)
class Text:
    """A program's text: `data` with plain line ends for the kernel, `lines` without them, and what is worth saying about it."""

    data: bytes
    lines: tuple[str, ...]
    remarks: tuple[tuple[int, str], ...]
    """(line, what) of what a control may stumble over."""


def as_text(raw: bytes, file: str) -> Text:
    """Decide what the bytes are. Raises `InputError` for what is no text or empty."""
    if not raw.strip():
        raise InputError(Fault("the program is empty", file=file, do="Check that the right file was given"))
    if not raw.strip(b"\0"):
        what = f"{len(raw)} bytes, all of them zero"
        raise InputError(Fault("the program is no text", what, "text", file, do="The copy was cut off: copy it again"))
    if len(raw) > LARGEST_FILE:
        raise InputError(Fault("the program is too large", f"{len(raw)} bytes", f"up to {LARGEST_FILE}", file))
    remarks: list[tuple[int, str]] = []
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff") or _looks_like_utf16(raw[:64]):
        raise InputError(
            Fault("the program is UTF-16 text, which no control reads", allowed="ASCII or UTF-8", file=file, do=_SAVE)
        )
    if b"\0" in raw:
        at = raw.index(b"\0")
        line = raw.count(b"\n", 0, at) + 1
        raise InputError(
            Fault("the program is no text: it holds a zero byte", f"byte {at + 1}", "text", file, line, _SAVE)
        )
    data = raw
    if data.startswith(b"\xef\xbb\xbf"):
        data = data[3:]
        remarks.append((1, "the file begins with a byte-order mark: some controls stop at it; save it without"))
    data = _plain_line_ends(data, file, remarks)
    lines = _decoded(data, remarks).split("\n")
    if lines[-1] == "":
        lines.pop()
    if not lines or (not any(line.strip() for line in lines[:1000]) and not data.strip()):
        raise InputError(Fault("the program is empty", file=file, do="Check that the right file was given"))
    return Text(data, tuple(lines), tuple(remarks))


def _looks_like_utf16(head: bytes) -> bool:
    """Every other byte zero: UTF-16 without a mark."""
    return len(head) >= 4 and (not any(head[1::2]) or not any(head[::2]))


def _plain_line_ends(data: bytes, file: str, remarks: list[tuple[int, str]]) -> bytes:
    if b"\r" not in data:
        return data
    pairs, singles = data.count(b"\r\n"), data.count(b"\r")
    if b"\n" not in data and singles > 1:
        what = "the lines end in CR alone: a control would see one single line"
        raise InputError(Fault(what, allowed="LF or CR LF", file=file, do=_SAVE))
    data = data.replace(b"\r\n", b"\n")
    if singles != pairs:
        line = data.count(b"\n", 0, data.index(b"\r")) + 1
        remarks.append(
            (
                line,
                f"{singles - pairs} lines end in CR alone: taken as line ends, but a control may join them to the next",
            )
        )
        data = data.replace(b"\r", b"\n")
    return data


def _decoded(data: bytes, remarks: list[tuple[int, str]]) -> str:
    try:
        return data.decode("ascii")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
    try:
        text = data.decode("utf-8")
        remarks.append(
            (line, "the file holds characters that are not ASCII (read as UTF-8): a control may show or refuse them")
        )
    except UnicodeDecodeError:
        text = data.decode("latin-1")
        remarks.append(
            (line, "the file holds bytes that are neither ASCII nor UTF-8 (read as Latin-1): a control may refuse them")
        )
    return text
