"""A Door for the tests: the real Regulator over an invented house whose rooms warm and cool by one simple law.

It keeps what the store would keep, in lists. Time is a number that the tests move.
"""

from __future__ import annotations

import asyncio
import tomllib
from collections.abc import Sequence
from copy import deepcopy
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

from thermostatd.core.asking import Accepted, Answer, Ask, Request
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import from_plain
from thermostatd.core.results import Result, Trouble
from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading
from thermostatd.edge.pages import keys
from thermostatd.edge.pages.door import Device, FileLook, Happened, Role, UsualWeekShown, View

START = datetime(2026, 1, 12, 15, 12, tzinfo=UTC)  # Monday, 16:12 in Oslo
STEP_SECONDS = 120.0
OUTDOOR_CELSIUS = -2.1


def house_of(text: str | None = None) -> House:
    """The invented house, or another written the same way."""
    return House.model_validate(tomllib.loads(text or (Path(__file__).parent / "house.toml").read_text()))


class Double:
    """A house that answers like the daemon."""

    def __init__(self, house: House | None = None) -> None:
        self.house = house or house_of()
        self.regulator = Regulator(self.house)
        self.steady, self.wall = 0.0, START
        self.air = {room.name: 17.0 for room in self.house.rooms}
        self.on = {key: False for key, _, _ in self.house.heaters()}
        self.points: dict[str, list[tuple[float, float | None, float | None]]] = {
            room.name: [] for room in self.house.rooms
        }
        self.drawn: dict[str, list[tuple[float, float]]] = {key: [] for key in self.on}
        self.result: Result | None = None
        self.asked: list[Request] = []
        self.troubles: tuple[Trouble, ...] = ()
        self.notes: tuple[str, ...] = ()
        self.silent: set[str] = set()
        self.forecast: tuple[float, ...] = ()
        self.broker_up, self.age_seconds = True, 2.0
        self.codes: dict[str, tuple[Role, str | None, datetime | None]] = {}
        self.known: dict[str, Device] = {}
        self.counter, self.ended = 1, False
        self.events: list[Happened] = []
        self.early: dict[str, list[tuple[float, float]]] = {}
        self.file: FileLook | None = None
        self.reads = 0
        self._bell = asyncio.Event()

    # time and physics

    def moment(self) -> Moment:
        """Now, on both clocks."""
        return Moment(self.wall, self.steady)

    def tick(self, seconds: float = STEP_SECONDS) -> None:
        """Time goes on, rooms warm or cool, and everything is decided anew."""
        self.wall += timedelta(seconds=seconds)
        self.steady += seconds
        for room in self.house.rooms:
            heat = sum(h.watts for h in room.heaters if self.on[room.key_of(h)])
            air = self.air[room.name]
            self.air[room.name] = air + seconds * (heat / 38.0 - (air - OUTDOOR_CELSIUS)) / 43_000
        self.decide()

    def decide(self) -> None:
        """One step of the real Regulator with what sensors and plugs would say now."""
        air: dict[str, Reading | Missing | float] = {
            name: round(value, 1) for name, value in self.air.items() if name not in self.silent
        }
        watts = {key: heater.watts * 0.97 for key, heater, _ in self.house.heaters()}
        plugs = {key: PlugReport(on=on, watts=watts[key] if on else 0.0) for key, on in self.on.items()}
        result = self.regulator.step(
            self.moment(),
            Observation(air=air, outdoor=OUTDOOR_CELSIUS, plugs=plugs, forecast=self.forecast),
        )
        self.result = replace(result, troubles=(*result.troubles, *self.troubles))
        self._keep(self.result)
        self.events += [
            Happened(self.wall, event.code, event.about, event.sentence) for event in result.events
        ]
        self.change()

    def _keep(self, result: Result) -> None:
        epoch = self.wall.timestamp()
        for name, room in result.rooms.items():
            air = None if isinstance(room.air, Missing) else room.air.celsius
            self.points[name].append((epoch, air, room.target.celsius))
        for key, order in result.orders.items():
            runs = self.drawn[key]
            if order.on and self.on[key] and runs:
                runs[-1] = (runs[-1][0], epoch)
            elif order.on:
                runs.append((epoch, epoch))
            self.on[key] = order.on

    def end(self) -> None:
        """The house stops: whoever waits for a change is told."""
        self.ended = True
        self.change()

    def change(self) -> None:
        """The change counter goes up."""
        self.counter += 1
        self._bell.set()
        self._bell = asyncio.Event()

    # the Door

    def view(self) -> View:
        """What holds now."""
        return View(self.moment(), self.result, self.age_seconds, self.broker_up, self.notes)

    async def do(self, request: Request) -> Answer:
        """Through the real door, and decided at once."""
        answer = self.regulator.do(self.moment(), request)
        self.asked.append(request)
        if isinstance(answer, Accepted):
            self.decide()
        return answer

    async def trace(self, room: str, hours: float) -> list[tuple[float, float | None, float | None]]:
        """The last hours."""
        self.reads += 1
        since = self.wall.timestamp() - hours * 3600
        return [point for point in self.points[room] if point[0] >= since]

    async def runs(self, heater: str, hours: float) -> list[tuple[float, float]]:
        """The last hours' runs."""
        since = self.wall.timestamp() - hours * 3600
        return [run for run in self.drawn[heater] if run[1] >= since]

    async def week_ahead(self, room: str) -> list[tuple[float, float]]:
        """The coming steps."""
        return self.regulator.week_ahead(room, self.moment())

    async def heating_begins(self, room: str) -> list[tuple[float, float]]:
        """What the test says."""
        return self.early.get(room, [])

    def usual_week(self, room: str) -> UsualWeekShown:
        """The week in force."""
        steps, kept = self.regulator.usual_week(room)
        changed = datetime.fromtimestamp(kept.changed_wall, UTC) if kept else None
        return UsualWeekShown(steps, kept.who if kept else None, changed)

    def memory(self) -> Memory:
        """A copy of the regulator's."""
        return from_plain(self.regulator.memory)

    async def happened(self, hours: float, about: str | None = None, limit: int = 200) -> list[Happened]:
        """The last hours' events, newest first."""
        since = self.wall - timedelta(hours=hours)
        found = [one for one in self.events if one.at >= since and about in (None, one.about)]
        return found[::-1][:limit]

    async def energies(self, pieces: Sequence[tuple[datetime, datetime]]) -> dict[str, list[float]]:
        """Watt-hours of the runs in each piece."""
        return {
            key: [one.watts * 0.97 * self._hours(key, *piece) for piece in pieces]
            for key, one, _ in self.house.heaters()
        }

    def _hours(self, key: str, since: datetime, until: datetime) -> float:
        begins, ends = since.timestamp(), until.timestamp()
        return sum(max(0.0, min(b, ends) - max(a, begins)) for a, b in self.drawn[key]) / 3600

    async def look_at_file(self) -> FileLook | None:
        """What the test says."""
        return self.file

    async def devices(self) -> list[Device]:
        """Who joined."""
        return list(self.known.values())

    async def add_code(
        self, role: Role, minutes: float, room: str | None = None, until: datetime | None = None
    ) -> str:
        """A code, kept as its digest."""
        code = keys.new_code()
        self.codes[keys.digest_of(code)] = (role, room, until)
        return code

    async def join(self, code: str, name: str) -> str | None:
        """Once."""
        given = self.codes.pop(keys.digest_of(code), None)
        if given is None:
            return None
        role, room, until = given
        token = keys.new_token()
        digest = keys.digest_of(token)
        self.known[digest] = Device(digest[:12], name, role, self.wall, room, until, self.wall)
        return token

    async def device(self, token: str) -> Device | None:
        """Whose token."""
        found = self.known.get(keys.digest_of(token))
        return None if found and found.until and found.until <= self.wall else found

    async def rename(self, device_id: str, name: str) -> None:
        """Another name."""
        for digest, device in self.known.items():
            if device.id == device_id:
                self.known[digest] = replace(device, name=name)

    async def forget(self, device_id: str) -> None:
        """Gone."""
        self.known = {digest: device for digest, device in self.known.items() if device.id != device_id}

    async def changed(self, since: int) -> int:
        """Waits for the counter."""
        while self.counter <= since and not self.ended:
            await self._bell.wait()
        return -1 if self.ended else self.counter

    def health(self) -> dict[str, object]:
        """Well once it decided."""
        return {"ok": self.result is not None}

    def metrics(self) -> str:
        """One gauge."""
        return "# TYPE ticks counter\nticks_total 1\n# EOF\n"


@cache
def _a_day() -> tuple[object, ...]:
    lived = Double()
    lived.wall -= timedelta(days=1)
    for _ in range(int(86400 / STEP_SECONDS)):
        lived.tick()
    return lived.regulator.memory, lived.steady, lived.air, lived.on, lived.points, lived.drawn, lived.events


def lived_a_day(asked: bool = True) -> Double:
    """A house after a day of life, Ana having asked for 20.5° in the study until 18:00."""
    memory, steady, air, on, points, drawn = deepcopy(_a_day()[:6])
    double = Double()
    double.regulator = Regulator(double.house, memory)  # type: ignore[arg-type]
    double.steady = steady  # type: ignore[assignment]
    double.air, double.on = dict(air), dict(on)  # type: ignore[call-overload]
    double.points = {name: list(line) for name, line in points.items()}  # type: ignore[attr-defined]
    double.drawn = {key: list(line) for key, line in drawn.items()}  # type: ignore[attr-defined]
    double.events = list(_a_day()[6])  # type: ignore[call-overload]
    if asked:
        double.regulator.do(double.moment(), Ask("study", 20.5, double.wall + timedelta(minutes=108), "Ana"))
    double.decide()
    return double
