"""What the pages need of the house, and nothing else. The daemon implements `Door`.

Rules: `do` returns only once the request is stored; `view` never blocks; times in lists are epoch seconds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from thermostatd.core.asking import Answer, Request
from thermostatd.core.house import House
from thermostatd.core.results import Result
from thermostatd.core.values import Moment

Role = Literal["household", "owner"]
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
    """A phone that joined."""

    id: str
    name: str
    role: Role
    since: datetime | None = None


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

    async def devices(self) -> Sequence[Device]:
        """Every device that joined."""
        ...

    async def add_code(self, role: Role, minutes: float) -> str:
        """A new joining code, shown once; stored only as `keys.digest_of`."""
        ...

    async def join(self, code: str, name: str) -> str | None:
        """The new device's token for a code that is good (used up by this), else None."""
        ...

    async def device(self, token: str) -> Device | None:
        """Whose token this is; None where it was never given or is forgotten."""
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
