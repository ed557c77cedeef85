"""Python values to the small integers and clean text that the tables hold, and back.

Rules: what cannot be kept becomes None or clean text here, in the caller's thread, so that one bad row
never blocks a batch; only a time without zone is refused, since it would be wrong in silence.
"""

from __future__ import annotations

import math
import zlib
from datetime import UTC, datetime, timedelta

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
LARGEST = 2**62


def milliseconds(wall: datetime) -> int:
    """Milliseconds since 1970 of an aware time; ValueError for one without zone."""
    if wall.tzinfo is None:
        raise ValueError("a stored time needs a time zone: use datetime.now(UTC)")
    return (wall - EPOCH) // timedelta(milliseconds=1)


def milliseconds_or_none(wall: datetime | None) -> int | None:
    """The same, where there may be none."""
    return None if wall is None else milliseconds(wall)


def wall_of(stored: int) -> datetime:
    """The UTC time of stored milliseconds."""
    return EPOCH + timedelta(milliseconds=stored)


def wall_or_none(stored: int | None) -> datetime | None:
    """The same, where there may be none."""
    return None if stored is None else wall_of(stored)


def minute_of(wall: datetime) -> int:
    """The minute number (Unix seconds // 60) of an aware time."""
    return milliseconds(wall) // 60_000


def first_minute_of(wall: datetime) -> int:
    """The first minute that does not begin before an aware time."""
    return -(-milliseconds(wall) // 60_000)


def hundredths(celsius: float | None) -> int | None:
    """°C to integer hundredths; None for what is no finite temperature."""
    if celsius is None or not math.isfinite(celsius) or abs(celsius) > 10_000:
        return None
    return round(celsius * 100)


def celsius_of(stored: float | None) -> float | None:
    """Hundredths back to °C."""
    return None if stored is None else round(stored) / 100


def whole(amount: float) -> int:
    """A count, rounded; 0 for what is not finite or below zero."""
    return round(min(amount, LARGEST)) if math.isfinite(amount) and amount > 0 else 0


def text(words: str) -> str:
    """Text that SQLite can hold: no lone surrogates, no NUL."""
    return words.encode("utf-8", "replace").decode("utf-8").replace("\x00", "")


def text_or_none(words: str | None) -> str | None:
    """The same, where there may be none."""
    return None if words is None else text(words)


def memory_row(row: tuple[object, ...]) -> tuple[object, ...]:
    """The memory's row as it is written: its JSON, the first column, packed where it is not yet."""
    words = row[0]
    return (zlib.compress(words.encode()) if isinstance(words, str) else words, *row[1:])


def memory_text(stored: str | bytes) -> str:
    """The memory's JSON as it was stored, packed or by an older program as text. ValueError if it is damaged."""
    if isinstance(stored, str):
        return stored
    try:
        return zlib.decompress(stored).decode()
    except zlib.error as fault:
        raise ValueError(f"the packed memory is damaged ({fault})") from fault
