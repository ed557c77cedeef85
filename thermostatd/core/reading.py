"""Raw samples become a room's air, or Missing(why).

Rules: only a finite, plausible number newer than the last counts; a single refused value changes nothing but the
reason; a second one, or two minutes without a good one, and the air is not known: the last good value is no proof that
it is cold. After silence past `stale_after` one good value mends it, or three after an implausible one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from thermostatd.core.blinks import forget_blinks
from thermostatd.core.clock import Now
from thermostatd.core.forecast import forecast_of
from thermostatd.core.house import House, Spot
from thermostatd.core.memory import AirMemory, Memory
from thermostatd.core.plug import hear
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event
from thermostatd.core.said import said
from thermostatd.core.sensing import LONGEST_STALE_SECONDS, learn, stale_seconds
from thermostatd.core.values import Forecast, Missing, Observation, Reading, is_finite

LOWEST_CELSIUS, HIGHEST_CELSIUS = -30.0, 60.0
OUTDOOR_LOWEST_CELSIUS, OUTDOOR_HIGHEST_CELSIUS = -60.0, 60.0
JUMP_KELVIN, JUMP_SECONDS = 10.0, 600.0
FUTURE_SECONDS = 120.0
BATTERY_LOW_PERCENT, BATTERY_GOOD_PERCENT = 15.0, 25.0
TRAIL_SPACING_SECONDS, TRAIL_POINTS = 300.0, 14
MOST_SIGNS = 120
MOST_REFUSED, REFUSED_SECONDS = 2, 120.0


@dataclass(frozen=True, slots=True)
class Readings:
    """Each room's air and the outdoor air, as far as they are known; and what outdoor air is forecast."""

    air: Mapping[str, Reading | Missing]
    outdoor: Reading | Missing
    events: tuple[Event, ...]
    forecast: Forecast | None = None


def read(house: House, memory: Memory, seen: Observation, now: Now) -> Readings:
    """Take in everything new and say what is known."""
    events: list[Event] = []
    air: dict[str, Reading | Missing] = {}
    for room in house.rooms:
        kept = memory.rooms[room.name].air
        refused = _take(kept, seen.air.get(room.name), now, (LOWEST_CELSIUS, HIGHEST_CELSIUS))
        if refused:
            events.append(Event("reading-refused", room.name, sentence("reading-refused", why=refused)))
        stale = [sensor.stale_after for sensor in room.all_sensors if sensor.stale_after is not None]
        air[room.name] = _known(kept, now, max(stale) if stale else None)
        _watch_battery(memory, room.name, seen, events)
    outdoors = (OUTDOOR_LOWEST_CELSIUS, OUTDOOR_HIGHEST_CELSIUS)
    _take(memory.outdoor, seen.outdoor, now, outdoors)
    memory.outdoor.trail = []  # nobody asks how fast it changes
    for key, heater, place in house.heaters():
        longest_by_hand = place.longest if isinstance(place, Spot) else math.inf
        events += hear(memory.heaters[key], heater, key, seen.plugs.get(key), now, longest_by_hand)
    events = forget_blinks(memory, events, now.steady)
    forecast = forecast_of(house, memory, seen, now, outdoors)
    return Readings(air, _known(memory.outdoor, now, LONGEST_STALE_SECONDS * 2), tuple(events), forecast)


def slope_kelvin_per_hour(kept: AirMemory, steady: float, seconds: float = 1500.0) -> float | None:
    """How fast the air has changed over the last stretch, from the room's own trail; None: not known."""
    oldest, count = steady - seconds, 0
    xs = ys = xxs = xys = 0.0  # seconds from `oldest`: small numbers, so the sums stay exact enough
    for at, celsius in kept.trail:
        if at >= oldest:
            x = at - oldest
            count, xs, ys, xxs, xys = count + 1, xs + x, ys + celsius, xxs + x * x, xys + x * celsius
    spread = count * xxs - xs * xs
    return 3600.0 * (count * xys - xs * ys) / spread if count >= 3 and spread > 0.0 else None


