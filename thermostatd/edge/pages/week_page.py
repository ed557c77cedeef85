"""`/room/<name>/week`: a room's usual week, drawn as seven staves, and one form a day that also copies it to others.

Rules: the form holds one day's steps; what it sends replaces that day and each day it is copied to; a step with both
fields empty goes; degrees come in the unit that the form was made with; every change goes through the one door.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from urllib.parse import quote

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from thermostatd.core.asking import Refused, UsualWeek
from thermostatd.core.house import Room, UsualStep
from thermostatd.core.reasons import sentence
from thermostatd.core.said import said
from thermostatd.core.usual_week import allowed, usual_step
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import (
    celsius_from,
    clock,
    limit_degrees,
    number,
    shown_in,
    typed_clock,
    typed_degrees,
)
from thermostatd.edge.pages.asks import Malformed, TooOften, anchor_of, put, status_of
from thermostatd.edge.pages.form_routes import fields_of
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.room_page import no_such_page
from thermostatd.edge.pages.site import Site, site_of, visitor_of
from thermostatd.edge.pages.slip import Slip
from thermostatd.edge.pages.speech import LONG_DAYS, Unit, speech, t
from thermostatd.edge.pages.week_drawing import Stave, staves
from thermostatd.edge.pages.who import sees_room

ROWS = 8
BLANK_ROWS = 2
FIELDS = (
    "day",
    "unit",
    *(f"{name}-{k}" for k in range(ROWS) for name in ("at", "degrees")),
    *(f"also-{day}" for day in range(7)),
)
Days = dict[int, list[tuple[int, float]]]
"""For each day (Monday 0) its steps: minute of the day and °C, in order."""
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Field:
    """One line of the day's form, as it is shown."""

    number: int
    at: str
    degrees: str


def days_of(steps: Iterable[UsualStep]) -> Days:
    """The week by its days."""
    days: Days = {day: [] for day in range(7)}
    for step in steps:
        for day in step.days:
            days[day].append((step.at.hour * 60 + step.at.minute, step.celsius))
    return {day: sorted(found) for day, found in days.items()}


def steps_of_days(days: Days) -> tuple[UsualStep, ...]:
    """The days as steps, each written once for all its days."""
    found: dict[tuple[int, float], list[int]] = {}
    for day in range(7):
        for step in days[day]:
            found.setdefault(step, []).append(day)
    return tuple(usual_step(on, minute, celsius) for (minute, celsius), on in sorted(found.items()))


@router.get("/room/{name}/week")
async def week_page(request: Request, name: str) -> HTMLResponse:
    """The room's usual week."""
    site = site_of(request)
    room = site.door.house.room(name)
    if room is None or not sees_room(visitor_of(request), name):
        return no_such_page(request)
    now = site.local_now(site.door.view())
    asked = request.query_params.get("day", "")
    return await _shown(request, room, int(asked) if asked in tuple("0123456") else now.weekday())


async def _shown(
    request: Request, room: Room, day: int, slip: Slip | None = None, status: int = 200
) -> HTMLResponse:
    site, visitor = site_of(request), visitor_of(request)
    view = site.door.view()
    now, shown, unit = site.local_now(view), site.door.usual_week(room.name), speech().unit
    days, offer = days_of(shown.steps), site.offered(visitor)
    page = site.rendering.page(
        "week.html",
        **common(request, view),
        room=room,
        shown=words.first_capital(room.name),
        anchor=anchor_of(room.name),
        day=day,
        days=[(n, t(name)) for n, name in enumerate(LONG_DAYS)],
        staves=staves(days, now, unit, early=await _early(site, room, now)),
        fields=_fields(days[day], unit, slip),
        slip=slip,
        before=_held_over(days, day, unit),
        lowest=limit_degrees(unit, room.household.lowest),
        highest=limit_degrees(unit, room.household.highest),
        changed_by=shown.who,
        changed_at=clock(shown.changed.astimezone(site.zone), now) if shown.changed else "",
        undo=offer is not None and offer.place == anchor_of(room.name),
    )
    return HTMLResponse(page, status)


async def _early(site: Site, room: Room, now: datetime) -> dict[tuple[int, int], int]:
    """(day, minute of a step) and the minutes before it at which heating will really begin, where that is known."""
    ahead = await site.door.heating_begins(room.name)
    found = {}
    for step_at, begins in ahead:
        step = datetime.fromtimestamp(step_at, tz=now.tzinfo)
        if begins < step_at and step - now < timedelta(days=7):
            found[step.weekday(), step.hour * 60 + step.minute] = round((step_at - begins) / 60)
    return found


def _held_over(days: Days, day: int, unit: Unit) -> str:
    """What holds from midnight on: the last step of the day before."""
    for back in range(1, 8):
        steps = days[(day - back) % 7]
        if steps:
            return limit_degrees(unit, steps[-1][1])
    return ""


