"""Reads a year of weather from an EPW file (EnergyPlus weather, an open text format), and plays it to a rehearsal.

Rules: a bad file gets an EpwError with its line, what is wrong and the mend; a gap (99.9, 999, 9999 by the
format) of up to six hours is bridged, a longer one is refused; hours are in the file's standard time; what the
file calls hour 1 ends at 01:00. Temperatures are of that instant, radiation is the hour's mean.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC as _UTC
from datetime import datetime, timedelta
from math import isfinite
from pathlib import Path

from thermostatd.physics.sun import (
    GLASS_PASSES_DIFFUSE,
    SunPlace,
    glass_passes,
    light_on,
    sun_place,
)

HEADER_LINES = 8
HOURS_A_YEAR = 8760
LONGEST_GAP_HOURS = 6
LARGEST_BYTES = 20_000_000
_DRY_BULB, _GLOBAL, _DIRECT, _DIFFUSE = 6, 13, 14, 15  # columns, counted from 0
_MISSING = {_DRY_BULB: 99.9, _GLOBAL: 9999.0, _DIRECT: 9999.0, _DIFFUSE: 9999.0}
_RANGE = {_DRY_BULB: (-70.0, 70.0), _GLOBAL: (0.0, 1500.0), _DIRECT: (0.0, 1500.0), _DIFFUSE: (0.0, 1000.0)}
_NAMES = {_DRY_BULB: "dry bulb temperature", _GLOBAL: "global horizontal radiation",
          _DIRECT: "direct normal radiation", _DIFFUSE: "diffuse horizontal radiation"}  # fmt: skip


class EpwError(ValueError):
    """A weather file that cannot be used: the file, the line, and what to do about it."""


@dataclass(frozen=True, slots=True)
class EpwHour:
    """One hour: outdoor air at its end, °C; direct normal, diffuse and global horizontal radiation, W/m²."""

    celsius: float
    direct_normal: float
    diffuse_horizontal: float
    global_horizontal: float


@dataclass(frozen=True, slots=True)
class EpwYear:
    """A place and its 8760 hours, from 1 January, standard time. Longitude east is positive."""

    place: str
    latitude: float
    longitude: float
    zone_hours: float
    height_metres: float
    hours: tuple[EpwHour, ...]

    def sun_place(self, hour_of_year: float) -> SunPlace:
        """Where the sun stands at an hour of the year (0.0 is midnight before 1 January)."""
        day, clock = divmod(hour_of_year % HOURS_A_YEAR, 24.0)
        return sun_place(day + 1.0, clock, self.latitude, self.longitude, self.zone_hours)

    def celsius_at(self, hour_of_year: float) -> float:
        """Outdoor air between the hours, °C."""
        whole = int(hour_of_year // 1.0)
        part = hour_of_year - whole
        before, after = self.hours[(whole - 1) % HOURS_A_YEAR], self.hours[whole % HOURS_A_YEAR]
        return before.celsius + part * (after.celsius - before.celsius)


def read_epw(path: Path | str) -> EpwYear:
    """The year in a file. EpwError names the line and the mend."""
    path = Path(path)
    lines = _lines(path)
    if len(lines) < HEADER_LINES + 24 or not lines[0].upper().startswith("LOCATION,"):
        raise EpwError(
            f'{path}, line 1: an EPW file begins with "LOCATION," and has {HEADER_LINES} heading lines, then '
            "one line an hour. Save the .epw itself (not the .zip, .stat or .ddy beside it)"
        )
    place = _place(path, lines[0])
    rows = list(_rows(path, lines[HEADER_LINES:]))
    if len(rows) != HOURS_A_YEAR:
        raise EpwError(
            f"{path}: has {len(rows)} hours, and a year has {HOURS_A_YEAR}. Use a typical-year file with one line "
            "an hour and no 29 February"
        )
    columns = {column: _bridged(path, column, [row[column] for row in rows]) for column in _NAMES}
    hours = tuple(
        EpwHour(celsius, direct, diffuse, whole)
        for celsius, whole, direct, diffuse in zip(*(columns[c] for c in _NAMES), strict=True)
    )
    return EpwYear(*place, hours)


def _lines(path: Path) -> list[str]:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise EpwError(f"{path}: is larger than 20 MB, which no EPW file of a year is")
        return path.read_text(encoding="utf-8-sig", errors="replace").splitlines()
    except OSError as fault:
        raise EpwError(f"{path}: cannot be read ({fault.strerror}). Give the path of an .epw file") from None


def _place(path: Path, line: str) -> tuple[str, float, float, float, float]:
    words = line.split(",")
    try:
        north, east, zone, height = (float(word) for word in words[6:10])
    except ValueError:
        raise EpwError(
            f"{path}, line 1: latitude, longitude, time zone and elevation should be fields 7 to 10, as numbers"
        ) from None
    if not (abs(north) <= 90 and abs(east) <= 180 and abs(zone) <= 14 and isfinite(height)):
        raise EpwError(
            f"{path}, line 1: latitude {north:g}, longitude {east:g} or zone {zone:g} is no place on earth"
        )
    return words[1].strip() or "a place without a name", north, east, zone, height


def _rows(path: Path, lines: list[str]) -> Iterator[dict[int, float | None]]:
    before = (0, 0, 0)
    for number, line in enumerate(lines, HEADER_LINES + 1):
        if not line.strip():
            continue
        words = line.split(",")
        if len(words) <= _DIFFUSE:
            raise EpwError(
                f"{path}, line {number}: has {len(words)} fields, and an hour has 35. Get the file anew"
            )
        before = _after(path, number, words, before)
        if words[1].strip() == "2" and words[2].strip() == "29":
            continue  # the year of the rehearsal has 365 days
        yield {column: _value(path, number, column, words[column]) for column in _NAMES}


def _after(path: Path, number: int, words: list[str], before: tuple[int, int, int]) -> tuple[int, int, int]:
    """Month, day and hour of a line; hours are played by their place, so each must come after the one before it."""
    try:
        month, day, hour = (int(word) for word in words[1:4])
    except ValueError:
        told = ",".join(words[1:4])
        raise EpwError(
            f'{path}, line {number}: month, day and hour (fields 2 to 4) are "{told}", no numbers'
        ) from None
    if (month, day, hour) <= before:
        raise EpwError(
            f"{path}, line {number}: month {month}, day {day}, hour {hour} stands after month {before[0]}, day "
            f"{before[1]}, hour {before[2]}. The hours of a year stand in order: get the file anew"
        )
    return month, day, hour


def _value(path: Path, number: int, column: int, word: str) -> float | None:
    """The number in a field; None where the format's own sign for "missing" stands."""
    try:
        value = float(word)
    except ValueError:
        raise EpwError(
            f'{path}, line {number}: {_NAMES[column]} (field {column + 1}) is "{word.strip()}", no number'
        ) from None
    if isfinite(value) and value >= _MISSING[column]:
        return None
    lowest, highest = _RANGE[column]
    if not lowest <= value <= highest:
        raise EpwError(
            f"{path}, line {number}: {_NAMES[column]} (field {column + 1}) is {value:g}, which cannot be"
        )
    return value


