"""Tells stories of a house in virtual time: time is a number that is added to, and nothing sleeps.

Rules: a house is TOML text (invented, in no real place); each room's air is a number, a function of the
story, or None for a silent sensor; plugs obey and report unless told otherwise; every step is held against
the rules that hold always (`always.py`).
"""

from __future__ import annotations

import json
import math
import tomllib
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from tests.stories.always import hold
from thermostatd.core.asking import AllOff, Answer, Ask, Cancel, Out, Request, Seen, WarmMe
from thermostatd.core.house import House
from thermostatd.core.learning import History
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken
from thermostatd.core.results import Order, Result, Verdict
from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading

STUDY = """
[house]
name = "Quay House"
timezone = "{zone}"
{house}
[[circuit]]
name = "north"
breaker_amps = 16
[[room]]
name = "study"
sensor = {{ topic = "study/air" {sensor} }}
usual = [{{ days = "daily", at = "00:00", celsius = 20 }}]
{room}
[[room.heater]]
name = "column"
watts = 600
circuit = "north"
may_run = ["awake", "asleep", "away"]
{heater}
plug = {{ kind = "simulated" }}
{more}
"""
SPOT = """
[[spot]]
name = "sewing table"
longest = "90 min"
[spot.heater]
name = "panel"
kind = "infrared"
watts = 900
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
"""
SECOND = """
[[room.heater]]
name = "{name}"
watts = {watts}
circuit = "north"
may_run = ["awake", "asleep", "away"]
plug = {{ kind = "simulated" }}
"""
COLUMN, PANEL = "study/column", "sewing table/panel"

Air = float | Reading | Missing | None | Callable[["Story"], object]


def house_of(toml: str) -> House:
    """The house of a TOML text."""
    return House.model_validate(tomllib.loads(toml))


def study(*, zone="UTC", house="", room="", heater="", sensor="", more="") -> str:
    """A house of one room with one heater, and what a story adds to each table."""
    return STUDY.format(zone=zone, house=house, room=room, heater=heater, sensor=sensor, more=more)


@dataclass
class Plant:
    """A first-order room: full power lifts it by `rise` K over outdoors, with time constant and dead time in s."""

    celsius: float = 18.0
    outdoor: float = 2.0
    rise: float = 30.0
    tau: float = 14400.0
    dead: float = 0.0
    key: str = COLUMN
    step: float = 0.0
    heat: deque[tuple[float, float]] = field(default_factory=deque)

    def live(self, now: float, seconds: float, share: float) -> None:
        """Let time pass up to `now` under a share of full power, exactly for a tick of even power."""
        self.heat.append((now - seconds, share))
        acting = share if not self.dead else 0.0
        while self.heat and self.heat[0][0] <= now - seconds - self.dead + 1e-6:
            acting = self.heat[0][1]
            self.heat.popleft()
        end = self.outdoor + self.rise * acting
        self.celsius = end + (self.celsius - end) * math.exp(-seconds / self.tau)

    def __call__(self, story: Story) -> float:
        """What the room's sensor says: in steps, where it has them."""
        return round(self.celsius / self.step) * self.step if self.step else self.celsius


@dataclass
class Plug:
    """A plug with a timer and a meter. Watts when on; delays in seconds; `period` of its reports in seconds."""

    watts: float = 600.0
    on: bool = False
    off_at: float = float("inf")
    obeys: bool = True
    delay: float = 0.0
    online: bool = True
    welded: bool = False
    shows: bool = True
    period: float = 10.0
    volts: float | None = 230.0
    warm: float | None = None
    only_changes: bool = False
    orders: list[tuple[float, bool]] = field(default_factory=list)
    switchings: list[tuple[float, bool]] = field(default_factory=list)
    _reported_at: float = -1e9
    _reported: tuple[object, ...] = ()

    def tell(self, now: float, on: bool, seconds: float) -> None:
        """An order on its way; it arrives after the delay, unless the plug is away or deaf."""
        if self.online and self.obeys:
            self.orders.append((now + self.delay, on))
            self._off_at_if_on = now + self.delay + seconds

    def turn(self, now: float, on: bool, off_at: float = float("inf")) -> None:
        """The contact moves, by an order or by hand."""
        if on != self.on:
            self.switchings.append((now, on))
        self.on, self.off_at = on, off_at

    def live(self, now: float) -> None:
        """Take in the orders that have arrived, and lapse."""
        for at, on in [order for order in self.orders if order[0] <= now]:
            self.turn(now, on, self._off_at_if_on if on else float("inf"))
            self.orders.remove((at, on))
        if self.on and now >= self.off_at:
            self.turn(now, False)

    def draws(self) -> float:
        """Power carried now, W."""
        return self.watts if self.on or self.welded else 0.0

    def report(self, now: float) -> PlugReport | None:
        """What it says now; None while it says nothing."""
        if not self.online:
            return PlugReport(reachable=False)
        state = (self.on, self.draws(), self.warm, self.volts)
        changed = state != self._reported
        if not changed and (self.only_changes or now - self._reported_at < self.period - 1e-6):
            return None
        self._reported, self._reported_at = state, now
        on = self.on if self.shows else None
        return PlugReport(on=on, watts=self.draws(), volts=self.volts, warm_celsius=self.warm,
                          on_at=now, watts_at=now, warm_at=now)


