"""What is wrong with a house file, in plain words: the validator's findings become faults with a mend.

Rules: a fault says where, what and how to mend it; a value is shown as the owner wrote it; an unknown key
names the nearest known one and never shows its value, which may be a secret put in the wrong place.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import ValidationError

from thermostatd.core.house import House
from thermostatd.core.house.plugs import Plug
from thermostatd.edge.house_keys import known_keys, nearest, written_path

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a house file. `line` counts from 1; `key` is empty where the whole file is meant."""

    file: str
    line: int
    key: str
    what: str
    mend: str
    danger: bool = False
    """Whether a warning is one of fire, burns or heat without end."""

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.key + ': ' if self.key else ''}{self.what}. {self.mend}"


class HouseFileError(Exception):
    """The house file cannot be used. `faults` holds every fault; str() has one line for each."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True, slots=True)
class Finding:
    """A fault whose line and key are still a path."""

    path: Path
    what: str
    mend: str


def findings_of(error: ValidationError, data: dict[str, Any]) -> list[Finding]:
    """The validator's findings on `data`, in plain words."""
    return [_finding(dict(found), data) for found in error.errors(include_url=False)]


def shown(value: object) -> str:
    """A value as the owner wrote it, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    text = f'"{value}"' if isinstance(value, str) else _number(value)
    text = "".join(sign if sign.isprintable() else " " for sign in text)
    return text if len(text) <= 60 else text[:56] + ' …"'


def _number(value: object) -> str:
    if isinstance(value, int) and abs(value) > 10**30:
        return "a number of more than 30 digits"
    return str(value)

_ONCE = ("heater", "household")
"""Tables under another that are mostly written with a header of their own, and stand there once."""


def _finding(found: dict[str, Any], data: dict[str, Any]) -> Finding:
    loc: Path = found["loc"]
    path = written_path(loc, data)
    kind, value, bounds = found["type"], found.get("input"), found.get("ctx", {})
    if kind == "extra_forbidden":
        return _unknown_key(loc, path)
    if kind == "missing":
        return Finding(path, "is missing", f"Write {path[-1]} = …")
    if kind.startswith("union_tag"):
        return _plug_kind(kind, path, bounds)
    if kind == "value_error":
        what, _, mend = str(bounds["error"]).partition(": ")
        return Finding(path, f"{shown(value)} {what}", _sentence(mend))
    words = _WORDS.get(kind)
    if words is None:
        return Finding(path, f"{shown(value)} is not usable here", _sentence(str(found["msg"])))
    what, mend = words(shown(value), bounds)
    if kind == "tuple_type" and isinstance(value, dict):
        mend = _two_brackets(path)
    elif kind == "model_type" and isinstance(value, list | tuple) and (len(path) == 1 or path[-1] in _ONCE):
        mend = f"There is one: write its header with one bracket, [{_names(path)}]"
    return Finding(path, what, mend)


def _two_brackets(path: Path) -> str:
    """How a table that may come again is written: by its header where it has one, else as a list on a line."""
    names = _names(path)
    if names in _HEADERS:
        return f"It may come again: write its header with two brackets, [[{names}]]"
    return "Write a list: [{ key = value }]"


def _names(path: Path) -> str:
    return ".".join(part for part in path if isinstance(part, str))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _unknown_key(loc: Path, path: Path) -> Finding:
    key, known = str(path[-1]), known_keys(House, loc[:-1])
    near = nearest(key, known)
    mend = f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}"
    if len(path) == 1 and f"room.{key}" in _HEADERS:
        mend = f"It stands under its room: [[room.{key}]]"
    return Finding(path, f'"{shown(key)[1:-1]}" is no known key', mend)


def _plug_kind(kind: str, path: Path, bounds: dict[str, Any]) -> Finding:
    kinds = str(bounds.get("expected_tags", "")).replace("'", "") or ", ".join(_KINDS)
    if kind == "union_tag_not_found":
        return Finding((*path, "kind"), "is missing", f'Write kind = "…", one of {kinds}')
    return Finding((*path, "kind"), f'"{bounds.get("tag")}" is not one of {kinds}', "Write one of these")


def _choices(bounds: dict[str, Any]) -> str:
    expected = str(bounds.get("expected", "")).replace("'", "")
    return expected.replace(" or ", ", ")


def _literal(value: str, bounds: dict[str, Any]) -> tuple[str, str]:
    choices = _choices(bounds)
    if ", " not in choices:
        return f"{value} is not understood here", f'Write "{choices}", or leave it out'
    return f"{value} is not one of {choices}", "Write one of these"


def _type(wanted: str, mend: str) -> Callable[[str, dict[str, Any]], tuple[str, str]]:
    return lambda value, _: (f"{value} is no {wanted}", mend)


def _bound(key: str, what: str, mend: str) -> Callable[[str, dict[str, Any]], tuple[str, str]]:
    return lambda value, bounds: (f"{value} {what} {bounds[key]:g}", f"Write {mend} {bounds[key]:g}")


_LIST = "Write a list: [ … ]"
_HEADERS = ("circuit", "room", "room.heater", "spot")
_KINDS = [kind.model_fields["kind"].default for kind in get_args(get_args(Plug)[0])]
_NUMBER = "Write a plain number, without quotes and unit"


def _no_number(value: str, _: dict[str, Any]) -> tuple[str, str]:
    comma = re.fullmatch(r'"\s*([+-]?\d+),(\d+)\s*"', value)
    mend = f"Write it without quotes and with a point: {comma[1]}.{comma[2]}" if comma else _NUMBER
    return f"{value} is no number", mend


_WORDS: dict[str, Callable[[str, dict[str, Any]], tuple[str, str]]] = {
    "literal_error": _literal,
    "string_type": _type("text", 'Write it in quotes, such as "…"'),
    "float_type": _no_number,
    "int_type": _type("whole number", "Write a whole number, without quotes and point"),
    "int_from_float": _type("whole number", "Write a whole number, without a point"),
    "bool_type": _type("yes or no", "Write true or false, without quotes"),
    "tuple_type": _type("list", _LIST),
    "model_type": _type("table", "Write a table: { key = value }"),
    "model_attributes_type": _type("table", "Write a table: { key = value }"),
    "dict_type": _type("table", "Write a table: { key = value }"),
    "finite_number": _type("finite number", _NUMBER),
    "greater_than": _bound("gt", "is not over", "more than"),
    "greater_than_equal": _bound("ge", "is under the least allowed,", "at least"),
    "less_than": _bound("lt", "is not under", "less than"),
    "less_than_equal": _bound("le", "is over the most allowed,", "at most"),
    "string_too_short": lambda value, bounds: (f"{value} is too short", "Write at least one letter"),
    "string_too_long": lambda value, bounds: (
        f"{value} is too long", f"Write at most {bounds['max_length']} letters"
    ),
}
