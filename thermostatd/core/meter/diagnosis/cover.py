"""Names a heater covered, or against a wall, and says what showed it.

Rules: a fall that comes back on a cold body is the heater's own cut-out. Far earlier than this heater has stood it
before, it is covered; so is a body that opens its second switch on its low element. It rests, for longer each time,
then until someone has looked; what it did meanwhile teaches nothing of the body.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.body.lessons import forget_since, tell
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis.naming import minutes
from thermostatd.core.meter.diagnosis.suspicion import began_wall
from thermostatd.core.said import said

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

FELL_SAID = (
    "After {minutes:.0f} min on, power fell from {before:.0f} W to {after:.0f} W, though it has stood {before:.0f} W "
    "for as long as it was on."
)
FELL_UNSURE_SAID = (
    "After {minutes:.0f} min on, power fell from {before:.0f} W to {after:.0f} W, though it has stood {before:.0f} W "
    "for as long as it was on. That does not tell yet whether something lies on it or its dial is turned down."
)
PAUSES_SECONDS = (1800.0, 3600.0, 7200.0)
COMES_AND_GOES_SECONDS = 4 * 3600.0
STILL_TEACHES_SHARE = 0.95  # of the warmest opening: so warm, a body opens that is free


def covered(case: Case, evidence: str, unsure: bool = False) -> None:
    """Its cut-out has spoken far too early: off, for longer each time, then until someone has looked.

    `unsure`: it may as well be its dial, which what was seen does not tell yet.
    """
    notes, body = case.notes("covered"), case.kept.body
    known = int(notes.get("tries", 0))
    tries = known or _tried_lately(case, notes)
    if body.lessons:  # what it did under the cover taught nothing of the body
        forget_since(body, began_wall(case), STILL_TEACHES_SHARE)
        tell(body, case.kept.facts)
    notes.update(
        tries=tries + 1,
        at=case.now.steady,
        pause_until=case.now.steady + PAUSES_SECONDS[min(tries, 2)],
        latched=tries >= len(PAUSES_SECONDS),
        evidence=evidence,
        unsure=unsure and (not known or bool(notes.get("unsure"))),
    )


def opened_early(case: Case, opened: Notes, proven: float) -> None:
    """An opening to a lower level, far earlier than before."""
    covered(
        case,
        said(
            "Its own cut-out opened after {minutes:.0f} min, at {share:.0f} % of the warmth that it has stood before.",
            minutes=minutes(opened["seconds"]),
            share=100 * opened["most"] / proven,
        ),
    )


def interrupted(case: Case, opened: Notes) -> None:
    """Power fell of a heater that has stood it for good: something lies on it, or its dial is turned down."""
    numbers = {"minutes": minutes(opened["seconds"]), "before": opened["before"], "after": opened["after"]}
    told = said(FELL_SAID, **numbers) if is_sure(case) else said(FELL_UNSURE_SAID, **numbers)
    covered(case, told, unsure=True)


def _tried_lately(case: Case, notes: Notes) -> int:
    """How often it rested before it seemed free, if that is not long ago: it comes and goes."""
    lately = case.now.steady - notes.get("free_at", -inf) < COMES_AND_GOES_SECONDS
    return int(notes.get("tried", 0)) if lately else 0


def is_sure(case: Case) -> bool:
    """Whether it is known to be a cover already."""
    notes = case.kept.notes.get("covered", {})
    return bool(notes.get("tries")) and not notes.get("unsure")


def opened_under_what_it_stood(case: Case, share: float) -> None:
    """An opening that a slow meter showed late, and yet far too early."""
    covered(
        case,
        said(
            "Its own cut-out opened at {share:.0f} % of the warmth that it has stood before, or sooner.",
            share=100 * share,
        ),
    )


def still_open(case: Case, seconds: float) -> None:
    """Its cut-out had not closed again after a rest in which a free body would have cooled."""
    covered(
        case,
        said(
            "Its own cut-out opened far too early, and was open yet after {minutes:.0f} min.",
            minutes=minutes(seconds),
        ),
    )


def overheated(case: Case, opened: Notes) -> None:
    """The body went on warming on its low element until a second switch opened."""
    covered(
        case,
        said(
            "Its cut-out left {after:.0f} W, and after {minutes:.0f} min more even that went out: "
            "it cannot get rid of its heat.",
            after=opened["after"],
            minutes=minutes(case.now.steady - opened["at"]),
        ),
    )
