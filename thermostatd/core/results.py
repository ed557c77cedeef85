"""What comes out of a step: every stage's answer, with its reason, even where nothing is done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from thermostatd.core.values import Forecast, Missing, Reading


@dataclass(frozen=True, slots=True)
class Reason:
    """`code` is from the closed list of reasons.py, `sentence` is made from it for people."""

    code: str
    sentence: str
    numbers: Mapping[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A wish that begins later: °C, from when until when, whose; and what the room is wanted at after it, °C."""

    celsius: float
    begins: datetime
    until: datetime
    who: str
    then_celsius: float | None


@dataclass(frozen=True, slots=True)
class Target:
    """What a room should have: °C, whose wish it is ("usual", a name, "frost", ...), and until when.

    `next_celsius`/`next_at` are the step after this one (steady seconds), where one is known; one without its time is
    not to be heated for ahead.
    """

    celsius: float
    whose: str
    code: str
    until: datetime | None = None
    next_celsius: float | None = None
    next_at: float | None = None
    later: tuple[Waiting, ...] = ()
    """What was asked for later, soonest first."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """What a learned model says of the coming hours. Times are steady seconds, temperatures °C of true air.

    `course` is (when, °C, one standard deviation in K). `warm_at` is when the wanted air (the coming rise's, once it
    is heated for) is first within 0.2 K; None where it is there, or is not reached within ten hours. `wanted_celsius`
    and `wanted_at` are that wish; `reach_celsius` is set where full power does not fulfil it by then: what it can do.
    `limit_outdoor_celsius` is the outdoor air below which full power cannot hold the wish in the long run.
    """

    course: tuple[tuple[float, float, float], ...]
    warm_at: float | None
    wanted_celsius: float
    wanted_at: float | None
    reach_celsius: float | None
    limit_outdoor_celsius: float


@dataclass(frozen=True, slots=True)
class Demand:
    """What the control law wants of a room's heaters: on or off, the share of full power (0..1), why.

    `outlook` is there where a learned model decided.
    """

    on: bool
    share: float
    reason: Reason
    outlook: Outlook | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """One interlock's or pace rule's word on one heater: proven good (`tripped` False) or not.

    `safety` ignores minimum on-times; `latched` waits for `Seen`; `trouble` is told to the household, `loud` above
    all else; `failed` means that the check itself did not work.
    """

    code: str
    tripped: bool
    reason: Reason | None = None
    latched: bool = False
    safety: bool = False
    trouble: bool = False
    loud: bool = False
    evidence: str = ""
    failed: bool = False


@dataclass(frozen=True, slots=True)
class Order:
    """What a plug is told: on or off, why, and the steady second when that lapses by itself."""

    on: bool
    reason: Reason
    lapses: float
    retell: bool = False


@dataclass(frozen=True, slots=True)
class HeaterResult:
    """One heater's passage through the stages: wanted, paced, guarded, and each verdict."""

    wanted: bool
    paced: bool
    on: bool
    verdicts: tuple[Verdict, ...]
    shown_on: bool | None = None
    watts: float | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class RoomResult:
    """One room at one moment. `air` is a Reading or Missing; `reason` is the room's one sentence.

    `forecast` is where the air is heading; with its spread, where a model decided, in `demand.outlook.course`. `knows`
    says what was learned of the room.
    """

    air: Reading | Missing
    target: Target
    demand: Demand
    reason: Reason
    heaters: Mapping[str, HeaterResult]
    forecast: tuple[tuple[float, float], ...] = ()
    knows: Reason | None = None

    @property
    def whose(self) -> str:
        """Whose wish the target is."""
        return self.target.whose


@dataclass(frozen=True, slots=True)
class SpotResult:
    """One spot: running or not, and the seconds that remain."""

    on: bool
    remaining_seconds: float
    who: str | None
    until: datetime | None
    reason: Reason
    heater: HeaterResult
    warmer_kelvin: float = 0.0
    """How much warmer it feels before it while it is on: operative temperature, K."""
    felt: str = ""
    """That, as a sentence."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something a person should know. `id` is stable while it lasts; `latched` waits for `Seen`."""

    id: str
    code: str
    what: str
    evidence: str
    what_to_do: str
    since: datetime
    loud: bool = False
    latched: bool = False
    seen: bool = False


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened in this step, for the record: a code, about whom, and a sentence."""

    code: str
    about: str
    sentence: str


@dataclass(frozen=True, slots=True)
class HouseResult:
    """What holds for the whole house."""

    awake: bool
    out_until: datetime | None
    out: bool
    all_off: bool
    all_off_who: str | None
    clock_agrees: bool
    outdoor: Reading | Missing
    circuit_watts: Mapping[str, float] = field(default_factory=dict)
    all_off_since: datetime | None = None
    out_who: str | None = None
    forecast: Forecast | None = None


@dataclass(frozen=True, slots=True)
class Result:
    """Everything that one step decided. Keys: room `study`, heater `study/column`, spot `sewing table/panel`."""

    orders: Mapping[str, Order]
    rooms: Mapping[str, RoomResult]
    spots: Mapping[str, SpotResult]
    house: HouseResult
    troubles: tuple[Trouble, ...] = ()
    events: tuple[Event, ...] = ()

    def heater(self, key: str) -> HeaterResult | None:
        """One heater's passage through the stages, wherever it stands now."""
        for room in self.rooms.values():
            if key in room.heaters:
                return room.heaters[key]
        spot = self.spots.get(key.partition("/")[0])
        return spot.heater if spot is not None else None
