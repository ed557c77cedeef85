"""What the owner's pages show, made from the house file, the last decision and what the regulator remembers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from thermostatd.core.advising import counsel, wear_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.foretelling import knows
from thermostatd.core.house import Circuit, Heater, House, Room, Spot
from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.results import HeaterResult, Result
from thermostatd.core.values import Forecast, Missing
from thermostatd.edge.pages.advice_picture import advice_picture, advice_rows
from thermostatd.edge.pages.amounts import ago, amount, degrees, kelvins, number, span
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.owner_drawing import Ruler, gauge, ruler_over
from thermostatd.edge.pages.speech import counted, say, speech, t
from thermostatd.physics.heater_kinds import settings_of
from thermostatd.physics.wear import Part, Wear


@dataclass(frozen=True, slots=True)
class HeaterCard:
    """One heater as its owner sees it. `facts` are (what, number in words)."""

    key: str
    name: str
    place: str
    on: bool
    watts: str
    rail: Markup
    sentence: str
    code: str
    facts: list[tuple[str, str]]
    moves: bool
    settings: list[tuple[float, str, bool]]
    advice: str
    picture: Markup | None
    rows: list[tuple[str, str, str, str]]


def unknown() -> str:
    """What stands where nothing was learned yet."""
    return t("not known yet")


def give_or_take(value: float | None, spread: float | None, unit: str, digits: int = 0) -> str:
    """ "588 ± 6 W"; "not known yet"."""
    if value is None or not math.isfinite(value):
        return unknown()
    if not spread:
        return amount(value, unit, digits)
    return f"{number(value, digits)}\u00a0±\u00a0{amount(spread, unit, digits)}"


def heaters_of(door: Door) -> tuple[Ruler, list[HeaterCard]]:
    """The scale of watts, and every heater on it."""
    view, memory = door.view(), door.memory()
    result, wall = view.result, view.moment.wall.timestamp()
    all_of = list(door.house.heaters())
    learned = [level.watts for kept in memory.heaters.values() for level in kept.facts.levels]
    ruler = ruler_over([*(heater.watts for _, heater, _ in all_of), *learned])
    cards = []
    for key, heater, place in all_of:
        kept = memory.heaters.get(key, HeaterMemory())
        card = _heater(ruler, key, heater, place, kept, result)
        cards.append(replace(card, **_counselled(door.house, memory, key, heater.name, wall, card.facts)))
    return ruler, cards


def heater_result(result: Result | None, key: str) -> HeaterResult | None:
    """What the last decision says of one heater."""
    if result is None:
        return None
    return result.heater(key)


def _heater(
    ruler: Ruler, key: str, heater: Heater, place: Room | Spot, kept: HeaterMemory, result: Result | None
) -> HeaterCard:
    found = heater_result(result, key)
    order = result.orders.get(key) if result else None
    watts = found.watts if found else None
    facts = kept.facts
    return HeaterCard(
        key=key,
        name=heater.name,
        place=place.name,
        on=bool(order and order.on),
        watts=amount(watts, "W") if watts is not None else t("no meter"),
        rail=gauge(
            ruler,
            watts,
            set_to=heater.watts,
            learned=[level.watts for level in facts.levels],
            over=facts.sustained_watts,
            end=max([heater.watts, *(level.watts for level in facts.levels)]),
        ),
        sentence=say(order.reason.sentence) if order else "",
        code=order.reason.code if order else "",
        facts=_facts(heater, kept, facts),
        moves=isinstance(place, Room),
        settings=[
            (watts, amount(watts, "W"), watts == heater.watts)
            for watts in sorted(
                {*settings_of(heater.kind, heater.watts, heater.settings_watts), heater.watts}
            )
        ],
        advice="",
        picture=None,
        rows=[],
    )


def _counselled(
    house: House, memory: Memory, key: str, name: str, wall: float, facts: list[tuple[str, str]]
) -> dict[str, Any]:
    """Advice with its picture and the same as a table, and wear at this season's pace."""
    told, worn = counsel(house, memory, key), wear_of(house, memory, key, wall)
    advice = told.advice if told else None
    return {
        "facts": facts + (_wear_lines(worn) if worn else []),
        "advice": say(told.sentence) if told else "",
        "picture": advice_picture(advice, name) if advice else None,
        "rows": advice_rows(advice) if advice else [],
    }


