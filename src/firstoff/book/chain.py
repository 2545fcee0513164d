"""Stamps: canonical JSON, and the stamp that ties an entry to the one before it."""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from firstoff.book.kept import Entry


class GarbledError(ValueError):
    """What lies in the book is not what was written there; told as damage wherever the book is read."""


def canonical(value: object) -> str:
    """JSON with sorted keys and no spaces: the same content has the same text. Raises `ValueError` for NaN and infinity."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def stamp(text: str) -> str:
    """SHA-256 of a text, as 64 hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def entry_stamp(
    number: int, at: str, shop: str, kind: str, who: str, why: str, body: Mapping[str, Any], before: str
) -> str:
    """The stamp of an entry: of all that it says and of the stamp before, so that none can be changed, taken out or put in."""
    return stamp(canonical([number, at, shop, kind, who, why, body, before]))


def stamp_of(entry: Entry) -> str:
    """The stamp that an entry should have."""
    return entry_stamp(entry.number, entry.utc, entry.shop, entry.kind, entry.who, entry.why, entry.body, entry.before)


def in_utc(at: datetime) -> str:
    """A local moment as the book writes it: UTC, to the second."""
    return at.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"


def packed(text: str) -> bytes:
    """Text as a content holds it."""
    return zlib.compress(text.encode("utf-8", "surrogatepass"), 6)


def unpacked(body: bytes) -> str:
    """Raises `GarbledError` where the bytes are not what was written."""
    try:
        return zlib.decompress(body).decode("utf-8", "surrogatepass")
    except (zlib.error, UnicodeDecodeError, TypeError):
        raise GarbledError("a content is not what was kept") from None


def from_json(text: object) -> Any:
    """What a text in the book says. Raises `GarbledError` where it is no JSON."""
    try:
        return json.loads(text)  # type: ignore[arg-type]
    except (ValueError, TypeError, RecursionError):
        raise GarbledError("a text is not what was written") from None
