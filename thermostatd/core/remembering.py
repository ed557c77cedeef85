"""A memory to JSON-able tables and back; and what of it a newly started process may trust.

Rules: what is as at the start is left out; a field that is missing in an older memory takes its default, one that
is unknown is dropped.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import asdict, fields
from typing import Any

from pydantic import TypeAdapter

from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.leap import woken
from thermostatd.core.memory import (
    AirMemory,
    ChangeMemory,
    ClockMemory,
    ForecastMemory,
    HeaterMemory,
    Memory,
    RequestMemory,
    RoomMemory,
    TroubleMemory,
)
from thermostatd.core.shortening import lengthen, shorten
from thermostatd.core.tally import RoomTally

_ADAPTER = TypeAdapter(Memory)
_SAID_ALWAYS = frozenset({"hand", "placed", "notes", "request", "maybe_on", "on_seconds", "trip_count"})


def to_plain(memory: Memory) -> dict[str, Any]:
    """The memory as JSON-able dicts and lists."""
    plain = asdict(memory)
    _leave_out(plain["clock"], ClockMemory)
    _leave_out(plain["outdoor"], AirMemory)
    _leave_out(plain["forecast"], ForecastMemory)
    for name in ("forecast", "left"):
        if not plain[name]:
            del plain[name]
    for room in plain["rooms"].values():
        _leave_out(room["air"], AirMemory)
        _leave_out(room["tally"], RoomTally)
        _leave_out(room, RoomMemory)
    for heater in plain["heaters"].values():
        _leave_out(heater, HeaterMemory)
        _leave_out(heater["body"], BodyMemory)
        _leave_out(heater["facts"], HeaterFacts)
        noted = sorted(heater["notes"].items())
        heater["notes"] = {code: notes for code, notes in noted if any(one is not False for one in notes.values())}
    for change in plain["changes"]:
        _leave_out(change, ChangeMemory)
    for trouble in plain["troubles"].values():
        _leave_out(trouble, TroubleMemory)
    for asked in _requests_of(plain):
        _leave_out(asked, RequestMemory)
    return shorten(plain)


def _requests_of(plain: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Every request that is kept, wherever it is kept."""
    kept = [plain["out"], plain["all_off"], *plain["spots"].values()]
    kept += [room["request"] for room in plain["rooms"].values()]
    kept += [asked for room in plain["rooms"].values() for asked in room.get("later", ())]
    yield from (asked for asked in kept if asked is not None)


def _leave_out(plain: dict[str, Any], kind: type) -> None:
    """Take out what is as at the start anyway: a missing field takes its default."""
    for one in fields(kind):
        value, start = plain.get(one.name), one.default
        same = value == start and type(value) is type(start)
        empty = (value == [] and one.default_factory is list) or (value == {} and one.default_factory is dict)
        if one.name not in _SAID_ALWAYS and (same or empty):
            del plain[one.name]


def from_plain(plain: dict[str, Any] | None) -> Memory:
    """A memory of its own, made from what `to_plain` gave. ValueError where it cannot be read."""
    if plain is None:
        return Memory()
    if not isinstance(plain, dict):
        raise ValueError("this memory is no table")
    version = plain.get("version", 1)
    if not isinstance(version, int):
        raise ValueError("this memory names no version: it was not written by thermostatd")
    if version > 1:
        raise ValueError("this memory was written by a newer thermostatd: update the program")
    plain = deepcopy(plain)
    lengthen(plain)
    return _ADAPTER.validate_python(plain)


def awaken(
    plain: dict[str, Any] | None,
    *,
    elapsed_known: bool = True,
    brief: bool = True,
    by_wall: bool = False,
    gap_seconds: float = 0.0,
    settle_seconds: float = 900.0,
) -> dict[str, Any]:
    """A memory as a newly started process may use it: nothing has been heard and every plug counts as told OFF.

    `elapsed_known` False means that the time down is unknown: spots end, and a forecast is dropped. Spots end as well
    where it was not `brief`, such as in a power cut: nobody is known to sit there now. For `settle_seconds` after the
    first step a forward jump of the wall clock is the clock being set, and is believed; where the time down was told
    `by_wall` alone, it was so much longer. `gap_seconds` is by how much the steady clock went on meanwhile.
    """
    memory = from_plain(plain)
    before, last = memory.clock, memory.clock.last_steady
    memory.clock = ClockMemory(last_wall=before.last_wall, settling_seconds=settle_seconds, by_wall=by_wall)
    woken(memory, before, gap_seconds, by_wall=by_wall, known=elapsed_known)
    if not (elapsed_known and brief):
        memory.spots.clear()
    if not elapsed_known:
        memory.forecast = ForecastMemory()
    memory.changes.clear()  # what nobody undid is final; a button's press is not put back over a restart
    for room in memory.rooms.values():
        room.air.heard, room.air.waiting_since = False, None
    for heater in memory.heaters.values():
        _forget_what_was_heard(heater, last)
    return to_plain(memory)


def _forget_what_was_heard(heater: HeaterMemory, last: float | None) -> None:
    if heater.told_on:
        heater.told_on, heater.off_since, heater.on_since = False, last, None
        heater.operations += 1
    heater.maybe_on = heater.maybe_on or heater.shown_on is True
    heater.unanswered_since = None
    if heater.hand is not None and heater.hand.on:
        heater.hand = None  # nobody is known to stand in front of it now
    heater.heard, heater.waiting_since, heater.answered = False, None, False
    heater.shown_on, heater.shown_at, heater.away_since = None, None, None
    heater.watts, heater.watts_at, heater.meter_at, heater.off_reports_over = None, None, None, 0
    heater.told_at = heater.retold_at = None
