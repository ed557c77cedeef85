"""Trips, and latches, when the voltage sags under this heater's load more than this house's usual: a bad contact. Loud.

Judged only where the meter tells volts. A contact that loses volts makes heat in the wall: the socket is to be left
alone until an electrician has seen it.
"""

from thermostatd.core.guard.case import Case, good, latched
from thermostatd.core.meter import socket
from thermostatd.core.plug import METER_SETTLE_SECONDS, drawn_watts
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
        # A minute after a switching is enough, however slow the meter: volts and amperes lag, or are means, together.
        settled = kept.watts_at is not None and kept.watts_at >= case.around.switched_at + METER_SETTLE_SECONDS
        others_watts = case.around.watts - drawn_watts(kept, case.heater)
        evidence = socket.hear(notes, kept, settled, case.house.house.mains_volts, others_watts)
        if evidence is not None and not notes.get("latched"):
            notes.update(latched=True, evidence=evidence, row=[])
    if not notes.get("latched"):
        return good(CODE)
    return latched(CODE, str(notes["evidence"]))
