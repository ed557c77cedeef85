"""Trips when a heater's own cut-out opens far earlier than it has before: covered, or against a wall. Loud.

Off for 30 minutes, then 60 and 120, then until the owner has looked: never an endless retry. One that opened early
twice and has not stood a long run within four hours waits for the owner too, however gently it is paced meanwhile.
What is not told from a dial turned down until then is called what it rather looks like.
Clears when a run comes close to what the heater has stood before, without an opening.
"""

import math

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis import dial
from thermostatd.core.results import Verdict

CODE = "covered"
SAFETY = True
UNSOLVED_SECONDS = 4 * 3600.0


def judge(case: Case) -> Verdict:
    return judged(case, CODE, unsure=False)


def judged(case: Case, code: str, *, unsure: bool) -> Verdict:
    """As `code`, if it is as sure as that or not."""
    notes = case.kept.notes.get(CODE)
    if notes and notes.get("tries"):
        _wait_for_the_owner(case, notes)
    if not notes or not notes.get("tries") or bool(notes.get("unsure")) is not unsure:
        return good(code)
    latched, evidence = bool(notes.get("latched")), str(notes["evidence"])
    if latched or case.now.steady < notes.get("pause_until", -math.inf):
        return tripped(code, latched=latched, trouble=True, loud=True, evidence=evidence)
    return Verdict(code, False, trouble=True, loud=True, evidence=evidence)


def _wait_for_the_owner(case: Case, notes: Notes) -> None:
    """Latch what stays unsolved; no report will tell more then, so that it is called what it rather looks like."""
    notes.setdefault("first", notes["at"])
    if notes["tries"] >= 2 and case.now.steady - notes["first"] >= UNSOLVED_SECONDS:
        notes["latched"] = True
    if notes.get("latched") and notes.get("unsure") and notes.get("leans"):
        notes.update(unsure=False, evidence=notes["leans"])
    if notes.get("latched") and notes.get("unsure") and notes.get("leans_to_dial"):
        dial.may_be_turned_down(case, notes.pop("leans_to_dial"))
