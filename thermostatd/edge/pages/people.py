"""Joining, the owner's passphrase, and who has joined.

Rules: every guess is throttled by address before it is looked at; what was wrong is never told more closely than
"not good"; joins, refusals and forgetting are logged with who and where; a code is shown once.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import cast

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from thermostatd.edge.pages import keys, words
from thermostatd.edge.pages.amounts import clock
from thermostatd.edge.pages.asks import Malformed
from thermostatd.edge.pages.door import Device, Role
from thermostatd.edge.pages.form_routes import fields_of, needed
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.phone import name_fault
from thermostatd.edge.pages.site import Site, log, site_of, visitor_of, where
from thermostatd.edge.pages.speech import say, t

ROLES: dict[str, str] = {
    "household": "household",
    "owner": "owner",
    "guest": "guest, looks only",
    "room-guest": "guest in {room}",
}
# the owner's pages: address, name, what stands there
OWNER_PAGES = (
    ("/owner/heaters", "Heaters", "what each can sustain, its wear, where it stands"),
    ("/owner/circuits", "Circuits", "amperes now, and what is allowed"),
    ("/owner/troubles", "Troubles", "what is wrong, with evidence"),
    ("/owner/energy", "Energy", "what each room took, by day and week"),
    ("/owner/sensors", "Sensors and plugs", "when each was last heard"),
    ("/owner/rooms", "What is believed of rooms", "how fast each cools, and how sure that is"),
    ("/owner/file", "House file", "its faults and cautions, with their lines"),
    ("/people", "People", "phones that joined, codes for new ones"),
)
router = APIRouter(include_in_schema=False)


@router.get("/join")
async def join_page(request: Request) -> Response:
    """How to join."""
    if visitor_of(request).device_id:
        return RedirectResponse("/", 303)
    return _join_form(request)


def _join_form(
    request: Request, wrong: str = "", field: str = "", code: str = "", name: str = "", status: int = 200
) -> HTMLResponse:
    # a stranger sees no name of the house, and nothing of it
    return HTMLResponse(
        site_of(request).rendering.page("join.html", wrong=wrong, field=field, code=code, name=name), status
    )


@router.post("/join")
async def join(request: Request) -> Response:
    """Makes this phone a device of the household, by a code."""
    site, fields = site_of(request), await fields_of(request, "code", "name")
    code, name = keys.typed(fields.get("code", "")), " ".join(fields.get("name", "").split())
    wrong = name_fault(name)
    if wrong:
        return _join_form(request, wrong, "name", code, name[:30], 422)
    if len(code) != 8 or not code.isascii() or not code.isdigit():
        return _join_form(request, words.CODE_SHAPE, "code", code[:20], name, 422)
    if not site.guessing.may(where(request)):
        site.warnings.tell(where(request), "guessed-too-often: codes tried from %s", where(request))
        return _join_form(request, words.GUESSED_TOO_OFTEN, "code", code, name, 429)
    token = await site.door.join(code, name)
    if token is None:
        site.warnings.tell(where(request), "code-wrong: tried from %s", where(request))
        return _join_form(request, words.CODE_WRONG, "code", "", name, 403)
    log.info("joined: %r from %s", name, where(request))
    before = visitor_of(request).device_id
    if before is not None:  # one phone has one token: the one it came with ends
        await site.door.forget(before)
    response = RedirectResponse("/", 303)
    site.keep(response, "device", token)
    return response


@router.get("/owner")
async def owner_page(request: Request) -> HTMLResponse:
    """Where the owner gives the passphrase."""
    return _owner_form(request)


def _owner_form(request: Request, wrong: str = "", status: int = 200) -> HTMLResponse:
    site = site_of(request)
    nobody = "" if site.passphrase else words.NO_PASSPHRASE
    page = site.rendering.page(
        "owner.html", **common(request), wrong=wrong, nobody=nobody, pages=OWNER_PAGES, proved=proved(request)
    )
    return HTMLResponse(page, status)


def proved(request: Request) -> bool:
    """Whether this visitor is owner by passphrase, which ends, and not by its own rank."""
    site = site_of(request)
    return site.owners.holds(request.cookies.get(site.cookie("owner")))


@router.post("/owner")
async def owner(request: Request) -> Response:
    """Makes this visitor owner for a while."""
    site, fields = site_of(request), await fields_of(request, "passphrase")
    if not site.guessing.may(where(request)):
        site.warnings.tell(where(request), "guessed-too-often: passphrases tried from %s", where(request))
        return _owner_form(request, words.GUESSED_TOO_OFTEN, 429)
    if site.passphrase is None or not await site.passphrase.fits(fields.get("passphrase", "")):
        who = visitor_of(request).name
        site.warnings.tell(where(request), "passphrase-wrong: tried by %r from %s", who, where(request))
        return _owner_form(request, words.PASSPHRASE_WRONG, 403)
    log.info("owner: %r is owner now, from %s", visitor_of(request).name, where(request))
    site.owners.end(request.cookies.get(site.cookie("owner")))
    response = RedirectResponse("/owner", 303)
    site.keep(response, "owner", site.owners.begin(), None)
    return response


@router.post("/owner/leave")
async def leave(request: Request) -> Response:
    """Stops being owner."""
    site = site_of(request)
    await fields_of(request)
    site.owners.end(request.cookies.get(site.cookie("owner")))
    response = RedirectResponse("/", 303)
    site.drop(response, "owner")
    return response


@router.get("/people")
async def people_page(request: Request) -> HTMLResponse:
    """Every phone that joined."""
    return await _people(request)


async def _people(request: Request, status: int = 200, **shown: object) -> HTMLResponse:
    site = site_of(request)
    now = site.local_now(site.door.view())
    values = {
        "code": "",
        "good_until": "",
        "qr": "",
        "role": "",
        "wrong": "",
        "field": "",
        "typed": {},
        **shown,
    }
    devices = [_device_shown(site, device, now) for device in await site.door.devices()]
    page = site.rendering.page(
        "people.html",
        **common(request),
        devices=devices,
        today=f"{now:%Y-%m-%d}",
        proved=proved(request),
        **values,
    )
    return HTMLResponse(page, status)


def _device_shown(site: Site, device: Device, now: datetime) -> dict[str, object]:
    """A phone as the owner sees it."""
    local = {name: at.astimezone(site.zone) if at else None for name, at in
             (("since", device.since), ("until", device.until), ("seen", device.seen))}  # fmt: skip
    return {
        "id": device.id,
        "name": device.name,
        "role": t(ROLES[device.role], room=device.room or "–"),
        "over": device.until is not None and device.until <= now,
        **{name: clock(at, now) if at else "" for name, at in local.items()},
    }


@router.post("/people/code")
async def add_code(request: Request) -> Response:
    """A new code, shown once."""
    import segno  # only this page draws a code, and seldom

    site, fields = site_of(request), await fields_of(request, "role", "room", "until")
    try:
        role, room, until = _guest_of(site, fields)
    except Malformed as fault:
        return await _people(request, 422, wrong=say(fault.sentence), field=fault.field, typed=fields)
    code = await site.door.add_code(role, keys.CODE_MINUTES, room, until)
    log.info("code: %r made one for a new %s phone", visitor_of(request).name, role)
    now = site.local_now(site.door.view())
    # the code stands behind "#": browsers keep that to themselves, so it reaches no log
    address = f"{request.url.scheme}://{request.headers['host']}/join#{code}"
    return await _people(
        request,
        code=keys.shown(code),
        role=t(ROLES[role], room=room or "–"),
        address=address.partition("#")[0],
        qr=segno.make(address).svg_data_uri(scale=4),
        good_until=clock(now + timedelta(minutes=keys.CODE_MINUTES), now),
    )


def _guest_of(site: Site, fields: dict[str, str]) -> tuple[Role, str | None, datetime | None]:
    """The role that a form asks a code for; a guest's room, and the end of the day until which a guest may come."""
    role = cast(Role, fields.get("role") if fields.get("role") in ROLES else "household")
    if role not in ("guest", "room-guest"):
        return role, None, None
    room = fields.get("room") or None
    if role == "room-guest" and (room is None or site.door.house.room(room) is None):
        raise Malformed("room", words.GUEST_ROOM)
    try:
        last = date.fromisoformat(fields.get("until", ""))
        until = datetime.combine(last + timedelta(days=1), time(), tzinfo=site.zone)
    except (ValueError, OverflowError):
        raise Malformed("until", words.NO_DATE) from None
    if until <= site.local_now(site.door.view()):
        raise Malformed("until", words.NO_DATE)
    return role, room if role == "room-guest" else None, until


@router.post("/people/name")
async def rename(request: Request) -> Response:
    """Another name for a phone."""
    site, fields = site_of(request), await fields_of(request, "device", "name")
    device_id = await _known(site, needed(fields, "device"))
    name = " ".join(fields.get("name", "").split())
    wrong = name_fault(name)
    if wrong:
        return await _people(request, 422, wrong=wrong, field=device_id)
    await site.door.rename(device_id, name)
    log.info("renamed: %r named the device %.40r %r", visitor_of(request).name, device_id, name)
    return RedirectResponse("/people", 303)


@router.post("/people/forget")
async def forget(request: Request) -> Response:
    """Ends a phone's joining, at once."""
    site, fields = site_of(request), await fields_of(request, "device")
    device_id = await _known(site, needed(fields, "device"))
    await site.door.forget(device_id)
    log.info("forgotten: %r forgot the device %.40r", visitor_of(request).name, device_id)
    return RedirectResponse("/people", 303)


async def _known(site: Site, device_id: str) -> str:
    if device_id not in {device.id for device in await site.door.devices()}:
        raise Malformed("device", words.NO_SUCH_PHONE)
    return device_id
