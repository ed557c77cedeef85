"""A plain memory written in less room, and back: numbers in rows in place of tables that name each of them.

Rules: nothing is changed by it, to the last bit; what was never shortened (an older memory) stays as it is; what is no
memory at all is left for the reader to complain of.
"""

from __future__ import annotations

from base64 import b64decode, b64encode
from collections.abc import Iterator, Sequence
from dataclasses import fields
from itertools import accumulate
from math import copysign
from typing import Any

from thermostatd.core.facts import LevelFact, TripFact
from thermostatd.core.memory import RequestMemory
from thermostatd.core.wording import table_of, text_of

MOST_WHOLE = 1e12
THOUSANDTHS = 1e3
MOST_PARTS = 2.0**24 - 1.0  # what three bytes hold
AS_WARM = "warmth"  # in place of `proven` where it is the same
_FACTS = {"levels": LevelFact, "trips": TripFact}
_OF_EACH = ("warmth", "proven", "most", "ended", "opens", "weights", "before", "after")
"""Of a body or one of its lessons: a number for each candidate."""
_PARTS = {"weights": 1e5}  # finer than thousandths
_WORDY = (
    ("heaters", "notes"), ("heaters", "body"), ("heaters", "facts"), ("rooms", "air"), ("rooms", "demand"),
    ("models", "thermal"),
)  # fmt: skip


def shorten(plain: dict[str, Any]) -> dict[str, Any]:
    """A memory's tables with rows in place of what rows can hold."""
    for kept, name in _trails(plain["rooms"]):
        kept[name] = flat(kept[name])
    for body in _tables(plain["heaters"], "body"):
        if body.get("warmth") and body.get("proven") == body["warmth"]:
            body["proven"] = AS_WARM
    for kept, name in _candidates(plain["heaters"]):
        kept[name] = row_text(kept[name], _PARTS.get(name, THOUSANDTHS))
    for facts in _tables(plain["heaters"], "facts"):
        for name in _FACTS.keys() & facts.keys():
            facts[name] = [list(one.values()) for one in facts[name]]
    for asked in _tables(plain["changes"], "requests"):
        asked.update({name: one and list(one.values()) for name, one in asked.items()})
    short = {name: _short(value) for name, value in plain.items()}
    for kept, name in _wordy(short, dict):
        kept[name] = text_of(kept[name])
    return short


def lengthen(plain: dict[str, Any]) -> None:
    """Put back in place what `shorten` took. ValueError where a row or a text is none."""
    for kept, name in _wordy(plain, str):
        kept[name] = _read(kept[name], name)
    for kept, name in _trails(plain.get("rooms")):
        row = kept[name]
        if all(isinstance(one, int | float) for one in row):
            kept[name] = [list(point) for point in zip(accumulate(row[::2]), row[1::2], strict=False)]
    _lengthen_bodies(plain.get("heaters"))
    for facts in _tables(plain.get("heaters"), "facts"):
        for name in _FACTS.keys() & facts.keys():
            if isinstance(facts[name], list):
                facts[name] = [_table(_FACTS[name], one) for one in facts[name]]
    for asked in _tables(plain.get("changes"), "requests"):
        asked.update({name: _table(RequestMemory, one) for name, one in asked.items()})


def _read(text: str, name: str) -> dict[str, Any]:
    try:
        return table_of(text)
    except ValueError as fault:
        raise ValueError(f"this memory's {name} cannot be read: {fault}") from fault


def _lengthen_bodies(heaters: Any) -> None:
    for kept, name in _candidates(heaters):
        if isinstance(kept[name], str):
            kept[name] = row_numbers(kept[name], _PARTS.get(name, THOUSANDTHS))
    for body in _tables(heaters, "body"):
        if body.get("proven") == AS_WARM:
            body["proven"] = body.get("warmth")


def _tables(many: Any, name: str) -> Iterator[dict[str, Any]]:
    """The table of this name in each of many tables, where it is one."""
    each = many.values() if isinstance(many, dict) else many if isinstance(many, list) else ()
    found = (one.get(name) for one in each if isinstance(one, dict))
    yield from (one for one in found if isinstance(one, dict))


def _wordy(plain: dict[str, Any], held: type) -> Iterator[tuple[dict[str, Any], str]]:
    """Where wordy tables are kept that are `held` as this: the table around each, and its key there."""
    for kind, name in _WORDY:
        many = plain.get(kind)
        each = many.values() if isinstance(many, dict) else ()
        yield from ((kept, name) for kept in each if isinstance(kept, dict) and isinstance(kept.get(name), held))


def _table(kind: type, row: Any) -> Any:
    names = [one.name for one in fields(kind)]
    return dict(zip(names, row, strict=False)) if isinstance(row, list) else row


def _trails(rooms: Any) -> Iterator[tuple[dict[str, Any], str]]:
    """Where rooms keep points in time: the table, and its key there."""
    for table, name in (("air", "trail"), ("window", "points")):
        yield from ((kept, name) for kept in _tables(rooms, table) if isinstance(kept.get(name), list))


def _candidates(heaters: Any) -> Iterator[tuple[dict[str, Any], str]]:
    """Where bodies keep a number for each candidate: the table, and its key there."""
    for body in _tables(heaters, "body"):
        lists = [body.get(name) for name in ("lessons", "odd")]
        lessons = [one for many in lists if isinstance(many, list) for one in many]
        for kept in (body, body.get("fall"), *lessons):
            if isinstance(kept, dict):
                yield from ((kept, name) for name in _OF_EACH if kept.get(name) not in (None, [], AS_WARM))


def flat(points: Sequence[Sequence[float]]) -> list[Any]:
    """Time, value, seconds since, value, ...; the points themselves where adding up would change a time."""
    row, at = [], 0.0
    for then, value in points:
        row += [then - at, value]
        at += then - at
        if at != then:
            return [list(point) for point in points]
    return row


def row_text(numbers: list[float], parts: float = THOUSANDTHS) -> str | list[float]:
    """`parts` of one in three bytes each, as base64 (RFC 4648); the list itself where that would change a number."""
    if not all(0.0 <= one * parts < MOST_PARTS for one in numbers):
        return numbers
    wholes = [round(parts * one) for one in numbers]
    if any(whole / parts != one for whole, one in zip(wholes, numbers, strict=True)):
        return numbers
    return b64encode(b"".join(whole.to_bytes(3, "big") for whole in wholes)).decode()


def row_numbers(text: str, parts: float = THOUSANDTHS) -> list[float]:
    """The numbers of such a row. ValueError where it is none."""
    held = b64decode(text, validate=True)
    if len(held) % 3:
        raise ValueError("a row of a heater's body ends amid a number")
    return [int.from_bytes(held[at : at + 3], "big") / parts for at in range(0, len(held), 3)]


def _short(value: Any) -> Any:
    """The same with whole numbers written as such: most times and watts are whole."""
    if isinstance(value, dict):
        return {name: _short(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_short(one) for one in value]
    whole = type(value) is float and abs(value) < MOST_WHOLE and value == int(value)
    return int(value) if whole and copysign(1.0, value) == copysign(1.0, int(value)) else value  # a zero has a sign
