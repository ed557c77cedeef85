"""What learning needs, kept apart from memory, and the slow part that learns from it.

Rules: a History holds at most six days of minutes, each room's in four flat arrays (about 140 kB); a minute without
a new reading holds NaN; `fit` says nothing of a room whose record does not tell; what it gives is JSON-able and goes
to `Regulator.adopt`. It imports numpy, so the daemon runs it in a process of its own.
"""

from __future__ import annotations

import base64
import math
import zlib
from array import array
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.forecast import MILD_CELSIUS, outdoors_now
from thermostatd.core.house import House
from thermostatd.core.results import HeaterResult, Result
from thermostatd.core.values import Moment, Observation, PlugReport, Reading, is_finite

MOST_MINUTES = 6 * 1440
SLACK_MINUTES = 60
LONGEST_HOLE_MINUTES = 720
METER_SETTLE_SECONDS = 60.0
DRAWING_SHARE = 0.03
COLUMNS = ("celsius", "outdoor", "neighbours", "watts")
NOTHING = math.nan


@dataclass
class _Minute:
    """One minute in the making: sums of what was read and drawn."""

    index: int
    steps: int = 0
    readings: int = 0
    celsius: float = 0.0
    watts: float = 0.0
    outdoor: float = MILD_CELSIUS
    neighbours: float = NOTHING


