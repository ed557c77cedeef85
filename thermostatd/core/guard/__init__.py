"""Interlocks: each is proven good or tripped, and the worst one speaks. They can only take away.

Rules: an interlock that raised, or did not run, counts as tripped; the circuit is judged last, over what all
the others left on; what came in OFF goes out OFF.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

from thermostatd.core.clock import Now
from thermostatd.core.following import LEFT
from thermostatd.core.guard import (
    all_off,
    bad_socket,
    ceiling,
    circuit,
    clock,
    covered,
    cut_out,
    drawing_nothing,
    drawing_while_off,
    longest_run,
    no_answer,
    not_allowed_now,
    opens_early,
    overshoot,
    pacing,
    reading_missing,
    silent_plug,
    starting,
    stopping,
    warm_plug,
)
from thermostatd.core.guard.case import Around, Case, Interlock
from thermostatd.core.house import Heater, House, Room, Spot
from thermostatd.core.memory import Memory
from thermostatd.core.meter.diagnosis import accepting
from thermostatd.core.pace import Paced
from thermostatd.core.reading import Readings
from thermostatd.core.results import Reason, Target, Verdict
from thermostatd.core.said import said

# Worst first: of several that trip, the first one here gives the reason.
INTERLOCKS: tuple[Interlock, ...] = (
    stopping,
    drawing_while_off,
    warm_plug,
    bad_socket,
    all_off,
    ceiling,
    clock,
    starting,
    reading_missing,
    silent_plug,
    covered,
    opens_early,
    no_answer,
    drawing_nothing,
    not_allowed_now,
    longest_run,
    overshoot,
    pacing,
    cut_out,
)
CODES = (*(interlock.CODE for interlock in INTERLOCKS), circuit.CODE)
LATCHES = frozenset(
    {"drawing-while-off", "warm-plug", "bad-socket", "covered", "opens-early", "no-answer", "drawing-nothing"}
)
WORTH_SAYING_KELVIN = 0.5
_JUDGED = frozenset({"at", "judged_at"})


@dataclass(frozen=True, slots=True)
class Guarded:
    """One heater after every interlock: on only if wanted and proven good."""

    on: bool
    reason: Reason
    verdicts: tuple[Verdict, ...]


def guard(
    house: House,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    paced: Mapping[str, Paced],
    now: Now,
    stopping_now: bool,
) -> dict[str, Guarded]:
    """Judge every heater by every interlock, then every circuit."""
    around = Around(house, memory)
    verdicts = {
        key: _judge_all(
            _case(house, memory, readings, targets, paced[key], key, heater, place, now, stopping_now, around)
        )
        for key, heater, place in house.heaters()
    }
    left_on = {key: paced[key].on is True and _proven(spoken) for key, spoken in verdicts.items()}
    shared = _judge_circuits(house, memory, readings, targets, left_on, now)
    for key, spoken in verdicts.items():
        spoken.append(shared[key])
    return {key: _conclude(paced[key], spoken) for key, spoken in verdicts.items()}


def open_latch(memory: Memory, trouble: str) -> None:
    """The owner has looked at the trouble `heater/code`: forget what latched."""
    key, _, code = trouble.rpartition("/")
    if code == LEFT:
        memory.left.pop(key, None)
    if key in memory.heaters:
        accepting.accept(memory.heaters[key], code)
    if key in memory.heaters and code in LATCHES:
        kept = memory.heaters[key]
        judged = {name: value for name, value in kept.notes.pop(code, {}).items() if name in _JUDGED}
        kept.notes[code] = judged  # only what is measured from now on can latch anew
        kept.off_reports_over = 0


def _case(
    house: House,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    paced: Paced,
    key: str,
    heater: Heater,
    place: Room | Spot,
    now: Now,
    stopping_now: bool,
    around: Around,
) -> Case:
    room = place if isinstance(place, Room) else None
    return Case(
        house,
        memory,
        now,
        key,
        heater,
        room,
        memory.heaters[key],
        readings.air[room.name] if room else None,
        memory.rooms[room.name].air if room else None,
        targets[room.name] if room else None,
        paced.on is True,
        stopping_now,
        around,
    )


def _judge_all(case: Case) -> list[Verdict]:
    verdicts = []
    for interlock in INTERLOCKS:
        try:
            verdicts.append(_sound(interlock.CODE, interlock.judge(case)))
        except Exception as fault:
            verdicts.append(_failed(interlock.CODE, f"{type(fault).__name__}: {fault}"))
    return verdicts


def _sound(code: str, verdict: object) -> Verdict:
    """A verdict as it was given, or a failed one where none was."""
    if isinstance(verdict, Verdict) and verdict.code == code and isinstance(verdict.tripped, bool):
        return verdict
    return _failed(code, "it gave no verdict")


def _judge_circuits(
    house: House,
    memory: Memory,
    readings: Readings,
    targets: Mapping[str, Target],
    left_on: Mapping[str, bool],
    now: Now,
) -> dict[str, Verdict]:
    try:
        spoken = circuit.judge_all(house, memory, readings, targets, left_on, now)
        return {key: _sound(circuit.CODE, spoken.get(key)) for key in left_on}
    except Exception as fault:
        return {key: _failed(circuit.CODE, f"{type(fault).__name__}: {fault}") for key in left_on}


def _failed(code: str, what: str) -> Verdict:
    told = said("The check “{name}” failed ({what}); the heater stays off.", name=code, what=what[:80])
    why = Reason(code, told, {"what": what})
    return Verdict(code, True, why, safety=True, trouble=True, loud=True, evidence=why.sentence, failed=True)


def _proven(verdicts: list[Verdict]) -> bool:
    return not any(verdict.tripped for verdict in verdicts)


def _conclude(paced: Paced, verdicts: list[Verdict]) -> Guarded:
    ran = {verdict.code for verdict in verdicts}
    verdicts += [_failed(code, "it did not run") for code in CODES if code not in ran]
    worst = next((verdict for verdict in verdicts if verdict.tripped), None)
    on = paced.on is True and worst is None
    reason = worst.reason if worst is not None and worst.reason is not None and _speaks(paced, worst) else None
    return Guarded(on, reason or paced.reason, (*paced.verdicts, *verdicts))


def _speaks(paced: Paced, worst: Verdict) -> bool:
    """All but an overshoot that takes nothing away: the room cools to a lower target, or is hardly over its own."""
    if worst.code != overshoot.CODE or paced.on or worst.reason is None:
        return True
    over = worst.reason.numbers.get("over", inf)
    return paced.reason.code != "cooling-down" and float(over) >= WORTH_SAYING_KELVIN
