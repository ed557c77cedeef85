"""Trips, and latches, when the voltage sags under this heater's load more than this house's usual: a bad contact. Loud.

Judged only where the meter tells volts. A contact that loses volts makes heat in the wall: the socket is to be left
alone until an electrician has seen it.
"""

from thermostatd.core.guard.case import Case, good, latched
from thermostatd.core.meter import socket
from thermostatd.core.plug import evidence_watts
from thermostatd.core.results import Verdict

CODE = "bad-socket"
SAFETY = True


def judge(case: Case) -> Verdict:
    kept = case.kept
    if not kept.volts:
        return good(CODE)
    notes = case.notes(CODE)
    if kept.watts_at != notes.get("judged_at"):
        notes["judged_at"] = kept.watts_at
        settled = evidence_watts(kept) is not None
        evidence = socket.hear(notes, kept, settled, case.house.house.mains_volts)
        if evidence is not None and not notes.get("latched"):
            notes.update(latched=True, evidence=evidence, steps=[])
    if not notes.get("latched"):
        return good(CODE)
    return latched(CODE, str(notes["evidence"]))
