"""One value out of one payload: plain text, or JSON by a pointer (RFC 6901). Pure.

Rules: what is not a proper finite number in range is a `Missing` that says what stood there instead;
a boolean is no number; a text that holds a number is one; nothing here raises, whatever was sent.
"""

from __future__ import annotations

import json
import math
import re

from thermostatd.core.values import Missing

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_INDEX = re.compile(r"0|[1-9]\d*", re.ASCII)
LARGEST_PAYLOAD_BYTES = 16 * 1024
_MOST_SHOWN = 40


def value_at(payload: bytes, pointer: str = "") -> object:
    """The JSON value a pointer leads to, or Missing. Without a pointer a text that is no JSON is itself."""
    text = _text_of(payload)
    if isinstance(text, Missing):
        return text
    try:
        whole: object = json.loads(text)
    except (ValueError, RecursionError):
        if pointer == "":
            return text
        return Missing(f"the payload is not valid JSON: {shown(text)}")
    return _follow(whole, pointer)


def number_from(
    payload: bytes, pointer: str = "", *, lowest: float = -1e9, highest: float = 1e9, scale: float = 1.0
) -> float | Missing:
    """The number a payload holds, times `scale`, within `lowest` to `highest`, or Missing with the reason."""
    number = _as_number(value_at(payload, pointer))
    if isinstance(number, Missing):
        return number
    number *= scale
    if not lowest <= number <= highest:
        return Missing(f"{number:.10g} is outside {lowest:g} to {highest:g}")
    return number


def word_from(payload: bytes, pointer: str = "") -> str | Missing:
    """The word a payload holds, as its own text: JSON true is `true`, the number 1 is `1`."""
    found = value_at(payload, pointer)
    if isinstance(found, (str, Missing)):
        return found
    if isinstance(found, (bool, int, float)):
        return payload.decode().strip() if pointer == "" else json.dumps(found)
    return Missing(f"there is {_kind_of(found)} instead of a word")


def shown(value: object) -> str:
    """A value as it is quoted in a sentence: short and on one line."""
    text = value if isinstance(value, str) else repr(value)
    line = " ".join(text.split()).encode("utf-8", "replace").decode()  # a lone surrogate cannot be told on
    return f'"{line[:_MOST_SHOWN]}…"' if len(line) > _MOST_SHOWN else f'"{line}"'


def _text_of(payload: bytes) -> str | Missing:
    if len(payload) > LARGEST_PAYLOAD_BYTES:
        return Missing(f"a payload of {len(payload)} bytes, over the {LARGEST_PAYLOAD_BYTES} that are read")
    try:
        text = payload.decode("utf-8").strip()
    except UnicodeDecodeError:
        return Missing("the payload is not UTF-8 text")
    return text or Missing("the payload is empty")


def _follow(value: object, pointer: str) -> object:
    if pointer == "":
        return value
    for raw in pointer[1:].split("/"):
        part = raw.replace("~1", "/").replace("~0", "~")
        if isinstance(value, dict) and part in value:
            value = value[part]
        elif isinstance(value, list) and _INDEX.fullmatch(part) and len(part) < 9 and int(part) < len(value):
            value = value[int(part)]
        else:
            return Missing(f"the payload has nothing at {shown(pointer)[1:-1]}")
    return value


def _as_number(value: object) -> float | Missing:
    if isinstance(value, Missing):
        return value
    if isinstance(value, str):
        return _number_in(value)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return Missing(f"there is {_kind_of(value)} instead of a number")
    return _finite(value)


def _number_in(text: str) -> float | Missing:
    bare = text.strip()
    if bare.lower().lstrip("+-") in ("nan", "inf", "infinity"):
        return Missing(f"{shown(bare)} is not a finite number")
    if not _NUMBER.fullmatch(bare):
        return Missing(f"{shown(text)} is not a number")
    return _finite(float(bare))


def _finite(value: float) -> float | Missing:
    try:
        number = float(value)
    except OverflowError:
        return Missing("the number is too large")
    return number if math.isfinite(number) else Missing(f'"{number}" is not a finite number')


def _kind_of(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, bool):
        return f"the boolean {json.dumps(value)}"
    if isinstance(value, dict):
        return "an object"
    return "a list" if isinstance(value, list) else "no plain value"
