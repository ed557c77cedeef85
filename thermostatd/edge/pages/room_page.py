"""`/room/<name>`: one room's day drawn large, the reasons of it as a list, and the same as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from thermostatd.core.house import Room
from thermostatd.core.reasons import CODES
from thermostatd.core.results import Result
from thermostatd.core.said import Said, When, said
from thermostatd.edge.pages import words
from thermostatd.edge.pages.amounts import clock, degrees, span
from thermostatd.edge.pages.contact import state_of
from thermostatd.edge.pages.door import Happened
from thermostatd.edge.pages.drawing import PAST_HOURS, Mark
from thermostatd.edge.pages.house_page import card_of, common, days_from, score_of
from thermostatd.edge.pages.room_days import Past
from thermostatd.edge.pages.score import Score
from thermostatd.edge.pages.site import Site, site_of, visitor_of
from thermostatd.edge.pages.slip import Slip
from thermostatd.edge.pages.speech import counted, say, speech, t
from thermostatd.edge.pages.who import sees_room

ASKED = frozenset(
    {"asked", "asked-later", "begun", "turned-off", "cancelled", "withdrawn", "undone", "request-ended"}
    | {"narrowed", "shortened", "week-changed", "week-put-back"}
)
HOUSE_WIDE = frozenset({"out", "out-moved", "said-all-off", "cancelled", "undone", "request-ended"})
MOST_SHOWN = 60
PREHEATED = "Warming early: {target:.1f}° is wanted at {at}."
router = APIRouter(include_in_schema=False)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a room's table: when, air, wanted, share of the time that a heater ran."""

    at: str
    air: str
    wanted: str
    ran: str


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that happened here: when, in words, of which kind (its mark on the trace), how often in a row."""

    at: str
    sentence: str
    kind: str
    code: str


@router.get("/room/{name}")
async def room_page(request: Request, name: str) -> HTMLResponse:
    """One room: its trace, its reasons, and the same as a table."""
    return await rendered_room(request, name)


async def rendered_room(
    request: Request, name: str, slip: Slip | None = None, status: int = 200
) -> HTMLResponse:
    """The room's page as it is now, with a refusal at its place where there was one."""
    site, visitor = site_of(request), visitor_of(request)
    room = site.door.house.room(name)
    if room is None or not sees_room(visitor, name):
        return no_such_page(request)
    view = site.door.view()
    score = await score_of(site, view, [room])
    offer = site.offered(visitor)
    happened = await _happened(site, room)
    past = score.past[room.name]
    page = site.rendering.page(
        "room.html",
        **common(request, view),
        room=card_of(site, view, score, room, visitor, offer.place if offer else None),
        trace=score.large_trace(room, [Mark(one.at.timestamp(), kind_of(one.code)) for one in happened]),
        foretold=bool(score.days.of(room.name).span),
        rows=rows_of(score, past),
        ahead=ahead_of(score, room.name),
        heaters=heaters_of(room, view.result),
        knows=_knows(room, view.result),
        lines=lines_of(happened, past, score.now, [heater.name for heater in room.heaters]),
        slip=slip,
        days=days_from(score.now),
        later=score.later(room.name),
    )
    return HTMLResponse(page, status)


def _knows(room: Room, result: Result | None) -> str:
    """What was learned of the room, in words; empty before."""
    known = result.rooms[room.name].knows if result is not None and room.name in result.rooms else None
    return say(known.sentence) if known is not None else ""


def no_such_page(request: Request) -> HTMLResponse:
    """A plain page that leads back."""
    page = site_of(request).rendering.page(
        "plain.html", **common(request), title=t(words.NO_SUCH_PAGE), sentence=t(words.LOOK_AGAIN)
    )
    return HTMLResponse(page, 404)