def _bridged(path: Path, column: int, values: list[float | None]) -> list[float]:
    """Gaps filled along a straight line."""
    known = [at for at, value in enumerate(values) if value is not None]
    if not known:
        raise EpwError(f"{path}: has no {_NAMES[column]} at all. Use a file that has it")
    filled = [0.0 if value is None else value for value in values]
    for before, after in zip([-1, *known], [*known, len(values)], strict=True):
        gap = after - before - 1
        if gap > LONGEST_GAP_HOURS:
            raise EpwError(
                f"{path}, line {before + 2 + HEADER_LINES}: {_NAMES[column]} is missing for {gap} hours; "
                f"up to {LONGEST_GAP_HOURS} are bridged. Use a file without the gap"
            )
        if gap == 0:
            continue
        low = filled[before] if before >= 0 else filled[after]
        high = filled[after] if after < len(values) else low
        for at in range(before + 1, after):
            filled[at] = low + (high - low) * (at - before) / (after - before)
    return filled


class EpwWeather:
    """A year played from a wall time on, as a rehearsal's weather. `start` is aware; the year repeats."""

    def __init__(self, year: EpwYear, start: datetime, faces_degrees: float = 180.0) -> None:
        """`faces_degrees` is where the rooms' windows look: 180 is south."""
        if start.tzinfo is None:
            raise ValueError("start needs a time zone")
        self._year, self._faces = year, faces_degrees
        local = (start.astimezone(_UTC) + timedelta(hours=year.zone_hours)).replace(tzinfo=None)
        day = min(local.timetuple().tm_yday - _leap_shift(local), 365)
        self._first = (day - 1) * 24.0 + local.hour + local.minute / 60.0 + local.second / 3600.0

    def outdoor_celsius(self, seconds: float) -> float:
        """Outdoor air, °C."""
        return self._year.celsius_at(self._first + seconds / 3600.0)

    def sun_watts_per_square_metre(self, seconds: float) -> float:
        """Sun through an upright window, as on the glass and less what the angle takes away, W/m²."""
        return sun_through_glass(self._year, self._first + seconds / 3600.0, self._faces)


def sun_through_glass(year: EpwYear, hour_of_year: float, faces_degrees: float = 180.0) -> float:
    """Sun that upright glass with a solar gain of 1 at right angles would let in, W/m²."""
    hour = year.hours[int(hour_of_year % HOURS_A_YEAR)]
    if hour.global_horizontal <= 0.0:
        return 0.0
    day = hour_of_year % HOURS_A_YEAR // 24.0 + 1.0
    lights = hour.direct_normal, hour.diffuse_horizontal, hour.global_horizontal
    beam, rest, cosine = light_on(year.sun_place(hour_of_year), day, *lights, faces_degrees)
    return beam * glass_passes(cosine) + GLASS_PASSES_DIFFUSE * rest


def _leap_shift(local: datetime) -> int:
    leap = local.year % 4 == 0 and (local.year % 100 != 0 or local.year % 400 == 0)
    return 1 if leap and local.month > 2 else 0
