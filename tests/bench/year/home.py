"""The invented house of the year, and what its family does; everything follows from the seed.

Rules: what breaks is mended within a day, as in a house where somebody lives; in summer heaters stand unplugged.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from zoneinfo import ZoneInfo

from thermostatd.core.house import House

ZONE = ZoneInfo("America/New_York")
START = datetime(2025, 10, 1, tzinfo=ZONE)
SETTINGS = [600, 800, 1400]
ROOMS = (
    ("desk", "oil-filled", 800, [("06:30", 20.0), ("22:00", 17.0)]),
    ("hearth", "oil-filled", 1400, [("07:00", 20.5), ("09:00", 18.5), ("16:30", 21.0), ("22:30", 17.0)]),
    ("loft", "panel", 700, [("06:30", 19.0), ("08:30", 17.0), ("20:00", 19.0), ("22:30", 17.0)]),
    ("galley", "convector", 900, [("06:00", 19.5), ("21:30", 16.0)]),
)
HOUR, DAY = 3600.0, 86400.0
SUMMER_DAYS = (245, 345)
HOLIDAYS = ((80, 9), (140, 6), (310, 14))


def house(law: str) -> House:
    """Four rooms on one circuit, heaters with meters, a season, quiet nights upstairs."""
    rooms = []
    for name, kind, watts, week in ROOMS:
        heater = {
            "name": "h", "kind": kind, "watts": watts, "circuit": "sockets", "may_run": ["awake", "asleep", "away"],
            "plug": {"kind": "simulated"},
        }  # fmt: skip
        if kind == "oil-filled":
            heater["settings_watts"] = SETTINGS
        room = {
            "name": name, "control": law, "sensor": {"topic": f"{name}/air"}, "heater": [heater],
            "usual": [{"at": at, "celsius": celsius} for at, celsius in week],
            "household": {"lowest": 14, "highest": 23, "longest": "12 h"},
        }  # fmt: skip
        if name == "loft":
            room["quiet"] = [{"from": "22:30", "to": "06:30", "switches": 4}]
        rooms.append(room)
    return House.model_validate(
        {
            "house": {
                "timezone": ZONE.key, "outdoor": {"topic": "yard"}, "season": {"from": "09-15", "to": "05-15"},
            },
            "circuit": [{"name": "sockets", "breaker_amps": 20}],
            "room": rooms,
        }
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Deed:
    """Something that someone does, or that happens: `what` with `about` at a second, with a number or two."""

    at: float
    what: str
    about: str = ""
    number: float = 0.0
    until: float = 0.0


@dataclass
class Family:
    """What happens in so many days, in order."""

    seed: int
    days: int
    deeds: list[Deed] = field(default_factory=list)

    def __post_init__(self) -> None:
        rng = Random(f"family/{self.seed}")
        away = [(first, first + count) for first, count in HOLIDAYS]
        for name, *_ in ROOMS:
            self.deeds += self._windows(rng, name, away)
            self.deeds += self._asks(rng, name, away)
            self.deeds += self._breaks(rng, name)
        self.deeds += self._outings(rng, away)
        for name, *_ in ROOMS:
            self.deeds += _while_(SUMMER_DAYS[0] * DAY, SUMMER_DAYS[1] * DAY, "unplugged", f"{name}/h")
        self.deeds.sort(key=lambda deed: deed.at)

    def _home(self, away: list[tuple[int, int]]) -> Iterator[int]:
        return (day for day in range(1, self.days) if not any(first <= day < last for first, last in away))

    def _windows(self, rng: Random, name: str, away: list[tuple[int, int]]) -> Iterator[Deed]:
        for day in self._home(away):
            if rng.random() < 0.4:
                at = DAY * day + HOUR * rng.uniform(7.0, 21.0)
                yield from _while_(at, at + 60.0 * rng.uniform(5.0, 25.0), "window_open", name)

    def _asks(self, rng: Random, name: str, away: list[tuple[int, int]]) -> Iterator[Deed]:
        for day in self._home(away):
            if rng.random() < 0.3:
                at = DAY * day + HOUR * rng.uniform(7.0, 21.0)
                yield Deed(
                    at, "ask", name, rng.choice((19.0, 20.5, 21.0, 21.5)), at + HOUR * rng.uniform(1.0, 5.0)
                )

    def _breaks(self, rng: Random, name: str) -> Iterator[Deed]:
        def some(hours: float) -> tuple[float, float]:
            at = DAY * rng.uniform(10.0, self.days - 2.0) + HOUR * rng.uniform(8.0, 18.0)
            return at, at + HOUR * hours

        for _ in range(max(1, self.days // 60)):
            yield from _while_(*some(rng.uniform(0.3, 6.0)), "plug_offline", f"{name}/h")
        yield from _while_(*some(24.0), "silent", name)
        yield from _while_(*some(5.0), "knocked_over", f"{name}/h")
        yield from _while_(*some(6.0), "covered", f"{name}/h")

    def _outings(self, rng: Random, away: list[tuple[int, int]]) -> Iterator[Deed]:
        for first, last in away:
            if last < self.days:
                yield Deed(DAY * first + 9 * HOUR, "out", until=DAY * last - 6 * HOUR)
        for day in self._home(away):
            if (START.weekday() + day) % 7 == 5 and rng.random() < 0.4:
                yield Deed(DAY * day + 9 * HOUR, "out", until=DAY * (day + 1) + 18 * HOUR)


def _while_(begin: float, end: float, what: str, about: str) -> Iterator[Deed]:
    yield Deed(begin, what, about)
    yield Deed(end, "mend", about, until=begin)
