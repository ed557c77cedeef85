"""Lives the year: does each deed in its minute, and counts by month what the house told and how warm it was."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta

from tests.bench.year.home import DAY, HOUR, START, ZONE, Deed, Family, house
from thermostatd.core.asking import Ask, Out, Seen
from thermostatd.core.learning import fit
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result
from thermostatd.core.values import Moment
from thermostatd.rehearsal.judging import RoomJudge
from thermostatd.rehearsal.nature import Weather
from thermostatd.rehearsal.trial import LEARN_AT_SECONDS, STEP_SECONDS, Trial

RESTART_DAYS = 10
LOOKED_SECONDS = 6 * HOUR
TOO_WARM_KELVIN, COLD_KELVIN = 1.0, 1.0
SETTLED_SECONDS = 4 * HOUR
COLD_DAY_MINUTES = 60


@dataclass
class Month:
    """What a month came to, over all rooms."""

    name: str
    judges: dict[str, RoomJudge]
    told: Counter[str] = field(default_factory=Counter)
    switchings: int = 0
    too_warm_minutes: float = 0.0
    cold_minutes: float = 0.0
    rested_minutes: float = 0.0
    paused_minutes: float = 0.0
    days: float = 0.0
    most_bytes: float = 0.0


class Year(Trial):
    """One law's year."""

    def __init__(self, law: str, seed: int, days: int, weather: Weather, fit_days: int) -> None:
        super().__init__(house(law), law, seed=seed, start=START, days=days, warm_days=0, weather=weather)
        self.months: list[Month] = []
        self.log: list[str] = []
        self._fit_days, self._deeds = fit_days, list(reversed(Family(seed, days).deeds))
        self._broken: Counter[str] = Counter()
        self._standing: dict[str, float] = {}
        self._moved: dict[str, tuple[float, float]] = {}
        self._cold: dict[tuple[int, str], Counter[str]] = {}

    def cold_days(self) -> list[str]:
        """The days on which a room was cold for hours, and what it said then."""
        return [
            f"day {day:3} {room}: cold for {why.total()} min, said {dict(why.most_common(4))}"
            for (day, room), why in self._cold.items()
            if why.total() >= COLD_DAY_MINUTES
        ]

    def _step(self, now: float) -> None:
        while self._deeds and self._deeds[-1].at <= now:
            self._do(self._deeds.pop())
        if now and now % (RESTART_DAYS * DAY) == 0.0:
            self.regulator = Regulator(self.house, json.loads(json.dumps(self.regulator.memory)))
        super()._step(now)

    def _learn_tonight(self, now: float) -> None:
        night, at = divmod(now, DAY)
        due = int(night) in (1, 2, 3) or int(night) % self._fit_days == 0
        if self._learns and night and due and abs(at - LEARN_AT_SECONDS) < STEP_SECONDS / 2:
            self.regulator.adopt(fit(self.house, self._history))

    def _do(self, deed: Deed) -> None:
        moment, until = self.simulated.moment(), self.simulated.start + timedelta(seconds=deed.until)
        if deed.what == "ask":
            self.regulator.do(moment, Ask(deed.about, deed.number, until, "somebody"))
        elif deed.what == "out":
            self.regulator.do(moment, Out(until, "somebody"))
        elif deed.what == "mend":
            self.simulated.mend(deed.about)
            self._broken[deed.about] -= 1
        else:
            self.simulated.fault(deed.about, deed.what)
            self._broken[deed.about] += 1
            if deed.what not in ("window_open",):
                self.log.append(f"{_when(deed.at)} {deed.about}: {deed.what} happens")

    def _judge(self, moment: Moment, result: Result, joules: dict[str, float]) -> None:
        month = self._month(moment)
        self._judges = month.judges
        super()._judge(moment, result, joules)
        month.days += STEP_SECONDS / DAY
        self._hear(moment, result, month)
        for name, room in result.rooms.items():
            self._feel(name, moment.steady, result, month)
            month.paused_minutes += self.regulator._memory.rooms[name].window.get("since") is not None
            held = [v.code for one in room.heaters.values() for v in one.verdicts if v.tripped]
            month.rested_minutes += "no-answer" in held
        if moment.steady % (6 * HOUR) == 0.0:
            memory = self.regulator.memory
            month.most_bytes = max(month.most_bytes, len(json.dumps(memory)) / len(memory["rooms"]))

    def _month(self, moment: Moment) -> Month:
        name = f"{moment.wall.astimezone(ZONE):%Y-%m}"
        if not self.months or self.months[-1].name != name:
            self.months.append(Month(name, {room.name: RoomJudge(room) for room in self.house.rooms}))
            self.operations_before = self.regulator.operations()
        self.months[-1].switchings = sum(self.regulator.operations().values()) - sum(
            self.operations_before.values()
        )
        return self.months[-1]

    def _hear(self, moment: Moment, result: Result, month: Month) -> None:
        for event in result.events:
            if event.code == "trouble":
                month.told[event.about.rpartition("/")[2]] += 1
                broken = [key for key, count in self._broken.items() if count > 0]
                self.log.append(
                    f"{_when(moment.steady)} TOLD {event.about}: {event.sentence} (broken now: {broken})"
                )
        standing = {trouble.id for trouble in result.troubles if trouble.latched}
        self._standing = {one: self._standing.get(one, moment.steady) for one in standing}
        for one, since in list(self._standing.items()):
            if moment.steady - since >= LOOKED_SECONDS:
                self.log.append(f"{_when(moment.steady)} somebody looks: {one}")
                self.regulator.do(moment, Seen(one, "somebody"))
                self._standing.pop(one)

    def _feel(self, name: str, now: float, result: Result, month: Month) -> None:
        """Too warm while a heater draws; or cold though nothing is broken and the target has long been the same."""
        air, target = self.simulated.shown_air(name), result.rooms[name].target
        before = self._moved.get(name)
        if (
            before is None
            or before[0] != target.celsius
            or self._broken[name] > 0
            or self._broken[f"{name}/h"] > 0
        ):
            self._moved[name] = (target.celsius, now)
        highest = max(target.celsius, target.next_celsius or target.celsius)
        drawing = self.simulated.plugs[f"{name}/h"].drawn_watts > 20.0
        month.too_warm_minutes += drawing and air > highest + TOO_WARM_KELVIN
        if now - self._moved[name][1] > SETTLED_SECONDS and air < target.celsius - COLD_KELVIN:
            month.cold_minutes += 1
            self._cold.setdefault((int(now // DAY), name), Counter())[result.rooms[name].reason.code] += 1


def _when(seconds: float) -> str:
    return f"day {seconds / DAY:6.2f}"
