"""How soon an opened window is noticed, how many are missed, and how often one is seen that is not there.

Simulated weeks in invented houses of four rooms, with setbacks, doors, sun and people. Run it:
    python -m tests.bench.windows [weeks] [law]
An opening lasts ten minutes at 60 W/K, twice a day in each room, at hours that the seed draws.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from statistics import median
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.rehearsal.trial import STEP_SECONDS, Trial

START = datetime(2026, 1, 12, tzinfo=ZoneInfo("Europe/Oslo"))
KINDS = ("oil-filled", "panel", "convector", "oil-filled")
OPEN_SECONDS, WATTS_PER_KELVIN = 600.0, 60.0
NOTICED_WITHIN_SECONDS = 2400.0


@dataclass
class Found:
    """What came of some weeks."""

    room_days: float = 0.0
    false_alarms: list[tuple[str, float]] = field(default_factory=list)
    opened: int = 0
    minutes: list[float] = field(default_factory=list)
    paused_minutes: list[float] = field(default_factory=list)


def house(law: str) -> House:
    """Four invented rooms with setbacks."""
    usual = [{"at": "06:30", "celsius": 20}, {"at": "09:00", "celsius": 18}, {"at": "16:00", "celsius": 20.5},
             {"at": "22:30", "celsius": 17}]  # fmt: skip
    rooms = [
        {"name": f"r{n}", "control": law, "sensor": {"topic": f"air/{n}"}, "usual": usual,
         "heater": [{"name": "h", "kind": kind, "watts": 700, "may_run": ["awake", "asleep"],
                     "plug": {"kind": "simulated"}}]}
        for n, kind in enumerate(KINDS)
    ]  # fmt: skip
    return House.model_validate(
        {"house": {"timezone": "Europe/Oslo", "outdoor": {"topic": "y"}}, "room": rooms}
    )


class Watch(Trial):
    """A trial that opens windows, or none, and sees what is noticed."""

    def __init__(self, law: str, seed: int, days: float, *, opening: bool, warm_days: int = 2) -> None:
        super().__init__(house(law), law, seed=seed, start=START, days=days, warm_days=warm_days)
        rng = Random(f"windows/{seed}")
        self.found, self._opening = Found(room_days=days * len(self.house.rooms)), opening
        begin = warm_days * 86400.0
        self._begin = begin
        self._due = {
            room.name: sorted(
                begin + 86400.0 * day + 3600.0 * rng.uniform(*span)
                for day in range(int(days))
                for span in ((7.0, 12.0), (14.0, 21.5))
            )
            for room in self.house.rooms
        }
        self._since: dict[str, float | None] = dict.fromkeys(self._due)
        self._pausing = dict.fromkeys(self._due, False)

    def _step(self, now: float) -> None:
        if self._opening:
            for name in self._due:
                self._move_window(name, now)
        super()._step(now)
        for name, room in self.regulator._memory.rooms.items():
            self._look(name, now, room.window.get("since"))

    def _move_window(self, name: str, now: float) -> None:
        due, since = self._due[name], self._since[name]
        if due and now >= due[0]:
            due.pop(0)
            self._since[name] = now
            self.found.opened += 1
            self.simulated.fault(name, "window_open", watts_per_kelvin=WATTS_PER_KELVIN)
        elif since is not None and OPEN_SECONDS <= now - since < OPEN_SECONDS + STEP_SECONDS:
            self.simulated.places[name].window_watts_per_kelvin = 0.0

    def _look(self, name: str, now: float, since: float | None) -> None:
        opened = self._since[name]
        if since is not None and not self._pausing[name]:
            self._pausing[name] = True
            if opened is not None and since - opened <= NOTICED_WITHIN_SECONDS:
                self.found.minutes.append((since - opened) / 60.0)
            elif now >= self._begin:
                self.found.false_alarms.append((name, now - self._begin))
            self._began = since
        elif since is None and self._pausing[name]:
            self._pausing[name] = False
            self.found.paused_minutes.append((now - self._began) / 60.0)


def measure(law: str, seeds: range, days: float) -> tuple[Found, Found]:
    """Weeks without openings, and the same with them."""
    still, aired = Found(), Found()
    for seed in seeds:
        for into, opening in ((still, False), (aired, True)):
            trial = Watch(law, seed, days, opening=opening)
            trial.run()
            into.room_days += trial.found.room_days
            into.false_alarms += trial.found.false_alarms
            into.opened += trial.found.opened
            into.minutes += trial.found.minutes
            into.paused_minutes += trial.found.paused_minutes
    return still, aired


def main() -> None:
    """Print one table."""
    weeks = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    law = sys.argv[2] if len(sys.argv) > 2 else "hysteresis"
    still, aired = measure(law, range(1, weeks + 1), 7.0)
    print(
        f"{law}, {still.room_days / 7:.0f} room-weeks without an opening: {len(still.false_alarms)} false alarms"
    )
    for name, at in still.false_alarms[:12]:
        print(f"   {name} at day {at / 86400:.2f}, hour {at % 86400 / 3600:.1f}")
    late = sorted(aired.minutes)
    print(
        f"{aired.opened} openings of ten minutes: {len(late)} noticed ({len(late) / max(aired.opened, 1):.0%})"
    )
    if late:
        print(f"noticed after {median(late):.0f} min (median), {late[int(0.9 * len(late))]:.0f} min (p90)")
        print(f"paused for {median(aired.paused_minutes):.0f} min (median)")
    print(f"false alarms beside them: {len(aired.false_alarms)}")


if __name__ == "__main__":
    main()
