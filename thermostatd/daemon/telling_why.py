"""Why a room is as it is, in words: what was decided, from what, which checks spoke, and what would change it.

The first sentence is the page's own. The same lines tell the present and, from the record, an earlier moment.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.core.reasons import DEMANDS, INTERLOCKS, PACES, TURNS
from thermostatd.core.results import HeaterResult, Result, RoomResult, Verdict
from thermostatd.core.values import Missing, Moment
from thermostatd.edge.pages.door import View

WOULD_CHANGE = {
    # what keeps a heater off, and what ends that
    "warm-enough": "a higher target, or the air falling under it",
    "few-switchings": "the air falling a little more, or a higher target",
    "kept-for-later": "the time of the night at which they help most, or the quiet hours being over",
    "room-off": "someone turning the room on again, the end that was said, or frost",
    "coasting": "the stored warmth being used up, or a higher target",
    "cooling-down": "the air falling to the target, or a higher target",
    "portion-rest": "the next spell of heat beginning",
    "dear-hours": "the price falling, or someone asking for this room",
    "window-open": "the window being shut: the air recovers, or the time is over",
    "no-air": "a good reading of this room",
    "no-heater": "a heater for this room in the house file",
    "spot-off": "someone asking for warmth there",
    "not-needed": "the other heaters of the room not being enough",
    "by-hand": "the time of the button's press being over",
    "demand-failed": "a mend of the program: see the log",
    "rest": "its shortest rest being over",
    "quiet": "the quiet hours being over, or the room getting too cold",
    "turn-next": "the heater before it having started",
    "turn-over": "the others having had their turn",
    "turn-never": "a lower setting of its selector, or another circuit",
    "stopping": "the program being started",
    "drawing-while-off": "the plug being pulled out, and the owner saying “I have looked at it”",
    "warm-plug": "plug and socket being looked at, and the owner saying “I have looked at it”",
    "bad-socket": "the socket being looked at, and the owner saying “I have looked at it”",
    "all-off": "someone turning heating on again",
    "ceiling": "the air falling 1 K under the ceiling",
    "reading-missing": "a good reading of this room; three after an impossible one",
    "clock": "the machine's clock being right again",
    "starting": "the room's sensor and plugs being heard",
    "silent-plug": "an answer of the plug",
    "covered": "the heater being uncovered, and the owner saying “I have looked at it”",
    "opens-early": "the heater being uncovered, its dial fully up, and the owner saying “I have looked at it”",
    "no-answer": "the heater and the sensor standing where the file says, and the owner saying “I have looked at it”",
    "drawing-nothing": "the heater taking power at the next try, or the owner saying “I have looked at it”",
    "overshoot": "the air falling to the target",
    "not-allowed-now": "the house being awake and in, or the owner's word in may_run",
    "longest-run": "its ten minutes of rest being over",
    "circuit": "a share of the circuit being free",
    "pacing": "the heater's body having cooled",
    "cut-out": "the heater's own cut-out having closed",
    # what keeps it on, and what ends that
    "warming": "the air reaching the target, or a lower target",
    "preheating": "the air being there, or another usual week",
    "cannot-hold": "a lower target, a stronger setting that its body can shed, or milder weather",
    "cannot-reach": "a later or lower wish, or a stronger setting that its body can shed",
    "base-on": "the room needing less than it gives, or a lower target",
    "portion": "the end of this spell, or a lower target",
    "dear-heating": "the air reaching the target, or a lower target",
    "cheap-hours": "the price rising, or someone asking for this room",
    "spot-on": "its time being over, or someone taking it back",
    "spell": "its shortest run being over",
}
BROKER_AWAY = "The broker is away: what sensors and plugs show is from before, and no plug on it can be told anything."
CODES = {*DEMANDS, *PACES, *TURNS, *INTERLOCKS}


def why_answer(view: View, house: House, name: str) -> dict[str, Any]:
    """{"text": …, "told": …} for a room of the house, the same for people and for machines; else {"fault": …}."""
    if house.room(name) is None:
        rooms = ", ".join(room.name for room in house.rooms)
        return {"fault": f'There is no room "{name}". The rooms are: {rooms}.'}
    if view.result is None:
        return {"fault": "Nothing was decided yet: ask again in a few seconds."}
    text, told = why_lines(name, view.result, view.moment, house), why_plain(name, view.result, view.moment, house)
    if not view.broker_up:
        text = f"{BROKER_AWAY}\n{text}"
    return {"text": text, "told": {**told, "broker_up": view.broker_up}}


def why_lines(name: str, result: Result, moment: Moment, house: House) -> str:
    """What was decided of a room at a moment."""
    return "\n".join(_lines(name, result.rooms[name], result, moment, ZoneInfo(house.house.timezone)))


def why_plain(name: str, result: Result, moment: Moment, house: House) -> dict[str, Any]:
    """The same for a machine: units in the names, times with their offset."""
    room, zone = result.rooms[name], ZoneInfo(house.house.timezone)
    missing = isinstance(room.air, Missing)
    return {
        "room": name,
        "at": moment.wall.astimezone(zone).isoformat(timespec="seconds"),
        "code": room.reason.code,
        "why": room.reason.sentence,
        "air_celsius": None if isinstance(room.air, Missing) else round(room.air.celsius, 2),
        "air_age_seconds": None if missing or room.air.at is None else round(moment.steady - room.air.at, 1),
        "air_missing": room.air.why if isinstance(room.air, Missing) else None,
        "target_celsius": room.target.celsius,
        "target_code": room.target.code,
        "whose": room.whose,
        "until": room.target.until.astimezone(zone).isoformat() if room.target.until else None,
        "later": [
            {
                "celsius": one.celsius, "begins": one.begins.astimezone(zone).isoformat(),
                "until": one.until.astimezone(zone).isoformat(), "who": one.who,
            }
            for one in room.target.later
        ],
        "demand": {
            "on": room.demand.on, "share": round(room.demand.share, 3), "code": room.demand.reason.code,
            "why": room.demand.reason.sentence,
        },
        "heaters": {key: _heater_plain(key, heater, result) for key, heater in room.heaters.items()},
    }  # fmt: skip


def _heater_plain(key: str, heater: HeaterResult, result: Result) -> dict[str, Any]:
    order = result.orders[key]
    return {
        "ordered_on": order.on,
        "code": order.reason.code,
        "why": order.reason.sentence,
        "shown_on": heater.shown_on,
        "watts": None if heater.watts is None else round(heater.watts, 1),
        "tripped": [
            {"code": one.code, "why": one.reason.sentence if one.reason else ""} for one in _spoke(heater)
        ],
        "checks_good": sum(not verdict.tripped for verdict in heater.verdicts),
        "would_change": _mends(order.reason.code, heater),
    }


def _spoke(heater: HeaterResult) -> list[Verdict]:
    return [verdict for verdict in heater.verdicts if verdict.tripped and verdict.reason is not None]


def _mends(code: str, heater: HeaterResult) -> list[str]:
    # over the target it is off by the demand too, which says the same in more words
    codes = [code, *(verdict.code for verdict in _spoke(heater) if verdict.code != "overshoot")]
    return list(dict.fromkeys(WOULD_CHANGE[one] for one in codes if one in WOULD_CHANGE))


def _lines(name: str, room: RoomResult, result: Result, moment: Moment, zone: ZoneInfo) -> list[str]:
    if isinstance(room.air, Missing):
        air = f"air      not known: {room.air.why}"
    else:
        age = moment.steady - (room.air.at if room.air.at is not None else moment.steady)
        air = f"air      {room.air.celsius:.2f} °C, measured {age:.0f} s before"
    until = f" until {_clock(room.target.until, zone)}" if room.target.until else ""
    demand = (
        f"{'on' if room.demand.on else 'off'}, {100 * room.demand.share:.0f} %: {room.demand.reason.sentence}"
    )
    lines = [
        f"{name}: {room.reason.sentence}",
        air,
        f"target   {room.target.celsius:.1f} °C, {room.target.code} ({room.whose}){until}",
        f"demand   {demand}",
    ]
    lines += [
        f"later    {one.celsius:.1f} °C from {_clock(one.begins, zone)} until {_clock(one.until, zone)} ({one.who})"
        for one in room.target.later
    ]
    for key, heater in room.heaters.items():
        lines += _heater_lines(key, heater, result)
    return lines


def _heater_lines(key: str, heater: HeaterResult, result: Result) -> list[str]:
    order = result.orders[key]
    watts = f"{heater.watts:.0f} W" if heater.watts is not None else "power not known"
    shown = {True: "shows ON", False: "shows OFF", None: "shows nothing"}[heater.shown_on]
    lines = [f"{key}: ordered {'ON' if order.on else 'OFF'} ({order.reason.code}); the plug {shown}, {watts}"]
    lines += [f"  {one.code}: {one.reason.sentence}" for one in _spoke(heater) if one.reason]
    good = sum(not verdict.tripped for verdict in heater.verdicts)
    lines.append(f"  {good} checks proven good")
    mends = _mends(order.reason.code, heater)
    if mends:
        lines.append(f"  {'OFF' if order.on else 'ON'} would need: {'; and '.join(mends)}")
    return lines


def _clock(at: datetime, zone: ZoneInfo) -> str:
    return f"{at.astimezone(zone):%Y-%m-%d %H:%M}"
