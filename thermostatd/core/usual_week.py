"""A room's usual week: the house file's, or another that people put over it and that memory keeps.

Rules: each step lies within the household's limits or at a temperature that the file itself uses; a time stands once
on a day; a file whose limits became narrower pulls a kept week inside them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import time

from thermostatd.core.house import Room, UsualStep
from thermostatd.core.house.units import DAYS
from thermostatd.core.memory import WeekMemory

MOST_STEPS = 56
"""Eight a day."""


def steps_of(room: Room, kept: WeekMemory | None) -> tuple[UsualStep, ...]:
    """The week in force."""
    if kept is None:
        return room.usual
    return tuple(
        usual_step((day for day in range(7) if int(days) >> day & 1), int(minute), _within(room, celsius))
        for days, minute, celsius in kept.steps
    )


def usual_step(days: Iterable[int], minute: int, celsius: float) -> UsualStep:
    """A step on these days (Monday 0) at that minute of the day. ValueError where it can be none."""
    written = ",".join(DAYS[day] for day in sorted(days))
    return UsualStep.model_validate(
        {"days": written, "at": f"{minute // 60:02}:{minute % 60:02}", "celsius": celsius}
    )


def week_memory(steps: Sequence[UsualStep], who: str, wall: float) -> WeekMemory:
    """A week as memory keeps it."""
    packed = [
        [float(sum(1 << day for day in step.days)), step.at.hour * 60.0 + step.at.minute, step.celsius]
        for step in steps
    ]
    return WeekMemory(packed, who, wall)


def fault_in(room: Room, steps: Sequence[UsualStep]) -> tuple[str, dict[str, float | str]] | None:
    """Why these steps cannot be the room's week: a refusal's code and its numbers."""
    if len(steps) > MOST_STEPS:
        return "week-too-long", {"limit": float(MOST_STEPS)}
    taken: set[tuple[int, time]] = set()
    for step in steps:
        if not allowed(room, step.celsius):
            high = step.celsius > room.household.highest
            limits = room.household
            return ("too-warm", {"limit": limits.highest}) if high else ("too-cold", {"limit": limits.lowest})
        for day in step.days:
            if (day, step.at) in taken:
                return "week-step", {"at": f"{step.at:%H:%M}"}
            taken.add((day, step.at))
    return None


def allowed(room: Room, celsius: float) -> bool:
    """Within the household's limits, or a temperature of the file's own week."""
    limits = room.household
    return limits.lowest <= celsius <= limits.highest or any(celsius == step.celsius for step in room.usual)


def _within(room: Room, celsius: float) -> float:
    if allowed(room, celsius):
        return celsius
    return min(room.household.highest, max(room.household.lowest, celsius))
