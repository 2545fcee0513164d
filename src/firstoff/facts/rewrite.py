"""One key of a TOML text set or removed, and everything else of it left byte for byte: comments, order, blank lines, alignment, quotes.

Pure: text in, text out. Where each key stands comes from `lines.written`; what stands there afterwards is read back by the parser and held
against what was asked for, so a text that this module cannot edit is refused and never spoilt.
"""

from __future__ import annotations

import copy
import json
import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from firstoff.errors import Fault, InputError
from firstoff.facts.keys import Spot
from firstoff.facts.lines import KeyPath, Written, written

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_COMMENTS = re.compile(r"(?:[ \t]*#[^\n]*(?:\n|$))+")
_TITLE = re.compile(r"(?:[ \t]*#[^\n]*\n)+[ \t]*\n")
"""Comments at the top of a file, with the blank line that parts them from what they do not belong to."""
_NOTHING = object()


def rewritten(text: str, root: Spot, key: KeyPath, value: object | None) -> str:
    """`text` with `key` set to `value`, or without it where `value` is None; the text itself where nothing would change.

    Elements of a list that have a name of their own are addressed by that name, others by number; the number after the last adds one. A key
    below one that holds a bare quantity makes a table of it: ``LF.df`` of ``LF = "64 mm"`` gives ``LF = { value = "64 mm", df = 9 }``.
    Raises `InputError` where the key cannot be there or cannot be edited in place.
    """
    lines = text.replace("\r\n", "\n")
    values = tomllib.loads(lines)
    path, value = _resolved(values, root, key, value)
    if value is None:
        if _at(values, path) is _NOTHING:
            return text
        after = _without(lines, path)
    else:
        after = _set(lines, root, path, value)
    _hold(after, values, path, value)
    return text if after == lines else _same_line_ends(text, after)


def _hold(after: str, values: dict[str, Any], path: KeyPath, value: object | None) -> None:
    """The edit did what was asked and nothing else, or nothing is written."""
    try:
        said = tomllib.loads(after)
    except tomllib.TOMLDecodeError:
        said = {}
    if not _same(_pruned(said), _pruned(_expected(values, path, value))):
        raise InputError(Fault("cannot be edited in place", _dotted(path), do="Change it in the file by hand."))


# ---- what a path means in a text --------------------------------------------------------------------------------------


def _resolved(values: dict[str, Any], root: Spot, key: KeyPath, value: object | None) -> tuple[KeyPath, object | None]:
    """The path by numbers, and what to set there: names of elements become numbers, a bare quantity below a key a table."""
    if not key:
        raise InputError(Fault("no key was named", "", "a key of the file"))
    path: KeyPath = ()
    spot, now = root, values
    for place, part in enumerate(key):
        rest = key[place + 1 :]
        if isinstance(now, dict) and isinstance(part, int) and spot.sort == "value":
            body = "points" if "points" in now else "value"
            path, now = (*path, body), now.get(body, _NOTHING)
        if spot.sort == "list" and (now is _NOTHING or isinstance(now, list)):
            elements: list[Any] = now if isinstance(now, list) else []
            number = _number(elements, spot, part)
            if number == len(elements):
                return (*path, number), _element(spot, part, rest, value)
            part = number
        elif spot.sort == "value" and isinstance(part, str) and now is not _NOTHING and not isinstance(now, dict):
            if value is None:
                return (*path, part), None
            body = "points" if spot.reads is not None and spot.reads.form == "rows" else "value"
            return path, {body: now, part: _nested(rest, value)}
        elif isinstance(now, list) and not (isinstance(part, int) and 0 <= part <= len(now)):
            raise InputError(
                Fault("no such element", _dotted((*path, part)), f"0 to {len(now)}, the last of them adds one")
            )
        path = (*path, part)
        now = _at(now, (part,)) if now is not _NOTHING else now
        spot = spot.below(part) or Spot("value")
    return path, value


