"""Trips as `covered` does where nothing tells yet whether a heater is covered or its dial turned down. Loud.

Of two bodies of different size, one under a cover and one at its dial may show the same power at every report. It
becomes `covered`, or `dial-down`, once later reports tell; until then a person looks for a cover first.
"""

from thermostatd.core.guard import covered
from thermostatd.core.guard.case import Case
from thermostatd.core.results import Verdict

CODE = "opens-early"
SAFETY = True


def judge(case: Case) -> Verdict:
    return covered.judged(case, CODE, unsure=True)
