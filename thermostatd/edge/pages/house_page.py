"""`/` and what every page has in common: gathers what the score needs and renders it."""

from __future__ import annotations

import asyncio
from dataclasses import replace
from datetime import datetime, timedelta

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from thermostatd.core.house import House, Room, Spot
from thermostatd.core.results import Result, Trouble
from thermostatd.core.values import Missing
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import clock, degrees, span
from thermostatd.edge.pages.asks import anchor_of
from thermostatd.edge.pages.cards import RoomCard, SpotCard
from thermostatd.edge.pages.door import View
from thermostatd.edge.pages.drawing import PAST_HOURS
from thermostatd.edge.pages.hindrance import gone_from, hindrance, said_gone, spot_hindrance
from thermostatd.edge.pages.room_days import Past
from thermostatd.edge.pages.score import Score
from thermostatd.edge.pages.site import Site, site_of, visitor_of
from thermostatd.edge.pages.slip import Slip
from thermostatd.edge.pages.speech import say, speech, t
from thermostatd.edge.pages.who import Visitor, may, sees_room

OLD_SECONDS = 60.0
router = APIRouter()


@router.get("/", include_in_schema=False)
async def house_page(request: Request) -> Response:
    """The page. One that was made for the like of this visitor since the last decision is sent again."""
    site, visitor = site_of(request), visitor_of(request)
    view = site.door.view()
    if view.result is None or view.age_seconds > OLD_SECONDS:
        return await rendered(request)
    minute = int(view.moment.wall.timestamp() // 60)
    key = (minute, speech(), visitor.rank, visitor.name, visitor.room, visitor.device_id is None,
           site.offered(visitor), view.broker_up, view.notes)  # fmt: skip
    found = site.kept.page(view.result, key)
    if found is None:
        page = await rendered(request)
        found = site.kept.keep(view.result, key, bytes(page.body).decode())
    headers = {"vary": "accept-encoding, accept-language, cookie"}
    if "gzip" in request.headers.get("accept-encoding", ""):
        return HTMLResponse(found[1], headers={**headers, "content-encoding": "gzip"})
    return HTMLResponse(found[0], headers=headers)


async def rendered(request: Request, slip: Slip | None = None, status: int = 200) -> HTMLResponse:
    """The page as it is now, with a refusal at its place where there was one."""
    site, visitor = site_of(request), visitor_of(request)
    view = site.door.view()
    house, result = site.door.house, view.result
    rooms = [room for room in house.rooms if sees_room(visitor, room.name)]
    spots = house.spots if visitor.rank != "room-guest" else ()
    score = await score_of(site, view, rooms)
    offer = site.offered(visitor)
    place = offer.place if offer else None
    page = site.rendering.page(
        "house.html",
        **common(request, view),
        score=score,
        slip=slip,
        rooms=[card_of(site, view, score, room, visitor, place) for room in rooms],
        spots=[spot_card_of(result, score, spot, visitor, place) for spot in spots],
        undo_here=offer is not None and place == "",
        troubles=troubles_for(visitor, result),
        house_state=result.house if result else None,
        **_top(site, view, score),
    )
    return HTMLResponse(page, status)


def card_of(
    site: Site, view: View, score: Score, room: Room, visitor: Visitor, undo_place: str | None
) -> RoomCard:
    """One room as this visitor may use it."""
    house, state = site.door.house, view.result.house if view.result else None
    asks = may(visitor.rank, "ask in a room") and sees_room(visitor, room.name)
    card = score.room(room, asks, undo_place == anchor_of(room.name))
    gone = gone_from(house, room)
    sentence = said_gone(gone) if gone and card.code == "no-heater" else card.sentence
    return replace(card, sentence=sentence, hindrance=hindrance(house, room, state, visitor))


def spot_card_of(
    result: Result | None, score: Score, spot: Spot, visitor: Visitor, undo_place: str | None
) -> SpotCard:
    """One spot as this visitor may use it."""
    found, state = (result.spots.get(spot.name), result.house) if result else (None, None)
    card = score.spot(spot, found, may(visitor.rank, "ask"), undo_place == anchor_of(spot.name))
    return replace(card, hindrance=spot_hindrance(spot, state, visitor))


def troubles_for(visitor: Visitor, result: Result | None) -> list[Trouble]:
    """What this visitor should know of, the loud ones first. A room guest: its own room's, and what is loud."""
    found = result.troubles if result else ()
    shown = [
        one
        for one in found
        if visitor.rank != "room-guest" or one.loud or one.id.partition("/")[0] == visitor.room
    ]
    codes = [one.code for one in shown]  # those of one kind stand together, and say once what to do
    return sorted(shown, key=lambda one: (not one.loud, one.seen, codes.index(one.code)))


def common(request: Request, view: View | None = None) -> dict[str, object]:
    """What every page of a joined device says: the house, who is visiting, what it may."""
    site, visitor = site_of(request), visitor_of(request)
    now = site.local_now(view or site.door.view())
    return {
        "house": site.door.house,
        "visitor": visitor,
        "unit": speech().unit,
        "now": now,
        "here": request.url.path,
        "may_ask": may(visitor.rank, "ask"),
        "may_prove": may(visitor.rank, "prove"),
        "may_own": may(visitor.rank, "own"),
        "may_week": site.may_edit_weeks(visitor),
        "when": lambda at: clock(at.astimezone(site.zone), now),
    }


def _top(site: Site, view: View, score: Score) -> dict[str, object]:
    """The line at the top and what must be said before any room."""
    state = view.result.house if view.result else None
    outdoor = state.outdoor if state else None
    return {
        "outdoor": degrees(score.unit, outdoor.celsius)
        if outdoor is not None and not isinstance(outdoor, Missing)
        else "",
        "today": speech().day(score.now),
        "clock": speech().hours(score.now),
        "days": days_from(score.now),
        "warnings": warnings_of(site, view),
        "all_off_said": _said(site, state.all_off_who, state.all_off_since, score.now) if state else "",
        "out_said": _said(site, state.out_who, None, score.now) if state else "",
        "out_until": clock(state.out_until.astimezone(site.zone), score.now)
        if state and state.out_until
        else "",
    }


def days_from(now: datetime) -> list[str]:
    """The days that a time may be chosen on, as they are called."""
    return [t("today"), *(speech().day(now + timedelta(days=ahead)) for ahead in range(1, 7))]


def warnings_of(site: Site, view: View) -> list[str]:
    """What makes the page less than true just now."""
    told = []
    now = site.local_now(view)
    if view.result is None:
        told.append(t(words.NOTHING_YET))
    elif view.age_seconds > OLD_SECONDS:
        at = now.fromtimestamp(now.timestamp() - view.age_seconds, tz=now.tzinfo)
        told.append(t(words.OLD, at=clock(at, now), span=span(view.age_seconds)))
    if not view.broker_up and not _is_told(view):
        told += _broker_away(site.door.house)
    return told + [say(note) for note in view.notes]


def _is_told(view: View) -> bool:
    """Whether it stands below as a trouble already, louder."""
    return view.result is not None and any(one.code == "broker-away" for one in view.result.troubles)


def _broker_away(house: House) -> list[str]:
    """What becomes of the plugs on it meanwhile. One without a timer stays as it was: a person has to look."""
    plugs = {key: heater.plug for key, heater, _ in house.heaters() if heater.plug.on_broker}
    left = [key for key, plug in plugs.items() if not plug.switches_itself_off]
    told = [t(words.BROKER_AWAY)]
    told += [t(words.ENDS_ITSELF)] if len(left) < len(plugs) else []
    return told + ([t(words.STAYS_ON, heaters=", ".join(left))] if left else [])


def _said(site: Site, who: str | None, since: datetime | None, now: datetime) -> str:
    """ "Ana said so at 16:12." """
    name = t(who) if who == words.SOMEONE_HERE else words.first_capital(who or t(words.SOMEONE))
    if since is None:
        return t("{who} said so.", who=name)
    return t("{who} said so at {at}.", who=name, at=clock(since.astimezone(site.zone), now))


async def past_of(site: Site, room: Room, minute: int, hours: float = PAST_HOURS) -> Past:
    """The room's last hours, as the store told them in this minute, and its coming targets."""

    async def read() -> Past:
        points = await site.door.trace(room.name, hours)
        runs = [run for heater in room.heaters for run in await site.door.runs(room.key_of(heater), hours)]
        return Past.of(points, runs)

    found: Past = await site.kept.past(minute, ("past", room.name, hours), read)
    return replace(found, ahead=await site.door.week_ahead(room.name))


async def score_of(site: Site, view: View, rooms: list[Room]) -> Score:
    """The score of some rooms."""
    minute = int(view.moment.wall.timestamp() // 60)
    found = await asyncio.gather(*(past_of(site, room, minute) for room in rooms))
    past = {room.name: one for room, one in zip(rooms, found, strict=True)}
    house = site.door.house.model_copy(update={"rooms": tuple(rooms)})
    results = dict(view.result.rooms) if view.result else {}
    shown = {room.name: results[room.name] for room in rooms if room.name in results}
    return Score(house, shown, past, site.local_now(view), view.moment.steady, site.kept)