def _fields(steps: Sequence[tuple[int, float]], unit: Unit, slip: Slip | None) -> list[Field]:
    """The form's lines: the day's steps and blank ones to add more; what was typed, after a refusal."""
    if slip is not None:
        typed = [(slip.typed.get(f"at-{k}", ""), slip.typed.get(f"degrees-{k}", "")) for k in range(ROWS)]
        last = max((k for k, step in enumerate(typed, 1) if any(step)), default=0)
        typed = typed[: last + BLANK_ROWS]
    else:
        typed = [(f"{at // 60:02}:{at % 60:02}", typed_in(unit, celsius)) for at, celsius in steps]
        typed += [("", "")] * (min(ROWS, len(typed) + BLANK_ROWS) - len(typed))
    return [Field(k, at, degrees) for k, (at, degrees) in enumerate(typed[:ROWS])]


def typed_in(unit: Unit, celsius: float) -> str:
    """Degrees as a field holds them."""
    shown = round(shown_in(unit, celsius), 1)
    return number(shown, 0 if shown == round(shown) else 1)


@router.post("/room/{name}/week")
async def change_week(request: Request, name: str) -> Response:
    """Other steps for one day and those it is copied to."""
    site, visitor = site_of(request), visitor_of(request)
    room = site.door.house.room(name)
    if room is None:
        return no_such_page(request)
    fields = await fields_of(request, *FIELDS)
    day = int(fields.get("day", "")) if fields.get("day", "") in tuple("0123456") else None
    if day is None:
        raise Malformed("day", words.NO_DAY)
    try:
        week = changed_week(room, days_of(site.door.usual_week(name).steps), day, fields)
        answer = await put(site, visitor, UsualWeek(name, week, visitor.name, origin=visitor.origin))
    except Malformed as fault:
        return await _shown(request, room, day, Slip("week", fault.sentence, fault.field, fields), 422)
    except TooOften:
        return await _shown(request, room, day, Slip("week", words.ASKED_TOO_OFTEN, "", fields), 429)
    if isinstance(answer, Refused):
        return await _shown(request, room, day, Slip("week", answer.sentence, "", fields), status_of(answer))
    return RedirectResponse(f"/room/{quote(name)}/week?day={day}", 303)


@router.post("/room/{name}/week/back")
async def put_back(request: Request, name: str) -> Response:
    """The house file's week again."""
    site, visitor = site_of(request), visitor_of(request)
    room = site.door.house.room(name)
    if room is None:
        return no_such_page(request)
    await fields_of(request)
    await put(site, visitor, UsualWeek(name, None, visitor.name, origin=visitor.origin))
    return RedirectResponse(f"/room/{quote(name)}/week", 303)


def changed_week(room: Room, days: Days, day: int, fields: dict[str, str]) -> tuple[UsualStep, ...]:
    """The week with the form's steps on its day and on those it is copied to. Malformed names the field."""
    unit: Unit = "F" if fields.get("unit") == "F" else "C"
    steps = [step for k in range(ROWS) if (step := _step(room, days, k, fields, unit)) is not None]
    for each in {day, *(n for n in range(7) if fields.get(f"also-{n}"))}:
        days[each] = sorted(steps)
    return steps_of_days(days)


def _step(room: Room, days: Days, k: int, fields: dict[str, str], unit: Unit) -> tuple[int, float] | None:
    at_text, degrees_text = fields.get(f"at-{k}", "").strip(), fields.get(f"degrees-{k}", "").strip()
    if not at_text and not degrees_text:
        return None
    at, degrees = typed_clock(at_text), typed_degrees(degrees_text)
    if at is None:
        raise Malformed(f"at-{k}", words.NO_TIME if at_text else words.LONE_TIME)
    if degrees is None:
        no_number = said(words.NO_NUMBER, example="68" if unit == "F" else number(20.5))
        raise Malformed(f"degrees-{k}", no_number if degrees_text else words.LONE_TIME)
    known = {celsius for steps in days.values() for _, celsius in steps} | {s.celsius for s in room.usual}
    # an untouched "66°F" stays the 19 °C that it stands for
    same = next((one for one in known if typed_degrees(typed_in(unit, one)) == degrees), None)
    celsius = celsius_from(unit, degrees) if same is None else same
    if not allowed(room, celsius):
        limits, high = room.household, celsius > room.household.highest
        code, limit = ("too-warm", limits.highest) if high else ("too-cold", limits.lowest)
        raise Malformed(f"degrees-{k}", sentence(code, limit=limit))
    return at.hour * 60 + at.minute, celsius


__all__ = ["Stave", "changed_week", "days_of", "router", "steps_of_days"]
