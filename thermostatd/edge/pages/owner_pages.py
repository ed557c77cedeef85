"""The owner's pages: heaters, circuits, troubles, energy, sensors and plugs, what is believed of rooms, the house file.

Rules: numbers with their uncertainty, and "not known yet" where nothing was learned; each drawing's numbers also stand
in words or a table; nothing here changes anything but through the one door.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from thermostatd.core.asking import Refused, SetTo, Stands
from thermostatd.edge.pages.amounts import clock, typed_degrees
from thermostatd.edge.pages.asks import put, status_of
from thermostatd.edge.pages.energy_table import energy_table
from thermostatd.edge.pages.form_routes import fields_of, needed
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.owner_beliefs import beliefs_of
from thermostatd.edge.pages.owner_circuits import circuits_of
from thermostatd.edge.pages.owner_hearing import plugs_of, sensors_of
from thermostatd.edge.pages.owner_heaters import heaters_of
from thermostatd.edge.pages.site import site_of, visitor_of
from thermostatd.edge.pages.slip import Slip
from thermostatd.edge.pages.speech import say, speech, t
from thermostatd.edge.pages.words import first_capital

DAYS_BACK, WEEKS_BACK = 7, 4
TROUBLE_HOURS = 7 * 24.0
router = APIRouter(include_in_schema=False, prefix="/owner")


def _page(request: Request, template: str, status: int = 200, **values: object) -> HTMLResponse:
    return HTMLResponse(site_of(request).rendering.page(template, **common(request), **values), status)


@router.get("/heaters")
async def heaters(request: Request) -> HTMLResponse:
    """Each heater: what it draws and can sustain, its wear, where it stands."""
    site = site_of(request)
    ruler, found = heaters_of(site.door)
    return _page(request, "owner_heaters.html", ruler=ruler, heaters=found, slip=None)


@router.post("/stands")
async def stands(request: Request) -> Response:
    """A heater was carried: where it stands now."""
    visitor, fields = visitor_of(request), await fields_of(request, "heater", "room")
    wish = Stands(needed(fields, "heater"), needed(fields, "room"), visitor.name, origin=visitor.origin)
    return await _moved(request, wish)


@router.post("/set-to")
async def set_to(request: Request) -> Response:
    """A heater's selector was turned: what it is set to now."""
    visitor, fields = visitor_of(request), await fields_of(request, "heater", "watts")
    watts = typed_degrees(fields.get("watts", ""))
    key = needed(fields, "heater")
    wish = SetTo(key, math.nan if watts is None else watts, visitor.name, origin=visitor.origin)
    return await _moved(request, wish)


async def _moved(request: Request, wish: Stands | SetTo) -> Response:
    """Through the one door, and back to the heaters; a refusal stands beside the heater."""
    site = site_of(request)
    answer = await put(site, visitor_of(request), wish)
    if isinstance(answer, Refused):
        ruler, found = heaters_of(site.door)
        slip = Slip(wish.heater, answer.sentence)
        return _page(request, "owner_heaters.html", status_of(answer), ruler=ruler, heaters=found, slip=slip)
    return RedirectResponse("/owner/heaters", 303)


@router.get("/circuits")
async def circuits(request: Request) -> HTMLResponse:
    """Each circuit: amperes now against what it may carry for long."""
    ruler, found = circuits_of(site_of(request).door)
    return _page(request, "owner_circuits.html", ruler=ruler, circuits=found)


@router.get("/troubles")
async def troubles(request: Request) -> HTMLResponse:
    """What is wrong now, with evidence; what was wrong in the last week."""
    site = site_of(request)
    view = site.door.view()
    now = site.local_now(view)
    happened = await site.door.happened(TROUBLE_HOURS, None, 400)
    before = [
        (clock(one.at.astimezone(site.zone), now), place_of(one.about, one.code), say(one.sentence))
        for one in happened
        if one.code in ("trouble", "trouble-over", "seen", "cut-out-opened", "reading-refused")
    ]
    found = sorted(view.result.troubles, key=lambda one: (not one.loud, one.seen)) if view.result else []
    return _page(request, "owner_troubles.html", troubles=found, before=before[:60])


def place_of(about: str, code: str) -> str:
    """Where something of the record was: a trouble's name ends in its code, which nobody needs to read."""
    place = about.rpartition("/")[0] if code in ("trouble", "trouble-over") else about
    return first_capital(place.replace("/", ", ") or about)


@router.get("/energy")
async def energy(request: Request) -> HTMLResponse:
    """What each room and spot took, by day and by week."""
    site = site_of(request)
    now = site.local_now(site.door.view())
    days, weeks = _days_back(now)[::-1], _weeks_back(now)[::-1]  # the newest is in sight on any phone
    return _page(
        request,
        "owner_energy.html",
        currency=None if site.door.house.tariff is None else site.door.house.tariff.currency,
        tables=[
            await energy_table(
                site.door, t("By day"), [t("today"), *(speech().day(one) for one, _ in days[1:])], days
            ),
            await energy_table(
                site.door,
                t("By week"),
                [t("from {date}", date=speech().date(begins)) for begins, _ in weeks],
                weeks,
            ),
        ],
    )


def _days_back(now: datetime) -> list[tuple[datetime, datetime]]:
    """The last seven local days, today last."""
    starts = [_midnight(now, -back) for back in range(DAYS_BACK - 1, -2, -1)]
    return list(pairwise(starts))


def _weeks_back(now: datetime) -> list[tuple[datetime, datetime]]:
    """The last four weeks from Monday, this one last."""
    starts = [_midnight(now, -now.weekday() - 7 * back) for back in range(WEEKS_BACK - 1, -2, -1)]
    return list(pairwise(starts))


def _midnight(now: datetime, days: int) -> datetime:
    local = datetime.combine(now.date() + timedelta(days=days), time(), tzinfo=now.tzinfo)
    return local.astimezone(UTC).astimezone(now.tzinfo)


@router.get("/sensors")
async def sensors(request: Request) -> HTMLResponse:
    """Every sensor and plug with the age of its last message."""
    door = site_of(request).door
    return _page(request, "owner_sensors.html", sensors=sensors_of(door), plugs=plugs_of(door))


@router.get("/rooms")
async def rooms(request: Request) -> HTMLResponse:
    """What is believed of each room, and how sure that is."""
    door = site_of(request).door
    return _page(request, "owner_rooms.html", beliefs=beliefs_of(door))


@router.get("/file")
async def file(request: Request) -> HTMLResponse:
    """The house file's faults and cautions, with their lines."""
    look = await site_of(request).door.look_at_file()
    return _page(request, "owner_file.html", look=look)
