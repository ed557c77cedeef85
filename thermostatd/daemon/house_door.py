"""The house as the pages see it: the last decision, the one door, the record, and who has joined."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from thermostatd.core.asking import Answer, Request
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.remembering import from_plain
from thermostatd.daemon.beginnings import beginnings
from thermostatd.daemon.recording import event_sentence
from thermostatd.daemon.service import Service
from thermostatd.edge.house_file import inspect_house
from thermostatd.edge.pages import keys
from thermostatd.edge.pages.door import (
    Device,
    FileLook,
    Happened,
    NotStored,
    Point,
    Role,
    Run,
    UsualWeekShown,
    View,
)
from thermostatd.edge.store import DeviceRow, HeaterMinuteRow, Store, StoreError

T = TypeVar("T")
log = logging.getLogger(__name__)
HEALTHY_TICKS = 6.0


class HouseDoor:
    """Implements `edge.pages.door.Door` on a running Service."""

    def __init__(self, service: Service) -> None:
        self._service = service
        self._store: Store = service.parts.store

    @property
    def house(self) -> House:
        """The house file in force, with what the owner said was moved or turned by hand."""
        return self._service.regulator.house

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
        rows = await _stored(self._store.trace, room, since, until)
        return [(row.minute * 60.0, row.air, row.target) for row in rows]

    async def runs(self, heater: str, hours: float) -> Sequence[Run]:
        """The heater's runs of the last hours."""
        since, until = self._span(hours)
        return joined_runs(await _stored(self._store.heater_trace, heater, since, until))

    async def week_ahead(self, room: str) -> Sequence[tuple[float, float]]:
        """The coming steps of the usual week."""
        return self._service.regulator.week_ahead(room, self._service.clock.moment())

    async def heating_begins(self, room: str) -> Sequence[tuple[float, float]]:
        """Coming steps up, and when heating for them will begin."""
        found, result = self.house.room(room), self._service.result
        if found is None or found.control != "predictive" or result is None or room not in result.rooms:
            return []
        moment, memory = self._service.clock.moment(), self.memory()
        since = moment.wall - timedelta(days=8)
        rows = [
            row
            for heater in found.heaters
            for row in await _stored(self._store.events, since, 2000, found.key_of(heater))
        ]
        begun = [row.wall.timestamp() for row in rows if row.told and '"=preheating"' in row.told]
        steps = self._service.regulator.week_ahead(room, moment, 7)
        notes = memory.rooms[room].demand.get("predictive", {})
        wanted = result.rooms[room].target.celsius
        return beginnings(steps, wanted, begun, notes, moment.wall.timestamp(), moment.steady)

    def usual_week(self, room: str) -> UsualWeekShown:
        """The room's usual week in force."""
        steps, kept = self._service.regulator.usual_week(room)
        changed = datetime.fromtimestamp(kept.changed_wall, UTC) if kept else None
        return UsualWeekShown(steps, kept.who if kept else None, changed)

    def memory(self) -> Memory:
        """A copy of all that the regulator remembers."""
        return from_plain(self._service.regulator.memory)

    async def happened(self, hours: float, about: str | None = None, limit: int = 200) -> Sequence[Happened]:
        """The record of the last hours, newest first."""
        since, _ = self._span(hours)
        rows = await _stored(self._store.events, since, limit, about)
        zone = ZoneInfo(self.house.house.timezone)
        return [Happened(row.wall, row.code, row.about, event_sentence(row, zone)) for row in rows]

    async def energies(self, pieces: Sequence[tuple[datetime, datetime]]) -> Mapping[str, Sequence[float]]:
        """Each heater's watt-hours, piece by piece."""
        return await _stored(self._store.energies, pieces)

    async def look_at_file(self) -> FileLook | None:
        """The house file on the disk, looked through."""
        path = self._service.parts.path
        # what runs is compared as it was written: a heater that was moved by hand is no change of the file
        return await asyncio.to_thread(look_at, path, self._service.house) if path is not None else None

    async def devices(self) -> Sequence[Device]:
        """Every device that joined."""
        return [_device(row) for row in await asyncio.to_thread(self._store.devices)]

    async def add_code(
        self, role: Role, minutes: float, room: str | None = None, until: datetime | None = None
    ) -> str:
        """A new joining code."""
        return await _stored(make_code, self._store, role, minutes, room, until)

    async def join(self, code: str, name: str) -> str | None:
        """A token for a good code, which is used up by this."""
        return await _stored(self._join, code, name)

    async def device(self, token: str) -> Device | None:
        """Whose token this is."""
        row = await asyncio.to_thread(self._store.device, keys.digest_of(token))
        if row is None or (row.until is not None and row.until <= datetime.now(UTC)):
            return None
        self._store.touch_device(row.id_hash, datetime.now(UTC))
        return _device(row)

    async def rename(self, device_id: str, name: str) -> None:
        """Another name for a device."""
        await _stored(self._store.rename_device, device_id, name)

    async def forget(self, device_id: str) -> None:
        """Ends a device's joining."""
        await _stored(self._store.forget_device, device_id)

    async def changed(self, since: int) -> int:
        """Waits for the next change."""
        return await self._service.changed(since)

    def health(self) -> Mapping[str, object]:
        """True only if the last tick decided, the broker is there and the store writes."""
        soon = self._age_seconds() <= HEALTHY_TICKS * self.house.house.tick + 30.0
        deciding = soon and self._service.deciding
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
        now = datetime.now(UTC)
        # every code that stands is compared, so that the time taken tells nothing
        fitting = [stored for stored in self._store.codes(now) if keys.code_fits(code, stored)]
        row = self._store.take_code(fitting[0], now) if fitting else None
        if row is None:
            return None
        token = keys.new_token()
        self._store.add_device(
            keys.digest_of(token), name, row.role, row.until, added=datetime.now(UTC), room=row.room
        )
        return token


async def _stored(work: Callable[..., T], *words: Any) -> T:
    """Does it in a thread. NotStored where the store cannot."""
    try:
        return await asyncio.to_thread(work, *words)
    except StoreError as fault:
        log.error("not-stored: %s", fault)
        raise NotStored(str(fault)) from fault


def make_code(
    store: Store, role: str, minutes: float, room: str | None = None, until: datetime | None = None
) -> str:
    """A joining code for a role, kept only as its digest; it holds for some minutes of the real wall clock."""
    code = keys.new_code()
    expires = datetime.now(UTC) + timedelta(minutes=minutes)
    store.add_code(keys.code_digest(code), role, expires, "", room=room, until=until)
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
    # a role of a newer program's gives the least
    role: Role = row.role if row.role in ("room-guest", "household", "owner") else "guest"  # type: ignore[assignment]
    return Device(row.id_hash, row.name, role, row.added, row.room, row.until, row.seen)


def look_at(path: Path, running: House) -> FileLook:
    """The house file as it is on the disk now."""
    seen = inspect_house(path)
    faults, cautions = (
        tuple((one.line, one.key, one.what, one.mend) for one in found)
        for found in (seen.faults, seen.warnings)
    )
    return FileLook(str(path), faults, cautions, seen.house is not None and seen.house != running)
