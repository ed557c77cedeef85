"""Forms: everything that the page can do works by these, with or without a script.

A good form is answered by 303 to where it came from; a refusal shows the page again with the message at its
field.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import replace
from urllib.parse import parse_qsl, quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import RedirectResponse

from thermostatd.core.asking import Accepted, AllOff, Answer, Out, Refused, RoomOff, Seen, Undo, WarmMe
from thermostatd.core.said import said
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import typed_degrees
from thermostatd.edge.pages.asks import (
    Malformed,
    TooOften,
    anchor_of,
    cancel_of,
    form_ask,
    form_later,
    known_room,
    known_spot,
    put,
    status_of,
    typed_end,
)
from thermostatd.edge.pages.house_page import rendered
from thermostatd.edge.pages.room_page import rendered_room
from thermostatd.edge.pages.site import site_of, visitor_of
from thermostatd.edge.pages.slip import Slip
from thermostatd.edge.pages.speech import Unit

WRONG_TIME = {"in-the-past": "at", "too-far-ahead": "at", "asked-then": "at", "ends-before": "end"}
"""The field of a typed time that a refusal is about."""
router = APIRouter(include_in_schema=False)


async def fields_of(request: Request, *known: str) -> dict[str, str]:
    """The form's fields, each known and there once. Malformed names the one that is not."""
    if request.headers.get("content-type", "").split(";")[0].strip() not in (
        "",
        "application/x-www-form-urlencoded",
    ):
        raise Malformed("", words.NOT_FORM)
    fields: dict[str, str] = {}
    try:
        pairs = parse_qsl((await request.body()).decode(), keep_blank_values=True, max_num_fields=40)
    except ValueError:
        raise Malformed("", words.NOT_FORM) from None
    for name, value in pairs:
        if name not in known:
            raise Malformed(name, said(words.UNKNOWN, field=name[:40]))
        if name in fields:
            raise Malformed(name, said(words.DOUBLED, field=name[:40]))
        fields[name] = value
    return fields


def needed(fields: dict[str, str], name: str) -> str:
    """The field's value. Malformed where it is missing."""
    if name not in fields:
        raise Malformed(name, said(words.LACKING, field=name))
    return fields[name]


Shown = Callable[[Request, Slip, int], Awaitable[Response]]
"""A page with what was wrong on it."""


def room_with(part: str, name: str) -> Shown:
    """The room's own page with what was wrong in that part of it."""

    async def shown(request: Request, slip: Slip, status: int) -> Response:
        return await rendered_room(request, name, replace(slip, place=part), status)

    return shown


def _back(fields: dict[str, str], name: str) -> tuple[str, Shown]:
    """Where a form about a room leads back to, and what shows a refusal: the house's page, or that room's own."""
    if fields.get("page") == "room":
        return f"/room/{quote(name)}", room_with(anchor_of(name), name)
    return anchor_of(name), rendered


async def _done(
    request: Request,
    place: str,
    fields: dict[str, str],
    work: Callable[[], Awaitable[Answer]],
    shown: Shown = rendered,
) -> Response:
    """Answers a form: back to its place, or the page with what was wrong there."""
    try:
        answer = await work()
    except Malformed as fault:
        return await shown(request, Slip(place, fault.sentence, fault.field, fields), 422)
    except TooOften:
        return await shown(request, Slip(place, words.ASKED_TOO_OFTEN, "", fields), 429)
    if isinstance(answer, Refused):
        field = "degrees"
        if "end" in fields or fields.get("until") in ("at", "typed"):
            field = WRONG_TIME.get(answer.code, field)
        return await shown(request, Slip(place, answer.sentence, field, fields), status_of(answer))
    if place.startswith("/"):
        return RedirectResponse(place, 303)
    return RedirectResponse(f"/#{quote(place)}" if place else "/", 303)


