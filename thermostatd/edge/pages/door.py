"""What the pages need of the house, and nothing else. The daemon implements `Door`.

Rules: `do` returns only once the request is stored; `view` never blocks; times in lists are epoch seconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from thermostatd.core.asking import Answer, Request
from thermostatd.core.house import House, UsualStep
from thermostatd.core.memory import Memory
from thermostatd.core.results import Result
from thermostatd.core.values import Moment


class NotStored(Exception):
    """What must be durable could not be stored; `why` is for people. Nothing was changed."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


Role = Literal["guest", "room-guest", "household", "owner"]
Point = tuple[float, float | None, float | None]
"""Epoch second, air °C, target °C; None where there is none."""
Run = tuple[float, float]
"""Epoch seconds at which a heater began and ended drawing."""


@dataclass(frozen=True, slots=True)
class View:
    """What may be shown now. `moment` is now; `result` is the last tick's (None before the first)."""

    moment: Moment
    result: Result | None
    age_seconds: float
    """Seconds since the last tick decided; infinite before the first."""
    broker_up: bool
    notes: tuple[str, ...] = ()
    """Further sentences that people should read, such as a store that cannot write."""


@dataclass(frozen=True, slots=True)
class Device:
    """A phone that joined. `room` is a room guest's one room; `until` ends its joining; `seen` is its last visit."""

    id: str
    name: str
    role: Role
    since: datetime | None = None
    room: str | None = None
    until: datetime | None = None
    seen: datetime | None = None


@dataclass(frozen=True, slots=True)
class UsualWeekShown:
    """A room's usual week in force; who put it over the house file's and when, where someone did."""

    steps: tuple[UsualStep, ...]
    who: str | None = None
    changed: datetime | None = None


@dataclass(frozen=True, slots=True)
class Happened:
    """One thing of the record. `sentence` may remember its template (core.said)."""

    at: datetime
    code: str
    about: str
    sentence: str


@dataclass(frozen=True, slots=True)
class FileLook:
    """The house file as it is on the disk now: faults and cautions as (line, key, what, mend)."""

    path: str
    faults: tuple[tuple[int, str, str, str], ...] = ()
    cautions: tuple[tuple[int, str, str, str], ...] = ()
    differs: bool = False
    """It would make another house than the one that runs."""


class Door(Protocol):
    """The house, as the pages see it."""

    @property
    def house(self) -> House:
        """The house file in force."""
        ...

    def view(self) -> View:
        """What holds now, without waiting."""
        ...

    async def do(self, request: Request) -> Answer:
        """Puts a request through `Regulator.do`; an `Accepted` is durable when this returns."""
        ...

    async def trace(self, room: str, hours: float) -> Sequence[Point]:
        """The room's last `hours`, oldest first."""
        ...

    async def runs(self, heater: str, hours: float) -> Sequence[Run]:
        """The heater's runs (key "room/heater") of the last `hours`, oldest first."""
        ...

    async def week_ahead(self, room: str) -> Sequence[tuple[float, float]]:
        """The coming targets: epoch second and °C of each step from now on, soonest first."""
        ...

    async def heating_begins(self, room: str) -> Sequence[tuple[float, float]]:
        """For coming steps up, soonest first: when the step is, and when heating for it will really begin (epoch).

        Empty where the room's control does not begin early, or its model is not known yet.
        """
        ...

    def usual_week(self, room: str) -> UsualWeekShown:
        """The room's usual week in force."""
        ...

    def memory(self) -> Memory:
        """A copy of all that the regulator remembers: what was learned, when things were last heard."""
        ...

    async def happened(self, hours: float, about: str | None = None, limit: int = 200) -> Sequence[Happened]:
        """The record of the last `hours`, newest first: all of it, or what is about one key or name."""
        ...

    async def energies(self, pieces: Sequence[tuple[datetime, datetime]]) -> Mapping[str, Sequence[float]]:
        """Each heater's watt-hours between the two aware times of each piece; a heater that drew nothing may lack."""
        ...

    async def look_at_file(self) -> FileLook | None:
        """The house file on the disk, looked through; None where there is none."""
        ...

    async def devices(self) -> Sequence[Device]:
        """Every device that joined."""
        ...

    async def add_code(
        self, role: Role, minutes: float, room: str | None = None, until: datetime | None = None
    ) -> str:
        """A new joining code, shown once; stored only as `keys.code_digest`. `until` ends what it gives."""
        ...

    async def join(self, code: str, name: str) -> str | None:
        """The new device's token for a code that is good (used up by this), else None."""
        ...

    async def device(self, token: str) -> Device | None:
        """Whose token this is; None where it was never given or is forgotten."""
        ...

    async def rename(self, device_id: str, name: str) -> None:
        """Another name for a device."""
        ...

    async def forget(self, device_id: str) -> None:
        """Ends a device's joining."""
        ...

    async def changed(self, since: int) -> int:
        """The change counter, once it passes `since` (at once where it has); below 0 when the house stops."""
        ...

    def health(self) -> Mapping[str, object]:
        """Whether it decides: at least `{"ok": bool}`; nothing private."""
        ...

    def metrics(self) -> str:
        """OpenMetrics text."""
        ...
