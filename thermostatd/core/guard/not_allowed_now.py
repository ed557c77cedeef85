"""Trips while the house is asleep or away and the owner has not allowed this heater then; clears with the time.

A plug that cannot switch itself off runs only while people are awake, whatever `may_run` says.
"""

from thermostatd.core.circumstance import TOLD, circumstance_of
from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "not-allowed-now"
SAFETY = True


def judge(case: Case) -> Verdict:
    circumstance = circumstance_of(case.house, case.memory, case.now)
    allowed = case.heater.may_run if case.heater.plug.switches_itself_off else ("awake",)
    return good(CODE) if circumstance in allowed else tripped(CODE, then=TOLD[circumstance])
