"""What the owner's page of heaters shows of each: what it draws, sustains and is set to, advice, and its wear.

Rules: a number has its uncertainty; where nothing was learned yet, that is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from markupsafe import Markup

from thermostatd.core.advising import counsel, wear_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.house import Heater, House, Room, Spot
from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.results import Result
from thermostatd.edge.pages.advice_picture import advice_picture, advice_rows
from thermostatd.edge.pages.amounts import amount, number, span
from thermostatd.edge.pages.contact import state_of
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.owner_drawing import Ruler, gauge, ruler_over
from thermostatd.edge.pages.speech import counted, say, t
from thermostatd.physics.heater_kinds import settings_of
from thermostatd.physics.wear import Part, Wear


@dataclass(frozen=True, slots=True)
class HeaterCard:
    """One heater as its owner sees it. `facts` are (what, number in words)."""

    key: str
    name: str
    place: str
    state: str
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


def _unknown() -> str:
    """What stands where nothing was learned yet."""
    return t("not known yet")


def _give_or_take(value: float | None, spread: float | None, unit: str, digits: int = 0) -> str:
    """ "588 ± 6 W"; "not known yet"."""
    if value is None or not math.isfinite(value):
        return _unknown()
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


def _heater(
    ruler: Ruler, key: str, heater: Heater, place: Room | Spot, kept: HeaterMemory, result: Result | None
) -> HeaterCard:
    found = result.heater(key) if result else None
    order = result.orders.get(key) if result else None
    watts = found.watts if found else None
    facts = kept.facts
    return HeaterCard(
        key=key,
        name=heater.name,
        place=place.name,
        state=state_of(order, found),
        watts=amount(watts, "W") if watts is not None else t("no meter"),
        rail=_rail(ruler, watts, heater.watts, facts),
        sentence=say(order.reason.sentence) if order else "",
        code=order.reason.code if order else "",
        facts=_facts(heater, kept),
        moves=isinstance(place, Room),
        settings=_settings(heater),
        advice="",
        picture=None,
        rows=[],
    )


def _rail(ruler: Ruler, watts: float | None, set_to: float, facts: HeaterFacts) -> Markup:
    learned = [level.watts for level in facts.levels]
    end = max([set_to, *learned])
    return gauge(ruler, watts, set_to=set_to, learned=learned, over=facts.sustained_watts, end=end)


def _settings(heater: Heater) -> list[tuple[float, str, bool]]:
    """What its selector can be set to, W: the number, in words, whether it is set so."""
    known = {*settings_of(heater.kind, heater.watts, heater.settings_watts), heater.watts}
    return [(watts, amount(watts, "W"), watts == heater.watts) for watts in sorted(known)]


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


def _facts(heater: Heater, kept: HeaterMemory) -> list[tuple[str, str]]:
    facts = kept.facts
    levels = [_give_or_take(level.watts, level.spread_watts, "W") for level in facts.levels]
    trips = counted("once", "{count} times", facts.trip_count) if facts.trip_count else t("never seen")
    if facts.trips:
        last = facts.trips[-1]
        trips += ", " + t(
            "last after {span} at {watts}", span=span(last.run_seconds), watts=amount(last.before_watts, "W")
        )
    return [
        (t("Its selector is set to"), amount(heater.watts, "W")),
        (t("Levels it was seen at"), ", ".join(levels) or _unknown()),
        (t("What it can sustain"), _give_or_take(facts.sustained_watts, facts.sustained_spread_watts, "W")),
        (t("Its own cut-out opened"), trips),
        (t("Ran in all"), span(kept.on_seconds)),
    ]  # fmt: skip
