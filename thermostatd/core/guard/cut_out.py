"""Recognises the heater's own cut-out: while ON, power falls to a lower level, or to nothing and back.

It trips nothing: it is logged and counted, so that it never looks like a heater that draws nothing.
"""

from thermostatd.core.guard.case import Case, good
from thermostatd.core.plug import evidence_watts
from thermostatd.core.results import Verdict

CODE = "cut-out"
SAFETY = False
FALLEN_SHARE = 0.75
RISEN_SHARE = 0.9


def judge(case: Case) -> Verdict:
    notes, kept = case.notes(CODE), case.kept
    if not kept.told_on:
        for name in ("run_peak", "open", "before", "news"):
            notes.pop(name, None)
        return good(CODE)
    watts = evidence_watts(kept)
    if watts is not None and kept.watts_at != notes.get("judged_at"):
        notes["judged_at"] = kept.watts_at
        _watch(case, watts)
    return good(CODE)


def _watch(case: Case, watts: float) -> None:
    notes = case.notes(CODE)
    nominal = case.house.house.mains_volts
    if case.kept.volts:
        watts *= (nominal / case.kept.volts) ** 2
    peak = max(watts, notes.get("run_peak", 0.0))
    notes["run_peak"] = peak
    if not notes.get("open") and watts < FALLEN_SHARE * peak:
        notes.update(open=True, before=peak, after=watts, openings=int(notes.get("openings", 0)) + 1)
        notes["news"] = "cut-out-opened"
    elif notes.get("open") and watts > RISEN_SHARE * notes["before"]:
        notes.update(open=False, watts=watts, news="cut-out-closed")