@dataclass
class RoomHistory:
    """Even minutes of one room. `first` is the steady minute of the first entry."""

    first: int = 0
    columns: dict[str, array[float]] = field(default_factory=lambda: {name: array("f") for name in COLUMNS})
    minute: _Minute | None = None
    last_at: float = -math.inf

    def __len__(self) -> int:
        return len(self.columns["celsius"])

    def add(
        self, steady: float, air: Reading | None, watts: float, outdoor: float, neighbours: float
    ) -> None:
        """Take one step in; `watts` is what the room's heaters draw."""
        index = int(steady // 60.0)
        if self.minute is None or self.minute.index != index:
            self._close()
            self.minute = _Minute(index)
        self.minute.steps += 1
        self.minute.watts += watts
        self.minute.outdoor, self.minute.neighbours = outdoor, neighbours
        at = steady if air is None or air.at is None else air.at
        if air is not None and at > self.last_at:
            self.last_at = at
            self._read(air.celsius, ended=at < 60.0 * index + 30.0)

    def _read(self, celsius: float, *, ended: bool) -> None:
        """A reading stands at the end of its minute; one from early in a minute ends the minute before."""
        column = self.columns["celsius"]
        if ended and len(column):
            column[-1] = celsius if math.isnan(column[-1]) else 0.5 * (column[-1] + celsius)
        elif self.minute is not None:
            self.minute.readings += 1
            self.minute.celsius += celsius

    def _close(self) -> None:
        done = self.minute
        if done is None:
            return
        if not len(self) or not 0 <= done.index - self.first - len(self) <= LONGEST_HOLE_MINUTES:
            self._forget(len(self))
            self.first = done.index
        for _ in range(done.index - self.first - len(self)):
            self._append(NOTHING, done.outdoor, done.neighbours, done.watts / done.steps)
        celsius = done.celsius / done.readings if done.readings else NOTHING
        self._append(celsius, done.outdoor, done.neighbours, done.watts / done.steps)
        if len(self) > MOST_MINUTES + SLACK_MINUTES:
            self._forget(len(self) - MOST_MINUTES)

    def five_minute_means(self, full_watts: float) -> list[tuple[float, float, float]]:
        """Air °C, outdoor °C and share of full power in the longest stretch where every five minutes had a reading."""
        best: list[tuple[float, float, float]] = []
        run: list[tuple[float, float, float]] = []
        celsius, outdoor, watts = (self.columns[name] for name in ("celsius", "outdoor", "watts"))
        for start in range(0, len(self) - 4, 5):
            heard = [value for value in celsius[start : start + 5] if not math.isnan(value)]
            if not heard:
                run = []
                continue
            share = sum(watts[start : start + 5]) / 5.0 / full_watts
            run.append((sum(heard) / len(heard), sum(outdoor[start : start + 5]) / 5.0, share))
            best = run if len(run) > len(best) else best
        return best

    def _append(self, *values: float) -> None:
        for column, value in zip(self.columns.values(), values, strict=True):
            column.append(value)

    def _forget(self, count: int) -> None:
        for column in self.columns.values():
            del column[:count]
        self.first += count


@dataclass
class _Draw:
    """What is known of one heater's power: since when its order holds, and what it last drew while on, W."""

    on: bool = False
    since: float = -math.inf
    level: float | None = None
    watts: float | None = None


class History:
    """The record of a house that `fit` learns from."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._zone = ZoneInfo(house.house.timezone)
        self.rooms = {room.name: RoomHistory() for room in house.rooms}
        self.models: dict[str, dict[str, Any]] = {}
        """What `fit` gave last, for the next fit to be held against."""
        self.clock_minutes: float = 0.0
        """Local minute of the day at steady second zero."""
        self._draws: dict[str, _Draw] = {}
        self._heaters = {key: heater for key, heater, _ in house.heaters()}

    def add(self, moment: Moment, observation: Observation, result: Result) -> None:
        """Take one decided step in."""
        local = moment.wall.astimezone(self._zone)
        self.clock_minutes = (
            local.hour * 60.0 + local.minute + local.second / 60.0 - moment.steady / 60.0
        ) % 1440.0
        felt = result.house.outdoor
        outdoor = outdoors_now(felt.celsius if isinstance(felt, Reading) else None, result.house.forecast)
        airs = {name: room.air for name, room in result.rooms.items() if isinstance(room.air, Reading)}
        total = sum(air.celsius for air in airs.values())
        for room in self._house.rooms:
            air = airs.get(room.name)
            others = len(airs) - (air is not None)
            around = (total - (air.celsius if air else 0.0)) / others if others else NOTHING
            watts = self._watts(moment.steady, observation.plugs, result.rooms[room.name].heaters)
            self.rooms[room.name].add(moment.steady, air, watts, outdoor, around)

    def _watts(
        self, steady: float, reports: Mapping[str, PlugReport], decided: Mapping[str, HeaterResult]
    ) -> float:
        """What a room's heaters draw from this step on, by meter where one tells."""
        total = 0.0
        for key in decided:  # as they stand: one may have been moved by hand
            heater = self._heaters[key]
            draw = self._draws.setdefault(key, _Draw())
            _meter(draw, reports.get(key), steady, heater.watts)
            on = decided[key].on or (decided[key].by_hand and decided[key].shown_on is True)
            if on != draw.on:
                draw.on, draw.since, draw.watts = on, steady, None
            if on:
                known = draw.watts if draw.watts is not None else draw.level
                total += known if known is not None else heater.watts
        return total

    def to_plain(self) -> dict[str, Any]:
        """All of it, JSON-able: the arrays packed and spelled in base 64."""
        rooms = {
            name: {
                "first": room.first,
                **{column: _spelled(values) for column, values in room.columns.items()},
            }
            for name, room in self.rooms.items()
        }
        return {"version": 1, "clock_minutes": self.clock_minutes, "models": self.models, "rooms": rooms}

    @classmethod
    def from_plain(
        cls, house: House, plain: Mapping[str, Any], names: Mapping[str, str] | None = None
    ) -> History:
        """What `to_plain` gave, for the rooms that the house still has; `names` are new names of some, `{old: new}`.
        ValueError where it cannot be read."""
        history = cls(house)
        try:
            if plain["version"] != 1:
                raise ValueError("it is of another version")
            history.clock_minutes = float(plain["clock_minutes"])
            now = names or {}
            history.models = {now.get(str(name), str(name)): dict(model) for name, model in plain["models"].items()}
            for name, room in ((now.get(name, name), room) for name, room in plain["rooms"].items()):
                if name in history.rooms:
                    columns = {column: _read(room[column]) for column in COLUMNS}
                    if len({len(values) for values in columns.values()}) != 1:
                        raise ValueError(f'the columns of "{name}" are not of one length')
                    history.rooms[name] = RoomHistory(int(room["first"]), columns)
        except (KeyError, TypeError, AttributeError, zlib.error) as fault:
            raise ValueError(f"this history cannot be read: {fault!r}") from fault
        return history


def _meter(draw: _Draw, report: PlugReport | None, steady: float, nominal: float) -> None:
    """A meter's word counts from a minute after the last switching on."""
    if report is None or not is_finite(report.watts) or not draw.on:
        return
    at = report.watts_at if is_finite(report.watts_at) else steady
    if at < draw.since + METER_SETTLE_SECONDS:
        return
    draw.watts = max(0.0, float(report.watts))
    if draw.watts > DRAWING_SHARE * nominal:
        draw.level = draw.watts


def _spelled(values: array[float]) -> str:
    return base64.b64encode(zlib.compress(values.tobytes(), 6)).decode("ascii")


def _read(text: str) -> array[float]:
    values = array("f")
    values.frombytes(zlib.decompress(base64.b64decode(text, validate=True)))
    return values


def fit(
    house: House, history: History, known: Mapping[str, Mapping[str, Any]] | None = None
) -> dict[str, dict[str, Any]]:
    """A model of every room whose record tells one, JSON-able; `known` are the models in use, if not by this history.

    Every model carries `gain_kelvin`, `tau_seconds` and `dead_seconds`, which proportional control is tuned by. One
    that was found good enough to search with carries the `thermal` part besides (see thermostatd.core.modelling).
    """
    from thermostatd.core.modelling import model_of

    models: dict[str, dict[str, Any]] = {}
    for room in house.rooms:
        before = (known or history.models).get(room.name)
        learned = model_of(room, len(house.rooms), history.rooms[room.name], history.clock_minutes, before)
        if learned is not None:
            models[room.name] = learned
    history.models.update(models)
    return models