async def _happened(site: Site, room: Room) -> list[Happened]:
    """What happened about the room, its heaters, and the whole house, newest first."""
    names = [room.name, *(room.key_of(heater) for heater in room.heaters)]
    found = [one for name in names for one in await site.door.happened(PAST_HOURS, name)]
    found += [one for one in await site.door.happened(PAST_HOURS, "house") if one.code in HOUSE_WIDE]
    troubles = await site.door.happened(PAST_HOURS, None)
    found += [one for one in troubles if one.code == "trouble" and one.about.partition("/")[0] == room.name]
    return sorted(found, key=lambda one: one.at, reverse=True)


def kind_of(code: str) -> str:
    """The kind of mark: "on", "off", "asked", "trouble" or "other"."""
    if code in ("switched-on", "switched-off"):
        return code.removeprefix("switched-")
    if code in ASKED or code in HOUSE_WIDE:
        return "asked"
    return "trouble" if code.startswith("trouble") else "other"


def lines_of(happened: Sequence[Happened], past: Past, now: datetime, heaters: Sequence[str] = ()) -> list[Line]:
    """The reasons of the last day, newest first: a heater's runs for one reason are one line, as people would tell it.

    `heaters`: the room's; where there are several, each line names its own.
    """
    lines: list[tuple[float, Line]] = []
    groups: dict[str, list[Happened]] = {}
    for one in reversed(happened):
        for about in [each for each, group in groups.items() if _ends(group, one)]:
            lines.append(_run_line(groups.pop(about), now, heaters))
        if kind_of(one.code) in ("on", "off"):
            groups.setdefault(one.about, []).append(one)
        else:
            lines.append((one.at.timestamp(), _other_line(one, now, heaters)))
    lines += [_run_line(group, now, heaters) for group in groups.values()]
    lines += _wanted_lines(past, [at for at, line in lines if line.kind == "asked"], now)
    return [line for _, line in sorted(lines, key=lambda one: one[0], reverse=True)][:MOST_SHOWN]


def _other_line(one: Happened, now: datetime, heaters: Sequence[str]) -> Line:
    local = clock(one.at.astimezone(now.tzinfo), now)
    return Line(local, _named(one, say(one.sentence), heaters), kind_of(one.code), "")


def _named(one: Happened, told: str, heaters: Sequence[str]) -> str:
    """What is told, with the heater's name before it where the room has several."""
    heater = next((name for name in heaters if f"{one.about}/".partition("/")[2].startswith(f"{name}/")), "")
    if not heater or len(heaters) < 2:
        return told
    return t("{heater}: {told}", heater=words.first_capital(heater), told=told)


def _ends(group: Sequence[Happened], one: Happened) -> bool:
    """Whether it ends the line of a heater's runs: its own does, and what befalls the room, not another heater's."""
    if one.about == group[0].about:
        return not _goes_on(group, one)
    return "/" not in one.about


def _goes_on(group: Sequence[Happened], one: Happened) -> bool:
    """Whether what befalls the same heater is a switching of the runs before it: no other reason to be on."""
    if kind_of(one.code) not in ("on", "off"):
        return False
    return one.code == "switched-off" or _why(one) == next(
        (_why(each) for each in group if each.code == "switched-on"), _why(one)
    )


def _run_line(group: Sequence[Happened], now: datetime, heaters: Sequence[str]) -> tuple[float, Line]:
    """One line for some runs: when, why on, how often, why off."""
    first, last = (each.at.astimezone(now.tzinfo) for each in (group[0], group[-1]))
    at = clock(first, now) if len(group) == 1 else f"{clock(first, now)}–{speech().hours(last)}"
    begun = [each for each in group if each.code == "switched-on"]
    ended = [each for each in group if each.code == "switched-off"]
    if not begun:
        told = t("Off.") + " " + _why(ended[-1])
    elif len(begun) == 1:
        told = _why(begun[0])
        told += " " + t("Then off: {why}", why=_why(ended[-1])) if ended else ""
    else:
        told = _why(begun[0]) + " " + counted("On once.", "On {count} times.", len(begun))
        told += " " + t("Between: {why}", why=_between(ended)) if ended else ""
    told = _named(group[0], told, heaters)
    return group[-1].at.timestamp(), Line(at, told, "on" if begun else "off", reason_of((begun or ended)[-1]))


