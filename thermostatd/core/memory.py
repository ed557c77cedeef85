"""All that a Regulator must know to go on: plain dataclasses that turn into JSON and back (`remembering`).

Rules: times are steady seconds unless named `wall`; nothing here is derived from the house file, save the marks by
which a room or heater is found again under another name (following.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts
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
    by_wall: bool = False
    """Whether how long it was down is known by the wall clock alone, which may yet be set right."""
    woken_at: float | None = None
    """The steady second of the first step since, where it is."""
    doubted_since: float | None = None
    frozen_wall: float | None = None
    candidate: float | None = None
    candidate_since: float | None = None
    pending: bool = False
    """Whether it was down for days, or nobody knows how long, and wishes were not shortened by that yet (leap.py)."""
    gap: float = 0.0
    """By how many seconds wishes were put off for that."""
    floor_wall: float | None = None
    """The wall time that was last trusted before, at the steady second `floor_steady`."""
    floor_steady: float | None = None
    proven_at: float | None = None


@dataclass
class AirMemory:
    """A room's last good reading, and what was learned of its sensor."""

    celsius: float | None = None
    at: float | None = None
    why: str = "never heard"
    heard: bool = False
    waiting_since: float | None = None
    good_needed: int = 0
    refused: int = 0
    """How many of its words were refused since the last good one, the first at `refused_at`."""
    refused_at: float | None = None
    silent: bool = False
    interval: float = 600.0
    step: float = 0.5
    change: float = 0.0
    """By how much its value must move to be told, K; 0: it is told by the clock."""
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
    off: bool = False
    """Of a room: no heat but against frost."""
    begins: float | None = None
    """When it began or begins, where it was asked for later."""
    begins_wall: float | None = None

    def put_off(self, seconds: float) -> None:
        """It begins and ends so many steady seconds later; below 0, earlier."""
        self.begins = self.begins + seconds if self.begins is not None else None
        self.ends = self.ends + seconds if self.ends is not None else None


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
    later: list[RequestMemory] = field(default_factory=list)
    """What waits until it begins, soonest first."""
    last_target: float | None = None
    demand: Notes = field(default_factory=dict)
    quiet_window: float | None = None
    quiet_used: int = 0
    battery_low: float | None = None
    week: WeekMemory | None = None
    tally: RoomTally = field(default_factory=RoomTally)
    window: Notes = field(default_factory=dict)
    cold: Notes = field(default_factory=dict)
    mark: str = ""


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
    meter_at: float | None = None
    """When it last spoke itself; its `watts_at` may be later (still.py)."""
    meter_gap: float = 0.0
    """The longest that it was silent lately, s."""
    meter_prompt: int = 0
    meter_told: float | None = None
    meter_last: float = 0.0
    """Seconds between its last two words."""
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
    mark: str = ""
    notes: dict[str, Notes] = field(default_factory=dict)


@dataclass
class LeftMemory:
    """A heater that left the house file while it waited for a look: its plug's mark, and its latches' notes."""

    mark: str
    notes: dict[str, Notes]
    loud: bool
    """Whether a heater that is not known came at the same time: it may be the same."""


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
    later: dict[str, list[RequestMemory]] = field(default_factory=dict)


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
    left: dict[str, LeftMemory] = field(default_factory=dict)

    def timed(self) -> Iterator[RequestMemory]:
        """Everyone out, and each room's wish with what waits there: all that ends by the time that was said."""
        asked = [self.out, *(one for room in self.rooms.values() for one in (room.request, *room.later))]
        yield from (one for one in asked if one is not None)