def _number(elements: list[Any], spot: Spot, part: str | int) -> int:
    naming = spot.naming
    if naming is None:
        if isinstance(part, int) and 0 <= part <= len(elements):
            return part
        raise InputError(Fault("no such element", str(part), f"0 to {len(elements)}, the last of them adds one"))
    names = [element.get(naming) if isinstance(element, dict) else None for element in elements]
    return names.index(part) if part in names else len(elements)


def _element(spot: Spot, part: str | int, rest: KeyPath, value: object | None) -> object | None:
    """A new element of a list, called by its own name."""
    if value is None:
        return None
    inside = _nested(rest, value)
    if spot.naming is None or not isinstance(inside, dict):
        return inside
    return inside if spot.naming in inside else {spot.naming: part, **inside}


def _nested(rest: KeyPath, value: object) -> object:
    for part in reversed(rest):
        value = [value] if isinstance(part, int) else {part: value}
    return value


def _at(values: object, path: KeyPath) -> Any:
    for part in path:
        there = part in values if isinstance(values, dict) else isinstance(values, list) and part in range(len(values))
        if not there:
            return _NOTHING
        values = values[part]  # type: ignore[index]
    return values


def _expected(values: dict[str, Any], path: KeyPath, value: object | None) -> dict[str, Any]:
    values = copy.deepcopy(values)
    table: Any = values
    for place, part in enumerate(path[:-1]):
        if isinstance(table, list):
            if part == len(table):
                table.append([] if isinstance(path[place + 1], int) else {})
            table = table[part]  # type: ignore[index]
        else:
            table = table.setdefault(part, [] if isinstance(path[place + 1], int) else {})
    if value is None:
        del table[path[-1]]
    elif isinstance(table, list) and path[-1] == len(table):
        table.append(value)
    else:
        table[path[-1]] = value
    return values


