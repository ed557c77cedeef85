"""Why a room was as it was at an earlier moment, from the record.

Rules: where the inputs of that day are kept (14 days), the moment is decided again from them, by the house file of
then, and tells all that it told then; older ones tell what the record of minutes and events holds.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result
from thermostatd.core.values import Moment
from thermostatd.daemon.asked_plain import request_of
from thermostatd.daemon.kept_house import kept_zone
from thermostatd.daemon.replaying import Stretch, recorded_days, stretches
from thermostatd.daemon.telling_why import why_lines, why_plain
from thermostatd.edge.store import StoreError
from thermostatd.edge.store.reader import open_record

NEAR = timedelta(minutes=5)
BACK = timedelta(days=2)


class ThenError(Exception):
    """Nothing is known of that moment; the sentence says what there is."""


def why_then(
    state: Path, room: str, written: str, now: datetime, show: Callable[[str], None]
) -> tuple[str, dict[str, Any]]:
    """For people and a machine: a room at "2026-01-12 07:45" or "07:45", the house's clock. ThenError, StoreError."""
    days = recorded_days(state)
    last = stretches(state, days[-1]) if days else []
    zone = ZoneInfo(last[-1].house.house.timezone) if last else kept_zone(state)
    at = moment_of(written, zone, now)
    day = at.astimezone(zone).date().isoformat() if zone else ""
    if day in days:
        found = _decided(last if day == days[-1] else stretches(state, day), at, show)
        if found is not None:
            moment, result, house = found
            if room not in result.rooms:
                raise ThenError(
                    f'There was no room "{room}" then. The rooms were: {", ".join(result.rooms)}.'
                )
            local = moment.wall.astimezone(zone)
            head = f"At {local:%Y-%m-%d %H:%M:%S}, decided again from the record:\n"
            told = why_plain(room, result, moment, house)
            return head + why_lines(room, result, moment, house), {"from": "inputs", **told}
    return _from_minutes(state, room, at, zone or ZoneInfo("UTC"))


def moment_of(written: str, zone: ZoneInfo | None, now: datetime) -> datetime:
    """The moment that was written. ThenError where it is none, or lies ahead."""
    local = now.astimezone(zone)
    try:
        text = f"{local:%Y-%m-%d} {written}" if len(written) <= 8 and ":" in written else written
        found = datetime.fromisoformat(text)
    except ValueError:
        raise ThenError('write a time such as "2026-01-12 07:45", or "07:45" for today') from None
    at = found if found.tzinfo is not None else found.replace(tzinfo=local.tzinfo)
    if at > now + timedelta(minutes=1):
        raise ThenError(f"{written} lies ahead: the record knows only what was")
    return at.astimezone(UTC)


def _decided(
    recorded: list[Stretch], at: datetime, show: Callable[[str], None]
) -> tuple[Moment, Result, House] | None:
    """The last step at or before a moment, not long before it, decided again."""
    best: tuple[Moment, Result, House] | None = None
    for stretch in recorded:
        first = next((part.steps[0][0].wall for part in stretch.parts if part.steps), None)
        if first is None or first > at:
            continue
        last = _last_step(stretch, at, show)
        if last is not None and (best is None or last[0].wall > best[0].wall):
            best = (*last, stretch.house)
    return best if best is not None and at - best[0].wall <= NEAR else None


def _last_step(stretch: Stretch, at: datetime, show: Callable[[str], None]) -> tuple[Moment, Result] | None:
    regulator, found = Regulator(stretch.house, stretch.memory), None
    for part in stretch.parts:
        if part.steps:
            show(f"deciding again {part.steps[0][0].wall:%H:%M} UTC")
        for index, (moment, seen) in enumerate(part.steps):
            if moment.wall > at:
                return found
            for kind, what in part.between.get(index, ()):
                if kind == "adopted":
                    regulator.adopt(what)
                else:
                    wall, steady, plain = what
                    regulator.do(Moment(datetime.fromisoformat(wall), steady), request_of(plain))
            found = (moment, regulator.step(moment, seen))
        for kind, what in (one for n, ones in part.between.items() if n >= len(part.steps) for one in ones):
            if kind == "adopted":
                regulator.adopt(what)
            else:
                wall, steady, plain = what
                regulator.do(Moment(datetime.fromisoformat(wall), steady), request_of(plain))
    return found


def _from_minutes(state: Path, room: str, at: datetime, zone: ZoneInfo) -> tuple[str, dict[str, Any]]:
    """What minutes and events say of that moment."""
    with open_record(state) as record:
        rows = record.rooms(room, at - timedelta(minutes=15), at + timedelta(minutes=1))
        events = [
            row for row in record.events(at - BACK, at + timedelta(seconds=1)) if _about(row.about, room)
        ]
        begins = record.begins()
    if not rows and not events:
        since = (
            f"The record begins at {begins.astimezone(zone):%Y-%m-%d %H:%M}."
            if begins
            else "The record is empty."
        )
        raise ThenError(f'nothing is recorded of "{room}" at {at.astimezone(zone):%Y-%m-%d %H:%M}. {since}')
    lines = [
        f"At {at.astimezone(zone):%Y-%m-%d %H:%M}, from the record (inputs are written down every ten minutes and kept "
        "for 14 days, so this is all):"
    ]
    if rows:
        row = rows[-1]
        air = "not known" if row.air is None else f"{row.air:.2f} °C"
        target = "not known" if row.target is None else f"{row.target:.1f} °C ({row.whose})"
        lines += [f"air      {air}", f"target   {target}"]
    lines += [
        f"{row.wall.astimezone(zone):%Y-%m-%d %H:%M}  {row.about}: {row.sentence}" for row in events[-8:]
    ]
    return "\n".join(lines), {
        "from": "minutes",
        "room": room,
        "at": at.astimezone(zone).isoformat(timespec="seconds"),
        "air_celsius": rows[-1].air if rows else None,
        "target_celsius": rows[-1].target if rows else None,
        "whose": rows[-1].whose if rows else None,
        "events": [
            {
                "at": row.wall.astimezone(zone).isoformat(timespec="seconds"),
                "about": row.about,
                "code": row.code,
                "sentence": row.sentence,
            }
            for row in events[-8:]
        ],
    }


def _about(about: str, room: str) -> bool:
    return about == room or about.startswith(f"{room}/")


__all__ = ["StoreError", "ThenError", "moment_of", "why_then"]
