"""Trips when a heater's own cut-out opens far earlier than it has before: covered, or against a wall. Loud.

Off for 30 minutes, then 60 and 120, then until the owner has looked: never an endless retry. One that opened early
twice and has not stood a long run within four hours waits for the owner too, however gently it is paced meanwhile.
Clears when a run comes close to what the heater has stood before, without an opening.
"""

import math

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "covered"
SAFETY = True
UNSOLVED_SECONDS = 4 * 3600.0


def judge(case: Case) -> Verdict:
    return judged(case, CODE, unsure=False)


def judged(case: Case, code: str, *, unsure: bool) -> Verdict:
    """As `code`, if it is as sure as that or not."""
    notes = case.kept.notes.get(CODE)
    if not notes or not notes.get("tries") or bool(notes.get("unsure")) is not unsure:
        return good(code)
    first: float = notes["first"] if "first" in notes else notes["at"]
    notes["first"] = first
    if notes["tries"] >= 2 and case.now.steady - first >= UNSOLVED_SECONDS:
        notes["latched"] = True
    latched, evidence = bool(notes.get("latched")), str(notes["evidence"])
    if latched or case.now.steady < notes.get("pause_until", -math.inf):
        return tripped(code, latched=latched, trouble=True, loud=True, evidence=evidence)
    return Verdict(code, False, trouble=True, loud=True, evidence=evidence)
