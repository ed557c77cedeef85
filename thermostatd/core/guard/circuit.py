"""Keeps the sum of a circuit under its breaker's continuous share, at high mains.

Rules: a heater counts while it is told ON, shown ON, or unknown; one that runs keeps its share, first come;
one that would start waits until it fits; a sum that is over is shed at once, the latest first. What draws
without an order, pressed ON or not yet OFF, has its share before all.
"""

from __future__ import annotations

from collections.abc import Mapping

from thermostatd.core.clock import Now
from thermostatd.core.guard.case import good, tripped
from thermostatd.core.house import Circuit, Heater, House
from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.plug import can_be_heard, drawing_floor_watts, evidence_watts, shows_contact
from thermostatd.core.results import Verdict

CODE = "circuit"


def amps_at_high_mains(watts: float, house: House) -> float:
    """Current, A, of a resistive load of nominal watts when the mains is at its highest."""
    return watts / house.house.mains_volts * (1.0 + house.house.mains_tolerance)


def share_amps(circuit: Circuit) -> float:
    """What long loads may use of a breaker, A."""
    return circuit.breaker_amps * circuit.continuous_share


def judge_all(house: House, memory: Memory, on: Mapping[str, bool], now: Now) -> dict[str, Verdict]:
    """A verdict for every heater, given what all other interlocks left on."""
    verdicts = {key: good(CODE) for key, _, _ in house.heaters()}
    members: dict[str | None, list[tuple[str, Heater]]] = {}
    for key, heater, _ in house.heaters():
        members.setdefault(heater.circuit, []).append((key, heater))
    for circuit in house.circuits:
        verdicts.update(_judge(house, memory, circuit, members.get(circuit.name, []), on, now))
    return verdicts


def may_draw(kept: HeaterMemory, heater: Heater, now: Now) -> bool:
    """Whether a heater that is not ordered on must still be counted: shown ON, drawing, or unknown.

    A plug that went away before its last ON lapsed may have taken it.
    """
    if kept.shown_on is True or kept.notes.get("drawing-while-off", {}).get("latched"):
        return True
    if not kept.reachable and (kept.shown_on is not False or now.steady < kept.lapses):
        return True
    watts = evidence_watts(kept)
    if not kept.told_on and watts is not None and watts > drawing_floor_watts(heater):
        return True
    if not shows_contact(heater) and not kept.told_on and watts is None and now.steady < kept.lapses:
        return True
    return can_be_heard(heater) and not kept.heard


def _judge(
    house: House,
    memory: Memory,
    circuit: Circuit,
    members: list[tuple[str, Heater]],
    on: Mapping[str, bool],
    now: Now,
) -> dict[str, Verdict]:
    taken = {key: _amps(memory.heaters[key], heater, house) for key, heater in members}
    drawing = [
        key
        for key, heater in members
        if not (on[key] and memory.heaters[key].told_on) and may_draw(memory.heaters[key], heater, now)
    ]
    left = share_amps(circuit) - sum(taken[key] for key in drawing)
    verdicts = {}
    for key in sorted((key for key, _ in members if on[key]), key=lambda k: _turn(memory.heaters[k], k)):
        amps = 0.0 if key in drawing else taken[key]
        if amps <= left + 1e-9:
            left -= amps
        else:
            over = memory.heaters[key].told_on or key in drawing
            verdicts[key] = tripped(CODE, safety=over, circuit=circuit.name)
    return verdicts


def _amps(kept: HeaterMemory, heater: Heater, house: House) -> float:
    """As set, or as metered where that is more."""
    metered = evidence_watts(kept) if kept.shown_on else None
    return amps_at_high_mains(max(heater.watts, metered or 0.0), house)


def _turn(kept: HeaterMemory, key: str) -> tuple[bool, float, str]:
    """Those that run first, the longest-running before; then those that have rested longest."""
    since = kept.on_since if kept.told_on else kept.off_since
    return not kept.told_on, since if since is not None else -1.0, key
