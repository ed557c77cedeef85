"""Trips, and latches, on power over max(15 W, 3 % of watts) in two reports newer than OFF: contacts may be welded.

A press on the plug's own button is settled before (plug.py): it starts the count anew.
"""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "drawing-while-off"
SAFETY = True
REPORTS = 2


def judge(case: Case) -> Verdict:
    notes, kept = case.notes(CODE), case.kept
    if kept.off_reports_over >= REPORTS and kept.watts is not None:
        notes.update(latched=True, watts=kept.watts)
    if not notes.get("latched"):
        return good(CODE)
    return tripped(
        CODE,
        latched=True,
        trouble=True,
        loud=True,
        watts=notes["watts"],
        evidence=said("{watts:.0f} W measured after OFF.", watts=notes["watts"]),
    )
