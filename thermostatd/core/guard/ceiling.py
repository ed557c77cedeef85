"""Trips at the room's ceiling, whatever was asked; clears 1 K under it."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict
from thermostatd.core.values import Reading

CODE = "ceiling"
SAFETY = True
CLEARS_UNDER_KELVIN = 1.0


def judge(case: Case) -> Verdict:
    if case.room is None or not isinstance(case.air, Reading):
        return good(CODE)
    notes, ceiling = case.notes(CODE), case.room.ceiling_celsius
    limit = ceiling - CLEARS_UNDER_KELVIN if notes.get("tripped") else ceiling
    over = case.air.celsius > limit or case.air.celsius >= ceiling
    notes["tripped"] = over
    return tripped(CODE, celsius=case.air.celsius, ceiling=ceiling) if over else good(CODE)
