"""All that a Regulator must know to go on: plain dataclasses that turn into JSON and back.

Rules: times are steady seconds unless named `wall`; a field that is missing in an older memory takes
its default, one that is unknown is dropped; nothing here is derived from the house file.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import asdict, dataclass, field, fields
from typing import Any

from pydantic import TypeAdapter

from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts, LevelFact, TripFact
from thermostatd.core.tally import RoomTally, SeasonTally

Notes = dict[str, Any]


@dataclass
class ClockMemory:
    """What is trusted of the two clocks. `offset` is wall (Unix seconds) minus steady."""

    offset: float | None = None
    last_steady: float | None = None
    last_wall: float | None = None
    settling_seconds: float | None = None
    settling_until: float | None = None
    doubted_since: float | None = None
    frozen_wall: float | None = None
    candidate: float | None = None
    candidate_since: float | None = None


@dataclass
class AirMemory:
    """A room's last good reading, and what was learned of its sensor."""

    celsius: float | None = None
    at: float | None = None
    why: str = "never heard"
    heard: bool = False
    waiting_since: float | None = None
    good_needed: int = 0
    silent: bool = False
    interval: float = 600.0
    step: float = 0.5
    unchanged_since: float | None = None
    unchanged_count: int = 0
    trail: list[tuple[float, float]] = field(default_factory=list)


@dataclass
class ForecastMemory:
    """The last forecast of the outdoor air, °C, for the steady second `at` and each hour after it."""

    celsius: list[float] = field(default_factory=list)
    at: float | None = None


@dataclass
class RequestMemory:
    """What someone asked, when it ends (steady), and the wall times to show."""

    who: str
    origin: str
    asked_wall: float
    ends: float | None
    until_wall: float | None
    celsius: float | None = None
    replaced: str | None = None


@dataclass
class WeekMemory:
    """A usual week over the house file's: for each step its days as bits (Monday 1), minute of the day, °C."""

    steps: list[list[float]]
    who: str
    changed_wall: float


@dataclass
class RoomMemory:
    air: AirMemory = field(default_factory=AirMemory)
    request: RequestMemory | None = None
    last_target: float | None = None
    demand: Notes = field(default_factory=dict)
    quiet_window: float | None = None
    quiet_used: int = 0
    battery_low: float | None = None
    week: WeekMemory | None = None
    tally: RoomTally = field(default_factory=RoomTally)
    window: Notes = field(default_factory=dict)


@dataclass
class HandMemory:
    """A press on the plug's own button that holds until `until`."""

    on: bool
    until: float
    until_wall: float


@dataclass
class PlacedMemory:
    """What the owner said of a heater since the file was written: its room, its setting W. None: as written.

    `file_watts` is what the file said then: once it says something else, the file's word holds again.
    """

    room: str | None
    watts: float | None
    file_watts: float
    who: str
    said_wall: float


@dataclass
class HeaterMemory:
    """What a plug was told and when, what it showed and metered, and each interlock's notes."""

    told_on: bool = False
    told_at: float | None = None
    lapses: float = 0.0
    retold_at: float | None = None
    on_since: float | None = None
    off_since: float | None = None
    heard: bool = False
    waiting_since: float | None = None
    shown_on: bool | None = None
    shown_at: float | None = None
    answered: bool = False
    unanswered_since: float | None = None
    maybe_on: bool = False
    reachable: bool = True
    away_since: float | None = None
    watts: float | None = None
    watts_at: float | None = None
    off_reports_over: int = 0
    meter_period: float = 360.0
    meter_gaps: int = 0
    volts: float | None = None
    warm_celsius: float | None = None
    warm_at: float | None = None
    hand: HandMemory | None = None
    settled_at: float | None = None
    operations: int = 0
    on_seconds: float = 0.0
    facts: HeaterFacts = field(default_factory=HeaterFacts)
    body: BodyMemory = field(default_factory=BodyMemory)
    placed: PlacedMemory | None = None
    notes: dict[str, Notes] = field(default_factory=dict)


@dataclass
class TroubleMemory:
    since_wall: float
    seen: bool = False
    evidence: str = ""


