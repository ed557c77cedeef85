"""`/phone`: this phone's own settings: its name, degrees, language; leaving the house."""

from __future__ import annotations

from urllib.parse import urlsplit

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import clock
from thermostatd.edge.pages.form_routes import fields_of
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.site import log, site_of, visitor_of
from thermostatd.edge.pages.speech import OWN_NAMES, speech, t

router = APIRouter(include_in_schema=False)


@router.get("/phone")
async def phone_page(request: Request) -> HTMLResponse:
    """This phone."""
    return _shown(request)


def _shown(request: Request, wrong: str = "", name: str | None = None, status: int = 200) -> HTMLResponse:
    site, visitor = site_of(request), visitor_of(request)
    now = site.local_now(site.door.view())
    languages = [(code, OWN_NAMES.get(code, code)) for code in site.rendering.catalogues.languages]
    page = site.rendering.page(
        "phone.html",
        **common(request),
        wrong=wrong,
        name=visitor.name if name is None else name,
        languages=languages,
        language=speech().language,
        until=clock(visitor.until.astimezone(site.zone), now) if visitor.until else "",
    )
    return HTMLResponse(page, status)


def name_fault(name: str) -> str:
    """What is wrong with a phone's name; empty where nothing is."""
    if not name:
        return t(words.NAME_LACKING)
    return t(words.NAME_SHAPE) if len(name) > 30 or not name.isprintable() else ""


@router.post("/phone")
async def rename(request: Request) -> Response:
    """Another name for this phone."""
    site, visitor = site_of(request), visitor_of(request)
    fields = await fields_of(request, "name")
    name = " ".join(fields.get("name", "").split())
    wrong = name_fault(name)
    if wrong:
        return _shown(request, wrong, name[:30], 422)
    if visitor.device_id is not None:
        await site.door.rename(visitor.device_id, name)
        log.info("renamed: %r is called %r now", visitor.name, name)
    return RedirectResponse("/phone", 303)


@router.post("/phone/leave")
async def leave(request: Request) -> Response:
    """This phone leaves the house; it is a stranger from then on."""
    site, visitor = site_of(request), visitor_of(request)
    await fields_of(request)
    if visitor.device_id is not None:
        await site.door.forget(visitor.device_id)
        log.info("left: %r left the house", visitor.name)
    response = RedirectResponse("/", 303)
    site.drop(response, "device")
    return response


@router.post("/degrees")
async def degrees(request: Request) -> Response:
    """This device's choice of °C or °F."""
    fields = await fields_of(request, "unit")
    response = RedirectResponse(back_of(request), 303)
    site_of(request).keep(response, "degrees", "F" if fields.get("unit") == "F" else "C")
    return response


@router.post("/language")
async def language(request: Request) -> Response:
    """This device's language."""
    site, fields = site_of(request), await fields_of(request, "language")
    response = RedirectResponse(back_of(request), 303)
    if fields.get("language") in site.rendering.catalogues.languages:
        site.keep(response, "language", fields["language"])
    return response


def back_of(request: Request) -> str:
    """The page of ours that a form was on; the first page where that is not known."""
    path = urlsplit(request.headers.get("referer", "")).path
    known = ("/room/", "/owner", "/people", "/phone", "/help")
    return path if path.startswith(known) and "\\" not in path and "//" not in path else "/"
