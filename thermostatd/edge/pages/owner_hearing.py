"""What the owner's page of sensors and plugs shows: what each said last, when, and whether that is too old."""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.core.memory import HeaterMemory
from thermostatd.core.values import Forecast, Missing, Reading
from thermostatd.edge.pages.amounts import ago, amount, degrees
from thermostatd.edge.pages.door import Door, View
from thermostatd.edge.pages.speech import say, speech, t


@dataclass(frozen=True, slots=True)
class Heard:
    """A sensor or plug, what it said last, when, and whether that is too old."""

    name: str
    what: str
    age: str
    late: bool


def sensors_of(door: Door) -> list[Heard]:
    """Each room's air, and the air outside with its forecast."""
    view, memory, house = door.view(), door.memory(), door.house
    rooms, state = (view.result.rooms, view.result.house) if view.result else ({}, None)
    found = []
    for room in house.rooms:
        air = rooms[room.name].air if room.name in rooms else Missing("")
        kept = memory.rooms.get(room.name)
        found.append(_heard(room.name, air, _age(view, kept.air.at if kept else None)))
    if house.house.outdoor is not None and state is not None:
        found.append(_heard(t("outside"), state.outdoor, _age(view, memory.outdoor.at)))
    if house.house.forecast is not None and state is not None:
        found.append(_foretold(state.forecast))
    return found


def _age(view: View, at: float | None) -> str:
    """How long ago that steady second was, in words."""
    return ago(view.moment.steady - at) if at is not None else t("never heard")


def _foretold(forecast: Forecast | None) -> Heard:
    """The forecast of the air outside: how far it goes, how far it reaches, and how long ago it was told."""
    name = t("forecast outside")
    if forecast is None:
        return Heard(name, t("none that still holds"), "", True)
    hours = max(1, round(forecast.left_seconds / 3600.0))
    ahead = [forecast.at(3600.0 * hour) for hour in range(hours + 1)]
    low, high = (degrees(speech().unit, one) for one in (min(ahead), max(ahead)))
    what = t("{low} to {high} in the next {hours} h", low=low, high=high, hours=hours)
    return Heard(name, what, ago(forecast.age_seconds), False)


def _heard(name: str, air: Reading | Missing, age: str) -> Heard:
    if isinstance(air, Missing):
        return Heard(name, say(air.why) or t("nothing heard yet"), age, True)
    return Heard(name, degrees(speech().unit, air.celsius), age, False)


def plugs_of(door: Door) -> list[Heard]:
    """Each plug: what it shows and draws, when it was last heard, whether it answers."""
    view, memory = door.view(), door.memory()
    kept_of = {key: memory.heaters.get(key, HeaterMemory()) for key, _, _ in door.house.heaters()}
    return [_plug(view, key, kept) for key, kept in kept_of.items()]


def _plug(view: View, key: str, kept: HeaterMemory) -> Heard:
    what = {True: t("on"), False: t("off"), None: t("shows nothing")}[kept.shown_on]
    if kept.watts is not None:
        what += f", {amount(kept.watts, 'W')}"
    if kept.warm_celsius is not None:
        what += ", " + t("itself {degrees} warm", degrees=degrees(speech().unit, kept.warm_celsius))
    late = not kept.reachable or kept.unanswered_since is not None
    if late:
        what += ", " + t("does not answer")
    heard = [at for at in (kept.shown_at, kept.meter_at, kept.warm_at) if at is not None]
    return Heard(key, what, _age(view, max(heard, default=None)), late)
