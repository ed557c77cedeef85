"""`python -m tests.bench.sweep`: invented sound houses of all kinds, lived for some days, and what went wrong in them.

Nothing is broken in them, so that a law that fails, a check that fails and a trouble other than an opening of a cut-out
are faults of the program; a room that stands cold though its heaters rest, and one that runs hot, are to be looked
into: what its heaters said is printed. A house and day takes ten to thirty seconds of a processor.
"""

from __future__ import annotations

import argparse
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random

from thermostatd import Regulator
from thermostatd.core.asking import Ask, Cancel, Out, Request, RoomOff
from thermostatd.core.house import House, Room
from thermostatd.core.learning import History, fit
from thermostatd.core.results import Result
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.plugs import MeterTraits

DAY_SECONDS, LEARN_HOUR = 86400.0, 3.5
SETTLED_SECONDS, LATELY_SECONDS = 6 * 3600.0, 5400.0
COLD_KELVIN, COLD_HOURS, HOT_KELVIN, HOT_HOURS = 0.8, 1.5, 1.2, 0.5
RESTS_SHARE, HEATS_SHARE = 0.6, 0.15
MOST_FAULTS = 8
WATTS = {"oil-filled": (600, 800, 1000, 1400), "panel": (600, 1000), "convector": (1000, 1500), "infrared": (600,)}
TIMES = ("2 min", "5 min", "5 min", "10 min")


def invented(rng: Random) -> tuple[House, dict[str, MeterTraits]]:
    """A house of two to five rooms, and each heater's meter."""
    lines = [f'[house]\ntimezone = "Europe/Oslo"\ntick = "{rng.choice((10, 10, 15, 30, 60))} s"\n']
    lines += ['outdoor = { topic = "yard" }\n'] * (rng.random() < 0.7)
    lines += ['[[circuit]]\nname = "c"\nbreaker_amps = 16\n']
    meters: dict[str, MeterTraits] = {}
    for number in range(rng.randint(2, 5)):
        day, night, evening = rng.choice((19.5, 20.5, 21.5)), rng.choice((15.0, 16.5, 18.0)), rng.choice((21, 22, 23))
        lines.append(
            f'[[room]]\nname = "room{number}"\nsensor = {{ topic = "{number}/air" }}\n'
            f'control = "{rng.choice(("hysteresis", "proportional", "predictive"))}"\n'
            f'clicks = "{rng.choice(("very few", "few", "some", "many"))}"\n'
            f'usual = [{{ at = "06:00", celsius = {day} }}, {{ at = "{evening}:00", celsius = {night} }}]\n'
        )
        lines += ['quiet = [{ from = "22:30", to = "06:30", switches = 4 }]\n'] * (rng.random() < 0.25)
        for index in range(rng.choice((1, 1, 1, 2, 3))):
            lines.append(_heater(rng, index, circuit=rng.random() < 0.3))
            meters[f"room{number}/h{index}"] = MeterTraits(
                rng.choice((10.0, 30.0, 60.0, 300.0)), rng.choice((1.0, 10.0)), 6.0,
                tells_watts=rng.random() < 0.8, tells_volts=rng.random() < 0.5, tells_warm=False,
            )  # fmt: skip
    return House.model_validate(tomllib.loads("".join(lines))), meters


def _heater(rng: Random, index: int, *, circuit: bool) -> str:
    kind = rng.choice(sorted(WATTS))
    return (
        f'[[room.heater]]\nname = "h{index}"\nkind = "{kind}"\nwatts = {rng.choice(WATTS[kind])}\n'
        f'min_on = "{rng.choice(TIMES)}"\nmin_off = "{rng.choice(TIMES)}"\nmay_run = ["awake", "asleep", "away"]\n'
        + 'circuit = "c"\n' * circuit
        + 'plug = { kind = "simulated" }\n'
    )


@dataclass
class Stretch:
    """A time in which a room's air was not as wanted: since when (steady s), and what its heaters did meanwhile."""

    since: float
    on: list[float] = field(default_factory=list)
    kelvin: float = 0.0
    said: Counter[str] = field(default_factory=Counter)


