"""Trips when the two clocks have disagreed for longer than a last target may be held; clears when they agree."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "clock"
SAFETY = True


def judge(case: Case) -> Verdict:
    since = case.now.doubted_since
    if since is None or not case.now.past_holding:
        return good(CODE)
    text = case.now.text(case.now.wall_in(since - case.now.steady))
    return tripped(
        CODE,
        trouble=True,
        since=text,
        evidence=said("It jumped by {minutes:.0f} minutes.", minutes=case.now.jump_seconds / 60),
    )
