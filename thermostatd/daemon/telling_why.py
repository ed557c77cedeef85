"""Why a room is as it is, in words: what was decided, from which readings, and which interlocks spoke."""

from __future__ import annotations

from typing import Any

from thermostatd.core.house import House
from thermostatd.core.results import HeaterResult, Result, RoomResult
from thermostatd.core.values import Missing
from thermostatd.edge.pages.door import View


def why_text(view: View, house: House, name: str) -> dict[str, Any]:
    """{"text": …} for a room of the house, else {"fault": …}."""
    if house.room(name) is None:
        rooms = ", ".join(room.name for room in house.rooms)
        return {"fault": f'There is no room "{name}". The rooms are: {rooms}.'}
    if view.result is None:
        return {"fault": "Nothing was decided yet: ask again in a few seconds."}
    return {"text": "\n".join(_lines(name, view.result.rooms[name], view.result, view))}


def _lines(name: str, room: RoomResult, result: Result, view: View) -> list[str]:
    if isinstance(room.air, Missing):
        air = f"air      not known: {room.air.why}"
    else:
        age = view.moment.steady - (room.air.at or view.moment.steady)
        air = f"air      {room.air.celsius:.2f} °C, measured {age:.0f} s ago"
    until = f" until {room.target.until:%Y-%m-%d %H:%M} UTC" if room.target.until else ""
    lines = [
        f"{name}: {room.reason.sentence}",
        air,
        f"target   {room.target.celsius:.1f} °C, {room.target.code} ({room.whose}){until}",
        f"demand   {'on' if room.demand.on else 'off'}, {100 * room.demand.share:.0f} %: {room.demand.reason.sentence}",
    ]
    for key, heater in room.heaters.items():
        lines += _heater_lines(key, heater, result)
    return lines


def _heater_lines(key: str, heater: HeaterResult, result: Result) -> list[str]:
    order = result.orders[key]
    watts = f"{heater.watts:.0f} W" if heater.watts is not None else "power not known"
    shown = {True: "shows ON", False: "shows OFF", None: "shows nothing"}[heater.shown_on]
    lines = [f"{key}: ordered {'ON' if order.on else 'OFF'} ({order.reason.code}); the plug {shown}, {watts}"]
    for verdict in heater.verdicts:
        if verdict.tripped and verdict.reason is not None:
            lines.append(f"  {verdict.code}: {verdict.reason.sentence}")
    good = sum(not verdict.tripped for verdict in heater.verdicts)
    lines.append(f"  {good} checks proven good")
    return lines
