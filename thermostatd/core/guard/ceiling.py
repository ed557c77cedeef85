"""Trips at the room's ceiling, whatever was asked; clears 1 K under it. Told where its own heaters may be the cause.

A contact that welded behind a plug without a meter shows in the air alone: far over the ceiling though all of the
room's heaters have been told OFF for long. A warm day outdoors makes rooms as warm; told loudly once it is far over.
"""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.memory import Notes
from thermostatd.core.plug import switched_at
from thermostatd.core.results import Verdict
from thermostatd.core.said import said
from thermostatd.core.values import Reading

CODE = "ceiling"
SAFETY = True
CLEARS_UNDER_KELVIN = 1.0
OFF_SECONDS = 1800.0  # what a hot body still sheds is gone by then
TOLD_OVER_KELVIN, UNSURE_OVER_KELVIN, LOUD_OVER_KELVIN = 1.5, 3.0, 5.0
OUTDOORS_UNDER_KELVIN = 12.0
OUTDOORS_FRESH_SECONDS = 7200.0


def judge(case: Case) -> Verdict:
    if case.room is None or not isinstance(case.air, Reading):
        return good(CODE)
    notes, ceiling = case.notes(CODE), case.room.ceiling_celsius
    limit = ceiling - CLEARS_UNDER_KELVIN if notes.get("tripped") else ceiling
    over = case.air.celsius > limit or case.air.celsius >= ceiling
    notes["tripped"] = over
    if not over:
        notes.pop("evidence", None)
        return good(CODE)
    loud = _watch(case, notes, case.air.celsius)
    evidence = str(notes.get("evidence", ""))
    return tripped(
        CODE, trouble=bool(evidence), loud=loud, evidence=evidence, celsius=case.air.celsius, ceiling=ceiling
    )


def _watch(case: Case, notes: Notes, celsius: float) -> bool:
    """Note what tells that its own heaters may heat it all the same; whether that is to be said loudly."""
    assert case.room is not None
    off_for = min(_off_seconds(case, case.room.key_of(heater)) for heater in case.room.heaters)
    over = celsius - case.room.ceiling_celsius
    colder = _outdoors_colder(case, celsius)
    suspect = off_for >= OFF_SECONDS and colder is not False
    if suspect and over >= (TOLD_OVER_KELVIN if colder else UNSURE_OVER_KELVIN):
        notes.setdefault(
            "evidence", said("It is {celsius:.1f}°, though its heaters have long been told OFF.", celsius=celsius)
        )
    return "evidence" in notes and suspect and over >= LOUD_OVER_KELVIN


def _off_seconds(case: Case, key: str) -> float:
    """For how long that heater has been told OFF, s."""
    kept = case.memory.heaters[key]
    return 0.0 if kept.told_on else case.now.steady - switched_at(kept)


def _outdoors_colder(case: Case, celsius: float) -> bool | None:
    """Whether it is so much colder outdoors that no summer's day warms the room; None where that is not known."""
    outdoors = case.memory.outdoor
    fresh = outdoors.at is not None and case.now.steady - outdoors.at <= OUTDOORS_FRESH_SECONDS
    if outdoors.celsius is None or not outdoors.heard or not fresh:
        return None
    return celsius - outdoors.celsius >= OUTDOORS_UNDER_KELVIN
