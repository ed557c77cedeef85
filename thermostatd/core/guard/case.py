"""What an interlock is shown, and how it answers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from typing import Protocol

from thermostatd.core.clock import Now
from thermostatd.core.house import Heater, House, Room
from thermostatd.core.memory import AirMemory, HeaterMemory, Memory, Notes
from thermostatd.core.plug import drawn_watts, switched_at
from thermostatd.core.reasons import reason
from thermostatd.core.results import Target, Verdict
from thermostatd.core.values import Missing, Reading


@dataclass(frozen=True)
class Around:
    """What all heaters of the house do at one moment, counted once for all of them, and only if it is asked for."""

    house: House
    memory: Memory

    @cached_property
    def watts(self) -> float:
        """What they draw, W: as metered, else as they are told."""
        return sum(drawn_watts(self.memory.heaters[key], heater) for key, heater, _ in self.house.heaters())

    @cached_property
    def switched_at(self) -> float:
        """The steady second at which one of them was last switched."""
        return max(switched_at(kept) for kept in self.memory.heaters.values())


@dataclass(frozen=True, slots=True)
class Case:
    """One heater at one moment, as the stages before have left it.

    `room` is None for a spot; `wanted` is what pace let through; `kept` is what is known of the plug.
    An interlock reads all of it and writes only its own `notes` (JSON-able, kept over restarts).
    """

    house: House
    memory: Memory
    now: Now
    key: str
    heater: Heater
    room: Room | None
    kept: HeaterMemory
    air: Reading | Missing | None
    air_memory: AirMemory | None
    target: Target | None
    wanted: bool
    stopping: bool
    around: Around

    def notes(self, code: str) -> Notes:
        """That interlock's own notes on this heater."""
        return self.kept.notes.setdefault(code, {})


class Interlock(Protocol):
    """One reason to switch off. A module of this folder with these names."""

    CODE: str
    SAFETY: bool

    def judge(self, case: Case) -> Verdict:
        """Proven good, or tripped with why."""
        ...


@cache
def good(code: str) -> Verdict:
    """Proven good."""
    return Verdict(code, tripped=False)


def tripped(
    code: str,
    *,
    safety: bool = True,
    latched: bool = False,
    trouble: bool = False,
    loud: bool = False,
    evidence: str = "",
    **numbers: float | str,
) -> Verdict:
    """Tripped, with the sentence of its code; `trouble` tells the household, `loud` at once and above all else."""
    return Verdict(
        code,
        True,
        reason(code, **numbers),
        latched=latched,
        safety=safety,
        trouble=trouble,
        loud=loud,
        evidence=evidence,
    )


def latched(code: str, evidence: str, **numbers: float | str) -> Verdict:
    """Tripped, loud, and waiting for the owner."""
    return Verdict(
        code,
        True,
        reason(code, **numbers),
        latched=True,
        safety=True,
        trouble=True,
        loud=True,
        evidence=evidence,
    )