def _wear_lines(worn: Wear) -> list[tuple[str, str]]:
    """What the relay and the heater's own cut-out have used of their lives, and for how long they last at this pace."""
    return [(t("Its plug’s relay"), _part(worn.relay)), (t("Its own cut-out"), _part(worn.cutout))]


def _part(part: Part) -> str:
    count, rated = _grouped(part.used), _grouped(part.rated)
    if part.share < 0.0005:
        return t("{count} of {rated} cycles", count=count, rated=rated)
    share = number(100 * part.share, 1 if part.share < 0.1 else 0)
    told = t("{count} of {rated} cycles, {share} %", count=count, rated=rated, share=share).replace(
        " %", "\u00a0%"
    )
    if part.years_left is None:
        return told
    years = number(min(part.years_left, 99), 0 if part.years_left >= 3 else 1)
    return told + "; " + t("at this pace about {years} years left", years=years)


def _grouped(count: float) -> str:
    """A whole number; from five digits on in groups of three, as ISO 80000-1 writes them."""
    return (f"{count:,.0f}" if count >= 10_000 else f"{count:.0f}").replace(",", "\u202f")


def _facts(heater: Heater, kept: HeaterMemory, facts: HeaterFacts) -> list[tuple[str, str]]:
    levels = [give_or_take(level.watts, level.spread_watts, "W") for level in facts.levels]
    trips = counted("once", "{count} times", facts.trip_count) if facts.trip_count else t("never seen")
    if facts.trips:
        last = facts.trips[-1]
        trips += ", " + t(
            "last after {span} at {watts}", span=span(last.run_seconds), watts=amount(last.before_watts, "W")
        )
    return [
        (t("Its selector is set to"), amount(heater.watts, "W")),
        (t("Levels it was seen at"), ", ".join(levels) or unknown()),
        (t("What it can sustain"), give_or_take(facts.sustained_watts, facts.sustained_spread_watts, "W")),
        (t("Its own cut-out opened"), trips),
        (t("Ran in all"), span(kept.on_seconds)),
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class CircuitCard:
    """One circuit: amperes now, what it may carry for long, its breaker, and what hangs on it."""

    name: str
    amps: str
    share: str
    breaker: str
    rail: Markup
    over: bool
    heaters: list[tuple[str, str, str]]


def circuits_of(door: Door) -> tuple[Ruler, list[CircuitCard]]:
    """The scale of amperes, and every circuit on it."""
    house, result = door.house, door.view().result
    ruler = ruler_over([circuit.breaker_amps for circuit in house.circuits])
    return ruler, [_circuit(door, ruler, circuit, result) for circuit in house.circuits]


def _circuit(door: Door, ruler: Ruler, circuit: Circuit, result: Result | None) -> CircuitCard:
    watts = result.house.circuit_watts.get(circuit.name, 0.0) if result else 0.0
    amps, share = watts / door.house.house.mains_volts, circuit.breaker_amps * circuit.continuous_share
    hung = []
    for key, heater, place in door.house.heaters():
        if heater.circuit == circuit.name:
            found = heater_result(result, key)
            drawn = amount(found.watts, "W") if found and found.watts is not None else t("no meter")
            hung.append((f"{place.name}, {heater.name}", amount(heater.watts, "W"), drawn))
    return CircuitCard(
        circuit.name,
        amount(amps, "A", 1),
        amount(share, "A", 1),
        amount(circuit.breaker_amps, "A"),
        gauge(ruler, amps, over=share, end=circuit.breaker_amps),
        amps > share,
        hung,
    )


@dataclass(frozen=True, slots=True)
class Heard:
    """A sensor or plug, what it said last, when, and whether that is too old."""

    name: str
    what: str
    age: str
    late: bool


def sensors_of(door: Door) -> list[Heard]:
    """Each room's air, and the air outside."""
    view, memory, house = door.view(), door.memory(), door.house
    found = []
    for room in house.rooms:
        result = view.result.rooms.get(room.name) if view.result else None
        air = result.air if result else Missing("")
        kept = memory.rooms.get(room.name)
        age = view.moment.steady - kept.air.at if kept and kept.air.at is not None else None
        found.append(_heard(room.name, air, age))
    if house.house.outdoor is not None and view.result is not None:
        age = view.moment.steady - memory.outdoor.at if memory.outdoor.at is not None else None
        found.append(_heard(t("outside"), view.result.house.outdoor, age))
    if house.house.forecast is not None and view.result is not None:
        found.append(_foretold(view.result.house.forecast))
    return found


def _foretold(forecast: Forecast | None) -> Heard:
    """The forecast of the air outside: how far it goes, how far it reaches, and how long ago it was told."""
    name = t("forecast outside")
    if forecast is None:
        return Heard(name, t("none that still holds"), "", True)
    hours = max(1, round(forecast.left_seconds / 3600.0))
    ahead = [forecast.at(3600.0 * hour) for hour in range(hours + 1)]
    low, high = (degrees(speech().unit, one) for one in (min(ahead), max(ahead)))
    what = t("{low} to {high} in the next {hours} h", low=low, high=high, hours=hours)
    return Heard(name, what, ago(forecast.age_seconds), False)


def _heard(name: str, air: Any, age: float | None) -> Heard:
    missing = isinstance(air, Missing)
    what = (say(air.why) or t("nothing heard yet")) if missing else degrees(speech().unit, air.celsius)
    return Heard(name, what, ago(age) if age is not None else t("never heard"), missing)


def plugs_of(door: Door) -> list[Heard]:
    """Each plug: what it shows and draws, when it was last heard, whether it answers."""
    view, memory = door.view(), door.memory()
    found = []
    for key, _, _ in door.house.heaters():
        kept = memory.heaters.get(key, HeaterMemory())
        heard = [at for at in (kept.shown_at, kept.meter_at, kept.warm_at) if at is not None]
        age = view.moment.steady - max(heard) if heard else None
        shown = {True: t("on"), False: t("off"), None: t("shows nothing")}[kept.shown_on]
        what = f"{shown}, {amount(kept.watts, 'W')}" if kept.watts is not None else shown
        if kept.warm_celsius is not None:
            what += ", " + t("itself {degrees} warm", degrees=degrees(speech().unit, kept.warm_celsius))
        late = not kept.reachable or kept.unanswered_since is not None
        found.append(Heard(key, what + (", " + t("does not answer") if late else ""),
                           ago(age) if age is not None else t("never heard"), late))  # fmt: skip
    return found


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of one room: (what, number in words)."""

    room: str
    control: str
    knows: str
    lines: list[tuple[str, str]]


def beliefs_of(door: Door) -> list[Belief]:
    """Every room's model, as far as it was learned."""
    memory = door.memory()
    found = []
    for room in door.house.rooms:
        model, kept = memory.models.get(room.name, {}), memory.rooms.get(room.name)
        late = kept.demand.get("predictive", {}).get("late") if kept else None
        lines = [*_thermal_lines(model.get("thermal") or {}), *_simple_lines(model)]
        if late:
            lines.append((t("Warm when it should be, the last times"), _late(late)))
        known = knows(memory, room.name)
        found.append(Belief(room.name, t(room.control), say(known.sentence) if known else "", lines))
    return found


def _thermal_lines(thermal: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The model that plans ahead: lags, how good its forecasts were. Loss and slowness are said in a sentence."""
    if not thermal:
        return []
    constants = thermal.get("constants", {})
    return [
        (t("Its heater gives its warmth within"), span(constants["heater_seconds"])),
        (t("Its sensor lags by"), span(constants["sensor_seconds"])),
        (
            t("Forecasts on days not learned from were off by"),
            kelvins(speech().unit, thermal["held_out_kelvin"], 2),
        ),
        (t("Learned from"), span(3600 * thermal["hours"])),
    ]


def _simple_lines(model: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The simple model: how warm full power makes it, how slowly, after how long."""
    if not all(
        isinstance(model.get(key), int | float) for key in ("gain_kelvin", "tau_seconds", "dead_seconds")
    ):
        return []
    lines = [
        (
            t("Full power makes it warmer than outside by"),
            kelvins(speech().unit, model["gain_kelvin"], 0),
        ),
        (t("Two thirds of the way take"), span(model["tau_seconds"])),
        (t("Warmth is felt after"), span(model["dead_seconds"])),
    ]
    if isinstance(model.get("residual_kelvin"), int | float):
        lines.append((t("This simple model is off by"), kelvins(speech().unit, model["residual_kelvin"], 2)))
    return lines


def _late(late: Sequence[float]) -> str:
    """ "3 min late, 2 min early": minutes of the last five rises, the latest first."""
    told = [
        t("{minutes} min late", minutes=round(one)) if one > 0.5
        else t("{minutes} min early", minutes=round(-one)) if one < -0.5
        else t("on time")
        for one in list(late)[:-6:-1]
    ]  # fmt: skip
    return ", ".join(told)
