"""What is wanted of the rooms: a constant target, or a usual week; and quiet nights.

Rules: a programme is a list of (days, clock, °C) for each room, as a house file has it; the house's zone is UTC,
the first day a Monday; a rise is a step up, known by its steady second.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from tests.bench.plant.houses import Building

DAY = 86400.0
Steps = tuple[tuple[str, str, float], ...]
CONSTANT: tuple[Steps, ...] = ((("daily", "00:00", 20.0),),) * 3
WEEKLY: tuple[Steps, ...] = (
    (("mon-fri", "06:30", 20.5), ("mon-fri", "08:30", 18.0), ("mon-fri", "16:30", 20.5), ("sat,sun", "08:00", 20.5),
     ("daily", "22:30", 17.5)),
    (("mon-fri", "07:30", 20.0), ("mon-fri", "12:30", 18.0), ("mon-fri", "18:00", 20.5), ("sat,sun", "09:00", 20.0),
     ("daily", "21:30", 17.0)),
    (("daily", "06:00", 19.5), ("daily", "10:00", 17.5), ("daily", "19:30", 20.0), ("daily", "23:00", 17.5)),
)  # fmt: skip
PROGRAMMES = {"constant": CONSTANT, "weekly": WEEKLY, "quiet": CONSTANT}
QUIET = {"from": "22:30", "to": "06:30", "switches": 4}


@dataclass(frozen=True, slots=True)
class Rise:
    """One step up: when (s after the first midnight), from and to, °C, and when the target changes again."""

    at: float
    before: float
    celsius: float
    until: float


def week(steps: Steps) -> list[tuple[float, float]]:
    """(second of the week from Monday, °C), in order."""
    days = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    found: dict[float, float] = {}
    for names, clock, celsius in steps:
        hour, minute = map(int, clock.split(":"))
        for index, day in enumerate(days):
            if _covers(names, day, days):
                found[index * DAY + hour * 3600.0 + minute * 60.0] = celsius
    return sorted(found.items())


def _covers(names: str, day: str, days: tuple[str, ...]) -> bool:
    if names == "daily":
        return True
    for part in names.split(","):
        first, _, last = part.partition("-")
        if days.index(first) <= days.index(day) <= days.index(last or first):
            return True
    return False


def changes(steps: Steps, days: int) -> list[tuple[float, float]]:
    """All target changes of a run (s after the first midnight, °C); the first is what holds at its start."""
    one = week(steps)
    every = [(turn * 7 * DAY + at, celsius) for turn in range(-1, days // 7 + 2) for at, celsius in one]
    started = [celsius for at, celsius in every if at <= 0.0][-1]
    kept = [(0.0, started)]
    for at, celsius in every:
        if 0.0 < at < days * DAY and celsius != kept[-1][1]:
            kept.append((at, celsius))
    return kept


def rises(steps: Steps, days: int) -> list[Rise]:
    """The steps up of a run."""
    every = [*changes(steps, days), (days * DAY, 0.0)]
    return [
        Rise(at, before, celsius, after)
        for (_, before), (at, celsius), (after, _) in zip(every, every[1:], every[2:], strict=False)
        if celsius > before
    ]


def house_tables(
    building: Building,
    programme: str,
    law: str,
    settings: dict[str, Any],
    *,
    outdoor: bool = True,
    meter: bool = True,
    forecast: bool = False,
) -> dict[str, Any]:
    """The house as its owner would write it down; `settings` are keys of every room."""
    rooms = []
    for cell, steps in zip(building.cells, PROGRAMMES[programme], strict=True):
        plug: dict[str, Any] = {"kind": "simulated"} if meter else _without_meter(cell.name)
        rooms.append(
            {
                "name": cell.name,
                "sensor": {"topic": f"air/{cell.name}"},
                "control": law,
                "usual": [{"days": days, "at": at, "celsius": celsius} for days, at, celsius in steps],
                "quiet": [QUIET] if programme == "quiet" else [],
                "heater": [
                    {
                        "name": "column",
                        "kind": cell.kind,
                        "watts": cell.watts,
                        "may_run": ["awake", "asleep", "away"],
                        "plug": plug,
                    }
                ],
            }
            | settings
        )
    house: dict[str, Any] = {"name": f"Bench, {building.name}", "timezone": "UTC", "tick": "60 s"}
    if outdoor:
        house["outdoor"] = {"topic": "yard"}
    if forecast:
        house["forecast"] = {"topic": "hours"}
    return {"house": house, "room": rooms}


def _without_meter(name: str) -> dict[str, Any]:
    """A plug that shows its contact and meters nothing."""
    topic = f"plug/{name}"
    return {
        "kind": "mqtt",
        "tell": f"{topic}/set",
        "shows": {"topic": topic, "pointer": "/on"},
        "timer": {"payload": "true {seconds}"},
    }
