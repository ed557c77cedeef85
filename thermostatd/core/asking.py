"""What people may ask, and how they are answered. `Regulator.do` is the one door for all of it.

`who` is the asker's name and `origin` the device or road it came by; both may be left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import Enum

from thermostatd.core.house import UsualStep


class Until(Enum):
    """Ends of a request that are not a time of day."""

    NEXT_STEP = "next-step"
    NO_END = "no-end"


NEXT_STEP = Until.NEXT_STEP
NO_END = Until.NO_END


@dataclass(frozen=True, slots=True)
class Ask:
    """Another target for a room, °C, until an aware time, NEXT_STEP or NO_END (capped by `longest`).

    With `begins`, an aware time within a week, it waits until then; NEXT_STEP is the first one after that.
    """

    room: str
    celsius: float
    until: datetime | Until = NEXT_STEP
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)
    begins: datetime | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class RoomOff:
    """One room is heated against frost only, until an aware time, NEXT_STEP or NO_END (someone turns it on again)."""

    room: str
    until: datetime | Until = NO_END
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class WarmMe:
    """Radiant heat on a spot for some minutes."""

    spot: str
    minutes: float
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Out:
    """Nobody is in until an aware time (NO_END: until cancelled); while that holds, the return is moved."""

    until: datetime | Until = NO_END
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class AllOff:
    """Every heater off until cancelled."""

    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Cancel:
    """Ends what was asked of a room or a spot (by its name), or `Out`, or `AllOff`.

    With `begins`, it takes back what waits in that room until then.
    """

    what: str | type[Out] | type[AllOff]
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)
    begins: datetime | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Seen:
    """The owner has looked at a trouble (by its id); it alone reopens what latches."""

    trouble: str
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class UsualWeek:
    """Another usual week for a room, over the house file's; `steps` None puts the file's back."""

    room: str
    steps: tuple[UsualStep, ...] | None
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Undo:
    """Puts back exactly what held before a change, within a minute of it; `change` is Accepted's."""

    change: int
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class Stands:
    """A heater (by its key) was carried and now stands in that room; what was learned of it goes along."""

    heater: str
    room: str
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


@dataclass(frozen=True, slots=True)
class SetTo:
    """A heater's selector (by its key) is now on that setting, W."""

    heater: str
    watts: float
    who: str | None = None
    origin: str | None = field(default=None, kw_only=True)


Request = Stands | SetTo | Ask | RoomOff | WarmMe | Out | AllOff | Cancel | Seen | UsualWeek | Undo


@dataclass(frozen=True, slots=True)
class Accepted:
    """What now holds. `until` is None where there is no end; `replaced` is what it took the place of.

    `change` is its number for `Undo`; None where it cannot be undone.
    """

    sentence: str
    celsius: float | None = None
    until: datetime | None = None
    replaced: str | None = None
    change: int | None = None


@dataclass(frozen=True, slots=True)
class Refused:
    """Why not, from the closed list in reasons.py, with the limit that was met (a number or a time)."""

    code: str
    sentence: str
    limit: float | str | None = None


Answer = Accepted | Refused
