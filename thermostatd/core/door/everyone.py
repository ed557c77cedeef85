"""What is asked of the whole house: nobody is in, everything off.

Rules: either ends the warmth at every spot, and none of it may come back by itself.
"""

from __future__ import annotations

from thermostatd.core.asking import AllOff, Out, Refused, Until
from thermostatd.core.clock import Now
from thermostatd.core.door.ends import LONGEST_OUT_SECONDS, end_of
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.wishes import until_of, wish_of
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of


def out(ledger: Ledger, asked: Out, now: Now) -> Taken | Refused:
    """Nobody is in from now on; while that holds already, the return is moved."""
    ends = None if asked.until is Until.NO_END else end_of(asked.until, LONGEST_OUT_SECONDS, None, now)
    if isinstance(ends, Refused):
        return ends
    before = ledger.memory.out
    kept = ledger.memory.out = wish_of(asked, now, ends, replaces=before)
    if before is None:  # nobody is there to be warmed, and none may start by itself once they are back
        ledger.memory.spots.clear()
    code = "out" if before is None else "out-moved"
    until = until_of(kept, now, text_of("someone is back"))
    return Taken(code, "house", sentence(code, who=kept.who, until=until), kept)


def all_off(ledger: Ledger, asked: AllOff, now: Now) -> Taken:
    """Every heater is off until someone takes that back."""
    kept = ledger.memory.all_off = wish_of(asked, now, None, replaces=ledger.memory.all_off)
    ledger.memory.spots.clear()
    for heater in ledger.memory.heaters.values():
        if heater.hand is not None and heater.hand.on:
            heater.hand = None  # nothing that a person started may come back by itself
    return Taken("said-all-off", "house", sentence("said-all-off", who=kept.who), kept)
