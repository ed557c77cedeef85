"""Trips while the program is going down; clears with the next start."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "stopping"
SAFETY = True


def judge(case: Case) -> Verdict:
    return tripped(CODE) if case.stopping else good(CODE)
