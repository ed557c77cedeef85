"""What the owner's page of beliefs shows: each room's model, as far as it was learned."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from thermostatd.core.foretelling import knows
from thermostatd.edge.pages.amounts import kelvins, span
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.speech import say, speech, t


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
