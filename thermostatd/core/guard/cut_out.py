"""Recognises the heater's own cut-out: while ON, power falls to a lower level, or to nothing and back.

It trips nothing: an opening is logged and learned from, so that it never looks like a heater that draws nothing.
Low power at switch-on is "still open"; one that comes far earlier than this heater's own history, or a fall that
does not come back on a cold body, is no opening to learn from (`covered`, and what `meter` diagnoses).
"""

from thermostatd.core.guard.case import Case, good
from thermostatd.core.meter import watch
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "cut-out"
SAFETY = False


TELL_SECONDS = 43200.0


def judge(case: Case) -> Verdict:
    watch.follow(case)
    at = case.kept.notes[CODE].get("tripped_at")
    if at is None or not 0 <= case.now.steady - at < TELL_SECONDS or not case.kept.facts.trips:
        return good(CODE)
    trip = case.kept.facts.trips[-1]
    evidence = said(
        "After {minutes:.0f} min on, power fell from {before:.0f} W to {after:.0f} W: its own cut-out opened.",
        minutes=trip.run_seconds / 60, before=trip.before_watts, after=trip.after_watts,
    )  # fmt: skip
    return Verdict(CODE, False, trouble=True, evidence=evidence)
