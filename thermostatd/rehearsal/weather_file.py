"""The weather of a rehearsal from a file: an EPW year's coldest days, or a CSV of one's own.

A CSV has a heading line and the columns `time` (ISO 8601; without an offset it is the house's own clock), `celsius`
(outdoor air) and, if known, `sun` (W/m² on an upright window that faces it). Rules: times go forward, gaps are six
hours at most; an hour that the house's clock has twice may stand there twice; the judged days begin at its first
midnight; the days before are its first day, over again.
"""

from __future__ import annotations

import csv
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from math import ceil, isfinite
from pathlib import Path
from zoneinfo import ZoneInfo

from thermostatd.rehearsal.epw import EpwWeather, EpwYear, read_epw
from thermostatd.rehearsal.nature import DAY_SECONDS, Weather

LONGEST_GAP_SECONDS = 6 * 3600.0
COLUMNS = ("time", "celsius", "sun")
LOWEST_CELSIUS, HIGHEST_CELSIUS, MOST_SUN = -60.0, 50.0, 1500.0
NOT_LEAP = 2026
FAR = timedelta(hours=3)  # a place farther off is another's, taken for its climate: its noon is to be noon here
WARM_CELSIUS = 18.0  # outdoors over days: no room needs heat, and a cold week written in °F is well above it


class WeatherFileError(ValueError):
    """A weather file that cannot be used: its name, line, and the mend."""


@dataclass(frozen=True)
class Sky:
    """A weather for the days to be lived: `start` is the first judged midnight, `told` says where it comes from."""

    start: datetime
    weather: Weather
    told: str


class Series:
    """Weather between the points of a record. `zero` is the Unix second that counts as 0."""

    def __init__(self, points: list[tuple[float, float, float]], zero: float, judged_from: float) -> None:
        self._times = [at for at, _, _ in points]
        self._points = points
        self._zero, self._judged_from = zero, judged_from

    def outdoor_celsius(self, seconds: float) -> float:
        """Outdoor air, °C, along a straight line between two points."""
        return self._at(seconds, 1)

    def sun_watts_per_square_metre(self, seconds: float) -> float:
        """Sun on an upright window, W/m²."""
        return self._at(seconds, 2)

    def _at(self, seconds: float, column: int) -> float:
        at = self._zero + seconds
        if at < self._times[0]:  # warming up: the first judged day, over again
            at = self._judged_from + (at - self._judged_from) % DAY_SECONDS
        place = bisect_right(self._times, at)
        if place <= 0 or place >= len(self._times):
            return self._points[0 if place <= 0 else -1][column]
        before, after = self._points[place - 1], self._points[place]
        part = (at - before[0]) / (after[0] - before[0])
        return before[column] + part * (after[column] - before[column])


def sky_of(path: Path, zone: ZoneInfo, days: float, warm_days: int) -> Sky:
    """The weather in a file. WeatherFileError (or EpwError) names the line and the mend."""
    if path.suffix.lower() == ".epw":
        return coldest(read_epw(path), zone, days, warm_days, str(path.name))
    return read_csv(path, zone, days, warm_days)


def coldest(year: EpwYear, zone: ZoneInfo, days: float, warm_days: int, name: str) -> Sky:
    """The coldest stretch of a year."""
    means = [sum(hour.celsius for hour in year.hours[24 * day : 24 * day + 24]) / 24.0 for day in range(365)]
    length = max(1, round(days))
    first = min(range(365), key=lambda day: sum(means[(day + n) % 365] for n in range(length)))
    start = datetime(NOT_LEAP, 1, 1, tzinfo=zone) + timedelta(days=first)
    mean = sum(means[(first + n) % 365] for n in range(length)) / length
    begins, clock = start - timedelta(days=warm_days), ""
    standard = timedelta(hours=year.zone_hours)
    if abs((begins.utcoffset() or timedelta(0)) - standard) > FAR:
        begins, clock = begins.replace(tzinfo=timezone(standard)), ", its hours as the house's own"
    told = f"{name}: {year.place}, its coldest {length} days, from {start:%-d %B} ({mean:.1f} °C){clock}"
    return Sky(start, EpwWeather(year, begins), told)


