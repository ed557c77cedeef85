"""What each plug is told, why, and when that lapses.

Rules: an ON lapses by itself 15 minutes ahead or more and is renewed by a step that decided; OFF is retold
until it is shown; every change of an order is one switching, counted here alone.
"""

from __future__ import annotations

from collections.abc import Mapping

from thermostatd.core.clock import Now
from thermostatd.core.guard import Guarded
from thermostatd.core.house import Heater, House, Room, Spot
from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.pace import note_switching
from thermostatd.core.plug import drawing_floor_watts, evidence_watts, shows_contact
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event, Order

LAPSE_SECONDS = 1200.0
RENEW_UNDER_SECONDS = 960.0
RETELL_SECONDS = 30.0
RETELL_UNSHOWN_SECONDS = 600.0


def orders(
    house: House, memory: Memory, guarded: Mapping[str, Guarded], now: Now
) -> tuple[dict[str, Order], list[Event]]:
    """An order for every plug, and the switchings among them."""
    told: dict[str, Order] = {}
    events: list[Event] = []
    for key, heater, place in house.heaters():
        kept, verdict = memory.heaters[key], guarded[key]
        if verdict.on != kept.told_on:
            switch(memory, kept, place, verdict.on, now)
            code = "switched-on" if verdict.on else "switched-off"
            events.append(Event(code, key, sentence(code, why=verdict.reason.sentence)))
        elif kept.told_on:
            kept.on_seconds += now.seconds
        told[key] = Order(verdict.on, verdict.reason, *_hold(house, kept, heater, verdict.on, now))
    return told, events


def switch(memory: Memory, kept: HeaterMemory, place: Room | Spot, on: bool, now: Now) -> None:
    """From now on the plug counts as told ON or OFF, by one switching more."""
    kept.told_on, kept.told_at, kept.retold_at = on, now.steady, None
    kept.answered, kept.unanswered_since = kept.reachable and kept.shown_on is on, None
    kept.on_since, kept.off_since = (now.steady, kept.off_since) if on else (None, now.steady)
    if not on and not kept.reachable:
        kept.maybe_on = True  # the OFF cannot get there, and an ON that was never shown may have
    kept.off_reports_over = 0
    kept.operations += 1
    if isinstance(place, Room):
        note_switching(memory, place, now)


def _hold(house: House, kept: HeaterMemory, heater: Heater, on: bool, now: Now) -> tuple[float, bool]:
    """When the order lapses, and whether the plug is to be told (again) now."""
    margin = max(RENEW_UNDER_SECONDS, 900.0 + 2.0 * house.house.tick)
    longest = max(LAPSE_SECONDS, margin + 240.0)
    due = kept.retold_at is None or _owes_answer(kept, heater, now)
    if on and not margin <= kept.lapses - now.steady <= longest:  # further ahead: of a memory from another clock
        due = True
    if on and due:
        kept.lapses = now.steady + longest
    if due:
        kept.retold_at = now.steady
    return (kept.lapses if on else now.steady + LAPSE_SECONDS), due


def _owes_answer(kept: HeaterMemory, heater: Heater, now: Now) -> bool:
    assert kept.retold_at is not None
    silent = now.steady - kept.retold_at
    if not kept.told_on and kept.settled_at is not None and kept.settled_at > kept.retold_at:
        return True  # found ON since it was told: at once, and from then on as any other
    if not kept.told_on and (
        _still_draws(kept, heater) or (not shows_contact(heater) and now.steady < kept.lapses)
    ):
        return silent >= RETELL_SECONDS
    if not shows_contact(heater) or kept.shown_on is None:
        return silent >= RETELL_UNSHOWN_SECONDS
    return kept.shown_on != kept.told_on and silent >= RETELL_SECONDS


def _still_draws(kept: HeaterMemory, heater: Heater) -> bool:
    """Whether power flows after OFF, or did when last known: then it is told OFF again and again."""
    watts = evidence_watts(kept)
    if watts is None:
        return bool(kept.notes.get("drawing-while-off", {}).get("latched"))
    return watts > drawing_floor_watts(heater)
