"""Whether something keeps a body from standing what it stood, covered or at its dial, and what shows that it is free.

Rules: out under four fifths of what it stood before is early, and is held against it for three hours; a run that comes
near what it stood clears it of both, and of its dial already where it goes well past what that let it do.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis.elements import is_quick
from thermostatd.core.meter.diagnosis.naming import NOTES, clear

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

CYCLES_SECONDS = 3 * 3600.0
EARLY_SHARE = 0.8
FREE_SHARE = 0.9
PAST_DIAL_SHARE = 0.25  # a run so much further than the dial let it go: the dial was turned up again


def suspects(case: Case) -> bool:
    """Whether something keeps this body from standing what it stood: covered, or its dial turned down."""
    return bool(case.kept.notes.get("covered", {}).get("tries")) or may_be_at_its_dial(case)


def may_be_at_its_dial(case: Case) -> bool:
    """Whether it goes to nothing early and comes back, lately: most of what it is told to give it does not."""
    about = case.kept.notes.get(NOTES, {})
    since = case.now.steady - CYCLES_SECONDS
    return about.get("code") == "dial-down" or any(
        at > since and share < EARLY_SHARE for at, share, _ in about.get("cycles", [])
    )


def is_interrupted(case: Case) -> bool:
    """Whether power went to nothing lately, and may have done so unseen between the reports since."""
    return _log(case) is not None


def began_wall(case: Case) -> float:
    """The wall time since when what is named now may have been at work: what the log holds, three hours at least."""
    log = _log(case)
    gone = max(CYCLES_SECONDS, case.now.steady - log["at"] if log else 0.0)
    return case.now.best.timestamp() - gone


def stood(case: Case, share: float) -> None:
    """A run has come to this share of what it stood before, and nothing opened early: no cover, no dial."""
    about = case.kept.notes.get(NOTES, {})
    if about.get("code") == "dial-down" and share >= _past_dial(about):
        clear(about)
    if share < FREE_SHARE:
        return
    notes = case.kept.notes.get("covered")
    if notes and notes.get("tries") and not notes.get("latched"):
        tries = notes["tries"]
        notes.clear()
        if is_quick(case):  # a report between two of its openings may look like a long run
            notes.update(tried=tries, free_at=case.now.steady)
    case.kept.notes.get("cut-out", {}).pop("looked", None)


def _past_dial(about: Notes) -> float:
    """The share of what it stood before that a heater does not come to at a dial known to be down."""
    return float(min(FREE_SHARE, about.get("share", FREE_SHARE) + PAST_DIAL_SHARE))


def _log(case: Case) -> Notes | None:
    log: Notes | None = case.kept.notes.get("cut-out", {}).get("log")
    return log
