"""Recognises the heater's own cut-out: while ON, power falls to a lower level, or to nothing and back.

It trips nothing: an opening is logged and learned from, so that it never looks like a heater that draws nothing.
Low power at switch-on is "still open"; one that comes far earlier than this heater's own history, or a fall that
does not come back on a cold body, is no opening to learn from (`covered`, and what `meter` diagnoses).
"""

from thermostatd.core.guard.case import Case, good
from thermostatd.core.meter import watch
from thermostatd.core.results import Verdict

CODE = "cut-out"
SAFETY = False


def judge(case: Case) -> Verdict:
    watch.follow(case)
    return good(CODE)