def _same(one: object, other: object) -> bool:
    """Equal in value and in sort: 6 is not 6.0, and true is not 1."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[name], other[name]) for name in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and one == other


def _pruned(value: Any) -> Any:
    """Without empty tables: a head without keys says nothing."""
    if isinstance(value, Mapping):
        inside = {name: _pruned(one) for name, one in value.items()}
        return {name: one for name, one in inside.items() if one not in ({}, [])}
    return [_pruned(one) for one in value] if isinstance(value, list | tuple) else value


# ---- set --------------------------------------------------------------------------------------------------------------


def _set(text: str, root: Spot, path: KeyPath, value: object) -> str:
    old = _at(tomllib.loads(text), path)
    if old is _NOTHING:
        return _added(text, root, path, value)
    if _same(old, value):
        return text
    if isinstance(old, dict) and isinstance(value, Mapping):
        for name, one in value.items():
            text = _set(text, root, (*path, name), one)
        for name in old.keys() - value.keys():
            text = _without(text, (*path, name))
        return text
    if isinstance(old, list) and isinstance(value, list | tuple) and old and value and _alike(text, path, value):
        for number, one in enumerate(value):
            text = _set(text, root, (*path, number), one)
        for number in range(len(old) - 1, len(value) - 1, -1):
            text = _without(text, (*path, number))
        return text
    stands = next((one for one in written(text) if one.path == path and one.kind != "head"), None)
    if stands is None:
        return _added(_without(text, path), root, path, value)
    return text[: stands.value] + _shown(value, text[stands.value : stands.end]) + text[stands.end :]


def _alike(text: str, path: KeyPath, value: list[Any] | tuple[Any, ...]) -> bool:
    """Whether a list may go on as it is written: below heads there are only tables."""
    headed = any(one.kind == "head" and one.path == (*path, 0) for one in written(text))
    return not headed or all(isinstance(one, Mapping) for one in value)


def _added(text: str, root: Spot, path: KeyPath, value: object) -> str:
    """`text` with a key that it does not hold yet, in the table that is there, or in a table of its own at the end."""
    values = tomllib.loads(text)
    depth = len(path) - 1
    while depth and _at(values, path[:depth]) is _NOTHING:
        depth -= 1
    home, name, value = path[:depth], path[depth], _nested(path[depth + 1 :], value)
    stands = written(text)
    itself = next((one for one in stands if one.path == home and one.kind != "head"), None)
    if isinstance(name, int) and (itself is not None):
        return _more_in_brackets(text, itself, value)
    if itself is not None:
        return _more_in_braces(text, itself, [str(name)], value)
    spot = _spot_at(root, (*home, name))
    dotted = [one for one in stands if one.kind == "pair" and one.path[:depth] == home and len(one.within) < depth]
    headed = not home or any(one.kind == "head" and one.path == home for one in stands)
    if isinstance(name, int) or (_is_section(spot, value) and not dotted and not any(isinstance(p, int) for p in home)):
        return _with_section(text, stands, spot, (*home, name), value)
    if dotted and not headed:
        last = dotted[-1]
        names = [*map(str, home[len(last.within) :]), str(name)]
        return (
            _after_in_braces(text, last, names, value) if last.inline else _after_line(text, stands, last, names, value)
        )
    if headed:
        return _in_section(text, stands, home, str(name), value)
    return _with_section(text, stands, Spot("table"), home, {name: value})


def _spot_at(root: Spot, path: KeyPath) -> Spot:
    spot = root
    for part in path:
        spot = spot.below(part) or Spot("value")
    return spot


def _is_section(spot: Spot, value: object) -> bool:
    if spot.sort == "list":
        return isinstance(value, list) and bool(value) and all(isinstance(one, dict) for one in value)
    return spot.sort in ("table", "names") and isinstance(value, Mapping)


def _in_section(text: str, stands: list[Written], home: KeyPath, name: str, value: object) -> str:
    pairs = [one for one in stands if one.kind == "pair" and not one.inline and one.within == home]
    if pairs:
        return _after_line(text, stands, pairs[-1], [name], value)
    pair = f"{_key([name])} = {_shown(value)}"
    if not home:
        first = _TITLE.match(text)
        begin = first.end() if first else 0
        return f"{text[:begin]}{pair}\n{chr(10) if text[begin:].strip() else ''}{text[begin:]}"
    head = next(one for one in stands if one.kind == "head" and one.path == home)
    return _with_line(text, head.end, pair)


def _after_line(text: str, stands: list[Written], last: Written, names: list[str], value: object) -> str:
    """A new line after that of `last`, indented and aligned as its neighbours are."""
    begin = text.rfind("\n", 0, last.start) + 1
    columns = [
        text.rindex("=", one.start, one.value) - text.rfind("\n", 0, one.start)
        for one in stands
        if one.kind == "pair" and not one.inline and one.within == last.within
    ][-2:]
    key = text[begin : last.start] + _key(names)
    if len(columns) == 2 and columns[0] == columns[1]:
        key = key.ljust(columns[0] - 2)
    return _with_line(text, last.end, f"{key} = {_shown(value)}")


def _with_line(text: str, after: int, line: str) -> str:
    """`text` with `line` below the line that the place `after` is in."""
    end = text.find("\n", after)
    return f"{text}\n{line}" if end < 0 else f"{text[: end + 1]}{line}\n{text[end + 1 :]}"


def _after_in_braces(text: str, last: Written, names: list[str], value: object) -> str:
    return f"{text[: last.end]}, {_key(names)} = {_shown(value)}{text[last.end :]}"


def _more_in_braces(text: str, table: Written, names: list[str], value: object) -> str:
    inside = [one for one in written(text) if one.kind == "pair" and one.within == table.path and one.inline]
    if inside:
        return _after_in_braces(text, inside[-1], names, value)
    return f"{text[: table.value]}{{ {_key(names)} = {_shown(value)} }}{text[table.end :]}"


def _more_in_brackets(text: str, array: Written, value: object) -> str:
    inside = [one for one in written(text) if one.kind == "element" and one.within == array.path]
    if not inside:
        return f"{text[: array.value]}[{_shown(value)}]{text[array.end :]}"
    last = inside[-1]
    begin = text.rfind("\n", 0, last.start) + 1
    alone = text[begin : last.start]
    rest = text[last.end : text.find("\n", last.end)] if "\n" in text[last.end : array.end] else ""
    if (
        alone.strip()
        or (rest.strip(" \t,") and not rest.lstrip(" \t,").startswith("#"))
        or "\n" not in text[last.end : array.end]
    ):
        return f"{text[: last.end]}, {_shown(value)}{text[last.end :]}"
    comma = rest.lstrip(" \t").startswith(",")
    text = text if comma else f"{text[: last.end]},{text[last.end :]}"
    return _with_line(text, last.end, f"{alone}{_shown(value)}{',' if comma else ''}")


def _with_section(text: str, stands: list[Written], spot: Spot, path: KeyPath, value: object) -> str:
    """A new table with a head of its own: below its sisters where there are any, else at the end."""
    block = "\n".join(_section(spot, path, value))
    sisters = path[:-1]
    last = next(
        (
            one
            for one in reversed(stands)
            if not one.inline and one.kind != "element" and one.path[: len(sisters)] == sisters
        ),
        None,
    )
    if not sisters or last is None or last.within[: len(sisters)] != sisters:
        gap = "" if not text.strip() else "\n" if text.endswith("\n") else "\n\n"
        return f"{text}{gap}{block}\n" if text.strip() else f"{text}{block}\n"
    end = text.find("\n", last.end)
    if end < 0:
        return f"{text}\n\n{block}\n"
    comments = _COMMENTS.match(text, end + 1)
    if comments is not None and not text.startswith("[", comments.end()):
        end = comments.end() - 1
    before, after = text[: end + 1], text[end + 1 :]
    return f"{before}\n{block}\n{after if not after or after.startswith(chr(10)) else chr(10) + after}"


def _section(spot: Spot, path: KeyPath, value: object) -> list[str]:
    """The lines of a table with its head; tables of the schema below it get heads of their own."""
    if isinstance(value, list):
        lines = [line for one in value for line in ("", *_section(Spot("table", spot.table), (*path, 0), one))]
        return lines[1:]
    if not isinstance(value, Mapping):
        raise InputError(Fault("this must be a table", _dotted(path), "a table of keys and values"))
    element = isinstance(path[-1], int)
    names = [str(part) for part in path if isinstance(part, str)]
    below = (
        {}
        if element
        else {name: one for name, one in value.items() if _is_section(spot.below(name) or Spot("value"), one)}
    )
    pairs = [f"{_key([name])} = {_shown(one)}" for name, one in value.items() if name not in below]
    head = f"[[{_key(names)}]]" if element else f"[{_key(names)}]"
    lines = [head, *pairs] if pairs or not below else []
    for name, one in below.items():
        lines += [*([""] if lines else []), *_section(spot.below(name) or Spot("value"), (*path, name), one)]
    return lines


# ---- remove -----------------------------------------------------------------------------------------------------------


def _without(text: str, path: KeyPath) -> str:
    """`text` without the key, table or element at `path`; comments above it stay."""
    stands = written(text)
    inside = [one for one in stands if one.path[: len(path)] == path and len(one.within) < len(path)]
    inline = [one for one in inside if one.inline and (one.kind == "pair" or one.path == path)]
    if inline:
        text = _cut_from_list(text, inline[-1], stands)
        return text if len(inline) == 1 else _without(text, path)
    for begin, end in reversed(_lines_of(text, stands, path)):
        text = _cut_lines(text, begin, end)
    return text


def _cut_from_list(text: str, item: Written, stands: list[Written]) -> str:
    """`text` without one pair in braces or one element in brackets, and its comma."""
    all_items = [one for one in stands if one.inline and one.within == item.within and one.kind == item.kind]
    place = all_items.index(item)
    begin, end = text.rfind("\n", 0, item.start) + 1, text.find("\n", item.end)
    rest = text[item.end : end]
    if not text[begin : item.start].strip() and end >= 0 and re.fullmatch(r"[ \t]*(?:,[ \t]*)?(?:#.*)?", rest):
        return text[:begin] + text[end + 1 :]
    if place + 1 < len(all_items):
        return text[: item.start] + text[all_items[place + 1].start :]
    if place:
        return text[: all_items[place - 1].end] + text[item.end :]
    return text[: item.start].rstrip(" \t") + text[item.end :].lstrip(" \t").removeprefix(",").lstrip(" \t")


def _lines_of(text: str, stands: list[Written], path: KeyPath) -> list[tuple[int, int]]:
    """Begin and end of each run of lines that say something at `path` or below it; a table runs from its head to its last pair."""
    runs: list[tuple[int, int]] = []
    joined: KeyPath | None = None
    for one in stands:
        if one.inline or one.path[: len(path)] != path:
            continue
        end = text.find("\n", one.end)
        run = (text.rfind("\n", 0, one.start) + 1, len(text) if end < 0 else end + 1)
        if one.kind == "pair" and joined == one.within and len(one.within) >= len(path):
            runs[-1] = (runs[-1][0], run[1])
        else:
            runs.append(run)
        joined = one.within
    return runs


def _cut_lines(text: str, begin: int, end: int) -> str:
    """Cut whole lines; of the blank lines above and below a table that goes, one side is enough."""
    before, after = text[:begin], text[end:]
    if text.startswith("[", begin) and (not before or before.endswith("\n\n")):
        after = after.lstrip("\n")
    return before + after


# ---- how values are written -------------------------------------------------------------------------------------------


def _key(names: list[str]) -> str:
    return ".".join(name if _BARE.fullmatch(name) else _quoted(name) for name in names)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _shown(value: object, old: str = "") -> str:
    """A value as TOML, in single quotes where the one that it replaces was."""
    if isinstance(value, str):
        plain = (
            old.startswith("'") and not old.startswith("'''") and re.fullmatch(r"[^'\x00-\x08\x0a-\x1f\x7f]*", value)
        )
        return f"'{value}'" if plain else _quoted(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_shown(one) for one in value) + "]"
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_key([str(name)])} = {_shown(one)}" for name, one in value.items())
        return f"{{ {inside} }}" if inside else "{}"
    raise InputError(
        Fault("no value of a TOML file", repr(value), "text, a number, true, false, a date, a list or a table")
    )


def _dotted(path: KeyPath) -> str:
    return ".".join(map(str, path))


def _same_line_ends(old: str, new: str) -> str:
    """`new`, whose lines end in LF, with the line ends of `old` where it is the same, and those that `old` mostly has where it is not."""
    if "\r\n" not in old:
        return new
    ours = "\r\n" if 2 * old.count("\r\n") >= old.count("\n") else "\n"
    olds, news = _lines(old), _lines(new)
    bare = [line.replace("\r\n", "\n") for line in olds]
    first = 0
    while first < min(len(bare), len(news)) and bare[first] == news[first]:
        first += 1
    last = 0
    while last < min(len(bare), len(news)) - first and bare[-1 - last] == news[-1 - last]:
        last += 1
    middle = [line.replace("\n", ours) for line in news[first : len(news) - last]]
    return "".join([*olds[:first], *middle, *olds[len(olds) - last :]])


def _lines(text: str) -> list[str]:
    """Lines with their ends; LF alone parts them."""
    return [line for line in re.split(r"(?<=\n)", text) if line]
