"""Makes the Result of what the stages said: every intermediate answer, the troubles, and the events."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

from thermostatd.core import coldness
from thermostatd.core.circumstance import circumstance_of
from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants
from thermostatd.core.following import LEFT
from thermostatd.core.foretelling import knows
from thermostatd.core.guard import Guarded
from thermostatd.core.house import House, Room, Spot
from thermostatd.core.memory import Memory, TroubleMemory
from thermostatd.core.meter.diagnosis.naming import advice
from thermostatd.core.pace import Paced
from thermostatd.core.reading import Readings, slope_kelvin_per_hour
from thermostatd.core.reasons import TROUBLES, sentence
from thermostatd.core.results import (
    Event,
    HeaterResult,
    HouseResult,
    Order,
    Reason,
    Result,
    RoomResult,
    SpotResult,
    Target,
    Trouble,
    Verdict,
)
from thermostatd.core.said import said
from thermostatd.core.spots import felt, warmer_kelvin
from thermostatd.core.tally import tally
from thermostatd.core.values import Reading

FORECAST_HOURS = 2.0


def record(
    house: House,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    wants: Wants,
    paced: Mapping[str, Paced],
    guarded: Mapping[str, Guarded],
    told: Mapping[str, Order],
    now: Now,
    events: Sequence[Event],
) -> Result:
    """Everything that this step decided."""
    tally(house, memory, readings, now)
    coldness.watch(house, memory, readings, targets, now)
    heaters = {key: _heater(memory, key, wants, paced, guarded, told) for key, _, _ in house.heaters()}
    rooms = {
        room.name: _room(room, memory, readings, targets, wants, heaters, told, now) for room in house.rooms
    }
    spots = {spot.name: _spot(spot, memory, heaters, told, now) for spot in house.spots}
    troubles, changes = _troubles(house, memory, heaters, now)
    logged = (*events, *_cut_outs(memory), *changes)
    return Result(told, rooms, spots, _house(house, memory, readings, now), troubles, logged)


def _cut_outs(memory: Memory) -> list[Event]:
    """What the watch on the heaters' own cut-outs found in this step."""
    events = []
    for key, kept in memory.heaters.items():
        for code, numbers in kept.notes.get("cut-out", {}).pop("news", ()):
            events.append(Event(code, key, sentence(code, **numbers)))
    return events


def _heater(
    memory: Memory,
    key: str,
    wants: Wants,
    paced: Mapping[str, Paced],
    guarded: Mapping[str, Guarded],
    told: Mapping[str, Order],
) -> HeaterResult:
    kept = memory.heaters[key]
    return HeaterResult(
        wants.heaters[key][0],
        paced[key].on,
        told[key].on,
        guarded[key].verdicts,
        kept.shown_on,
        kept.watts,
        kept.hand is not None,
    )


def _room(
    room: Room,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    wants: Wants,
    heaters: Mapping[str, HeaterResult],
    told: Mapping[str, Order],
    now: Now,
) -> RoomResult:
    keys = [room.key_of(heater) for heater in room.heaters]
    demand = wants.rooms[room.name]
    air = readings.air[room.name]
    reason = _room_reason(demand.reason, [told[key] for key in keys])
    forecast: tuple[tuple[float, float], ...] = ()
    if demand.outlook is not None:
        forecast = tuple((at, celsius) for at, celsius, _ in demand.outlook.course)
    elif isinstance(air, Reading):
        forecast = _forecast(room, memory, air, targets[room.name], now)
    told_of = knows(memory, room.name)
    of_keys = {key: heaters[key] for key in keys}
    return RoomResult(air, targets[room.name], demand, reason, of_keys, forecast, told_of)


def _room_reason(wanted: Reason, told: Sequence[Order]) -> Reason:
    """A running heater speaks for the room; else the first one's reason."""
    return next((order.reason for order in told if order.on), told[0].reason if told else wanted)


def _forecast(
    room: Room, memory: Memory, air: Reading, target: Target, now: Now
) -> tuple[tuple[float, float], ...]:
    """Where the air is heading at its present pace, to the target at most: steady seconds and °C."""
    slope = slope_kelvin_per_hour(memory.rooms[room.name].air, now.steady)
    if slope is None or abs(slope) < 0.05 or (target.celsius - air.celsius) * slope <= 0:
        return ()
    hours = min(FORECAST_HOURS, (target.celsius - air.celsius) / slope)
    return tuple(
        (now.steady + hours * 3600.0 * n / 4.0, air.celsius + slope * hours * n / 4.0) for n in range(1, 5)
    )


