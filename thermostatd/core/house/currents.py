"""What a resistive heater draws, A. Derived from Ohm: its current rises in step with the voltage."""

from __future__ import annotations

from thermostatd.core.house.tables import Circuit, HouseTable


def amps_at_nominal(watts: float, house: HouseTable) -> float:
    """Current of a heater of `watts` (at nominal volts), A."""
    return watts / house.mains_volts


def amps_at_high_mains(watts: float, house: HouseTable) -> float:
    """Its current at the highest mains voltage, A: watts·(1+t)² over volts·(1+t)."""
    return amps_at_nominal(watts, house) * (1 + house.mains_tolerance)


def continuous_amps(circuit: Circuit) -> float:
    """What long loads on the circuit may draw in all, A (NEC 210.20: 0.8 of the breaker)."""
    return circuit.breaker_amps * circuit.continuous_share
