"""A house lived through some cold days under one control law, learning as in life.

Rules: nothing leaves the process; a step a minute (life's is every `tick` seconds); the days before the judged ones
warm the house up and teach it; learning is done on some nights (life's on each); the same seed gives every law the
same house, weather, sensors and people; judged is the air as judging.py has it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from thermostatd.core.guard import not_allowed_now
from thermostatd.core.house import House
from thermostatd.core.learning import History, fit
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result
from thermostatd.core.tariff import Prices
from thermostatd.core.values import Moment
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.judging import RoomJudge, RoomOutcome
from thermostatd.rehearsal.nature import Weather

STEP_SECONDS = 60.0
SPARE = 1.35  # power to warm up with after a setback, which EN 12831 adds to a loss (from memory; the figure is ours)
DAY_SECONDS = 86400.0
LEARN_AT_SECONDS = 3 * 3600.0 + 2400.0
LEARN_AFTER_DAYS = (1, 2, 3, 6, 12, 20)
LAWS = ("hysteresis", "proportional", "predictive")
Progress = Callable[[float], None]


@dataclass
class Outcome:
    """One law's days: rooms by name; `seconds` is the time judged, `lived_seconds` with warming up."""

    law: str
    seconds: float
    lived_seconds: float
    rooms: dict[str, RoomOutcome] = field(default_factory=dict)

    @property
    def kwh(self) -> float:
        """Energy of the judged days, kWh."""
        return sum(room.kwh for room in self.rooms.values())

    @property
    def cost(self) -> float:
        """What that cost by the tariff."""
        return sum(room.cost for room in self.rooms.values())

    @property
    def stray_kelvin(self) -> float:
        """Mean over rooms."""
        return sum(room.stray_kelvin for room in self.rooms.values()) / max(len(self.rooms), 1)

    @property
    def clicks_a_day(self) -> float:
        """Mean over rooms."""
        return sum(room.clicks_a_day for room in self.rooms.values()) / max(len(self.rooms), 1)

    def arrivals(self, counted: set[tuple[str, float]] | None = None) -> list[float]:
        """Minutes late of all rooms' arrivals, or of those that are counted (room, due)."""
        return [
            minutes
            for name, room in self.rooms.items()
            for due, minutes in room.arrivals
            if counted is None or (name, due) in counted
        ]


def under_law(house: House, law: str) -> House:
    """The house with every room under one control law."""
    rooms = tuple(room.model_copy(update={"control": law}) for room in house.rooms)
    return house.model_copy(update={"rooms": rooms})


def at_the_trials_pace(house: House) -> House:
    """The house with a step a minute: what looks a step ahead, as pacing does, must know how long that is."""
    return house.model_copy(update={"house": house.house.model_copy(update={"tick": STEP_SECONDS})})


class Trial:
    """One law's days. `start` is the first judged midnight; `weather` counts its seconds from the warm-up's start."""

    def __init__(
        self, house: House, law: str, *, seed: int, start: datetime, days: float, warm_days: int = 3,
        weather: Weather | None = None,
    ) -> None:  # fmt: skip
        self.law = law
        self.house = at_the_trials_pace(under_law(house, law) if law in LAWS else house)
        self._warm_seconds, self._seconds = warm_days * DAY_SECONDS, days * DAY_SECONDS
        self.simulated = SimulatedHouse(
            self.house, seed=seed, start=start - timedelta(seconds=self._warm_seconds), weather=weather,
            start_celsius=18.0, inner_seconds=STEP_SECONDS, spare=SPARE,
        )  # fmt: skip
        self.regulator = Regulator(self.house)
        self._history = History(self.house)
        self._learns = any(room.control != "hysteresis" for room in self.house.rooms)
        self._prices = Prices(self.house)
        self._judges = {room.name: RoomJudge(room) for room in self.house.rooms}
        self._counts: dict[str, tuple[int, int, float]] = {}

    def run(self, progress: Progress = lambda _: None) -> Outcome:
        """Live through it; `progress` is told the share that is done."""
        end = self._warm_seconds + self._seconds
        while self.simulated.steady < end - 1e-6:
            now = self.simulated.steady
            self._learn_tonight(now)
            if abs(now - self._warm_seconds) < STEP_SECONDS / 2:
                self._counts = {key: self._count(key) for key in self.simulated.plugs}
            self._step(now)
            if int(now) % 7200 == 0:
                progress(now / end)
        progress(1.0)
        return self._outcome()

    def _step(self, now: float) -> None:
        simulated = self.simulated
        moment, seen = simulated.moment(), simulated.observation()
        result = self.regulator.step(moment, seen)
        for key, order in result.orders.items():
            simulated.tell(key, order.on, max(order.lapses - moment.steady, 0.0))
        if self._learns:
            self._history.add(moment, seen, result)
        joules = {key: plug.drawn_joules for key, plug in simulated.plugs.items()}
        simulated.advance(STEP_SECONDS)
        if now >= self._warm_seconds:
            self._judge(moment, result, joules)

    def _judge(self, moment: Moment, result: Result, joules: dict[str, float]) -> None:
        price = self._prices.per_kwh(moment.wall)
        for name, judge in self._judges.items():
            target = result.rooms[name].target
            ahead = target.next_at - moment.steady if target.next_at is not None else None
            told = result.rooms[name].heaters.values()
            held = any(one.tripped and one.code == not_allowed_now.CODE for own in told for one in own.verdicts)
            judge.see(moment.steady - self._warm_seconds, self.simulated.shown_air(name), target, ahead, held)
            for heater in judge.room.heaters:
                key = judge.room.key_of(heater)
                kwh = (self.simulated.plugs[key].drawn_joules - joules[key]) / 3.6e6
                judge.outcome.kwh += kwh
                judge.outcome.cost += kwh * price

    def _learn_tonight(self, now: float) -> None:
        night, at = divmod(now, DAY_SECONDS)
        if self._learns and int(night) in LEARN_AFTER_DAYS and abs(at - LEARN_AT_SECONDS) < STEP_SECONDS / 2:
            self.regulator.adopt(fit(self.house, self._history))

    def _count(self, key: str) -> tuple[int, int, float]:
        plug = self.simulated.plugs[key]
        return plug.switchings, plug.heater.trips, plug.drawn_joules

    def _outcome(self) -> Outcome:
        days = self._seconds / DAY_SECONDS
        outcome = Outcome(self.law, self._seconds, self._seconds + self._warm_seconds)
        for name, judge in self._judges.items():
            found = judge.finish()
            for heater in judge.room.heaters:
                key = judge.room.key_of(heater)
                now, before = self._count(key), self._counts[key]
                found.clicks_a_day += (now[0] - before[0]) / days
                found.trips += now[1] - before[1]
            outcome.rooms[name] = found
        return outcome
