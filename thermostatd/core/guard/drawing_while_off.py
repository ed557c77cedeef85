"""Trips, and latches, on power over max(15 W, 3 % of watts) in two reports newer than OFF: contacts may be welded.

A meter that speaks only when something changes sends one such report and then nothing: where the plug is there and
no less was told for a quarter of an hour, that one stands. A press on the plug's own button is settled before
(plug.py): it starts the count anew.
"""

from thermostatd.core.guard.case import Case, good, latched
from thermostatd.core.plug import drawing_floor_watts, switched_at
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "drawing-while-off"
SAFETY = True
REPORTS = 2
STANDS_SECONDS, STANDS_PERIODS = 900.0, 3.0


def judge(case: Case) -> Verdict:
    kept, notes = case.kept, case.kept.notes.get(CODE, {})
    if kept.watts is not None and (kept.off_reports_over >= REPORTS or _last_word_stands(case)):
        notes = case.notes(CODE)
        notes.update(latched=True, watts=kept.watts)
    if not notes.get("latched"):
        return good(CODE)
    watts = notes["watts"]
    return latched(CODE, said("{watts:.0f} W measured after OFF.", watts=watts), watts=watts)


def _last_word_stands(case: Case) -> bool:
    kept, now = case.kept, case.now
    if kept.told_on or not kept.reachable or kept.watts is None or kept.watts_at is None:
        return False
    if kept.watts <= drawing_floor_watts(case.heater) or not kept.heard:
        return False
    age = now.steady - kept.watts_at  # a quarter of an hour past its switching, any plug has obeyed
    return kept.watts_at > switched_at(kept) and age >= max(
        STANDS_SECONDS, STANDS_PERIODS * kept.meter_period
    )