def read_csv(path: Path, zone: ZoneInfo, days: float, warm_days: int) -> Sky:
    """The weather in a CSV."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            points = list(_points(path, csv.reader(file), zone))
    except (OSError, UnicodeDecodeError, csv.Error) as fault:
        raise WeatherFileError(f"{path}: cannot be read as CSV ({fault})") from fault
    if len(points) < 2:
        raise WeatherFileError(f"{path}: has no two lines of weather under its heading")
    first = datetime.fromtimestamp(points[0][0], zone)
    start = first.replace(hour=0, minute=0, second=0, microsecond=0)
    start += timedelta(days=1) if start < first else timedelta(0)
    lacks = start.timestamp() + days * DAY_SECONDS - points[-1][0]
    if lacks > LONGEST_GAP_SECONDS:
        raise WeatherFileError(
            f"{path}: ends {lacks / 3600:.0f} hours too early for {days:g} days from its first midnight "
            f"({start:%Y-%m-%d}): add lines, or ask for fewer --days"
        )
    zero = start.timestamp() - warm_days * DAY_SECONDS
    series = Series(points, zero, start.timestamp())
    hours = [series.outdoor_celsius((24 * warm_days + hour) * 3600.0) for hour in range(ceil(24 * days))]
    mean = sum(hours) / len(hours)
    if mean > WARM_CELSIUS:
        raise WeatherFileError(
            f"{path}: is {mean:.1f} °C on the mean of these days, and nobody heats then. If it is in °F, write °C"
        )
    return Sky(start, series, f"{path.name}, from {start:%Y-%m-%d} ({mean:.1f} °C)")


def _points(path: Path, rows: Iterable[list[str]], zone: ZoneInfo) -> Iterator[tuple[float, float, float]]:
    columns: dict[str, int] | None = None
    last: float | None = None
    for number, row in enumerate(rows, 1):
        if not any(cell.strip() for cell in row):
            continue
        if columns is None:
            columns = _heading(path, number, row)
            continue
        at, celsius, sun = _values(f"{path}, line {number}", row, columns, zone, last)
        if last is not None and not 0 < at - last <= LONGEST_GAP_SECONDS:
            what = (
                "goes back in time" if at <= last else f"comes {(at - last) / 3600:.0f} hours after the last"
            )
            raise WeatherFileError(
                f"{path}, line {number}: {what}: lines go forward, six hours apart at most. Where clocks are put "
                "forward or back, an offset such as +01:00 tells times apart"
            )
        last = at
        yield at, celsius, sun


def _heading(path: Path, number: int, row: list[str]) -> dict[str, int]:
    names = [cell.strip().lower() for cell in row]
    if not {"time", "celsius"} <= set(names):
        raise WeatherFileError(
            f'{path}, line {number}: the heading is {",".join(names)[:60]!r}; write "time,celsius,sun"'
        )
    return {name: names.index(name) for name in COLUMNS if name in names}


def _values(
    where: str, row: list[str], columns: dict[str, int], zone: ZoneInfo, last: float | None
) -> tuple[float, float, float]:
    if len(row) <= max(columns.values()):
        raise WeatherFileError(f"{where}: has {len(row)} cells, fewer than the heading")
    try:
        at = _epoch(datetime.fromisoformat(row[columns["time"]].strip()), zone, last)
    except (ValueError, OverflowError):  # no time, or none that the calendar has room for a day around
        raise WeatherFileError(
            f'{where}: "{row[columns["time"]]:.30}" is no time: write one such as 2026-01-12T06:00'
        ) from None
    celsius = _number(where, "celsius", row[columns["celsius"]], LOWEST_CELSIUS, HIGHEST_CELSIUS)
    sun = _number(where, "sun", row[columns["sun"]], 0.0, MOST_SUN) if "sun" in columns else 0.0
    return at, celsius, sun


def _epoch(at: datetime, zone: ZoneInfo, last: float | None) -> float:
    """The Unix second that a line means; without an offset, of an hour that comes twice the one that goes forward."""
    if at.tzinfo:
        return at.timestamp()
    first = at.replace(tzinfo=zone).timestamp()
    return first if last is None or first > last else at.replace(tzinfo=zone, fold=1).timestamp()


def _number(where: str, name: str, word: str, lowest: float, highest: float) -> float:
    try:
        value = float(word)
    except ValueError:
        value = float("nan")
    if not (isfinite(value) and lowest <= value <= highest):
        raise WeatherFileError(
            f'{where}: {name} is "{word:.20}": write a number from {lowest:g} to {highest:g}'
        )
    return value
