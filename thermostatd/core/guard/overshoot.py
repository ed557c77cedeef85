"""Trips 0.6 K over the target with no rise due; clears at the target.

A rise is due where a law that preheats has a higher step ahead within its longest lead, six hours, or ten where
everyone is out until then: then that step is the measure. No learned model is asked.
"""

from dataclasses import replace

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.reasons import reason
from thermostatd.core.results import Verdict
from thermostatd.core.values import Reading

CODE = "overshoot"
SAFETY = True
OVER_KELVIN = 0.6
LONGEST_LEAD_SECONDS, LONGEST_OUT_SECONDS = 6 * 3600.0, 10 * 3600.0


def judge(case: Case) -> Verdict:
    if case.room is None or case.target is None or not isinstance(case.air, Reading):
        return good(CODE)
    notes = case.notes(CODE)
    over = case.air.celsius - _measure_celsius(case)
    trips = over > 0.0 if notes.get("tripped") else over >= OVER_KELVIN - 1e-9
    notes["tripped"] = trips
    if not trips:
        return good(CODE)
    if case.target.code == "room-off":  # said better than by how much it is over what frost allows
        return replace(tripped(CODE, over=over), reason=reason("room-off", target=case.target.celsius))
    return tripped(CODE, over=over)


def _measure_celsius(case: Case) -> float:
    assert case.room is not None
    assert case.target is not None
    target = case.target
    if case.room.control != "predictive" or target.next_celsius is None or target.next_at is None:
        return target.celsius
    longest = LONGEST_OUT_SECONDS if target.code == "out" else LONGEST_LEAD_SECONDS
    due = target.next_at - case.now.steady <= longest
    return max(target.celsius, target.next_celsius) if due else target.celsius