def _spot(
    spot: Spot, memory: Memory, heaters: Mapping[str, HeaterResult], told: Mapping[str, Order], now: Now
) -> SpotResult:
    request = memory.spots.get(spot.name)
    remaining = max(0.0, request.ends - now.steady) if request and request.ends is not None else 0.0
    until = now.wall_in(remaining) if request else None
    order = told[spot.key]
    kept = memory.heaters[spot.key]
    return SpotResult(
        order.on,
        remaining,
        request.who if request else None,
        until,
        order.reason,
        heaters[spot.key],
        warmer_kelvin(spot, kept),
        felt(spot, kept),
    )


def _house(house: House, memory: Memory, readings: Readings, now: Now) -> HouseResult:
    out, off = memory.out, memory.all_off
    watts = {circuit.name: 0.0 for circuit in house.circuits}
    for key, heater, _ in house.heaters():
        if heater.circuit in watts:
            watts[heater.circuit] += memory.heaters[key].watts or 0.0
    return HouseResult(
        circumstance_of(house, memory, now) == "awake",
        _wall(out.until_wall) if out else None,
        out is not None,
        off is not None,
        off.who if off else None,
        not now.doubted,
        readings.outdoor,
        watts,
        _wall(off.asked_wall) if off else None,
        out.who if out else None,
        readings.forecast,
    )


def _wall(seconds: float | None) -> datetime | None:
    return datetime.fromtimestamp(seconds, UTC) if seconds is not None else None


def _troubles(
    house: House, memory: Memory, heaters: Mapping[str, HeaterResult], now: Now
) -> tuple[tuple[Trouble, ...], list[Event]]:
    """The troubles that hold now, and the events of those that began or ended with this step."""
    found = dict(_found(house, memory, heaters))
    events: list[Event] = []
    for name in [name for name in memory.troubles if name not in found]:
        about, _, code = name.rpartition("/")
        events.append(
            Event(
                "trouble-over",
                about,
                sentence("trouble-over", what=TROUBLES.get(code, TROUBLES["check-failed"])[0]),
            )
        )
        del memory.troubles[name]
    troubles = []
    for name, verdict in found.items():
        what, to_do = TROUBLES["check-failed" if verdict.failed else verdict.code]
        if name not in memory.troubles or (verdict.latched and memory.troubles[name].seen):  # or anew
            memory.troubles[name] = TroubleMemory(now.best.timestamp())
            events.append(Event("trouble", name, sentence("trouble", what=what, evidence=verdict.evidence)))
        kept = memory.troubles[name]
        troubles.append(
            Trouble(
                name,
                verdict.code,
                what,
                verdict.evidence,
                to_do,
                datetime.fromtimestamp(kept.since_wall, UTC),
                verdict.loud,
                verdict.latched,
                kept.seen,
            )
        )
    return tuple(
        sorted(troubles, key=lambda trouble: (not trouble.loud, trouble.seen, trouble.since))
    ), events


def _found(house: House, memory: Memory, heaters: Mapping[str, HeaterResult]) -> list[tuple[str, Verdict]]:
    """Heaters' troubles by `heater/code`; what concerns a room by `room/code`, once; the clock by `house/clock`."""
    found: dict[str, Verdict] = {}
    places = {key: place.name for key, _, place in house.heaters()}
    for key, result in heaters.items():
        for verdict in result.verdicts:
            if verdict.trouble:
                place = places[key]
                about = {"clock": "house", "reading-missing": place}.get(verdict.code, key)
                found.setdefault(f"{about}/{verdict.code}", verdict)
    for key, kept in memory.heaters.items():
        advised = advice(kept)
        if advised is not None:
            found[f"{key}/{advised.code}"] = advised
    for key, left in memory.left.items():
        why = said(TROUBLES[next(iter(left.notes))][0])
        found[f"{key}/{LEFT}"] = Verdict(
            LEFT, False, trouble=True, loud=left.loud, evidence=said("It waited for a look: {what}", what=why)
        )
    for room in house.rooms:
        cold = coldness.verdict(memory.rooms[room.name])
        if cold is not None:
            found[f"{room.name}/{cold.code}"] = cold
        percent = memory.rooms[room.name].battery_low
        if percent is not None:
            found[f"{room.name}/battery-low"] = Verdict(
                "battery-low",
                False,
                trouble=True,
                evidence=said("It is at {percent:.0f} %.", percent=percent),
            )
    return list(found.items())
