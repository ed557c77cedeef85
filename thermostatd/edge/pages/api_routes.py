"""The JSON API.

Rules: a body is read whole and strictly: known fields, each once, no NaN; an error is a code, a sentence, a limit.
"""

from __future__ import annotations

import json
from typing import Any

from fastapi import APIRouter, Depends, Request
from fastapi.responses import JSONResponse
from pydantic import ValidationError

from thermostatd.core.asking import (
    NEXT_STEP,
    NO_END,
    AllOff,
    Ask,
    Out,
    Refused,
    RoomOff,
    Seen,
    SetTo,
    Stands,
    Undo,
    Until,
    UsualWeek,
    WarmMe,
)
from thermostatd.core.asking import Request as Wish
from thermostatd.core.house import UsualStep
from thermostatd.core.said import said
from thermostatd.edge.pages import words
from thermostatd.edge.pages.api_house import house_out
from thermostatd.edge.pages.api_models import (
    AcceptedOut,
    AllOffBody,
    AskBody,
    CancelBody,
    ErrorOut,
    HouseOut,
    OutBody,
    RoomOffBody,
    SeenBody,
    SetToBody,
    StandsBody,
    UndoBody,
    WarmMeBody,
    WeekBody,
)
from thermostatd.edge.pages.asks import Malformed, cancel_of, iso_time, known_room, known_spot, put, status_of
from thermostatd.edge.pages.site import site_of, visitor_of
from thermostatd.edge.pages.speech import say

_ALWAYS: dict[int | str, dict[str, Any]] = {
    421: {"model": ErrorOut, "description": "Not a name of this machine: see `hosts` in the house file."},
    500: {"model": ErrorOut, "description": "Something went wrong; nothing was changed."},
    503: {"model": ErrorOut, "description": "It could not be stored, or read; nothing was changed."},
}
_ERRORS: dict[int | str, dict[str, Any]] = _ALWAYS | {
    403: {"model": ErrorOut, "description": "Not joined, not the owner, or not from this house's pages."},
    408: {"model": ErrorOut, "description": "The body took too long to arrive."},
    409: {
        "model": ErrorOut,
        "description": "Not now: everyone is out, everything is off, nothing to take back.",
    },
    413: {"model": ErrorOut, "description": "Over 16 KiB."},
    415: {"model": ErrorOut, "description": "Not JSON."},
    422: {"model": ErrorOut, "description": "Malformed, or past a limit."},
    429: {"model": ErrorOut, "description": "Asked too often."},
}


