"""Trips once someone turned everything off; clears when that is taken back."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "all-off"
SAFETY = True


def judge(case: Case) -> Verdict:
    said = case.memory.all_off
    return good(CODE) if said is None else tripped(CODE, who=said.who, at=case.now.text(said.asked_wall))
