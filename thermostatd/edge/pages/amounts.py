"""How degrees, times are written for people, and read from them. °C inside; °F is a way of showing."""

from __future__ import annotations

import math
from datetime import datetime, time, timedelta
from typing import Literal

Unit = Literal["C", "F"]
MINUS = "\u2212"
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def shown_in(unit: Unit, celsius: float) -> float:
    """The number to show in this unit."""
    return celsius * 1.8 + 32 if unit == "F" else celsius


def celsius_from(unit: Unit, degrees: float) -> float:
    """°C of a number typed in this unit, to a hundredth."""
    return round((degrees - 32) / 1.8 if unit == "F" else degrees, 2)


def number(value: float, digits: int = 1) -> str:
    """A number with a true minus sign; trailing zeros kept."""
    text = f"{abs(value):.{digits}f}"
    return (MINUS if value < 0 and float(text) != 0 else "") + text


def degrees(unit: Unit, celsius: float) -> str:
    """ "20.5°" in this unit, "69°" in whole °F."""
    shown = shown_in(unit, celsius)
    return number(shown, 0 if unit == "F" else 1) + "°"


def limit_degrees(unit: Unit, celsius: float) -> str:
    """A limit, without a needless ".0"."""
    return degrees(unit, celsius).replace(".0°", "°")


def typed_degrees(text: str) -> float | None:
    """The number someone typed ("20,5", "20.5°"); None where it is none."""
    try:
        value = float(text.strip().rstrip("°CFcf ").replace(",", ".").replace(MINUS, "-"))
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def clock(at: datetime, now: datetime) -> str:
    """ "18:00" today, "Thu 07:30" within a week, "3 Feb 07:30" later. Both in the house's zone."""
    days = (at.date() - now.date()).days
    if days == 0:
        return f"{at:%H:%M}"
    return f"{DAYS[at.weekday()]} {at:%H:%M}" if 0 < days < 7 else f"{at.day} {at:%b %H:%M}"


def clock_seen(at: datetime, now: datetime) -> str:
    """A past moment: "16:12" today, "Sun 22:05" within the week, "3 Feb 22:05" before."""
    days = (now.date() - at.date()).days
    if days == 0:
        return f"{at:%H:%M}"
    return f"{DAYS[at.weekday()]} {at:%H:%M}" if 0 < days < 7 else f"{at.day} {at:%b %H:%M}"


def span(seconds: float) -> str:
    """ "40 min", "1 h", "2 h 30 min"."""
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def next_at(clock_time: time, now: datetime) -> datetime:
    """The next moment the house's clocks show this time; a skipped one is met at the next valid moment."""
    day = now.date() if now.timetz().replace(tzinfo=None) < clock_time else now.date() + timedelta(days=1)
    local = datetime.combine(day, clock_time, tzinfo=now.tzinfo)
    return datetime.fromtimestamp(local.timestamp(), tz=now.tzinfo)


def typed_clock(text: str) -> time | None:
    """The time of day someone typed, "18:00" or "7.30"; None where it is none."""
    try:
        hours, _, minutes = text.strip().replace(".", ":").partition(":")
        return time(int(hours), int(minutes[:2] or 0))
    except ValueError:
        return None
