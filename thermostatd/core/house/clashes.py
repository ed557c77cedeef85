"""Faults across tables: statements that are each readable and cannot hold together.

Rules: pure; every clash is found in one pass; each names the key to change and how.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from thermostatd.core.house import House
from thermostatd.core.house.clashes_heaters import heater_clashes
from thermostatd.core.house.clashes_topics import topic_clashes
from thermostatd.core.house.places import heaters_of, rooms_of
from thermostatd.core.house.remarks import Clash, KeyPath, plain
from thermostatd.core.house.rooms import Room
from thermostatd.core.house.tables import Broker
from thermostatd.core.house.units import DAYS

_LOOPBACK = ("localhost", "::1")


def clashes(house: House) -> tuple[Clash, ...]:
    """Every clash of the house, in the order of the checks."""
    checks: tuple[Callable[[House], Iterable[Clash]], ...] = (
        _house,
        _broker,
        _names,
        _unknown_circuits,
        _room_limits,
        _usual_weeks,
        _quiet_hours,
        _spot_times,
        heater_clashes,
        topic_clashes,
    )
    return tuple(clash for check in checks for clash in check(house))


def _house(house: House) -> Iterator[Clash]:
    asleep = house.house.asleep
    if asleep and asleep.begins == asleep.ends:
        what = "ends when it begins: no hour is asleep"
        yield Clash(("house", "asleep", "to"), what, "Write two different times")
    if not 1 <= house.house.tick <= 300:
        what = "is outside 1 s to 5 min: an ON must be renewed well before it lapses"
        yield Clash(("house", "tick"), what, 'Write "10 s"')
    if not house.rooms and not house.spots:
        what = "the file describes no room and no spot"
        yield Clash(("room",), what, "Add a [[room]] with a name and a sensor")


def _broker(house: House) -> Iterator[Clash]:
    broker: Broker = house.broker
    if broker.serve and not (broker.host in _LOOPBACK or broker.host.startswith("127.")):
        what = "is another machine, yet serve = true runs the embedded broker, on loopback only"
        yield Clash(("broker", "host"), what, 'Write host = "127.0.0.1", or leave serve out')
    tls = broker.tls
    if tls and (tls.cert is None) != (tls.key is None):
        yield Clash(("broker", "tls"), "names only one of cert and key", "Name both files, or neither")


def _doubled(named: Iterable[tuple[KeyPath, str]], what: str) -> Iterator[Clash]:
    seen: set[str] = set()
    for path, name in named:
        if name.casefold() in seen:
            yield Clash((*path, "name"), f'"{name}" is already the name of {what}', "Choose another name")
        seen.add(name.casefold())


def _names(house: House) -> Iterator[Clash]:
    yield from _doubled(((("circuit", i), c.name) for i, c in enumerate(house.circuits)), "another circuit")
    places: list[tuple[KeyPath, str]] = [(path, room.name) for path, room in rooms_of(house)]
    places += [(("spot", index), spot.name) for index, spot in enumerate(house.spots)]
    yield from _doubled(places, "another room or spot")
    for path, room in rooms_of(house):
        heaters = (((*path, "heater", i), heater.name) for i, heater in enumerate(room.heaters))
        yield from _doubled(heaters, "another heater of this room")


def _unknown_circuits(house: House) -> Iterator[Clash]:
    known = ", ".join(f'"{circuit.name}"' for circuit in house.circuits) or "none yet"
    for place in heaters_of(house):
        name = place.heater.circuit
        if name is not None and house.circuit(name) is None:
            mend = f"Describe it in a [[circuit]], or name one of those described ({known})"
            yield Clash((*place.path, "circuit"), f'"{name}" is not described', mend)


def _room_limits(house: House) -> Iterator[Clash]:
    for path, room in rooms_of(house):
        ceiling = plain(room.ceiling_celsius)
        if room.household.highest > room.ceiling_celsius:
            what = f"{plain(room.household.highest)} °C is over the room's ceiling, {ceiling} °C"
            mend = f"Write at most {ceiling}, or raise ceiling_celsius"
            yield Clash((*path, "household", "highest"), what, mend)
        if room.cold_celsius > room.ceiling_celsius:
            what = f"{plain(room.cold_celsius)} °C is over the room's ceiling, {ceiling} °C"
            yield Clash((*path, "cold_celsius"), what, "Write a lower one, such as 12")
        if house.house.frost_celsius > room.ceiling_celsius:
            what = f"{ceiling} °C is under frost_celsius, {plain(house.house.frost_celsius)} °C"
            yield Clash((*path, "ceiling_celsius"), what, "Raise it, or lower frost_celsius in [house]")


def _usual_weeks(house: House) -> Iterator[Clash]:
    for path, room in rooms_of(house):
        yield from _steps_past_limits(path, room)
        yield from _steps_at_one_time(path, room)


def _steps_past_limits(path: KeyPath, room: Room) -> Iterator[Clash]:
    lowest, highest = room.household.lowest, room.household.highest
    for index, step in enumerate(room.usual):
        where = (*path, "usual", index, "celsius")
        if step.celsius > room.ceiling_celsius:
            what = f"{plain(step.celsius)} °C is over the room's ceiling, {plain(room.ceiling_celsius)} °C"
            yield Clash(where, what, "Write a lower target, or raise ceiling_celsius")
        elif not lowest <= step.celsius <= highest:
            what = f"{plain(step.celsius)} °C is outside household, {plain(lowest)} to {plain(highest)} °C"
            yield Clash(where, what, "Write a target within, or change household")


def _steps_at_one_time(path: KeyPath, room: Room) -> Iterator[Clash]:
    taken: dict[tuple[int, str], int] = {}
    for index, step in enumerate(room.usual):
        at = step.at.strftime("%H:%M")
        both = sorted(day for day in step.days if (day, at) in taken)
        if both:
            what = f"another step holds {DAYS[both[0]]} {at} already (usual[{taken[both[0], at]}])"
            yield Clash((*path, "usual", index), what, "Keep one of the two, or change its days or time")
        for day in step.days:
            taken.setdefault((day, at), index)


def _spot_times(house: House) -> Iterator[Clash]:
    for index, spot in enumerate(house.spots):
        if spot.usual and spot.unasked is None:
            what = "it would start with nobody having asked, and perhaps nobody there"
            mend = 'Leave it out, or write unasked = "accepted" if a person is always there at these times'
            yield Clash(("spot", index, "usual"), what, mend)
        for place, usual in enumerate(spot.usual):
            if usual.minutes * 60.0 > spot.longest:
                what = f"{plain(usual.minutes)} minutes is over longest, {plain(spot.longest / 60)} minutes"
                yield Clash(("spot", index, "usual", place, "minutes"), what, "Write fewer, or raise longest")


def _quiet_hours(house: House) -> Iterator[Clash]:
    for path, room in rooms_of(house):
        for index, quiet in enumerate(room.quiet):
            if quiet.begins == quiet.ends:
                what = "ends when it begins: no hour is quiet"
                yield Clash((*path, "quiet", index, "to"), what, "Write two different times, or leave it out")
