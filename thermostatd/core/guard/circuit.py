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
from thermostatd.core.results import Verdict
from thermostatd.core.sharing.load import counted_amps, may_draw, share_amps

CODE = "circuit"


def judge_all(house: House, memory: Memory, on: Mapping[str, bool], now: Now) -> dict[str, Verdict]:
    """A verdict for every heater, given what all other interlocks left on."""
    verdicts = {key: good(CODE) for key, _, _ in house.heaters()}
    members: dict[str | None, list[tuple[str, Heater]]] = {}
    for key, heater, _ in house.heaters():
        members.setdefault(heater.circuit, []).append((key, heater))
    for circuit in house.circuits:
        verdicts.update(_judge(house, memory, circuit, members.get(circuit.name, []), on, now))
    return verdicts


def _judge(
    house: House,
    memory: Memory,
    circuit: Circuit,
    members: list[tuple[str, Heater]],
    on: Mapping[str, bool],
    now: Now,
) -> dict[str, Verdict]:
    taken = {key: counted_amps(memory.heaters[key], heater, house) for key, heater in members}
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


def _turn(kept: HeaterMemory, key: str) -> tuple[bool, float, str]:
    """Those that run first, the longest-running before; then those that have rested longest."""
    since = kept.on_since if kept.told_on else kept.off_since
    return not kept.told_on, since if since is not None else -1.0, key