@router.post("/ask")
async def ask(request: Request) -> Response:
    """Other degrees for a room, until something."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "room", "degrees", "until", "at", "unit", "page")
    unit: Unit = "F" if fields.get("unit") == "F" else "C"
    place, shown = _back(fields, needed(fields, "room"))

    async def work() -> Answer:
        room = known_room(fields["room"], site.door.house)
        view = site.door.view()
        present = view.result.rooms.get(room) if view.result else None
        return await put(site, visitor, form_ask(fields, unit, site.local_now(view), present, visitor))

    return await _done(request, place, fields, work, shown)


@router.post("/ask-later")
async def ask_later(request: Request) -> Response:
    """Other degrees for a room from a later time on, from its own page."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "room", "degrees", "unit", "day", "at", "end")
    unit: Unit = "F" if fields.get("unit") == "F" else "C"
    name = needed(fields, "room")

    async def work() -> Answer:
        known_room(name, site.door.house)
        return await put(site, visitor, form_later(fields, unit, site.local_now(site.door.view()), visitor))

    return await _done(request, f"/room/{quote(name)}", fields, work, room_with("later", name))


@router.post("/room-off")
async def room_off(request: Request) -> Response:
    """One room off alone, from its own page."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "room", "until", "at", "day")
    name = needed(fields, "room")

    async def work() -> Answer:
        room = known_room(name, site.door.house)
        end = typed_end(fields, site.local_now(site.door.view()))
        return await put(site, visitor, RoomOff(room, end, visitor.name, origin=visitor.origin))

    return await _done(request, f"/room/{quote(name)}", fields, work, room_with("off", name))


@router.post("/warm-me")
async def warm_me(request: Request) -> Response:
    """Warmth on a spot for some minutes."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "spot", "minutes")

    async def work() -> Answer:
        spot = known_spot(needed(fields, "spot"), site.door.house)
        minutes = typed_degrees(fields.get("minutes", ""))
        if minutes is None:
            raise Malformed("minutes", said(words.NO_NUMBER, example="20"))
        return await put(site, visitor, WarmMe(spot, minutes, visitor.name, origin=visitor.origin))

    return await _done(request, anchor_of(needed(fields, "spot")), fields, work)


@router.post("/out")
async def out(request: Request) -> Response:
    """Everyone is out, until a time or until someone says otherwise."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "until", "at", "day")

    async def work() -> Answer:
        end = typed_end(fields, site.local_now(site.door.view()))
        return await put(site, visitor, Out(end, visitor.name, origin=visitor.origin))

    return await _done(request, "out", fields, work)


@router.post("/all-off")
async def all_off(request: Request) -> Response:
    """Everything off, now."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request)

    async def work() -> Answer:
        return await put(site, visitor, AllOff(visitor.name, origin=visitor.origin))

    return await _done(request, "", fields, work)


@router.post("/cancel")
async def cancel(request: Request) -> Response:
    """Back to the usual week; someone is back; heating on again; a spot's end."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "what", "begins", "page")
    what, begins = needed(fields, "what"), fields.get("begins")

    async def work() -> Answer:
        answer = await put(site, visitor, cancel_of(what, site.door.house, visitor, begins))
        if isinstance(answer, Refused) and answer.code == "nothing-to-cancel":
            return Accepted(answer.sentence)  # sent twice, or two people at once: it is as they wanted
        return answer

    if begins is not None and site.door.house.room(what):
        return await _done(request, f"/room/{quote(what)}", fields, work, room_with("later", what))
    named = site.door.house.room(what) or site.door.house.spot(what)
    place, shown = _back(fields, what) if named else ("", rendered)
    return await _done(request, place, fields, work, shown)


@router.post("/undo")
async def undo(request: Request) -> Response:
    """Takes back this visitor's own last change, within its minute."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "room", "page")
    offer = site.offered(visitor)
    place, shown = _back(fields, fields["room"]) if "room" in fields else (offer.place if offer else "", rendered)

    async def work() -> Answer:
        if offer is None:
            raise Malformed("", words.NOTHING_TO_UNDO, "nothing-to-undo")
        return await put(site, visitor, Undo(offer.change, visitor.name, origin=visitor.origin))

    return await _done(request, place, fields, work, shown)


@router.post("/seen")
async def seen(request: Request) -> Response:
    """The owner has looked at a trouble."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "trouble")

    async def work() -> Answer:
        return await put(site, visitor, Seen(needed(fields, "trouble"), visitor.name, origin=visitor.origin))

    back = str(request.headers.get("referer", "")).endswith("/owner/troubles")
    return await _done(request, "/owner/troubles" if back else "troubles", fields, work)
