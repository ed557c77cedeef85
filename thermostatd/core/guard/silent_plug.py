"""Trips when a plug gives no answer to an order, or is away; it is told again and again.

An ON that was not taken within two minutes is given up for 10, 30, 60 minutes. Unknown counts as ON on its
circuit. Last known ON and two minutes past its lapse: loud, it may be on. Clears with an answer.
"""

import math

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.plug import PATIENCE_SECONDS, can_be_heard, shows_contact
from thermostatd.core.results import Verdict
from thermostatd.core.said import said

CODE = "silent-plug"
SAFETY = True
TELL_AFTER_SECONDS = 180.0
PAST_LAPSE_SECONDS = 120.0
PAUSES_SECONDS = (600.0, 1800.0, 3600.0)
FORGET_SECONDS = 6 * 3600.0
_EVIDENCE = "Its last known state is {state}; it has not answered."


def judge(case: Case) -> Verdict:
    if not can_be_heard(case.heater) and case.kept.reachable:
        return good(CODE)  # it owes no answer; but nothing is told to one that is known to be away
    notes, now = case.notes(CODE), case.now
    _count_unanswered_ons(case)
    since = _silent_since(case)
    if since is None and now.steady >= notes.get("pause_until", -math.inf):
        if notes.get("tries"):  # on trial again: not over before it answers
            return Verdict(CODE, False, trouble=True, evidence=said(_EVIDENCE, state="OFF"))
        return good(CODE)
    silent = now.steady - since if since is not None else math.inf
    loud = (
        since is not None
        and (case.kept.shown_on is True or case.kept.maybe_on)
        and now.steady > case.kept.lapses + PAST_LAPSE_SECONDS
    )
    last = "ON" if case.kept.shown_on else "OFF" if case.kept.shown_on is False else "unknown"
    return tripped(
        CODE,
        trouble=loud or silent > TELL_AFTER_SECONDS or notes.get("tries", 0) > 0,
        loud=loud,
        evidence=said(_EVIDENCE, state=last),
    )


def _silent_since(case: Case) -> float | None:
    """Since when the plug has owed an answer: it is away, or shows ON after OFF."""
    kept = case.kept
    if not kept.reachable:
        return kept.away_since if kept.away_since is not None else case.now.steady
    told = max((at for at in (kept.told_at, kept.settled_at) if at is not None), default=None)
    unanswered = kept.shown_on is True and not kept.told_on and shows_contact(case.heater)
    if unanswered and told is not None and case.now.steady - told > PATIENCE_SECONDS:
        return told
    return None


def _obeyed_long(case: Case, pause_until: float) -> bool:
    """Nobody wants heat, and the plug has long been there and off: the old failure says nothing any more."""
    kept = case.kept
    off = not kept.told_on and kept.shown_on is False and kept.reachable
    return off and case.now.steady > pause_until + FORGET_SECONDS


def _count_unanswered_ons(case: Case) -> None:
    """Give up an ON that the plug has not shown within two minutes, for longer each time."""
    notes, kept, now = case.notes(CODE), case.kept, case.now
    obeyed_long = notes.get("tries") and _obeyed_long(case, notes["pause_until"])
    if obeyed_long or (kept.told_on and kept.shown_on is True):
        notes.pop("tries", None)
        notes.pop("pause_until", None)
    if (
        not kept.told_on
        or kept.shown_on is not False
        or not shows_contact(case.heater)
        or kept.told_at is None
    ):
        return
    since = max(kept.told_at, kept.unanswered_since or kept.told_at)
    if now.steady - since > PATIENCE_SECONDS and not kept.answered:
        tries = int(notes.get("tries", 0))
        notes.update(tries=tries + 1, pause_until=now.steady + PAUSES_SECONDS[min(tries, 2)])
