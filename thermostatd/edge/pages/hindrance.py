"""Why nothing can be asked of a room or spot just now, and what would help; said where its buttons would stand."""

from __future__ import annotations

from thermostatd.core.circumstance import TOLD
from thermostatd.core.house import House, Room, Spot
from thermostatd.core.house.plugs import Circumstance
from thermostatd.core.reasons import sentence
from thermostatd.core.results import HouseResult
from thermostatd.core.said import said as text_of
from thermostatd.edge.pages import words
from thermostatd.edge.pages.speech import say, t
from thermostatd.edge.pages.who import Visitor, may


def hindrance(house: House, room: Room, state: HouseResult | None, visitor: Visitor) -> str:
    """The sentence in the place of a room's buttons; "" where they are of use."""
    first = _first(state, visitor)
    if first or room.heaters:
        return first
    gone = gone_from(house, room)
    return said_gone(gone) if gone else t(words.NO_HEATER)


def _first(state: HouseResult | None, visitor: Visitor) -> str:
    """What must be pressed first while everything is off or everyone is out."""
    helps = may(visitor.rank, "ask")
    if state is not None and state.all_off:
        return t(words.ALL_OFF_FIRST if helps else words.ALL_OFF_NOW)
    if state is not None and state.out:
        return t(words.OUT_FIRST if helps else words.OUT_NOW)
    return ""


def spot_hindrance(spot: Spot, state: HouseResult | None, visitor: Visitor) -> str:
    """The same for a spot: its heater may run only when the owner allowed it."""
    if state is None or state.all_off:
        return _first(state, visitor)
    circumstance: Circumstance = "away" if state.out else "awake" if state.awake else "asleep"
    if circumstance in spot.heater.may_run:
        return ""
    return _first(state, visitor) or say(sentence("spot-not-now", then=text_of(TOLD[circumstance])))


def gone_from(house: House, room: Room) -> list[tuple[str, str]]:
    """The room's heaters that the owner said stand elsewhere: (heater, room)."""
    home = f"{room.name}/"
    return [
        (heater.name, other.name)
        for other in house.rooms
        for heater in other.heaters
        if other is not room and other.key_of(heater).startswith(home)
    ]


def said_gone(gone: list[tuple[str, str]]) -> str:
    """Where they stand: "Its column stands in the hall now."."""
    return " ".join(t(words.STANDS_ELSEWHERE, heater=heater, room=room) for heater, room in gone)