def _take(
    kept: AirMemory, sample: Reading | Missing | float | None, now: Now, span: tuple[float, float]
) -> str | None:
    """Take one sample in; gives why it was refused, if it was."""
    if kept.waiting_since is None:
        kept.waiting_since = now.steady
    if sample is None:
        return None
    if not isinstance(sample, Reading):
        sample = sample if isinstance(sample, Missing) else Reading(sample)
    at = now.steady if sample.at is None else sample.at
    why = sample.why if isinstance(sample, Missing) else _fault(kept, sample.celsius, at, now, span)
    if why is not None:
        why = why[:MOST_SIGNS]
        changed = kept.why != why
        kept.why = why
        if not isinstance(sample, Missing) or sample.implausible:
            kept.good_needed = 3
            kept.refused += 1
            kept.refused_at = now.steady if kept.refused_at is None else kept.refused_at
        return why if changed else None
    if kept.at is None or at > kept.at:
        assert isinstance(sample, Reading)
        _accept(kept, float(sample.celsius), at, now)
    return None


def _fault(kept: AirMemory, celsius: object, at: object, now: Now, span: tuple[float, float]) -> str | None:
    if isinstance(celsius, bool) or not isinstance(celsius, (int, float)):
        return said("{told} is not a number", told=f"{celsius!r:.40}")
    if not is_finite(celsius):
        return said("the value is not a finite number")
    if not span[0] <= celsius <= span[1]:
        return said(
            "{celsius:.4g}° is outside {low:.0f}…{high:.0f}°", celsius=celsius, low=span[0], high=span[1]
        )
    if not is_finite(at) or at > now.steady + FUTURE_SECONDS:
        return said("the reading's time lies ahead")
    if kept.celsius is None or kept.at is None or kept.good_needed:
        return None
    if abs(celsius - kept.celsius) > JUMP_KELVIN and at - kept.at < JUMP_SECONDS:
        return said(
            "it jumped from {before:.1f}° to {celsius:.1f}° at once", before=kept.celsius, celsius=celsius
        )
    return None


def _accept(kept: AirMemory, celsius: float, at: float, now: Now) -> None:
    if kept.good_needed and (kept.silent or _far_from_last(kept, celsius)):
        kept.good_needed -= 1
        if kept.good_needed:
            return
    kept.good_needed, kept.silent, kept.refused, kept.refused_at = 0, False, 0, None
    celsius = round(celsius, 4) + 0.0  # no zero below zero
    learn(kept, celsius, at)
    kept.celsius, kept.at, kept.heard = celsius, min(at, now.steady), True
    if not kept.trail or at - kept.trail[-1][0] >= TRAIL_SPACING_SECONDS:
        kept.trail = [*kept.trail[-(TRAIL_POINTS - 1) :], (at, round(celsius, 3))]


def _far_from_last(kept: AirMemory, celsius: float) -> bool:
    return kept.celsius is None or abs(celsius - kept.celsius) > 1.0


def _known(kept: AirMemory, now: Now, stated: float | None) -> Reading | Missing:
    if kept.celsius is None or kept.at is None:
        return Missing(kept.why, kept.waiting_since)
    if not kept.heard:
        return Missing(said("not heard since the start"), kept.waiting_since)
    if kept.refused_at is not None and (
        kept.refused >= MOST_REFUSED or now.steady - kept.refused_at >= REFUSED_SECONDS
    ):
        kept.silent = True  # as after a silence: the third good value mends it
        return Missing(kept.why, kept.at)
    age = now.steady - kept.at
    if not age <= stale_seconds(kept, stated):
        silent = said("the sensor has been silent for {minutes:.0f} minutes", minutes=age / 60)
        why = kept.why if kept.good_needed else silent
        kept.silent = True
        return Missing(why, kept.at)
    return Reading(kept.celsius, kept.at)


def _watch_battery(memory: Memory, room: str, seen: Observation, events: list[Event]) -> None:
    percent = seen.battery_percent.get(room)
    if not is_finite(percent):
        return
    kept = memory.rooms[room]
    if percent < BATTERY_LOW_PERCENT and kept.battery_low is None:
        kept.battery_low = percent
        events.append(Event("battery-low", room, sentence("battery-low", percent=percent)))
    elif percent > BATTERY_GOOD_PERCENT:
        kept.battery_low = None