def _between(ended: Sequence[Happened]) -> str:
    """Why it was off between its runs: each reason once, as it was last told, in the order in which they came up."""
    latest: dict[str, str] = {}
    for one in ended:
        latest[reason_of(one) or _why(one)] = _why(one)
    return " ".join(latest.values())


def _why(one: Happened) -> str:
    """Why a heater was switched."""
    why = one.sentence.numbers.get("why") if isinstance(one.sentence, Said) else one.sentence
    if isinstance(why, Said) and "eta" in why.numbers:  # what was expected then is no news now
        why = said(why.template, **{**why.numbers, "eta": ""})
    if isinstance(why, Said) and CODES.get(why.template) == "preheating":
        # each run of the way up counted other minutes: the time that they lead to is one, and tells more afterwards
        wall = 60.0 * round(one.at.timestamp() / 60.0 + float(why.numbers["minutes"]))
        why = said(PREHEATED, target=why.numbers["target"], at=When(f"{datetime.fromtimestamp(wall, UTC):%H:%M}", wall))
    return say(why if isinstance(why, str) else one.sentence)


def _wanted_lines(past: Past, asked: Sequence[float], now: datetime) -> list[tuple[float, Line]]:
    """A line for each change of what is wanted that nobody asked for: the usual week's steps."""
    lines: list[tuple[float, Line]] = []
    before: float | None = None
    for at, _, target in past.points:
        if target is None:
            continue
        if before not in (None, target) and not any(abs(at - each) < 180 for each in asked):
            local = datetime.fromtimestamp(at, tz=now.tzinfo)
            told = t("{degrees} is wanted from here on.", degrees=degrees(speech().unit, target))
            lines.append((at, Line(clock(local, now), told, "wanted", "")))
        before = target
    return lines


def reason_of(one: Happened) -> str:
    """The code whose help explains this line."""
    why = one.sentence.numbers.get("why") if isinstance(one.sentence, Said) else None
    return CODES.get(why.template, "") if isinstance(why, Said) else ""


def ahead_of(score: Score, room: str) -> list[tuple[str, str]]:
    """The coming steps: when and what."""
    zone = score.now.tzinfo
    return [
        (clock(datetime.fromtimestamp(at, tz=zone), score.now), degrees(score.unit, celsius))
        for at, celsius in score.days.coming(room)[:8]
    ]


def rows_of(score: Score, past: Past) -> list[Row]:
    """The last day by the hour, latest first: the last value of each hour."""
    hours: dict[int, tuple[float | None, float | None]] = {}
    for at, air, target in past.points:
        hours[int(at // 3600)] = (air, target)
    rows = []
    for hour in sorted(hours, reverse=True)[:24]:
        air, target = hours[hour]
        begins = datetime.fromtimestamp(hour * 3600, tz=score.now.tzinfo)
        ran = sum(
            max(0.0, min(end, hour * 3600 + 3600) - max(start, hour * 3600)) for start, end in past.runs
        )
        rows.append(
            Row(
                speech().hours(begins),
                degrees(score.unit, air) if air is not None else "–",
                degrees(score.unit, target) if target is not None else "–",
                span(ran) if ran >= 30 else "–",
            )
        )
    return rows


def heaters_of(room: Room, result: Result | None) -> list[tuple[str, str, str]]:
    """Each heater's name, what it is told and why, and the code of that."""
    told = []
    for heater in room.heaters:
        order = result.orders.get(room.key_of(heater)) if result else None
        if order is None:
            told.append((heater.name, "", ""))
            continue
        state = state_of(order, result.heater(room.key_of(heater)) if result else None)
        told.append((heater.name, f"{state} {say(order.reason.sentence)}", order.reason.code))
    return told
