"""Key paths of a house file: as the validator gives them, as the file has them, and as people read them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, get_args

from thermostatd.core.house.base import Table

Path = tuple[str | int, ...]
_BARE = re.compile(r"[A-Za-z0-9_-]+")


def written_path(loc: Path, data: object) -> Path:
    """The path in the file of a validator's location: without the tags of unions, which the file lacks."""
    path: list[str | int] = []
    here: object = data
    for index, part in enumerate(loc):
        tag = isinstance(here, dict) and part not in here and here.get("kind") == part
        if tag and index < len(loc) - 1:
            continue
        here = _inside(here, part)
        path.append(part)
    return tuple(path)


def _inside(here: object, part: str | int) -> object:
    if isinstance(here, list) and isinstance(part, int):
        return here[part] if part < len(here) else None
    return here.get(part) if isinstance(here, dict) else None


def readable(path: Path, data: object) -> str:
    """A path as people read it: `room[study].heater[column].watts`; an index where no name is."""
    text, here = "", data
    for part in path:
        if isinstance(part, int):
            text += f"[{_label(part, here)}]"
        else:
            text += f".{_quoted(part)}" if text else _quoted(part)
        here = _inside(here, part)
    return text


def _quoted(key: str) -> str:
    if _BARE.fullmatch(key):
        return key[:60]
    return '"' + "".join(sign if sign.isprintable() else " " for sign in key[:60]) + '"'


def _label(index: int, items: object) -> str:
    names = [_inside(item, "name") for item in items] if isinstance(items, list) else []
    name = names[index] if index < len(names) else None
    plain = isinstance(name, str) and name.isprintable() and 0 < len(name) <= 40 and names.count(name) == 1
    return str(name) if plain else str(index)


def known_keys(root: type[Table], loc: Path) -> tuple[str, ...]:
    """The keys, as the file writes them, of the table at a validator's location."""
    tables: list[type[Table]] = [root]
    for part in loc:
        if isinstance(part, str):
            tables = [inner for table in tables for inner in _step(table, part)] or tables
    return tuple(dict.fromkeys(key for table in tables for key in _fields(table)))


def _fields(table: type[Table]) -> Mapping[str, Any]:
    return {field.alias or name: field.annotation for name, field in table.model_fields.items()}


def _step(table: type[Table], key: str) -> list[type[Table]]:
    fields = _fields(table)
    if key in fields:
        return list(_tables_in(fields[key]))
    kind = table.model_fields.get("kind")
    return [table] if kind is not None and kind.default == key else []


def _tables_in(annotation: Any) -> Iterator[type[Table]]:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        yield annotation
    else:
        for inner in get_args(annotation):
            yield from _tables_in(inner)


def nearest(key: str, known: Sequence[str]) -> str | None:
    """The known key that `key` most likely means."""
    plain = {name.replace("_", ""): name for name in known}
    asked = re.sub("[-_ ]", "", key.lower())[:60]
    import difflib  # only a file with faults needs it

    close = difflib.get_close_matches(asked, plain, n=1, cutoff=0.6)
    return plain[close[0]] if close else None
