"""Observations as short columns of whole numbers, and back, exactly.

Rules: what the rules are given is rounded first (times to the millisecond, temperatures, watts, volts and per
cent to a thousandth), so that what is kept is what was decided upon; each path of an observation is a column
over the steps of one part, in differences; what is no plain value is kept as JSON beside them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any, TypeGuard

from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading, is_finite

PER_UNIT = 1000.0
MOST = 2**53 / PER_UNIT
OUTDOOR = "o"
FORECAST = "f"
PLUG_TIMES = ("on_at", "watts_at", "warm_at", "back_at", "opened_at")
PLUG_AMOUNTS = ("watts", "volts", "warm_celsius")
Path = tuple[str, ...]
Columns = dict[Path, dict[int, int]]


@dataclass
class Sheet:
    """The columns of some steps: path -> step -> thousandths; and what is no number, by path and step."""

    steady: list[int]
    wall: list[int]
    columns: Columns
    odd: list[tuple[int, list[str], Any]]


def rounded(moment: Moment, seen: Observation) -> tuple[Moment, Observation]:
    """The same, as precise as it is kept. Values that are no finite numbers are left for the core to refuse."""
    return rounded_moment(moment), Observation(
        {room: _rounded_air(value) for room, value in seen.air.items()},
        None if seen.outdoor is None else _rounded_air(seen.outdoor),
        {key: _rounded_report(report) for key, report in seen.plugs.items()},
        {room: _near(value) for room, value in seen.humidity_percent.items() if _sound(value)},
        {room: _near(value) for room, value in seen.battery_percent.items() if _sound(value)},
        seen.stopping,
        _rounded_forecast(seen.forecast),
    )


def rounded_moment(moment: Moment) -> Moment:
    """A moment to the millisecond on both clocks."""
    wall = moment.wall.astimezone(UTC)
    return Moment(wall.replace(microsecond=wall.microsecond // 1000 * 1000), _near(moment.steady))


def sheet_of(steps: Iterable[tuple[Moment, Observation]]) -> Sheet:
    """The columns of rounded steps."""
    sheet = Sheet([], [], {}, [])
    for index, (moment, seen) in enumerate(steps):
        steady = _whole(moment.steady)
        sheet.steady.append(steady)
        sheet.wall.append(round(moment.wall.timestamp() * PER_UNIT))
        for room, value in seen.air.items():
            _put_air(sheet, index, ("a", room), value, steady)
        if seen.outdoor is not None:
            _put_air(sheet, index, (OUTDOOR,), seen.outdoor, steady)
        if seen.forecast:
            sheet.odd.append((index, [FORECAST], _differences([_whole(one) for one in seen.forecast])))
        for key, report in seen.plugs.items():
            _put_report(sheet, index, key, report, steady)
        for letter, told in (("h", seen.humidity_percent), ("b", seen.battery_percent)):
            for room, percent in told.items():
                _put(sheet, index, (letter, room), _whole(percent))
        if seen.stopping:
            _put(sheet, index, ("stopping",), 1)
    return sheet


def steps_of(sheet: Sheet) -> list[tuple[Moment, Observation]]:
    """The steps of a sheet: what `sheet_of` was given."""
    found: list[dict[str, Any]] = [
        {"air": {}, "outdoor": None, "plugs": {}, "h": {}, "b": {}, "stopping": False, "forecast": ()}
        for _ in sheet.steady
    ]
    for index, where, what in sheet.odd:
        if where[0] == FORECAST:
            found[index]["forecast"] = tuple(one / PER_UNIT for one in _sums(what))
        else:
            _place_air(found[index], tuple(where), Missing(what[0], what[1], what[2]))
    for path, column in sheet.columns.items():
        for index, value in column.items():
            _place(found[index], path, value, sheet.steady[index])
    return [
        (Moment(_wall_of(wall), steady / PER_UNIT), _observation(one))
        for wall, steady, one in zip(sheet.wall, sheet.steady, found, strict=True)
    ]


def packed_sheet(sheet: Sheet) -> dict[str, Any]:
    """A sheet as JSON-able differences."""
    return {
        "steady": _differences(sheet.steady),
        "offset": _differences([w - s for w, s in zip(sheet.wall, sheet.steady, strict=True)]),
        "columns": [
            [list(path), _differences(list(column)), _differences(list(column.values()))]
            for path, column in sheet.columns.items()
        ],
        "odd": [list(one) for one in sheet.odd],
    }


def unpacked_sheet(plain: Mapping[str, Any]) -> Sheet:
    """The sheet of `packed_sheet`."""
    steady = _sums(plain["steady"])
    wall = [s + offset for s, offset in zip(steady, _sums(plain["offset"]), strict=True)]
    columns = {
        tuple(path): dict(zip(_sums(indices), _sums(values), strict=True))
        for path, indices, values in plain["columns"]
    }
    return Sheet(steady, wall, columns, [(i, path, what) for i, path, what in plain["odd"]])


# -- to columns


def _put(sheet: Sheet, index: int, path: Path, value: int) -> None:
    sheet.columns.setdefault(path, {})[index] = value


def _put_air(sheet: Sheet, index: int, path: Path, value: Reading | Missing | float, steady: int) -> None:
    if isinstance(value, Missing):
        sheet.odd.append((index, list(path), [value.why, value.at, value.implausible]))
        return
    reading = value if isinstance(value, Reading) else Reading(value)
    _put(sheet, index, (*path, "c"), _whole(reading.celsius))
    if reading.at is not None:
        _put(sheet, index, (*path, "at"), _whole(reading.at) - steady)


def _put_report(sheet: Sheet, index: int, key: str, report: PlugReport, steady: int) -> None:
    _put(sheet, index, ("p", key, "reachable"), int(report.reachable is not False))
    if isinstance(report.on, bool):
        _put(sheet, index, ("p", key, "on"), int(report.on))
    for name in PLUG_AMOUNTS:
        value = getattr(report, name)
        if value is not None:
            _put(sheet, index, ("p", key, name), _whole(value))
    for name in PLUG_TIMES:
        value = getattr(report, name)
        if value is not None:
            _put(sheet, index, ("p", key, name), _whole(value) - steady)


def _rounded_air(value: Reading | Missing | float) -> Reading | Missing | float:
    if isinstance(value, Missing):
        return replace(value, at=_near_or_none(value.at))
    if not isinstance(value, Reading):
        return _near(value) if _sound(value) else Missing(f"{value!r:.40} is not a number")
    if not _sound(value.celsius):
        return Missing(f"{value.celsius!r:.40} is not a number", _near_or_none(value.at))
    return Reading(_near(value.celsius), _near_or_none(value.at))


def _rounded_forecast(told: tuple[float, ...]) -> tuple[float, ...]:
    """Empty where it holds what is no number: the core would refuse it whole."""
    return tuple(_near(one) for one in told) if all(_sound(one) for one in told) else ()


def _rounded_report(report: PlugReport) -> PlugReport:
    amounts = {name: _near_or_none(getattr(report, name)) for name in (*PLUG_AMOUNTS, *PLUG_TIMES)}
    on = report.on if isinstance(report.on, bool) else None
    return PlugReport(on=on, reachable=report.reachable is not False, **amounts)


def _sound(value: object) -> TypeGuard[float]:
    return is_finite(value) and abs(value) < MOST


def _near_or_none(value: object) -> float | None:
    return _near(value) if _sound(value) else None


def _whole(value: float) -> int:
    return round(value * PER_UNIT)


def _near(value: float) -> float:
    return _whole(value) / PER_UNIT


# -- and back


def _place(step: dict[str, Any], path: Path, value: int, steady: int) -> None:
    if path[0] == "p":
        report = step["plugs"].setdefault(path[1], {})
        report[path[2]] = _plug_value(path[2], value, steady)
    elif path[0] in ("h", "b"):
        step[path[0]][path[1]] = value / PER_UNIT
    elif path[0] == "stopping":
        step["stopping"] = True
    elif path[-1] == "c":
        _place_air(step, path[:-1], Reading(value / PER_UNIT))
    else:  # "at" comes after "c" in every sheet
        _place_air(step, path[:-1], replace(_air_at(step, path[:-1]), at=(steady + value) / PER_UNIT))


def _plug_value(name: str, value: int, steady: int) -> bool | float:
    if name in ("on", "reachable"):
        return bool(value)
    return (steady + value) / PER_UNIT if name in PLUG_TIMES else value / PER_UNIT


def _place_air(step: dict[str, Any], path: Path, value: Reading | Missing) -> None:
    if path[0] == OUTDOOR:
        step["outdoor"] = value
    else:
        step["air"][path[1]] = value


def _air_at(step: dict[str, Any], path: Path) -> Reading:
    found: Reading = step["outdoor"] if path[0] == OUTDOOR else step["air"][path[1]]
    return found


def _observation(one: Mapping[str, Any]) -> Observation:
    plugs = {key: PlugReport(**report) for key, report in one["plugs"].items()}
    return Observation(
        one["air"], one["outdoor"], plugs, one["h"], one["b"], one["stopping"], one["forecast"]
    )


def _wall_of(milliseconds: int) -> datetime:
    seconds, rest = divmod(milliseconds, 1000)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=rest * 1000)


def _differences(values: list[int]) -> list[int]:
    return [value - before for value, before in zip(values, [0, *values], strict=False)]


def _sums(differences: list[int]) -> list[int]:
    found, total = [], 0
    for difference in differences:
        total += difference
        found.append(total)
    return found
