"""What each heater takes of its circuit, A at high mains, and whether it may draw without an order.

Rules: what was not proven OFF counts as ON. A plug that can be heard counts until it shows or meters OFF; one
that cannot counts until its last ON has lapsed, and as long from the start, since nobody knows what it was told.
"""

from __future__ import annotations

from thermostatd.core.clock import Now
from thermostatd.core.house import Circuit, Heater, House
from thermostatd.core.house.currents import amps_at_high_mains
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.plug import (
    PATIENCE_SECONDS,
    can_be_heard,
    drawing_floor_watts,
    evidence_watts,
    shows_contact,
)

PROVEN_COUNT = 3
UNKNOWN_SECONDS = 1800.0  # no ON is ever given for longer
ARRIVES_SECONDS = 5.0  # until an OFF is surely there; and a plug's own timer may be as slow


def share_amps(circuit: Circuit) -> float:
    """What long loads may use of a breaker, A."""
    return circuit.breaker_amps * circuit.continuous_share


def counted_amps(kept: HeaterMemory, heater: Heater, house: House) -> float:
    """What a heater counts for, A at high mains.

    As its meter has proven, by the highest level it was often seen at; else as set. What it draws now counts where
    that is more: a selector may have been turned up.
    """
    proven = [
        level.watts
        for level in kept.facts.levels
        if level.count >= PROVEN_COUNT and level.watts > drawing_floor_watts(heater)
    ]
    watts = max(proven) if proven else heater.watts
    return amps_at_high_mains(max(watts, _metered_watts(kept, house)), house.house)


def _metered_watts(kept: HeaterMemory, house: House) -> float:
    """What it draws now, W at nominal mains; 0 where that is not known."""
    watts = evidence_watts(kept) if kept.shown_on is not False else None
    nominal, stray = house.house.mains_volts, house.house.mains_tolerance
    if watts is None or kept.volts is None or not abs(kept.volts / nominal - 1.0) <= stray:
        return watts or 0.0
    return watts * (nominal / kept.volts) ** 2


def may_draw(kept: HeaterMemory, heater: Heater, now: Now) -> bool:
    """Whether a heater that is not ordered on must still be counted: shown ON, drawing, or unknown.

    One that is told ON and goes off in this very step counts: OFF has yet to reach it. A plug that went away
    before its last ON lapsed may have taken it.
    """
    if kept.told_on or kept.shown_on is True or kept.notes.get("drawing-while-off", {}).get("latched"):
        return True
    if _told_just_now(kept, now):
        return True
    if not kept.reachable and (kept.shown_on is not False or now.steady < kept.lapses):
        return True
    if can_be_heard(heater) and not kept.heard:
        return True
    watts = evidence_watts(kept)
    if watts is not None and watts > drawing_floor_watts(heater):
        return True
    if not can_be_heard(heater):  # whatever was reported of it proves nothing: its file names no meter
        return now.steady < _last_on_lapses(kept)
    if shows_contact(heater):
        return _on_its_way(kept, now)
    return watts is None and now.steady < _last_on_lapses(kept)


def leaving(kept: HeaterMemory, heater: Heater, now: Now) -> bool:
    """Whether one that may draw was told OFF and is expected to be off soon, or at its lapse at the latest."""
    welded = kept.notes.get("drawing-while-off", {}).get("latched")
    if welded or not kept.reachable or (can_be_heard(heater) and not kept.heard):
        return False
    if kept.told_on:
        return True
    if kept.shown_on is True:
        pressed = kept.settled_at is not None and kept.settled_at > (kept.told_at or 0.0)
        return not pressed and kept.told_at is not None and now.steady - kept.told_at < PATIENCE_SECONDS
    watts = evidence_watts(kept)
    return watts is None or watts <= drawing_floor_watts(heater)


def _told_just_now(kept: HeaterMemory, now: Now) -> bool:
    """Told OFF so short a time ago that it may not be there: even where its ON has lapsed."""
    told_at = _unshown_since(kept)
    return told_at is not None and now.steady < told_at + ARRIVES_SECONDS


def _on_its_way(kept: HeaterMemory, now: Now) -> bool:
    """Told OFF a moment ago: an ON may still have come before it."""
    told_at = _unshown_since(kept)
    return told_at is not None and now.steady < min(kept.lapses, told_at + PATIENCE_SECONDS)


def _unshown_since(kept: HeaterMemory) -> float | None:
    """When it was told last, with no word from the contact since; None: it has spoken, or was never told."""
    return None if kept.shown_at is not None and kept.shown_at > (kept.told_at or 0.0) else kept.told_at


def _last_on_lapses(kept: HeaterMemory) -> float:
    """When the last ON that this plug may have been given has certainly lapsed; from a start, none is known."""
    return max(kept.lapses, (kept.waiting_since or 0.0) + UNKNOWN_SECONDS)
