"""What the owner's pages show, made from the house file, the last decision and what the regulator remembers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from thermostatd.core.facts import HeaterFacts
from thermostatd.core.house import Circuit, Heater, Room, Spot
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.results import HeaterResult, Result
from thermostatd.core.values import Missing
from thermostatd.edge.pages.amounts import ago, amount, degrees, kelvins, number, span
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.owner_drawing import Ruler, gauge, ruler_over
from thermostatd.edge.pages.speech import counted, say, speech, t


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


def unknown() -> str:
    """What stands where nothing was learned yet."""
    return t("not known yet")


def give_or_take(value: float | None, spread: float | None, unit: str, digits: int = 0) -> str:
    """ "588 ± 6 W"; "not known yet"."""
    if value is None or not math.isfinite(value):
        return unknown()
    if not spread:
        return amount(value, unit, digits)
    return f"{number(value, digits)} ± {amount(spread, unit, digits)}"


def heaters_of(door: Door) -> tuple[Ruler, list[HeaterCard]]:
    """The scale of watts, and every heater on it."""
    result, memory = door.view().result, door.memory()
    all_of = list(door.house.heaters())
    learned = [level.watts for kept in memory.heaters.values() for level in kept.facts.levels]
    ruler = ruler_over([*(heater.watts for _, heater, _ in all_of), *learned])
    cards = []
    for key, heater, place in all_of:
        kept = memory.heaters.get(key, HeaterMemory())
        cards.append(_heater(ruler, key, heater, place, kept, result))
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
    )


def _facts(heater: Heater, kept: HeaterMemory, facts: HeaterFacts) -> list[tuple[str, str]]:
    rated = heater.plug.rated_operations
    levels = [give_or_take(level.watts, level.spread_watts, "W") for level in facts.levels]
    trips = counted("once", "{count} times", facts.trip_count) if facts.trip_count else t("never seen")
    if facts.trips:
        last = facts.trips[-1]
        trips += ", " + t(
            "last after {span} at {watts}", span=span(last.run_seconds), watts=amount(last.before_watts, "W")
        )
    worn = number(100 * kept.operations / rated, 1 if kept.operations * 100 < 10 * rated else 0)
    return [
        (t("Its selector is set to"), amount(heater.watts, "W")),
        (t("Levels it was seen at"), ", ".join(levels) or unknown()),
        (t("What it can sustain"), give_or_take(facts.sustained_watts, facts.sustained_spread_watts, "W")),
        (t("Its own cut-out opened"), trips),
        (t("Ran in all"), span(kept.on_seconds)),
        (
            t("Its plug’s relay"),
            t("{count} of {rated} switchings, {share} %", count=number(kept.operations, 0),
              rated=number(rated, 0), share=worn),
        ),
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
    return found


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
        heard = [at for at in (kept.shown_at, kept.watts_at, kept.warm_at) if at is not None]
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
        found.append(Belief(room.name, t(room.control), lines))
    return found


def _thermal_lines(thermal: Mapping[str, Any]) -> list[tuple[str, str]]:
    """The model that plans ahead: loss, slowness, lags, how good its forecasts were."""
    if not thermal:
        return []
    unit, constants = speech().unit, thermal.get("constants", {})
    per = 1.8 if unit == "F" else 1.0
    loss, loss_spread = thermal["loss_watts_per_kelvin"] / per, thermal["loss_spread_watts_per_kelvin"] / per
    return [
        (t("It loses, for each degree colder outside"), give_or_take(loss, loss_spread, "W", 1)),
        (
            t("It settles within"),
            give_or_take(thermal["settling_hours"], thermal["settling_spread_hours"], "h", 1),
        ),
        (t("Its heater gives its warmth within"), span(constants["heater_seconds"])),
        (t("Its sensor lags by"), span(constants["sensor_seconds"])),
        (t("Forecasts on days not learned from were off by"), kelvins(unit, thermal["held_out_kelvin"], 2)),
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


def kwh(watt_hours: float) -> str:
    """ "3.4", in kWh."""
    return number(watt_hours / 1000, 1)
