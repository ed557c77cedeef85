"""What the heaters and circuits of a house draw and carry, A: the physics of wiring on the owner's words."""

from __future__ import annotations

from thermostatd.core.house.tables import Circuit, HouseTable
from thermostatd.physics import wiring

SLACK_AMPS = 1e-6


def amps_at_nominal(watts: float, house: HouseTable) -> float:
    """Current of a heater of `watts` (at nominal volts), A."""
    return wiring.draw(watts, house.mains_volts, house.mains_tolerance).amps


def amps_at_high_mains(watts: float, house: HouseTable) -> float:
    """Its current at the highest mains voltage, A."""
    return wiring.draw(watts, house.mains_volts, house.mains_tolerance).high_amps


def continuous_amps(circuit: Circuit) -> float:
    """What long loads on the circuit may draw in all, A."""
    return wiring.continuous_amps(circuit.breaker_amps, circuit.continuous_share)