async def whole_json(request: Request) -> None:
    """Refuses what a lenient reader would let pass: another type, doubled fields, NaN."""
    if request.headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        raise Malformed("", words.NOT_JSON, "not-json")
    try:
        json.loads(await request.body(), object_pairs_hook=_each_once, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise Malformed("", words.BROKEN_JSON) from None


def _each_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    names = [name for name, _ in pairs]
    for name in names:
        if names.count(name) > 1:
            raise Malformed(name, said(words.DOUBLED, field=name[:40]))
    return dict(pairs)


def _no_constant(constant: str) -> float:
    raise ValueError(constant)


router = APIRouter(prefix="/api", tags=["house"])
_posts: dict[str, Any] = {
    "response_model": AcceptedOut,
    "responses": _ERRORS,
    "dependencies": [Depends(whole_json)],
}


@router.get("/house", responses=_ALWAYS | {403: _ERRORS[403]})
async def house(request: Request) -> HouseOut:
    """Everything as it is now."""
    return house_out(site_of(request), visitor_of(request))


@router.post("/ask", **_posts)
async def ask(request: Request, body: AskBody) -> Any:
    """Another target for a room, now or later, until the week's next step, an ISO time, or without end."""
    visitor, room = visitor_of(request), known_room(body.room, site_of(request).door.house)
    begins = iso_time(body.begins, "begins") if body.begins is not None else None
    wish = Ask(room, body.celsius, _end(body.until), visitor.name, origin=visitor.origin, begins=begins)
    return await _answered(request, wish)


@router.post("/room-off", **_posts)
async def room_off(request: Request, body: RoomOffBody) -> Any:
    """One room off alone; `cancel` turns it on again."""
    visitor, room = visitor_of(request), known_room(body.room, site_of(request).door.house)
    return await _answered(request, RoomOff(room, _end(body.until), visitor.name, origin=visitor.origin))


@router.post("/warm-me", **_posts)
async def warm_me(request: Request, body: WarmMeBody) -> Any:
    """Radiant warmth on a spot for some minutes."""
    visitor, spot = visitor_of(request), known_spot(body.spot, site_of(request).door.house)
    return await _answered(request, WarmMe(spot, body.minutes, visitor.name, origin=visitor.origin))


@router.post("/out", **_posts)
async def out(request: Request, body: OutBody) -> Any:
    """Everyone is out; while that holds, another time of return."""
    visitor = visitor_of(request)
    return await _answered(request, Out(_end(body.until), visitor.name, origin=visitor.origin))


@router.post("/all-off", **_posts)
async def all_off(request: Request, body: AllOffBody) -> Any:
    """Everything off until taken back."""
    visitor = visitor_of(request)
    return await _answered(request, AllOff(visitor.name, origin=visitor.origin))


@router.post("/cancel", **_posts)
async def cancel(request: Request, body: CancelBody) -> Any:
    """Takes back what was asked of a room or spot, now or for later, or "out", or "all-off"."""
    site, visitor = site_of(request), visitor_of(request)
    return await _answered(request, cancel_of(body.what, site.door.house, visitor, body.begins))


@router.post("/undo", **_posts)
async def undo(request: Request, body: UndoBody) -> Any:
    """Takes back this device's own last change, within its minute."""
    site, visitor = site_of(request), visitor_of(request)
    offer = site.offered(visitor)
    if offer is None or offer.change != body.change:
        raise Malformed("change", words.NOTHING_TO_UNDO, "nothing-to-undo")
    return await _answered(request, Undo(body.change, visitor.name, origin=visitor.origin))


@router.post("/week", **_posts)
async def week(request: Request, body: WeekBody) -> Any:
    """Another usual week for a room, or the house file's again."""
    visitor, room = visitor_of(request), known_room(body.room, site_of(request).door.house)
    try:
        steps = tuple(UsualStep.model_validate(step.model_dump()) for step in body.steps or ())
    except ValidationError as fault:
        raise Malformed("steps", str(fault.errors()[0]["msg"])[:200]) from None
    wish = UsualWeek(room, None if body.steps is None else steps, visitor.name, origin=visitor.origin)
    return await _answered(request, wish)


@router.post("/seen", **_posts)
async def seen(request: Request, body: SeenBody) -> Any:
    """The owner has looked at a trouble; it alone reopens what latched."""
    visitor = visitor_of(request)
    return await _answered(request, Seen(body.trouble, visitor.name, origin=visitor.origin))


@router.post("/stands", **_posts)
async def stands(request: Request, body: StandsBody) -> Any:
    """A heater was carried to another room; what was learned of it goes along."""
    visitor = visitor_of(request)
    return await _answered(request, Stands(body.heater, body.room, visitor.name, origin=visitor.origin))


@router.post("/set-to", **_posts)
async def set_to(request: Request, body: SetToBody) -> Any:
    """A heater's selector was turned."""
    visitor = visitor_of(request)
    return await _answered(request, SetTo(body.heater, body.watts, visitor.name, origin=visitor.origin))


def _end(until: str) -> Any:
    ends: dict[str, Until] = {"next-step": NEXT_STEP, "no-end": NO_END}
    return ends[until] if until in ends else iso_time(until)


async def _answered(request: Request, wish: Wish) -> Any:
    site = site_of(request)
    answer = await put(site, visitor_of(request), wish)
    if isinstance(answer, Refused):
        error = ErrorOut(code=answer.code, sentence=say(answer.sentence), limit=answer.limit)
        return JSONResponse(error.model_dump(), status_of(answer))
    until = answer.until.astimezone(site.zone).isoformat(timespec="seconds") if answer.until else None
    return AcceptedOut(
        sentence=say(answer.sentence),
        celsius=answer.celsius,
        until=until,
        replaced=say(answer.replaced) if answer.replaced else None,
        change=answer.change,
    )
