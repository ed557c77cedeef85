"""Joining, the owner's passphrase, and who has joined.

Rules: every guess is throttled by address before it is looked at; what was wrong is never told more closely than
"not good"; joins, refusals and forgetting are logged with who and where; a code is shown once.
"""

from __future__ import annotations

from datetime import timedelta

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from thermostatd.edge.pages import keys, words
from thermostatd.edge.pages.amounts import clock
from thermostatd.edge.pages.asks import Malformed
from thermostatd.edge.pages.door import Role
from thermostatd.edge.pages.form_routes import fields_of, needed
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.site import log, site_of, visitor_of, where

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
    if not name or len(name) > 30 or not name.isprintable():
        return _join_form(
            request, words.NAME_SHAPE if name else words.NAME_LACKING, "name", code, name[:30], 422
        )
    if len(code) != 8 or not code.isascii() or not code.isdigit():
        return _join_form(request, words.CODE_SHAPE, "code", code[:20], name, 422)
    if not site.guessing.may(where(request)):
        log.warning("too many codes tried from %s", where(request))
        return _join_form(request, words.GUESSED_TOO_OFTEN, "code", code, name, 429)
    token = await site.door.join(code, name)
    if token is None:
        log.warning("a wrong code was tried from %s", where(request))
        return _join_form(request, words.CODE_WRONG, "code", "", name, 403)
    log.info("%r joined from %s", name, where(request))
    response = RedirectResponse("/", 303)
    site.keep(response, "device", token)
    return response


@router.get("/owner")
async def owner_page(request: Request) -> HTMLResponse:
    """Where the owner gives the passphrase."""
    return _owner_form(request)


def _owner_form(request: Request, wrong: str = "", status: int = 200) -> HTMLResponse:
    site = site_of(request)
    wrong = wrong or ("" if site.passphrase else words.NO_PASSPHRASE)
    return HTMLResponse(site.rendering.page("owner.html", **common(request), wrong=wrong), status)


@router.post("/owner")
async def owner(request: Request) -> Response:
    """Makes this visitor owner for a while."""
    site, fields = site_of(request), await fields_of(request, "passphrase")
    if not site.guessing.may(where(request)):
        log.warning("too many passphrases tried from %s", where(request))
        return _owner_form(request, words.GUESSED_TOO_OFTEN, 429)
    if site.passphrase is None or not await site.passphrase.fits(fields.get("passphrase", "")):
        log.warning("a wrong passphrase was tried by %r from %s", visitor_of(request).name, where(request))
        return _owner_form(request, words.PASSPHRASE_WRONG, 403)
    log.info("%r is owner now, from %s", visitor_of(request).name, where(request))
    response = RedirectResponse("/people", 303)
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


async def _people(request: Request, **shown: object) -> HTMLResponse:
    site = site_of(request)
    values = {"code": "", "good_until": "", "qr": "", "role": "", **shown}
    return HTMLResponse(
        site.rendering.page("people.html", **common(request), devices=await site.door.devices(), **values)
    )


@router.post("/people/code")
async def add_code(request: Request) -> Response:
    """A new code, shown once."""
    import segno  # only this page draws a code, and seldom

    site, fields = site_of(request), await fields_of(request, "role")
    role: Role = "owner" if fields.get("role") == "owner" else "household"
    code = await site.door.add_code(role, keys.CODE_MINUTES)
    log.info("%r made a code for a new %s phone", visitor_of(request).name, role)
    now = site.local_now(site.door.view())
    # the code stands behind "#": browsers keep that to themselves, so it reaches no log
    address = f"{request.url.scheme}://{request.headers['host']}/join#{code}"
    return await _people(
        request,
        code=keys.shown(code),
        role=role,
        qr=segno.make(address).svg_data_uri(scale=4),
        good_until=clock(now + timedelta(minutes=keys.CODE_MINUTES), now),
    )


@router.post("/people/forget")
async def forget(request: Request) -> Response:
    """Ends a phone's joining, at once."""
    site, fields = site_of(request), await fields_of(request, "device")
    device_id = needed(fields, "device")
    if device_id not in {device.id for device in await site.door.devices()}:
        raise Malformed("device", words.NO_SUCH_PAGE)
    await site.door.forget(device_id)
    log.info("%r forgot the device %.40r", visitor_of(request).name, device_id)
    return RedirectResponse("/people", 303)
