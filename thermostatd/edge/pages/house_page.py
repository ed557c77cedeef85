"""`/` and `/room/<name>`: gathers what the score needs and renders it."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass
from datetime import datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from thermostatd.core.house import Room
from thermostatd.core.results import Result
from thermostatd.core.values import Missing
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import clock, clock_seen, degrees, span
from thermostatd.edge.pages.door import View
from thermostatd.edge.pages.drawing import PAST_HOURS
from thermostatd.edge.pages.score import Past, Score, Slip
from thermostatd.edge.pages.site import Site, site_of, visitor_of
from thermostatd.edge.pages.who import may

OLD_SECONDS = 60.0
router = APIRouter()


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a room's table: when, air, wanted, share of the time that a heater ran."""

    at: str
    air: str
    wanted: str
    ran: str


@router.get("/", include_in_schema=False)
async def house_page(request: Request) -> HTMLResponse:
    """The page."""
    return await rendered(request)


async def rendered(request: Request, slip: Slip | None = None, status: int = 200) -> HTMLResponse:
    """The page as it is now, with a refusal at its place where there was one."""
    site, view = site_of(request), site_of(request).door.view()
    house, result = site.door.house, view.result
    now = site.local_now(view)
    past = dict(
        zip(
            (room.name for room in house.rooms),
            await asyncio.gather(*(past_of(site, room) for room in house.rooms)),
            strict=True,
        )
    )
    score = Score(
        house, dict(result.rooms) if result else {}, past, now, site.unit(request), view.moment.steady
    )
    page = site.rendering.page(
        "house.html",
        **common(request, view),
        score=score,
        slip=slip,
        rooms=[score.room(room) for room in house.rooms],
        spots=[score.spot(spot, result.spots.get(spot.name) if result else None) for spot in house.spots],
        troubles=sorted(result.troubles, key=lambda one: (not one.loud, one.seen)) if result else [],
        house_state=result.house if result else None,
        **_top(site, view, score),
    )
    return HTMLResponse(page, status)


def common(request: Request, view: View | None = None) -> dict[str, object]:
    """What every page of a joined device says: the house, who is visiting, what it may."""
    site, visitor = site_of(request), visitor_of(request)
    now = site.local_now(view or site.door.view())
    return {
        "house": site.door.house,
        "visitor": visitor,
        "unit": site.unit(request),
        "now": now,
        "may_seen": may(visitor.rank, "seen"),
        "may_people": may(visitor.rank, "people"),
        "when": lambda at: clock_seen(at.astimezone(site.zone), now),
    }


def _top(site: Site, view: View, score: Score) -> dict[str, object]:
    """The line at the top and what must be said before any room."""
    state = view.result.house if view.result else None
    outdoor = state.outdoor if state else None
    known = outdoor is not None and not isinstance(outdoor, Missing)
    return {
        "outdoor": degrees(score.unit, outdoor.celsius)
        if known and outdoor and not isinstance(outdoor, Missing)
        else "",
        "warnings": warnings_of(site, view),
        "all_off_said": _said(site, state.all_off_who, state.all_off_since, score.now) if state else "",
        "out_said": _said(site, state.out_who, None, score.now) if state else "",
        "out_until": clock(state.out_until.astimezone(site.zone), score.now)
        if state and state.out_until
        else "",
    }


def warnings_of(site: Site, view: View) -> list[str]:
    """What makes the page less than true just now."""
    said = []
    if view.result is None:
        said.append(words.NOTHING_YET)
    elif view.age_seconds > OLD_SECONDS:
        now = site.local_now(view)
        at = now.fromtimestamp(now.timestamp() - view.age_seconds, tz=now.tzinfo)
        said.append(words.OLD.format(at=clock_seen(at, now), span=span(view.age_seconds)))
    if not view.broker_up:
        said.append(words.BROKER_AWAY)
    return said + list(view.notes)


def _said(site: Site, who: str | None, since: datetime | None, now: datetime) -> str:
    """ "Ana said so at 16:12." """
    at = f" at {clock_seen(since.astimezone(site.zone), now)}" if since else ""
    return f"{words.first_capital(who or words.SOMEONE)} said so{at}."


async def past_of(site: Site, room: Room, hours: float = PAST_HOURS) -> Past:
    """The room's last hours and coming targets."""
    points = await site.door.trace(room.name, hours)
    runs = [run for heater in room.heaters for run in await site.door.runs(room.key_of(heater), hours)]
    return Past(points, sorted(runs), await site.door.week_ahead(room.name))


@router.get("/room/{name}", include_in_schema=False)
async def room_page(request: Request, name: str) -> HTMLResponse:
    """One room: its trace, and the same as a table."""
    site = site_of(request)
    room = site.door.house.room(name)
    if room is None:
        page = site.rendering.page("plain.html", **common(request), title=words.NO_SUCH_PAGE, sentence="")
        return HTMLResponse(page, 404)
    view = site.door.view()
    past = await past_of(site, room)
    results = dict(view.result.rooms) if view.result else {}
    score = Score(
        site.door.house,
        results,
        {room.name: past},
        site.local_now(view),
        site.unit(request),
        view.moment.steady,
    )
    return HTMLResponse(
        site.rendering.page(
            "room.html",
            **common(request, view),
            room=score.room(room),
            rows=rows_of(score, past),
            ahead=[
                (
                    clock(score.now.fromtimestamp(at, tz=score.now.tzinfo), score.now),
                    degrees(score.unit, celsius),
                )
                for at, celsius in past.ahead[:8]
            ],
            heaters=_heaters(room, view.result),
        )
    )


def rows_of(score: Score, past: Past) -> list[Row]:
    """The last day by the hour, latest first: the last value of each hour."""
    hours: dict[int, tuple[float | None, float | None]] = {}
    for at, air, target in past.points:
        hours[int(at // 3600)] = (air, target)
    rows = []
    for hour in sorted(hours, reverse=True)[:24]:
        air, target = hours[hour]
        begins = score.now.fromtimestamp(hour * 3600, tz=score.now.tzinfo)
        ran = sum(
            max(0.0, min(end, hour * 3600 + 3600) - max(start, hour * 3600)) for start, end in past.runs
        )
        rows.append(
            Row(
                f"{begins:%H:%M}",
                degrees(score.unit, air) if air is not None else "–",
                degrees(score.unit, target) if target is not None else "–",
                span(ran) if ran >= 30 else "–",
            )
        )
    return rows


def _heaters(room: Room, result: Result | None) -> list[tuple[str, str]]:
    """Each heater's name, and what it is told and why."""
    told = []
    for heater in room.heaters:
        order = result.orders.get(room.key_of(heater)) if result else None
        told.append((heater.name, f"{'On' if order.on else 'Off'}. {order.reason.sentence}" if order else ""))
    return told
