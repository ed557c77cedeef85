"""Holds a heater's body under what it can sustain. No store of heat is known yet, so nothing nears it."""

from thermostatd.core.guard.case import Case, good
from thermostatd.core.results import Verdict

CODE = "pacing"
SAFETY = False


def judge(case: Case) -> Verdict:
    return good(CODE)
