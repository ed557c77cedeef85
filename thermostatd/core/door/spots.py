"""What is asked of a spot: its warmth for some minutes, or for some more.

Rules: never longer than its owner allows, never while everything is off or its heater may not run; it ends by itself.
"""

from __future__ import annotations

from thermostatd.core.asking import Refused, WarmMe
from thermostatd.core.circumstance import TOLD, circumstance_of
from thermostatd.core.clock import Now
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.refusing import hours, refuse, shown
from thermostatd.core.door.wishes import wish_of
from thermostatd.core.house import Spot
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of
from thermostatd.core.values import is_finite


def warm(ledger: Ledger, asked: WarmMe, now: Now) -> Taken | Refused:
    """Radiant heat from now on; what is left of an earlier wish is told."""
    spot = ledger.house.spot(asked.spot) if isinstance(asked.spot, str) else None
    if spot is None:
        return refuse("no-such-spot", name=shown(asked.spot))
    refusal = _in_the_way(ledger, spot, asked.minutes, now)
    if refusal is not None:
        return refusal
    minutes, running = float(asked.minutes), ledger.memory.spots.get(spot.name)
    kept = wish_of(asked, now, now.steady + minutes * 60.0, replaces=running)
    ledger.forget_hands([spot.key])
    ledger.memory.spots[spot.name] = kept
    if running is None or running.ends is None:
        return Taken("warm-me", spot.name, sentence("warm-me", who=kept.who, minutes=minutes), kept)
    left = max(0.0, running.ends - now.steady) / 60.0
    said = sentence("warm-longer", who=kept.who, minutes=minutes, left=left)
    return Taken("warm-longer", spot.name, said, kept)


def _in_the_way(ledger: Ledger, spot: Spot, minutes: object, now: Now) -> Refused | None:
    if not is_finite(minutes) or minutes <= 0:
        return refuse("not-a-number")
    if minutes * 60.0 > spot.longest:
        return refuse("too-long", limit=hours(spot.longest))
    if ledger.memory.all_off is not None:
        return refuse("everything-off")
    circumstance = circumstance_of(ledger.house, ledger.memory, now)
    if circumstance not in spot.heater.may_run:
        return refuse("spot-not-now", then=text_of(TOLD[circumstance]))
    return None