class Story:
    """One house, from a local wall time on. `result` is the last step's; `events` all that happened."""

    def __init__(self, toml: str | None = None, start: str = "2026-01-12 12:00", *, air: float = 18.0,
                 tick: float = 10.0, sensor_every: float = 60.0, memory: Mapping | None = None) -> None:
        self.house = house_of(toml if toml is not None else study())
        self.zone = ZoneInfo(self.house.house.timezone)
        local = datetime.fromisoformat(start).replace(tzinfo=self.zone)
        self.steady = 1000.0
        self.offset = local.timestamp() - self.steady
        self.tick, self.sensor_every = tick, sensor_every
        self.regulator = Regulator(self.house, memory=memory)
        self.plugs = {key: Plug(watts=heater.watts) for key, heater, _ in self.house.heaters()}
        self.air: dict[str, Air] = {room.name: air for room in self.house.rooms}
        self.outdoor: object = 2.0
        self.battery: dict[str, float] = {}
        self.stopping = False
        self.history: History | None = None
        self.events: list = []
        self.steps: list[tuple[float, dict[str, Order]]] = []
        self.result: Result | None = None
        self._sensed_at = -1e9

    # -- time

    @property
    def wall(self) -> datetime:
        """The machine's wall clock, UTC; it may be wrong."""
        return datetime.fromtimestamp(self.steady + self.offset, UTC)

    @property
    def moment(self) -> Moment:
        """Now, on both clocks."""
        return Moment(self.wall, self.steady)

    def local(self) -> datetime:
        """The wall clock in the house's zone."""
        return self.wall.astimezone(self.zone)

    def step(self) -> Result:
        """One tick now: sense, decide, tell; then a tick's time passes."""
        seen = self.observation()
        result = self.result = self.regulator.step(self.moment, seen)
        hold(self.regulator.house, self.regulator, result, self.steady)
        if self.history is not None:
            self.history.add(self.moment, seen, result)
        self.events += [(self.steady, event.code, event.about) for event in result.events]
        for key, order in result.orders.items():
            if order.retell:
                self.plugs[key].tell(self.steady, order.on, order.lapses - self.steady)
        self.steps.append((self.steady, dict(result.orders)))
        self.steady += self.tick
        for plug in self.plugs.values():
            plug.live(self.steady)
        for plant in self.air.values():
            if isinstance(plant, Plant):
                plug = self.plugs[plant.key]
                plant.live(self.steady, self.tick, plug.draws() / self.house_watts(plant.key))
        return result

    def house_watts(self, key: str) -> float:
        """Power of a heater as the house file has it, W."""
        return next(heater.watts for known, heater, _ in self.house.heaters() if known == key)

    def observation(self) -> Observation:
        """What is new at this tick."""
        air = {}
        if self.steady - self._sensed_at >= self.sensor_every - 1e-6:
            self._sensed_at = self.steady
            for room, value in self.air.items():
                value = value(self) if callable(value) else value
                if value is not None:
                    air[room] = value
        reports = {key: report for key, plug in self.plugs.items() if (report := plug.report(self.steady))}
        return Observation(air=air, outdoor=self.outdoor, plugs=reports,
                           battery_percent=self.battery, stopping=self.stopping)

    def run(self, minutes: float = 0.0, *, hours: float = 0.0, seconds: float = 0.0, **air) -> Story:
        """Let time pass, with some rooms' air set first."""
        self.air.update(air)
        end = self.steady + 60.0 * minutes + 3600.0 * hours + seconds
        while self.steady < end - 1e-6:
            self.step()
        return self

    def at(self, clock: str) -> Story:
        """Run until the house's clock next shows that time, and one tick on."""
        hour, minute = map(int, clock.split(":"))
        goal = self.local().replace(hour=hour, minute=minute, second=0, microsecond=0)
        if goal.timestamp() < self.wall.timestamp() - 1e-6:
            goal = (goal + timedelta(days=1)).replace(hour=hour, minute=minute)
        return self.run(seconds=goal.timestamp() - self.wall.timestamp() + self.tick)

    def until(self, holds: Callable[[Story], bool], hours: float = 24.0) -> float:
        """Run until something holds; gives the steady second at which it did, and fails if it never did."""
        end = self.steady + 3600.0 * hours
        while self.steady < end:
            self.step()
            if holds(self):
                return self.steady - self.tick
        raise AssertionError(f"it did not come to hold within {hours} hours")

    def jump_wall(self, hours: float) -> Story:
        """Someone or something sets the wall clock."""
        self.offset += 3600.0 * hours
        return self

    def restart(self, *, down_seconds: float = 20.0, **known) -> Story:
        """The process ends without a word and another starts on its memory, by way of JSON."""
        plain = json.loads(json.dumps(self.regulator.memory))
        self.steady += down_seconds
        for plug in self.plugs.values():
            plug.turn(self.steady, False)
            plug._reported_at = -1e9
            plug._reported = ()
        self._sensed_at = -1e9
        self.regulator = Regulator(self.house, memory=awaken(plain, **known))
        return self

    # -- asking

    def do(self, request: Request) -> Answer:
        """Anything, through the one door."""
        return self.regulator.do(self.moment, request)

    def ask(self, celsius: float, until=None, room: str = "study", who: str | None = "Ana") -> Answer:
        """Another target."""
        return self.do(Ask(room, celsius, who=who) if until is None else Ask(room, celsius, until, who))

    def warm_me(self, minutes: float, who: str = "Bo") -> Answer:
        """Heat on the spot."""
        return self.do(WarmMe("sewing table", minutes, who))

    def seen(self, code: str, about: str = COLUMN) -> Answer:
        """The owner has looked."""
        return self.do(Seen(f"{about}/{code}", "owner"))

    def out(self, **how) -> Answer:
        """Nobody is in."""
        return self.do(Out(**how))

    def all_off(self, who: str = "Ana") -> Answer:
        """Everything off."""
        return self.do(AllOff(who))

    def cancel(self, what) -> Answer:
        """Take back."""
        return self.do(Cancel(what))

    def press(self, on: bool, key: str = COLUMN) -> Story:
        """Someone presses the plug's button."""
        self.plugs[key].turn(self.steady, on)
        return self

    # -- looking

    def on(self, key: str = COLUMN) -> bool:
        """Whether a heater is ordered on."""
        return self.result.orders[key].on

    def code(self, key: str = COLUMN) -> str:
        """The code of a heater's order."""
        return self.result.orders[key].reason.code

    def said(self, code: str, key: str = COLUMN) -> Verdict | None:
        """What one interlock or pace rule said of a heater; None if pace said nothing of it."""
        spot = next((spot for spot in self.house.spots if spot.key == key), None)
        heater = self.result.spots[spot.name].heater if spot else self.result.rooms[key.partition("/")[0]].heaters[key]
        return next((verdict for verdict in heater.verdicts if verdict.code == code), None)

    def tripped(self, code: str, key: str = COLUMN) -> bool:
        """Whether it tripped."""
        verdict = self.said(code, key)
        return verdict is not None and verdict.tripped

    def troubles(self) -> dict[str, object]:
        """The troubles by id."""
        return {trouble.id: trouble for trouble in self.result.troubles}

    def happened(self, code: str) -> int:
        """How often something happened."""
        return sum(event[1] == code for event in self.events)

    def switchings(self, key: str = COLUMN) -> list[tuple[float, bool]]:
        """Steady seconds and states at which the order changed."""
        changes, before = [], False
        for at, orders in self.steps:
            if orders[key].on != before:
                before = orders[key].on
                changes.append((at, before))
        return changes
