"""The house as the pages see it: the last decision, the one door, the record, and who has joined."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta

from thermostatd.core.asking import Answer, Request
from thermostatd.core.house import House
from thermostatd.daemon.service import Service
from thermostatd.edge.pages import keys
from thermostatd.edge.pages.door import Device, Point, Role, Run, View
from thermostatd.edge.store import DeviceRow, HeaterMinuteRow, Store

HEALTHY_TICKS = 6.0


class HouseDoor:
    """Implements `edge.pages.door.Door` on a running Service."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._store: Store = service.parts.store

    @property
    def house(self) -> House:
        """The house file in force."""
        return self._service.house

    def view(self) -> View:
        """What holds now, without waiting."""
        moment = self._service.clock.moment()
        return View(
            moment, self._service.result, self._age_seconds(), self._service.parts.broker_up, self._notes()
        )

    async def do(self, request: Request) -> Answer:
        """Through `Regulator.do`; durable when it returns."""
        return await self._service.do(request)

    async def trace(self, room: str, hours: float) -> Sequence[Point]:
        """The room's last hours."""
        since, until = self._span(hours)
        rows = await asyncio.to_thread(self._store.trace, room, since, until)
        return [(row.minute * 60.0, row.air, row.target) for row in rows]

    async def runs(self, heater: str, hours: float) -> Sequence[Run]:
        """The heater's runs of the last hours."""
        since, until = self._span(hours)
        return joined_runs(await asyncio.to_thread(self._store.heater_trace, heater, since, until))

    async def week_ahead(self, room: str) -> Sequence[tuple[float, float]]:
        """The coming steps of the usual week."""
        return self._service.regulator.week_ahead(room, self._service.clock.moment())

    async def devices(self) -> Sequence[Device]:
        """Every device that joined."""
        return [_device(row) for row in await asyncio.to_thread(self._store.devices)]

    async def add_code(self, role: Role, minutes: float) -> str:
        """A new joining code."""
        return await asyncio.to_thread(make_code, self._store, role, minutes)

    async def join(self, code: str, name: str) -> str | None:
        """A token for a good code, which is used up by this."""
        return await asyncio.to_thread(self._join, code, name)

    async def device(self, token: str) -> Device | None:
        """Whose token this is."""
        row = await asyncio.to_thread(self._store.device, keys.digest_of(token))
        if row is None or (row.until is not None and row.until <= datetime.now(UTC)):
            return None
        self._store.touch_device(row.id_hash, datetime.now(UTC))
        return _device(row)

    async def forget(self, device_id: str) -> None:
        """Ends a device's joining."""
        await asyncio.to_thread(self._store.forget_device, device_id)

    async def changed(self, since: int) -> int:
        """Waits for the next change."""
        return await self._service.changed(since)

    def health(self) -> Mapping[str, object]:
        """True only if the last tick decided, the broker is there and the store writes."""
        deciding = self._age_seconds() <= HEALTHY_TICKS * self.house.house.tick + 30.0
        broker, store = self._service.parts.broker_up, self._store.writing
        return {"ok": deciding and broker and store, "deciding": deciding, "broker": broker, "store": store}

    def metrics(self) -> str:
        """OpenMetrics text."""
        from thermostatd.daemon.measures import metrics_text  # only who collects metrics pays for them

        return metrics_text(self._service)

    def _age_seconds(self) -> float:
        """In seconds of life, also where the house lives faster."""
        decided, clock = self._service.decided_at, self._service.clock
        return (clock.now() - decided.steady) / clock.speed if decided is not None else float("inf")

    def _notes(self) -> tuple[str, ...]:
        notes = list(self._store.notes)
        if self._service.reloading is not None:
            notes += self._service.reloading.notes
        trouble = self._service.parts.feed.trouble
        if trouble:
            notes.append(trouble)
        if not self._store.writing and self._store.why_not:
            notes.append(self._store.why_not)
        return tuple(dict.fromkeys(notes))

    def _span(self, hours: float) -> tuple[datetime, datetime]:
        now = self._service.clock.moment().wall
        return now - timedelta(hours=hours), now + timedelta(minutes=1)

    def _join(self, code: str, name: str) -> str | None:
        row = self._store.take_code(keys.digest_of(code), datetime.now(UTC))
        if row is None:
            return None
        token = keys.new_token()
        self._store.add_device(keys.digest_of(token), name, row.role)
        return token


def make_code(store: Store, role: str, minutes: float) -> str:
    """A joining code for a role, kept only as its digest; it holds for some minutes of the real wall clock."""
    code = keys.new_code()
    store.add_code(keys.digest_of(code), role, datetime.now(UTC) + timedelta(minutes=minutes), "")
    return code


def joined_runs(rows: Sequence[HeaterMinuteRow]) -> list[Run]:
    """Minutes with heat, put together where they touch; a part of a minute counts by its share of it."""
    runs: list[Run] = []
    for row in rows:
        if row.on_seconds <= 0:
            continue
        start = row.minute * 60.0
        end = start + min(row.on_seconds, row.span_minutes * 60.0)
        if runs and start - runs[-1][1] <= 60.0:
            runs[-1] = (runs[-1][0], end)
        else:
            runs.append((start, end))
    return runs


def _device(row: DeviceRow) -> Device:
    return Device(row.id_hash, row.name, "owner" if row.role == "owner" else "household", row.added)
