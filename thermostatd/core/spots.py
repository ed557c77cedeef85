"""Spots: what their heat does to the person, and the usual times at which the owner lets one start unasked.

Rules: a spot starts by a usual time only on the owner's word, `unasked = "accepted"`, within a minute or so of it,
never while everything is off, everyone is out, the clock is doubted or `may_run` forbids it, and never in place of
what a person asked. It ends by itself like any other request.
"""

from __future__ import annotations

from datetime import timedelta

from thermostatd.core.circumstance import circumstance_of
from thermostatd.core.clock import Now
from thermostatd.core.house import House, Spot
from thermostatd.core.memory import HeaterMemory, Memory, RequestMemory
from thermostatd.core.plug import level_watts
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event
from thermostatd.core.week import instant
from thermostatd.physics.comfort import warmer_before_a_panel
from thermostatd.physics.heater_kinds import MAKES

LATEST_SECONDS = 120.0
ROOM_CELSIUS = 18.0  # a spot has no sensor: what is taken for the air and the walls round it


def start_usual(house: House, memory: Memory, now: Now) -> list[Event]:
    """Start each spot whose usual time has come since the last step."""
    events: list[Event] = []
    for spot in house.spots:
        minutes = _due_minutes(spot, now)
        if minutes is None or spot.name in memory.spots or not _may_start(house, memory, spot, now):
            continue
        ends = now.steady + min(minutes * 60.0, spot.longest)
        until = now.wall_in(ends - now.steady).timestamp()
        memory.spots[spot.name] = RequestMemory("usual", "house file", now.best.timestamp(), ends, until)
        events.append(Event("usual-spot", spot.name, sentence("usual-spot", minutes=minutes)))
    return events


def warmer_kelvin(spot: Spot, kept: HeaterMemory) -> float:
    """How much warmer the place feels in front of it, K: operative temperature at `metres` on its axis."""
    watts = level_watts(kept, spot.heater)
    return warmer_before_a_panel(watts * MAKES[spot.heater.kind].radiant_share, spot.metres, ROOM_CELSIUS)


def felt(spot: Spot, kept: HeaterMemory) -> str:
    """That, in words."""
    return sentence("spot-felt", kelvins=warmer_kelvin(spot, kept), metres=spot.metres)


def _may_start(house: House, memory: Memory, spot: Spot, now: Now) -> bool:
    idle = memory.all_off is None and memory.out is None and not now.doubted
    return idle and circumstance_of(house, memory, now) in spot.heater.may_run


def _due_minutes(spot: Spot, now: Now) -> float | None:
    """Minutes of the usual time that came since the last step; None where none did."""
    if spot.unasked is None or not spot.usual:
        return None
    wall, local = now.best.timestamp(), now.best.astimezone(now.zone)
    for usual in spot.usual:
        for day in (
            local.date(),
            local.date() - timedelta(days=1),
        ):  # just past midnight the day before counts
            gone = wall - instant(day, usual.at, now.zone)
            if day.weekday() in usual.days and 0.0 <= gone < min(now.seconds, LATEST_SECONDS):
                return usual.minutes
    return None
