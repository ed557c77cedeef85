"""Trips until this room's own sensor and this heater's own plug have been heard since the start.

A retained plug state is no answer. After ten minutes a silent sensor is `reading-missing`'s business; a
silent plug stays here, and is told.
"""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.plug import can_be_heard
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "starting"
SAFETY = True
TELL_AFTER_SECONDS = 600.0


def judge(case: Case) -> Verdict:
    if can_be_heard(case.heater) and not case.kept.heard:
        waited = _waited(case, case.kept.waiting_since)
        return tripped(
            CODE,
            trouble=waited > TELL_AFTER_SECONDS,
            what=said("the plug of {heater}", heater=case.heater.name),
            evidence=said("Not heard in {minutes:.0f} minutes since the start.", minutes=waited / 60),
        )
    air = case.air_memory
    if air is not None and not air.heard:
        waited = _waited(case, air.waiting_since)
        if waited <= TELL_AFTER_SECONDS:
            return tripped(CODE, what=said("the room's sensor"))
    return good(CODE)


def _waited(case: Case, since: float | None) -> float:
    return case.now.steady - since if since is not None else 0.0
