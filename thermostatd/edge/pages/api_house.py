"""`GET /api/house`: one view as JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, timedelta

from thermostatd.core.likely import likely
from thermostatd.core.results import Result, RoomResult, Trouble
from thermostatd.core.values import Missing, Moment, Reading
from thermostatd.edge.pages.api_models import (
    ForecastOut,
    HeaterOut,
    HouseOut,
    LaterOut,
    RoomOut,
    SpotOut,
    TargetOut,
    TroubleOut,
)
from thermostatd.edge.pages.house_page import troubles_for, warnings_of
from thermostatd.edge.pages.site import Site
from thermostatd.edge.pages.speech import say
from thermostatd.edge.pages.who import Visitor, sees_room


def house_out(site: Site, visitor: Visitor) -> HouseOut:
    """What holds now, as far as this visitor sees it."""
    view = site.door.view()
    result, state = view.result, view.result.house if view.result else None
    return HouseOut(
        house=site.door.house.house.name,
        at=_iso(site, view.moment.wall) or "",
        decided=result is not None,
        age_seconds=view.age_seconds if math.isfinite(view.age_seconds) else None,
        broker_up=view.broker_up,
        warnings=warnings_of(site, view),
        outdoor=_celsius(state.outdoor) if state else None,
        awake=state.awake if state else None,
        out=bool(state and state.out),
        out_until=_iso(site, state.out_until) if state else None,
        all_off=bool(state and state.all_off),
        all_off_who=state.all_off_who if state else None,
        rooms=_rooms(site, result, visitor) if result else [],
        spots=_spots(site, result) if result and visitor.rank != "room-guest" else [],
        troubles=_troubles(site, troubles_for(visitor, result)),
    )


def _iso(site: Site, at: datetime | None) -> str | None:
    return at.astimezone(site.zone).isoformat(timespec="seconds") if at else None


def _celsius(reading: Reading | Missing) -> float | None:
    return None if isinstance(reading, Missing) else round(reading.celsius, 2)


def _rooms(site: Site, result: Result, visitor: Visitor) -> list[RoomOut]:
    rooms = []
    for room in site.door.house.rooms:
        found = result.rooms.get(room.name)
        if found is None or not sees_room(visitor, room.name):
            continue
        target = found.target
        rooms.append(
            RoomOut(
                room=room.name,
                air=_celsius(found.air),
                missing=found.air.why if isinstance(found.air, Missing) else None,
                target=TargetOut(
                    celsius=target.celsius,
                    whose=target.whose,
                    code=target.code,
                    until=_iso(site, target.until),
                ),
                code=found.reason.code,
                why=say(found.reason.sentence),
                lowest=room.household.lowest,
                highest=room.household.highest,
                heaters=[_heater(result, room.key_of(heater)) for heater in room.heaters],
                forecast=_forecast(site, site.door.view().moment, found),
                knows=say(found.knows.sentence) if found.knows else None,
                loss_watts_per_kelvin=_known(found, "loss"),
                settling_hours=_known(found, "hours"),
                later=[
                    LaterOut(
                        celsius=one.celsius,
                        begins=_iso(site, one.begins) or "",
                        until=_iso(site, one.until) or "",
                        who=one.who,
                    )
                    for one in target.later
                ],
            )
        )
    return rooms


def _known(found: RoomResult, name: str) -> float | None:
    value = found.knows.numbers.get(name) if found.knows else None
    return round(value, 2) if isinstance(value, float) else None


def _forecast(site: Site, moment: Moment, found: RoomResult) -> list[ForecastOut]:
    """The coming hours, with the span of the air where a model told it."""
    outlook = found.demand.outlook
    air = found.air.celsius if isinstance(found.air, Reading) else None
    told = likely(outlook, air, moment.steady) if outlook else ()
    spans = {at: (round(low, 2), round(high, 2)) for at, low, high in told}
    return [
        ForecastOut(
            at=_iso(site, moment.wall + timedelta(seconds=at - moment.steady)) or "",
            celsius=round(celsius, 2),
            low=spans[at][0] if at in spans else None,
            high=spans[at][1] if at in spans else None,
        )
        for at, celsius in found.forecast
    ]


def _heater(result: Result, key: str) -> HeaterOut:
    order, heater = result.orders.get(key), result.heater(key)
    return HeaterOut(
        key=key,
        on=bool(order and order.on),
        code=order.reason.code if order else "starting",
        why=say(order.reason.sentence) if order else "",
        shown_on=heater.shown_on if heater else None,
        watts=heater.watts if heater else None,
    )


def _spots(site: Site, result: Result) -> list[SpotOut]:
    spots = []
    for spot in site.door.house.spots:
        found = result.spots.get(spot.name)
        if found is not None:
            spots.append(
                SpotOut(
                    spot=spot.name,
                    on=found.on,
                    remaining_seconds=found.remaining_seconds,
                    until=_iso(site, found.until),
                    who=found.who,
                    why=say(found.reason.sentence),
                    longest_minutes=spot.longest / 60,
                )
            )
    return spots


def _troubles(site: Site, troubles: Sequence[Trouble]) -> list[TroubleOut]:
    return [
        TroubleOut(
            id=one.id,
            code=one.code,
            what=say(one.what),
            evidence=say(one.evidence),
            what_to_do=say(one.what_to_do),
            since=_iso(site, one.since) or "",
            loud=one.loud,
            latched=one.latched,
            seen=one.seen,
        )
        for one in troubles
    ]
