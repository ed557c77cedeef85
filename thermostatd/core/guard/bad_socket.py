"""Trips, and latches, when the voltage sags under this heater's load more than this house's usual: a bad contact. Loud.

Judged only where the meter tells volts. A contact that loses volts makes heat in the wall: the socket is to be left
alone until an electrician has seen it.
"""

from thermostatd.core.guard.case import Case, good, latched
from thermostatd.core.house import Heater
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter import socket
from thermostatd.core.plug import METER_SETTLE_SECONDS, evidence_watts, switched_at
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
        latest = max(switched_at(one) for one in case.memory.heaters.values())
        settled = kept.watts_at is not None and kept.watts_at >= latest + METER_SETTLE_SECONDS
        evidence = socket.hear(notes, kept, settled, case.house.house.mains_volts, _others_watts(case))
        if evidence is not None and not notes.get("latched"):
            notes.update(latched=True, evidence=evidence, row=[])
    if not notes.get("latched"):
        return good(CODE)
    return latched(CODE, str(notes["evidence"]))


def _others_watts(case: Case) -> float:
    """What the house's other heaters draw, W: as metered, else as they are told."""
    return sum(_watts(case.memory.heaters[key], one) for key, one, _ in case.house.heaters() if key != case.key)


def _watts(kept: HeaterMemory, heater: Heater) -> float:
    metered = evidence_watts(kept)
    if metered is not None:
        return max(metered, 0.0)
    return (kept.facts.level_watts or heater.watts) if kept.told_on else 0.0
