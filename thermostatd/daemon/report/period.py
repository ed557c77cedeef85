"""From when to when a report goes, in the house's own days. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

WINTER_BEGINS = (10, 1)  # where the house file names no season; common practice north of the equator
KINDS = ("day", "week", "month", "winter")


@dataclass(frozen=True, slots=True)
class Period:
    """[since, until), and the edges of the pieces it is shown in, all aware; `piece` names them."""

    since: datetime
    until: datetime
    edges: tuple[datetime, ...]
    piece: str


def period(
    kind: str,
    zone: ZoneInfo,
    now: datetime,
    begins: date | None = None,
    ends: date | None = None,
    season: tuple[int, int] | None = None,
) -> Period:
    """The last whole `kind` of days up to and with today; `begins` and `ends` (the last day) go before it.

    ValueError where it ends before it begins.
    """  # fmt: skip
    today = now.astimezone(zone).date()
    last = ends or today
    first = begins or _first(kind, last, season or WINTER_BEGINS)
    if first > last:
        raise ValueError(f"{first} is after {last}: exchange the two")
    days = (last - first).days + 1
    if days > 3700:
        raise ValueError("that is more than ten years")
    step = 1 if days <= 62 else 7
    if days == 1:
        return Period(
            _midnight(first, zone), _midnight(last + timedelta(1), zone), _hours(first, zone), "hour"
        )
    edges = [_midnight(first + timedelta(n), zone) for n in range(0, days, step)]
    end = _midnight(last + timedelta(1), zone)
    return Period(edges[0], end, (*edges, end), "day" if step == 1 else "week")


def _first(kind: str, last: date, season: tuple[int, int]) -> date:
    if kind == "winter":
        begun = date(last.year, *season)
        return begun if begun <= last else date(last.year - 1, *season)
    return last - timedelta(days={"day": 0, "week": 6, "month": 29}[kind])


def _midnight(day: date, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(), tzinfo=zone).astimezone(UTC)


def _hours(day: date, zone: ZoneInfo) -> tuple[datetime, ...]:
    """Each hour of a day, 23 to 25 of them."""
    at, end = _midnight(day, zone), _midnight(day + timedelta(1), zone)
    edges = []
    while at < end:
        edges.append(at)
        at += timedelta(hours=1)
    return (*edges, end)