@dataclass
class ChangeMemory:
    """What one accepted request took the place of; it may be put back until `ends`."""

    number: int
    ends: float
    requests: dict[str, RequestMemory | None] = field(default_factory=dict)
    weeks: dict[str, WeekMemory | None] = field(default_factory=dict)
    hands: dict[str, HandMemory | None] = field(default_factory=dict)


@dataclass
class Memory:
    """The whole memory."""

    version: int = 1
    clock: ClockMemory = field(default_factory=ClockMemory)
    outdoor: AirMemory = field(default_factory=AirMemory)
    out: RequestMemory | None = None
    all_off: RequestMemory | None = None
    rooms: dict[str, RoomMemory] = field(default_factory=dict)
    heaters: dict[str, HeaterMemory] = field(default_factory=dict)
    spots: dict[str, RequestMemory] = field(default_factory=dict)
    troubles: dict[str, TroubleMemory] = field(default_factory=dict)
    changes: list[ChangeMemory] = field(default_factory=list)
    change_count: int = 0
    models: dict[str, Notes] = field(default_factory=dict)
    season: SeasonTally = field(default_factory=SeasonTally)
    forecast: ForecastMemory = field(default_factory=ForecastMemory)


_ADAPTER = TypeAdapter(Memory)
_ROWS = {
    "levels": LevelFact,
    "trips": TripFact,
}  # many of one kind: their fields' names would fill the memory
_SAID_ALWAYS = frozenset({"hand", "placed", "maybe_on", "on_seconds", "trip_count"})


def to_plain(memory: Memory) -> dict[str, Any]:
    """The memory as JSON-able dicts and lists."""
    plain = asdict(memory)
    _leave_out(plain["clock"], ClockMemory)
    _leave_out(plain["outdoor"], AirMemory)
    _leave_out(plain["forecast"], ForecastMemory)
    if not plain["forecast"]:
        del plain["forecast"]
    for room in plain["rooms"].values():
        room["air"]["trail"] = [list(point) for point in room["air"]["trail"]]
        _leave_out(room["air"], AirMemory)
        _leave_out(room["tally"], RoomTally)
    for heater in plain["heaters"].values():
        _leave_out(heater, HeaterMemory)
        _leave_out(heater["body"], BodyMemory)
        _leave_out(heater["facts"], HeaterFacts)
        for name in _ROWS.keys() & heater["facts"].keys():
            heater["facts"][name] = [list(one.values()) for one in heater["facts"][name]]
        heater["notes"] = {code: notes for code, notes in sorted(heater["notes"].items()) if notes}
    return plain


def _leave_out(plain: dict[str, Any], kind: type) -> None:
    """Take out what is as at the start anyway: a missing field takes its default."""
    for one in fields(kind):
        value, start = plain.get(one.name), one.default
        same = value == start and type(value) is type(start)
        if one.name not in _SAID_ALWAYS and (same or (value == [] and one.default_factory is list)):
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
    heaters = plain.get("heaters")
    for heater in heaters.values() if isinstance(heaters, dict) else ():
        _unpack(heater.get("facts") if isinstance(heater, dict) else None)
    return _ADAPTER.validate_python(plain)


def _unpack(facts: Any) -> None:
    """Rows as tables again; what is neither is left for the adapter to complain of."""
    for name, kind in _ROWS.items() if isinstance(facts, dict) else ():
        names = [one.name for one in fields(kind)]
        if isinstance(facts.get(name), list):
            facts[name] = [
                dict(zip(names, one, strict=False)) if isinstance(one, list) else one for one in facts[name]
            ]


def awaken(
    plain: dict[str, Any] | None, *, elapsed_known: bool = True, settle_seconds: float = 900.0
) -> dict[str, Any]:
    """A memory as a newly started process may use it: nothing has been heard and every plug counts as told OFF.

    `elapsed_known` False means that the time down is unknown: spots end, and a forecast is dropped. For
    `settle_seconds` after the first step a forward jump of the wall clock is the clock being set, and is believed.
    """
    memory = from_plain(plain)
    last = memory.clock.last_steady
    memory.clock = ClockMemory(last_wall=memory.clock.last_wall, settling_seconds=settle_seconds)
    if not elapsed_known:
        memory.spots.clear()
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
    heater.watts, heater.watts_at, heater.off_reports_over = None, None, 0
    heater.told_at = heater.retold_at = None
