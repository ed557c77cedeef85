"""Cautions on hours: no time zone; prices that never hold; usual steps, preheats and frost that `may_run` forbids;
quiet hours spent early."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import time

from thermostatd.core.house import House
from thermostatd.core.house.places import heaters_of, rooms_of
from thermostatd.core.house.plugs import Circumstance
from thermostatd.core.house.remarks import Caution, KeyPath, plain
from thermostatd.core.house.rooms import Room
from thermostatd.core.house.tables import Asleep
from thermostatd.core.house.units import DAYS

PREHEAT_MINUTES = 180  # as long as a preheat commonly takes; no published source
SPENT_AN_HOUR = 2.0  # switchings of a heater that is needed half the time, and rests as it must; no published source
_DAY = 24 * 60


def hour_cautions(house: House) -> Iterator[Caution]:
    """Every caution on when heaters may run."""
    yield from _no_zone(house)
    yield from _prices_that_never_hold(house)
    asleep = house.house.asleep
    if asleep is None and any(True for _ in heaters_of(house)):
        what = "no hours are given in which the house sleeps: heaters may run all night"
        mend = 'Write asleep = { from = "23:00", to = "06:30" } with your own hours'
        yield Caution(("house", "asleep"), what, mend)
    for path, room in rooms_of(house):
        if room.heaters:
            yield from _no_week(path, room, house.house.frost_celsius)
            if asleep is None or _may(room, "asleep"):
                yield from _spent_early(path, room)
            yield from _frost(path, room, house.house.frost_celsius)
            if asleep is not None and asleep.begins != asleep.ends and not _may(room, "asleep"):
                yield from _asleep(path, room, asleep, house.house.frost_celsius)
                yield from _preheats(path, room, asleep)


def _no_zone(house: House) -> Iterator[Caution]:
    """Hours of a house in another zone would come at other times, and nothing would show why."""
    if "timezone" not in house.house.model_fields_set and (house.house.asleep or any(r.usual for r in house.rooms)):
        what = "is not given: every time of day in this file is taken for UTC"
        yield Caution(("house", "timezone"), what, 'Write your own, such as timezone = "Europe/Oslo"')


def _prices_that_never_hold(house: House) -> Iterator[Caution]:
    """The first exception that fits counts: one whose every hour an earlier one has is not what its writer meant."""
    prices = house.tariff.prices if house.tariff else ()
    turns = {time(0), *(at for price in prices for at in (price.begins, price.ends))}
    left = {(day, at) for day in range(len(DAYS)) for at in turns}
    for index, price in enumerate(prices):
        own = {turn for turn in left if price.holds(*turn)}
        left -= own
        if not own:
            mend = "Put it before them, or give it hours of its own: the first that fits counts"
            yield Caution(("tariff", "prices", index), "never holds: earlier ones have all its hours", mend)


def _may(room: Room, when: Circumstance) -> bool:
    return any(when in heater.may_run for heater in room.heaters)


def _frost(path: KeyPath, room: Room, frost_celsius: float) -> Iterator[Caution]:
    if frost_celsius > 0 and not _may(room, "away"):
        what = f"everyone out, no heater here may run: {plain(frost_celsius)} °C against frost is not kept"
        mend = 'Add "away" if the heater may run unattended; no pipe may depend on it either way'
        yield Caution((*path, "heater", 0, "may_run"), what, mend)


def _no_week(path: KeyPath, room: Room, frost_celsius: float) -> Iterator[Caution]:
    if not room.usual:
        what = f"no usual week: {plain(frost_celsius)} °C is held until someone asks for more"
        yield Caution((*path, "usual"), what, 'Write usual = [{ at = "07:30", celsius = 20 }]')


def _asleep(path: KeyPath, room: Room, asleep: Asleep, frost_celsius: float) -> Iterator[Caution]:
    held = [index for index in _steps_while_asleep(room, asleep) if room.usual[index].celsius > frost_celsius]
    if held:
        step = room.usual[held[0]]
        others = f" (and {len(held) - 1} more)" if len(held) > 1 else ""
        what = (
            f"{plain(step.celsius)} °C from {_at(step.at)}{others} holds while the house is asleep, "
            "when no heater here may run"
        )
        mend = 'Let the room cool until morning, or add "asleep" to may_run if you choose so'
        yield Caution((*path, "usual", held[0]), what, mend)


def _steps_while_asleep(room: Room, asleep: Asleep) -> list[int]:
    """The steps that hold at some minute of the asleep hours, by their place in the file."""
    events = sorted(
        (day * _DAY + _minutes(step.at), index) for index, step in enumerate(room.usual) for day in step.days
    )
    if not events:
        return []
    length = (_minutes(asleep.ends) - _minutes(asleep.begins)) % _DAY
    held: set[int] = set()
    for day in range(len(DAYS)):
        begins = day * _DAY + _minutes(asleep.begins)
        held.add(next((index for minute, index in reversed(events) if minute <= begins), events[-1][1]))
        week = len(DAYS) * _DAY
        held.update(index for minute, index in events if 0 < (minute - begins) % week < length)
    return sorted(held)


def _preheats(path: KeyPath, room: Room, asleep: Asleep) -> Iterator[Caution]:
    if room.control != "predictive":
        return
    warmest = max((step.celsius for step in room.usual), default=0.0)
    for index, step in enumerate(room.usual):
        after_waking = (_minutes(step.at) - _minutes(asleep.ends)) % _DAY
        if after_waking < PREHEAT_MINUTES and step.celsius == warmest:
            what = f"a preheat for {_at(step.at)} falls in asleep hours, when no heater here may run"
            yield Caution((*path, "usual", index, "at"), what, 'Add "asleep" to may_run, or a later step')
            return


def _spent_early(path: KeyPath, room: Room) -> Iterator[Caution]:
    """Laws that do not plan spend the switchings of quiet hours as they come."""
    if room.control == "predictive":
        return
    for index, quiet in enumerate(room.quiet):
        hours = ((_minutes(quiet.ends) - _minutes(quiet.begins)) % _DAY) / 60.0
        if quiet.switches < SPENT_AN_HOUR * hours:
            what = f"{quiet.switches} may be used up long before {_at(quiet.ends)}: this law spends them as they come"
            mend = 'Write control = "predictive", which spreads them over the night, or allow more'
            yield Caution((*path, "quiet", index, "switches"), what, mend)


def _at(at: time) -> str:
    return at.strftime("%H:%M")


def _minutes(at: time) -> int:
    return at.hour * 60 + at.minute
