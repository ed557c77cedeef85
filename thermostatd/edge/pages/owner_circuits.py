"""What the owner's page of circuits shows: amperes now against what each may carry for long."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from thermostatd.core.house import Circuit
from thermostatd.core.results import Result
from thermostatd.edge.pages.amounts import amount
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.owner_drawing import Ruler, gauge, ruler_over
from thermostatd.edge.pages.speech import t


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
    return CircuitCard(
        circuit.name,
        amount(amps, "A", 1),
        amount(share, "A", 1),
        amount(circuit.breaker_amps, "A"),
        gauge(ruler, amps, over=share, end=circuit.breaker_amps),
        amps > share,
        _hung(door, circuit, result),
    )


def _hung(door: Door, circuit: Circuit, result: Result | None) -> list[tuple[str, str, str]]:
    """Each heater on a circuit: where it stands, what it is set to, what it draws."""
    hung = []
    for key, heater, place in door.house.heaters():
        if heater.circuit == circuit.name:
            found = result.heater(key) if result else None
            drawn = amount(found.watts, "W") if found and found.watts is not None else t("no meter")
            hung.append((f"{place.name}, {heater.name}", amount(heater.watts, "W"), drawn))
    return hung
