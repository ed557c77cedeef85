"""When heating for the usual week's coming rises will really begin: as planned now, else as it was the last time.

Rules: only rooms that heat early have such times; the next rise is told from the plan in force; a later one from the
last day on which heating for a rise at that hour began early. Times are Unix seconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

LONGEST_LEAD_SECONDS = 6 * 3600.0
LEAST_RISE_KELVIN = 0.3
DAY_SECONDS = 86400.0


def beginnings(
    steps: Sequence[tuple[float, float]],
    wanted: float,
    begun: Sequence[float],
    notes: Mapping[str, Any],
    now: float,
    steady: float,
) -> list[tuple[float, float]]:
    """(step, when heating for it begins) of the coming rises that have one.

    `steps` are the coming steps with their °C, `wanted` is what holds now, `begun` are past moments at which heating
    ahead of a rise began, `notes` what the control law remembers of the room.
    """
    rises = [
        at
        for (_, before), (at, celsius) in pairwise([(now, wanted), *steps])
        if celsius >= before + LEAST_RISE_KELVIN
    ]
    found = []
    for index, at in enumerate(rises):
        lead = _planned(notes, at, now, steady) if index == 0 else None
        lead = _last_time(at, begun) if lead is None else lead
        if lead is not None:
            found.append((at, at - lead))
    return found


def _planned(notes: Mapping[str, Any], at: float, now: float, steady: float) -> float | None:
    """Seconds ahead of the next rise, by the plan in force: where it has begun, or the minutes it will take."""
    rise, arrival = notes.get("rise"), notes.get("arrival")
    if isinstance(rise, Mapping) and abs(now + rise["at"] - steady - at) < 60.0:
        return float(rise["at"] - rise["since"])
    if at - now <= LONGEST_LEAD_SECONDS and isinstance(arrival, int | float) and arrival <= 360.0:
        return 60.0 * float(arrival)
    return None


def _last_time(at: float, begun: Sequence[float]) -> float | None:
    """Seconds ahead on the last of seven days on which heating began ahead of that hour."""
    for back in range(1, 8):
        then = at - back * DAY_SECONDS
        leads = [then - each for each in begun if 0 < then - each <= LONGEST_LEAD_SECONDS]
        if leads:
            return max(leads)
    return None
