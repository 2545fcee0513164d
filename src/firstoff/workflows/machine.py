"""The machine as a page shows it: its facts by the keys of its file, each with evidence, age and doubt, and what may be written there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from firstoff.book.kept import KeptExamination
from firstoff.book.reading import last_examinations, since
from firstoff.errors import Fault, InputError
from firstoff.facts.collect import SILENT
from firstoff.facts.edit import Edit, change_shop
from firstoff.facts.fact import Evidence, Fact, Setting
from firstoff.facts.keys import key_within
from firstoff.facts.quantity import SAID_KEYS
from firstoff.facts.shop import MACHINE, load_shop
from firstoff.facts.toml_file import read_toml
from firstoff.workflows.book import ShopBook, record_files, writing
from firstoff.workflows.facts import Changed


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key of a file: what it says, and all facts that it holds."""

    path: str
    """Of the key, such as ``machine.axis.x.travel``."""
    facts: tuple[Fact, ...]
    settings: tuple[Setting, ...]
    written: str
    """The value as it stands in the file, without what is said of it."""
    said: Mapping[str, str]
    """What the file says of it beside its value: u, df, evidence, note, on."""
    age_days: float | None
    leaned_by: int
    """Jobs whose last examination leaned on it."""

    @property
    def evidence(self) -> Evidence | None:
        """Of its facts; None where they differ, or it holds words."""
        found = {fact.evidence for fact in self.facts}
        return found.pop() if len(found) == 1 else None

    @property
    def width(self) -> float | None:
        """The widest of its doubts over the greatest of its values, so that an end near zero does not look lost; None where there is none."""
        doubt, size = (
            (
                max((abs(one) for one in each), default=0.0)
                for each in zip(*((f.u, f.value) for f in self.facts), strict=True)
            )
            if self.facts
            else (0.0, 0.0)
        )
        return doubt / size if doubt and size else None


def key_rows(
    shop: ShopBook, root: str, now: datetime, kept: Sequence[KeptExamination] | None = None
) -> tuple[KeyRow, ...]:
    """The rows of all facts below `root` (``machine.``), in the order of the file; `kept` where the newest examinations are at hand."""
    facts = load_shop(shop.folder).facts
    with shop.book.reading() as connection:
        seen = {path: at for (job, path), at in since(connection, shop.book).items() if not job}
        newest = last_examinations(connection, shop.book) if kept is None else kept
        leaned = Counter(path for one in newest for path in one.leaned)
    groups: dict[tuple[str | int, ...], list[Fact | Setting]] = {}
    model = root.partition(".")[0]
    file = f"{model}.toml"
    values = read_toml(shop.folder / file, file).values if (shop.folder / file).exists() else {}
    for path in facts.under(root):
        key = key_within(values, model, path)
        while key and isinstance(key[-1], int):  # an element belongs to the value that holds it
            key = key[:-1]
        groups.setdefault(key, []).append(facts.facts.get(path) or facts.settings[path])
    return tuple(
        _row(file, key, held, values, seen, leaned, now)
        for key, held in sorted(groups.items(), key=lambda one: min(each.where.line or 0 for each in one[1]))
    )


def _row(
    file: str,
    key: tuple[str | int, ...],
    held: list[Fact | Setting],
    text: Mapping[str, Any],
    seen: Mapping[str, datetime],
    leaned: Mapping[str, int],
    now: datetime,
) -> KeyRow:
    written, said = _as_written(_at(text, key))
    moments = [
        at for one in held if (at := (one.on if isinstance(one, Fact) else None) or seen.get(one.path)) is not None
    ]
    return KeyRow(
        path=_path(file, key),
        facts=tuple(one for one in held if isinstance(one, Fact)),
        settings=tuple(one for one in held if isinstance(one, Setting)),
        written=written,
        said=said,
        age_days=max((now - min(moments)).total_seconds() / 86400, 0.0) if moments else None,
        leaned_by=max((leaned.get(one.path, 0) for one in held), default=0),
    )


def _path(file: str, key: tuple[str | int, ...]) -> str:
    """The dotted path of a key: ``tools.em6.LF`` for ("tool", "em6", "LF")."""
    root = file.removesuffix(".toml")
    named = key[1:] if key and key[0] == SILENT.get(root) else key
    return ".".join((root, *(str(part) for part in named)))


_NAMING = ("name", "number", "T")


def _at(text: object, key: tuple[str | int, ...]) -> object:
    for part in key:
        if isinstance(text, dict):
            text = text.get(str(part))
        elif isinstance(text, list):
            text = next(
                (one for one in text if isinstance(one, dict) and part in (one.get(name) for name in _NAMING)), None
            )
    return text


def _as_written(value: object) -> tuple[str, dict[str, str]]:
    """The value as somebody types it, and what is said of it."""
    said: dict[str, str] = {}
    if (
        isinstance(value, dict)
        and ("value" in value or "points" in value)
        and set(value) <= {*SAID_KEYS, "points", "at", "on_share", "cycle"}
    ):
        said = {name: str(value[name]) for name in ("u", "df", "evidence", "note", "on") if name in value}
        if set(value) <= {*SAID_KEYS}:
            value = value["value"]
    return _toml(value), said


def _toml(value: object) -> str:
    """As TOML, a text alone without its quotes."""
    if isinstance(value, str):
        return value
    return _inline(value)


def _inline(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list):
        return "[" + ", ".join(_inline(one) for one in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{name} = {_inline(one)}" for name, one in value.items()) + " }"
    return str(value)


def fill_card(shop: ShopBook, homed: bool, warm: str, air: str, pockets_seen: bool, now: datetime) -> Changed:
    """Fill in today's card: all of it at once, dated now. Raises `InputError` where a value cannot be."""
    told: dict[str, object] = {"on": now.replace(microsecond=0), "homed": homed, "pockets_seen": pockets_seen}
    told |= {name: text.strip() for name, text in (("warm", warm), ("air", air)) if text.strip()}
    missing = [name for name, text in (("warm", warm), ("air", air)) if not text.strip()]
    edits = [Edit(MACHINE, ("today", name), value) for name, value in told.items()]
    with writing(shop) as (connection, before):
        facts = load_shop(shop.folder).facts
        edits += [Edit(MACHINE, ("today", name), None) for name in missing if facts.has(f"machine.today.{name}")]
        change_shop(shop.folder, edits)
        return Changed(record_files(connection, shop, "set", "the card of the day"), before)


def written_now(shop: ShopBook, path: str) -> str:
    """What stands in the file at a key; empty where nothing does."""
    rows = key_rows(shop, path.partition(".")[0] + ".", datetime.now(), ())
    return next((one.written for one in rows if one.path == path), "")


def refuse_if_changed(shop: ShopBook, path: str, was: str) -> None:
    """Raises `InputError` where the file no longer says what somebody saw when they began to write."""
    now = written_now(shop, path)
    if now != was:
        do = "Look at it and set it again; nothing of yours was written."
        raise InputError(Fault("somebody else has changed this meanwhile", f"it now says {now or 'nothing'}", do=do))
