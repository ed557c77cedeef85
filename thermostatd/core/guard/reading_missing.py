"""Trips without a finite, plausible, fresh value; or when messages come but the value stays frozen over a
metered run of two hours in which the room should have moved by more than two sensor steps.

Clears with one good value; after an implausible one, with three (reading.py counts them). A room whose heat
only just balances its loss stands still too: its rest moves the value, so a frozen one is told after half an hour.
"""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.plug import drawing_floor_watts, evidence_watts
from thermostatd.core.results import Verdict
from thermostatd.core.said import said
from thermostatd.core.values import Missing

CODE = "reading-missing"
SAFETY = True
FROZEN_SECONDS = 7200.0
TELL_FROZEN_SECONDS = 1800.0
LARGEST_CAPACITY_JOULES_PER_KELVIN = 4.0e6
FEWEST_MESSAGES = 4
TELL_AFTER_SECONDS = 600.0


def judge(case: Case) -> Verdict:
    if case.room is None:
        return good(CODE)
    if case.air is None or isinstance(case.air, Missing):
        why = case.air.why if case.air is not None else "never heard"
        return tripped(
            CODE, trouble=not _just_started(case), why=why, evidence=said("What is wrong: {why}.", why=why)
        )
    frozen = _frozen_hours(case)
    if frozen is None:
        return good(CODE)
    why = said(
        "it shows {celsius:.1f}° unmoved after {hours:.1f} hours of heating",
        celsius=case.air.celsius,
        hours=frozen,
    )
    told = case.now.steady - case.notes(CODE).get("frozen_since", -1e9) >= TELL_FROZEN_SECONDS
    return tripped(CODE, trouble=told, why=why, evidence=said("Messages come, but {why}.", why=why))


def _just_started(case: Case) -> bool:
    """Whether the sensor has simply not had the time to speak since the start."""
    air = case.air_memory
    waited = case.now.steady - air.waiting_since if air is not None and air.waiting_since is not None else 0.0
    return air is not None and not air.heard and waited <= TELL_AFTER_SECONDS


def _frozen_hours(case: Case) -> float | None:
    """Hours for which the value has stood still although heat came; None where that is not proven."""
    notes, air, now = case.notes(CODE), case.air_memory, case.now
    assert air is not None
    if notes.get("frozen_value") is not None:
        if air.celsius == notes["frozen_value"]:
            return float(notes["hours"])
        notes.clear()
    watts = evidence_watts(case.kept)
    if not case.kept.told_on or watts is None or watts <= drawing_floor_watts(case.heater):
        notes.clear()
        return None
    if notes.get("value") != air.celsius:
        notes.update(value=air.celsius, since=now.steady, joules=0.0, count=air.unchanged_count)
    notes["joules"] += watts * min(now.seconds, 600.0)
    seconds: float = now.steady - notes["since"]
    expected_kelvin = notes["joules"] / LARGEST_CAPACITY_JOULES_PER_KELVIN
    messages = air.unchanged_count - notes["count"]
    if seconds < FROZEN_SECONDS or expected_kelvin <= 2 * min(air.step, 0.5) or messages < FEWEST_MESSAGES:
        return None
    notes.update(frozen_value=air.celsius, frozen_since=now.steady, hours=seconds / 3600.0)
    return seconds / 3600.0
