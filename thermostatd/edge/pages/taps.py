"""What one tap asks of a room: cooler, warmer, and until when.

Rules: a tap moves half a kelvin, or one °F; what lies past the owner's limit is named, not offered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import datetime

from thermostatd.core.house import Room
from thermostatd.edge.pages.amounts import celsius_from, clock, limit_degrees, number, shown_in, span
from thermostatd.edge.pages.asks import EVENING_HOUR
from thermostatd.edge.pages.speech import Unit, speech, t

MORNING_HOUR = 9
"""From here on the evening of the same day is offered as an end."""


@dataclass(frozen=True, slots=True)
class Step:
    """One tap of cooler or warmer: the degrees it asks, as text, and whether it is at the owner's limit."""

    value: str
    at_limit: bool
    limit: str
    at: str
    """The last step that the limit allows, as a number."""


def step_of(unit: Unit, room: Room, wanted: float | None, way: int) -> Step:
    """One tap from the target, cooler (way -1) or warmer (1); at the owner's limit that limit is named."""
    lowest, highest = room.household.lowest, room.household.highest
    inside = min(highest, max(lowest, lowest if wanted is None else wanted))
    size = 1.0 if unit == "F" else 0.5
    moved = shown_in(unit, inside)
    if wanted is None or lowest <= wanted <= highest:
        moved = round((moved + way * size) / size) * size
    limit = highest if way > 0 else lowest
    at_limit = way * (celsius_from(unit, moved) - limit) > 0.06
    end = _within(unit, limit, size, way)
    return Step(f"{moved:g}", at_limit, limit_degrees(unit, limit), f"{end:g}")


def _within(unit: Unit, limit: float, size: float, way: int) -> float:
    """The last whole step on the allowed side of a limit, in this unit."""
    steps = shown_in(unit, limit) / size
    return (math.floor(steps + 1e-6) if way > 0 else math.ceil(steps - 1e-6)) * size


def typed(unit: Unit, celsius: float) -> str:
    """Degrees as a person would type them."""
    return number(shown_in(unit, celsius), 0 if unit == "F" else 1).replace(".0", "")


def ends(room: Room, next_step: float | None, now: datetime) -> list[tuple[str, str]]:
    """Ends that one tap can choose: value and label. `next_step` is the week's, Unix s."""
    choices = []
    if next_step is not None:
        step = clock(datetime.fromtimestamp(next_step, tz=now.tzinfo), now)
        choices.append(("next-step", t("{clock}, the week’s next step", clock=step)))
    choices += [("in-60", t("1 hour")), ("in-180", t("3 hours"))]
    if MORNING_HOUR <= now.hour < EVENING_HOUR - 1:
        evening = speech().hours(now.replace(hour=EVENING_HOUR, minute=0))
        choices.append(("evening", t("this evening, {clock}", clock=evening)))
    choices.append(("no-end", t("I change it, {span} at most", span=span(room.household.longest))))
    return choices
