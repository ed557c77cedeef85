"""How degrees and times are written for people, and read from them. °C inside; °F is a way of showing."""

from __future__ import annotations

import math
from datetime import datetime, time, timedelta

from thermostatd.edge.pages.speech import MINUS, Unit, speech


def shown_in(unit: Unit, celsius: float) -> float:
    """The number to show in this unit."""
    return celsius * 1.8 + 32 if unit == "F" else celsius


def celsius_from(unit: Unit, degrees: float) -> float:
    """°C of a number typed in this unit, to a hundredth."""
    return round((degrees - 32) / 1.8 if unit == "F" else degrees, 2)


def number(value: float, digits: int = 1) -> str:
    """A number with a true minus and the visitor's decimal sign; trailing zeros kept."""
    return speech().number_as(value, f".{digits}f")


def amount(value: float, unit: str, digits: int = 0) -> str:
    """ "588 W": a number and its unit, which no line break parts."""
    return f"{number(value, digits)}\u00a0{unit}"


def degrees(unit: Unit, celsius: float) -> str:
    """ "20.5°" in this unit, "69°" in whole °F."""
    return number(shown_in(unit, celsius), 0 if unit == "F" else 1) + "°"


def limit_degrees(unit: Unit, celsius: float) -> str:
    """A limit, without a needless ".0"."""
    shown = shown_in(unit, celsius)
    return number(shown, 0 if unit == "F" or shown == round(shown) else 1) + "°"


def kelvins(unit: Unit, difference: float, digits: int = 1) -> str:
    """A difference of temperatures: "0.4°", "0.7°" in °F."""
    return number(difference * (1.8 if unit == "F" else 1.0), digits) + "°"


def typed_degrees(text: str) -> float | None:
    """The number someone typed ("20,5", "20.5°"); None where it is none."""
    try:
        value = float(text.strip().rstrip("°CFcf ").replace(",", ".").replace(MINUS, "-"))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def clock(at: datetime, now: datetime) -> str:
    """ "18:00" today, "Thu 07:30" within a week, "3 Feb 07:30" else. Both in the house's zone."""
    return speech().near(at, now)


def span(seconds: float) -> str:
    """ "40 min", "1 h", "2 h 30 min"."""
    return speech().span(seconds)


def ago(seconds: float) -> str:
    """ "just now", "40 s ago", "12 min ago"."""
    if seconds < 5:
        return speech().text("just now")
    told = speech().text("{seconds} s", seconds=round(seconds)) if seconds < 90 else span(seconds)
    return speech().text("{span} ago", span=told)


def next_at(clock_time: time, now: datetime, days: int = 0) -> datetime:
    """The next moment the house's clocks show this time, or that of so many days ahead; a skipped one is met at the
    next valid moment."""
    at = None if days else yet_today(clock_time, now)
    if at is not None:
        return at
    local = datetime.combine(now.date() + timedelta(days=days or 1), clock_time, tzinfo=now.tzinfo)
    return datetime.fromtimestamp(local.timestamp(), tz=now.tzinfo)


def yet_today(clock_time: time, now: datetime) -> datetime | None:
    """The next moment of this day at which the clocks show this time, which is twice in the night that has an hour
    more; a skipped one is met at the next valid moment. None where it is over."""
    for fold in (0, 1):
        local = datetime.combine(now, clock_time.replace(fold=fold), tzinfo=now.tzinfo)
        at = datetime.fromtimestamp(local.timestamp(), tz=now.tzinfo)
        skipped = at.time() != clock_time
        # Two times of one zone are compared by what their clocks show, so this goes by seconds.
        if at.timestamp() > now.timestamp() and not (skipped and now.time() >= clock_time):
            return at
    return None


def typed_clock(text: str) -> time | None:
    """The time of day someone typed, "18:00", "7.30" or "6:30 pm"; None where it is none."""
    written = text.strip().lower().replace(".", ":")
    half = 12 if written.endswith("pm") else 0 if written.endswith("am") else None
    try:
        hours, _, minutes = written.removesuffix("pm").removesuffix("am").strip().partition(":")
        hour = int(hours) if half is None else int(hours) % 12 + half
        return time(hour, int(minutes[:2] or 0))
    except ValueError:
        return None
