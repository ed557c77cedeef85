"""Advice and wear of each heater, from the house and what is remembered. Pure; decides nothing.

Rules: a room's loss is its learned model's, else what it took of late, else unknown; a number that is not known is None
and the sentence says so; nobody is told to open a heater.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.core.body.store import watts_of
from thermostatd.core.house import Heater, House, Room
from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.reasons import ADVICE
from thermostatd.core.said import said
from thermostatd.core.tally import ENOUGH_SECONDS, loss_watts_per_kelvin
from thermostatd.core.values import is_finite
from thermostatd.physics.advice import Advice, Body, advise
from thermostatd.physics.heater_kinds import settings_of
from thermostatd.physics.wear import Wear, wear

SPARE_KELVIN = 3.0  # colder than the coldest of late may come
SEASON_DAYS = 180.0


@dataclass(frozen=True, slots=True)
class Counsel:
    """One heater's advice: a code, its sentence, and the numbers (None where the room's loss is not known yet)."""

    key: str
    code: str
    sentence: str
    advice: Advice | None
    learned_loss: bool


def counsel(house: House, memory: Memory, key: str) -> Counsel | None:
    """Advice on a heater's setting; None for a spot's heater, or where nothing is known yet."""
    found = _find(house, key)
    if found is None or key not in memory.heaters:
        return None
    room, heater = found
    kept = memory.heaters[key]
    advice, learned = _numbers(memory, room, heater, kept)
    if advice is None:
        return _unknown_loss(key, heater, kept)
    return _spoken(key, advice, learned)


def room_loss(memory: Memory, room: Room) -> tuple[float | None, bool]:
    """A room's loss, W/K, and whether a learned model tells it (else what it took of late)."""
    model = memory.models.get(room.name) or {}
    gain = model.get("gain_kelvin")
    watts = sum(heater.watts for heater in room.heaters)
    if is_finite(gain) and gain > 0.0 and watts > 0.0:
        return watts / gain, True
    return loss_watts_per_kelvin(memory.rooms[room.name].tally), False


def sheds_watts(kept: HeaterMemory) -> float:
    """What the heater has carried for hours without an opening, W: a lower bound of what it sustains; 0 if unknown."""
    return watts_of(min(kept.body.most)) if kept.body.most else 0.0


def body_of(kept: HeaterMemory) -> Body | None:
    """The learned body, or the least that is known of it."""
    facts = kept.facts
    if facts.opens_watts is None or facts.body_tau_seconds is None:
        return None
    return Body(facts.opens_watts, facts.opens_spread_watts or 0.0, facts.body_tau_seconds)


def wear_of(house: House, memory: Memory, key: str, wall: float) -> Wear | None:
    """A heater's wear at a wall time (Unix seconds); None for a key that is not there."""
    heater = next((heater for known, heater, _ in house.heaters() if known == key), None)
    if heater is None or key not in memory.heaters:
        return None
    kept, season = memory.heaters[key], memory.season
    switchings, on_seconds, openings = season.before.get(key, (0, 0.0, 0))
    return wear(
        kept.operations,
        kept.on_seconds,
        kept.facts.trip_count,
        rated_operations=heater.plug.rated_operations,
        season_seconds=max(0.0, wall - season.since_wall) if season.since_wall else 0.0,
        season_switchings=max(0, kept.operations - switchings),
        season_on_seconds=max(0.0, kept.on_seconds - on_seconds),
        season_openings=max(0, kept.facts.trip_count - openings),
        days_a_year=SEASON_DAYS,
    )


def _find(house: House, key: str) -> tuple[Room, Heater] | None:
    places = ((place, heater) for known, heater, place in house.heaters() if known == key)
    place, heater = next(places, (None, None))
    return (place, heater) if isinstance(place, Room) and heater is not None else None


def _numbers(memory: Memory, room: Room, heater: Heater, kept: HeaterMemory) -> tuple[Advice | None, bool]:
    loss, learned = room_loss(memory, room)
    outdoor, rooms = memory.outdoor.celsius, memory.rooms[room.name]
    target = rooms.last_target if rooms.last_target is not None else rooms.air.celsius
    if loss is None or outdoor is None or target is None:
        return None, learned
    tally, others = rooms.tally, _others_watts(memory, room, heater)
    free = max(0.0, loss * tally.kelvins - tally.watts) if learned and tally.seconds > ENOUGH_SECONDS else 0.0
    coldest = min(outdoor, tally.coldest if tally.coldest is not None else outdoor) - SPARE_KELVIN
    model = memory.models.get(room.name) or {}
    tau = model.get("tau_seconds")
    advice = advise(
        settings_of(heater.kind, heater.watts, heater.settings_watts),
        heater.watts,
        max(target, room.household.lowest),
        loss,
        outdoor,
        coldest,
        body=body_of(kept),
        sheds_watts=sheds_watts(kept),
        free_watts=free + others,
        min_on=heater.min_on,
        min_off=heater.min_off,
        room_tau_seconds=tau if is_finite(tau) and tau > 0.0 else 14400.0,
        half_band_kelvin=room.differential / 2.0,
    )
    return advice, learned


def _others_watts(memory: Memory, room: Room, heater: Heater) -> float:
    """What the room's other heaters carry for hours, W."""
    total = 0.0
    for other in room.heaters:
        if other is not heater:
            kept = memory.heaters[room.key_of(other)]
            total += min(other.watts, kept.facts.sustained_watts or other.watts)
    return total


def _unknown_loss(key: str, heater: Heater, kept: HeaterMemory) -> Counsel | None:
    opens = kept.facts.opens_watts
    settings = settings_of(heater.kind, heater.watts, heater.settings_watts)
    lower = [watts for watts in settings if opens is not None and watts <= 0.97 * opens]
    if opens is None or heater.watts <= 0.97 * opens or not lower:
        return None
    said_so = said(ADVICE["advice-opens"], watts=max(lower), now=heater.watts)
    return Counsel(key, "advice-opens", said_so, None, False)


def _spoken(key: str, advice: Advice, learned: bool) -> Counsel:
    code = _code(advice)
    numbers = {
        "watts": advice.best.watts,
        "now": advice.current.watts,
        "target": advice.target_celsius,
        "outdoor": advice.best.holds_celsius,
        "held": advice.current.holds_celsius,
        "more": max(0.0, advice.clicks_saved),
    }
    return Counsel(key, code, said(ADVICE[code], **numbers), advice, learned)


def _code(advice: Advice) -> str:
    if not advice.change:
        return "advice-keep" if advice.best.holds else "advice-weak"
    if advice.current.opens:
        return "advice-lower-opens" if advice.best.holds else "advice-least-weak"
    return "advice-lower" if advice.current.holds else "advice-higher"
