"""A plain memory written in less room, and back: numbers in rows in place of tables that name each of them.

Rules: nothing is changed by it, to the last bit; what is not packed (an older memory) stays as it is; what is no
memory at all is left for the reader to complain of.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Iterator, Sequence
from dataclasses import fields
from itertools import accumulate
from typing import Any

from thermostatd.core.facts import LevelFact, TripFact
from thermostatd.core.memory import RequestMemory

MOST_WHOLE = 1e12
THOUSANDTHS_END = 16_777.0  # what three bytes hold
_FACTS = {"levels": LevelFact, "trips": TripFact}
_OF_EACH = ("warmth", "proven", "most", "ended", "opens", "weights", "before", "after")
"""Of a body or one of its lessons: a number for each candidate."""


def pack(plain: dict[str, Any]) -> dict[str, Any]:
    """A memory's tables with their rows packed."""
    for air in _tables(plain["rooms"], "air"):
        if "trail" in air:
            air["trail"] = flat(air["trail"])
    for kept, name in _candidates(plain["heaters"]):
        kept[name] = packed(kept[name])
    for facts in _tables(plain["heaters"], "facts"):
        for name in _FACTS.keys() & facts.keys():
            facts[name] = [list(one.values()) for one in facts[name]]
    for asked in _tables(plain["changes"], "requests"):
        asked.update({name: one and list(one.values()) for name, one in asked.items()})
    return {name: _short(value) for name, value in plain.items()}


def unpack(plain: dict[str, Any]) -> None:
    """Put back in place what `pack` took. ValueError where a row is none."""
    for air in _tables(plain.get("rooms"), "air"):
        row = air.get("trail")
        if isinstance(row, list) and row and all(isinstance(one, int | float) for one in row):
            air["trail"] = [list(point) for point in zip(accumulate(row[::2]), row[1::2], strict=False)]
    for kept, name in _candidates(plain.get("heaters")):
        kept[name] = unpacked(kept[name]) if isinstance(kept[name], str) else kept[name]
    for facts in _tables(plain.get("heaters"), "facts"):
        for name in _FACTS.keys() & facts.keys():
            if isinstance(facts[name], list):
                facts[name] = [_table(_FACTS[name], one) for one in facts[name]]
    for asked in _tables(plain.get("changes"), "requests"):
        asked.update({name: _table(RequestMemory, one) for name, one in asked.items()})


def _tables(many: Any, name: str) -> Iterator[dict[str, Any]]:
    """The table of this name in each of many tables, where it is one."""
    each = many.values() if isinstance(many, dict) else many if isinstance(many, list) else ()
    found = (one.get(name) for one in each if isinstance(one, dict))
    yield from (one for one in found if isinstance(one, dict))


def _table(kind: type, row: Any) -> Any:
    names = [one.name for one in fields(kind)]
    return dict(zip(names, row, strict=False)) if isinstance(row, list) else row


def _candidates(heaters: Any) -> Iterator[tuple[dict[str, Any], str]]:
    """Where bodies keep a number for each candidate: the table, and its key there."""
    for body in _tables(heaters, "body"):
        lists = [body.get(name) for name in ("lessons", "odd")]
        lessons = [one for many in lists if isinstance(many, list) for one in many]
        for kept in (body, body.get("fall"), *lessons):
            if isinstance(kept, dict):
                yield from ((kept, name) for name in _OF_EACH if kept.get(name))


def flat(points: Sequence[Sequence[float]]) -> list[Any]:
    """Time, value, seconds since, value, ...; the points themselves where adding up would change a time."""
    row, at = [], 0.0
    for then, value in points:
        row += [then - at, value]
        at += then - at
        if at != then:
            return [list(point) for point in points]
    return row


def packed(numbers: list[float]) -> str | list[float]:
    """Thousandths in three bytes each, as base64 (RFC 4648); the list itself where that would change a number."""
    if not all(0.0 <= one < THOUSANDTHS_END for one in numbers):
        return numbers
    thousandths = [round(1000.0 * one) for one in numbers]
    if any(whole / 1000.0 != one for whole, one in zip(thousandths, numbers, strict=True)):
        return numbers
    return b64encode(b"".join(whole.to_bytes(3, "big") for whole in thousandths)).decode()


def unpacked(text: str) -> list[float]:
    """What `packed` took. ValueError where it is none."""
    held = b64decode(text, validate=True)
    if len(held) % 3:
        raise ValueError("a row of a heater's body ends amid a number")
    return [int.from_bytes(held[at : at + 3], "big") / 1000.0 for at in range(0, len(held), 3)]


def _short(value: Any) -> Any:
    """The same with whole numbers written as such: most times and watts are whole."""
    if isinstance(value, dict):
        return {name: _short(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_short(one) for one in value]
    whole = type(value) is float and abs(value) < MOST_WHOLE and value == int(value)
    return int(value) if whole else value
