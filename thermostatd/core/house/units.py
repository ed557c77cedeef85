"""How an owner writes amounts in the house file: "10 min", "12 h", "23:00", "mon-fri", "10-15".

Rules: what is wrong is raised as ValueError("what is wrong: how to mend it"), in the owner's words;
every amount also knows how it is written, so that a shown default reads as the owner would write it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import time
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, PlainSerializer, WithJsonSchema

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
EVERY_DAY = frozenset(range(7))
_UNIT_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_DURATION = re.compile(r"^\s*([0-9]{1,9}(?:\.[0-9]+)?)\s*(s|min|h|d)\s*$")
_CLOCK = re.compile(r"^([01][0-9]|2[0-3]):([0-5][0-9])$")
_DAYS_PATTERN = (
    r"^\s*(daily|(mon|tue|wed|thu|fri|sat|sun)(\s*-\s*(mon|tue|wed|thu|fri|sat|sun))?)"
    r"(\s*,\s*(daily|(mon|tue|wed|thu|fri|sat|sun)(\s*-\s*(mon|tue|wed|thu|fri|sat|sun))?))*\s*$"
)
_NAME = r"^[^\x00-\x1f/+#\s]([^\x00-\x1f/+#]*[^\x00-\x1f/+#\s])?$"
_TOPIC = r"^[^\x00+#]+$"
_POINTER = r"^(/([^~/]|~0|~1)*)*$"


def seconds_of(written: object) -> float:
    """Seconds of a duration such as "90 s", "10 min", "12 h" or "2 d". ValueError says how to write one."""
    match = _DURATION.fullmatch(written) if isinstance(written, str) else None
    if match is None:
        raise ValueError('is no duration: write a number and its unit, such as "90 s", "10 min" or "12 h"')
    seconds = float(match[1]) * _UNIT_SECONDS[match[2]]
    if not 0 < seconds <= 366 * 86400:
        raise ValueError("is no usable duration: write one over zero and at most 366 d")
    return seconds


def written_duration(seconds: float) -> str:
    """A duration as an owner writes it: 300.0 is "5 min". `seconds_of` reads it back."""
    for unit in ("h", "min"):
        whole = seconds / _UNIT_SECONDS[unit]
        if whole >= 1 and whole == int(whole):
            return f"{int(whole)} {unit}"
    return f"{int(seconds)} s" if seconds == int(seconds) else f"{Decimal(repr(seconds)):f} s"


def clock_of(written: object) -> time:
    """The time of day of "HH:MM", 00:00 to 23:59."""
    match = _CLOCK.fullmatch(written) if isinstance(written, str) else None
    if match is None:
        raise ValueError('is no time of day: write "HH:MM" in quotes, 00:00 to 23:59, such as "07:30"')
    return time(int(match[1]), int(match[2]))


def days_of(written: object) -> frozenset[int]:
    """Weekdays (0 is Monday) of "daily", "mon-fri", "sat,sun" or "fri-mon"."""
    if not isinstance(written, str):
        raise ValueError('names no day of the week: write "daily", "mon-fri" or "sat,sun"')
    days: set[int] = set()
    for part in re.sub(r"\s", "", written.lower()).split(","):
        days |= _span_of(part)
    return frozenset(days)


def _span_of(part: str) -> set[int]:
    if part == "daily":
        return set(range(7))
    first, dash, last = part.partition("-")
    last = last if dash else first
    if first not in DAYS or last not in DAYS:
        raise ValueError('names no day of the week: write "daily", "mon-fri" or "sat,sun"')
    start, end = DAYS.index(first), DAYS.index(last)
    return {day % 7 for day in range(start, end + 1 + (7 if end < start else 0))}


def written_days(days: frozenset[int]) -> str:
    """Weekdays as an owner writes them: "daily", "mon-fri", "sat,sun"."""
    if len(days) == 7:
        return "daily"
    runs: list[list[int]] = []
    for day in sorted(days):
        if runs and runs[-1][-1] == day - 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ",".join(_written_run(run) for run in runs)


def _written_run(run: list[int]) -> str:
    if len(run) > 2:
        return f"{DAYS[run[0]]}-{DAYS[run[-1]]}"
    return ",".join(DAYS[day] for day in run)


def day_of_year(written: object) -> tuple[int, int]:
    """Month and day of "MM-DD"; 29 February is not taken."""
    match = re.fullmatch(r"([0-9]{2})-([0-9]{2})", written) if isinstance(written, str) else None
    if match is None:
        raise ValueError('is no day of the year: write "MM-DD", such as "10-15"')
    month, day = int(match[1]), int(match[2])
    lengths = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
    if not 1 <= month <= 12 or not 1 <= day <= lengths[month - 1]:
        raise ValueError('is no day of every year: write "MM-DD", such as "10-15"')
    return month, day


def _written_clock(at: time) -> str:
    return at.strftime("%H:%M")


def _written_year_day(day: tuple[int, int]) -> str:
    return f"{day[0]:02d}-{day[1]:02d}"


def spelled(pattern: str, longest: int, fault: str) -> Callable[[str], str]:
    """A check of a text against a pattern and a length, with `fault` ("what: mend") in plain words."""
    compiled = re.compile(pattern)

    def check(text: str) -> str:
        if len(text) > longest or compiled.fullmatch(text) is None:
            raise ValueError(fault)
        return text

    return check


def text_schema(pattern: str, longest: int) -> WithJsonSchema:
    """The schema of a text checked by `spelled`."""
    return WithJsonSchema({"type": "string", "pattern": pattern, "maxLength": longest})


Seconds = Annotated[
    float,
    BeforeValidator(seconds_of),
    PlainSerializer(written_duration, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": _DURATION.pattern, "examples": ["90 s", "10 min", "12 h"]}),
]
ClockTime = Annotated[
    time,
    BeforeValidator(clock_of),
    PlainSerializer(_written_clock, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": _CLOCK.pattern, "examples": ["07:30"]}),
]
Weekdays = Annotated[
    frozenset[int],
    BeforeValidator(days_of),
    PlainSerializer(written_days, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": _DAYS_PATTERN, "examples": ["daily", "mon-fri", "sat,sun"]}),
]
YearDay = Annotated[
    tuple[int, int],
    BeforeValidator(day_of_year),
    PlainSerializer(_written_year_day, return_type=str, when_used="json"),
    WithJsonSchema({"type": "string", "pattern": r"^[0-9]{2}-[0-9]{2}$", "examples": ["10-15"]}),
]
Name = Annotated[
    str,
    AfterValidator(spelled(_NAME, 40, "is no usable name: write 1 to 40 letters, no / + #, no outer space")),
    text_schema(_NAME, 40),
]
Topic = Annotated[
    str,
    AfterValidator(spelled(_TOPIC, 200, "is no usable topic: write a whole MQTT topic, no wildcards (+ #)")),
    text_schema(_TOPIC, 200),
]
Pointer = Annotated[
    str,
    AfterValidator(
        spelled(_POINTER, 200, 'is no JSON Pointer (RFC 6901): begin each step with /, as in "/air/celsius"')
    ),
    text_schema(_POINTER, 200),
]
Celsius = Annotated[float, Field(ge=-60, le=60, allow_inf_nan=False)]
RoomCelsius = Annotated[float, Field(ge=0, le=35, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, allow_inf_nan=False)]
