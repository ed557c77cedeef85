"""Trips after a run without a break of `longest_run`: ten minutes off; for a spot, the end and a trouble."""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "longest-run"
SAFETY = True
REST_SECONDS = 600.0


def judge(case: Case) -> Verdict:
    notes, now = case.notes(CODE), case.now
    since = case.kept.on_since
    if case.kept.told_on and since is not None and now.steady - since >= case.heater.longest_run:
        request = case.memory.spots.get(case.key.partition("/")[0]) if case.room is None else None
        notes["rest_until"] = max(now.steady + REST_SECONDS, (request and request.ends) or 0.0)
    if now.steady >= notes.get("rest_until", now.steady):
        return good(CODE)
    hours = case.heater.longest_run / 3600.0
    return tripped(
        CODE,
        hours=hours,
        trouble=case.room is None,
        evidence=said("It ran for {hours:.1f} hours.", hours=hours),
    )
