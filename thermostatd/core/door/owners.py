"""What the owner says of the house: a trouble was seen, a heater was carried, its selector was turned.

Rules: a word on a heater holds until the house file says otherwise (core/placing.py); seeing alone opens a latch.
"""

from __future__ import annotations

from thermostatd.core import placing
from thermostatd.core.asking import Refused, Seen, SetTo, Stands
from thermostatd.core.clock import Now, believe
from thermostatd.core.door.ledger import Ledger, Taken
from thermostatd.core.door.refusing import refuse, refuse_statement, shown
from thermostatd.core.door.wishes import who_of
from thermostatd.core.guard import open_latch
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said as text_of

CLOCK_TROUBLE = "house/clock"
CIRCUIT_SAID = (
    "It counts on the circuit {name}; if its plug is in a socket of another circuit, write that in the house file."
)


def seen(ledger: Ledger, asked: Seen, now: Now) -> Taken | Refused:
    """The owner has looked at a trouble: what it latched opens; a clock that leapt is believed."""
    trouble = ledger.memory.troubles.get(asked.trouble) if isinstance(asked.trouble, str) else None
    if trouble is None:
        return refuse("no-such-trouble", name=shown(asked.trouble))
    trouble.seen = True
    open_latch(ledger.memory, asked.trouble)
    if asked.trouble == CLOCK_TROUBLE:
        believe(ledger.memory.clock, now.steady)
    return Taken("seen", asked.trouble.rpartition("/")[0], sentence("seen", who=who_of(asked.who)))


def stands(ledger: Ledger, asked: Stands, now: Now) -> Taken | Refused:
    """A heater stands in that room from now on."""
    who, wall = who_of(asked.who), now.best.timestamp()
    moved = placing.stands(ledger.written, ledger.memory, asked.heater, asked.room, who, wall)
    if isinstance(moved, placing.Fault):
        return refuse_statement(moved)
    ledger.place_anew()
    said = sentence("stands", who=who, heater=moved.name, room=asked.room)
    circuit = placing.circuit_in(ledger.written, asked.room, moved)
    if circuit is not None:
        said = text_of("{said} {circuit}", said=said, circuit=text_of(CIRCUIT_SAID, name=circuit))
    return Taken("stands", asked.heater, said)


def set_to(ledger: Ledger, asked: SetTo, now: Now) -> Taken | Refused:
    """A heater's selector is set to so many watts from now on."""
    who, wall = who_of(asked.who), now.best.timestamp()
    turned = placing.set_to(ledger.written, ledger.memory, asked.heater, asked.watts, who, wall)
    if isinstance(turned, placing.Fault):
        return refuse_statement(turned)
    ledger.place_anew()
    said = sentence("set-to", who=who, heater=turned.name, watts=asked.watts)
    return Taken("set-to", asked.heater, said)