class Life:
    """One house's days."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(f"sweep/{seed}")
        self.house, meters = invented(self.rng)
        start = datetime(2026, 1, 12, self.rng.randrange(24), tzinfo=UTC)
        self.simulated = SimulatedHouse(
            self.house, seed=seed, start=start, meters=meters, spare=self.rng.choice((1.35, 2.0)), start_celsius=14.0
        )
        self.regulator, self.history = Regulator(self.house), History(self.house)
        self.faults: list[str] = []
        self.odd: list[str] = []
        self._targets: dict[str, list[tuple[float, float]]] = {room.name: [] for room in self.house.rooms}
        self._stretches: dict[tuple[str, str], Stretch] = {}
        self._asks_at = self.rng.uniform(6.0, 20.0) * 3600.0
        self._learned = 0

    def live(self, days: float) -> Life:
        """Live through it."""
        while self.simulated.steady < days * DAY_SECONDS:
            self._step()
        return self

    def _step(self) -> None:
        simulated, moment, seen = self.simulated, self.simulated.moment(), self.simulated.observation()
        result = self.regulator.step(moment, seen)
        self.history.add(moment, seen, result)
        for key, order in result.orders.items():
            if order.retell:
                simulated.tell(key, order.on, order.lapses - moment.steady)
        self._note(result)
        for room in self.house.rooms:
            self._judge(room, result)
        if moment.steady >= self._asks_at:
            self._asks_at += self.rng.uniform(5.0, 15.0) * 3600.0
            self.regulator.do(moment, self._wish(moment.wall))
        day, seconds = divmod(moment.steady, DAY_SECONDS)
        if day > self._learned and seconds > LEARN_HOUR * 3600.0:
            self._learned = int(day)
            self.regulator.adopt(fit(self.house, self.history))
        simulated.advance(self.house.house.tick)

    def _wish(self, now: datetime) -> Request:
        room, ends = self.rng.choice(self.house.rooms).name, now + timedelta(hours=self.rng.uniform(1.0, 10.0))
        later = ends + timedelta(hours=2.0)
        ask = Ask(room, self.rng.choice((18.0, 20.0, 22.0)), ends, "Ida")
        for_later = Ask(room, 21.5, later, "Ida", begins=ends)
        return self.rng.choice((ask, RoomOff(room, ends, "Ida"), Out(ends, "Ida"), Cancel(room, "Ida"), for_later))

    def _note(self, result: Result) -> None:
        hours = self.simulated.steady / 3600.0
        told = [one.about for one in result.events if one.code == "trouble" and not one.about.endswith("/cut-out")]
        self.faults += [f"{hours:.2f} h told {about}" for about in told]
        for name, room in result.rooms.items():
            failed = [one for heater in room.heaters.values() for one in heater.verdicts if one.failed]
            self.faults += [f"{hours:.2f} h {name}: {one.code} failed: {one.evidence}" for one in failed]
            if room.reason.code == "demand-failed":
                self.faults.append(f"{hours:.2f} h {name}: {room.reason.sentence}")

    def _judge(self, room: Room, result: Result) -> None:
        """Whether the room is far from what was wanted of late, and for how long."""
        steady, wanted = self.simulated.steady, result.rooms[room.name].target
        kept = self._targets[room.name]
        kept.append((steady, max(wanted.celsius, wanted.next_celsius or 0.0)))
        self._targets[room.name] = kept = [one for one in kept if one[0] >= steady - SETTLED_SECONDS]
        lately = [celsius for at, celsius in kept if at >= steady - LATELY_SECONDS]
        air = self.simulated.shown_air(room.name)
        settled = steady > SETTLED_SECONDS
        asked = min([wanted.celsius, *lately])
        self._go_on("cold", room, result, air - wanted.celsius, settled and air < asked - COLD_KELVIN)
        self._go_on("hot", room, result, air - wanted.celsius, settled and air > max(c for _, c in kept) + HOT_KELVIN)

    def _go_on(self, kind: str, room: Room, result: Result, kelvin: float, goes_on: bool) -> None:
        stretch = self._stretches.get((kind, room.name))
        if not goes_on:
            if stretch is not None:
                self._end(kind, room, self._stretches.pop((kind, room.name)))
            return
        if stretch is None:
            stretch = self._stretches[kind, room.name] = Stretch(self.simulated.steady)
        keys = [room.key_of(heater) for heater in room.heaters]
        stretch.on.append(sum(self.simulated.plugs[key].relay_on for key in keys) / len(keys))
        stretch.kelvin = max(stretch.kelvin, kelvin, key=abs)
        stretch.said.update(result.orders[key].reason.code for key in keys)

    def _end(self, kind: str, room: Room, stretch: Stretch) -> None:
        hours, on = (self.simulated.steady - stretch.since) / 3600.0, sum(stretch.on) / len(stretch.on)
        cold = kind == "cold" and hours > COLD_HOURS and on < RESTS_SHARE
        if cold or (kind == "hot" and hours > HOT_HOURS and on > HEATS_SHARE):
            said = ", ".join(f"{code} {count}" for code, count in stretch.said.most_common(4))
            self.odd.append(
                f"{stretch.since / 3600.0:.1f} h {room.name} ({room.control}) {kind} for {hours:.1f} h, by "
                f"{stretch.kelvin:+.1f} K, on {on:.2f} of it: {said}"
            )


def main() -> int:
    """Print each house; 1 where something failed, or was told of what is sound."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.sweep")
    asked.add_argument("--seeds", type=int, default=10)
    asked.add_argument("--first-seed", type=int, default=0)
    asked.add_argument("--days", type=float, default=2.0)
    how, faults = asked.parse_args(), 0
    for seed in range(how.first_seed, how.first_seed + how.seeds):
        life = Life(seed).live(how.days)
        laws = ", ".join(f"{room.name} {room.control} {len(room.heaters)}" for room in life.house.rooms)
        clicks = max(plug.switchings for plug in life.simulated.plugs.values()) / how.days
        openings = sum(plug.heater.trips for plug in life.simulated.plugs.values())
        print(f"seed {seed}: {laws}; most {clicks:.0f} switchings a day, {openings} openings of cut-outs")
        for line in (*(f"FAULT {one}" for one in life.faults[:MOST_FAULTS]), *life.odd):
            print(f"  {line}", flush=True)
        faults += len(life.faults)
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
