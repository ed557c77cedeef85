"""Follows a heater's body from step to step: when it began and ended to draw, and what it is taken to draw meanwhile.

Rules: between reports the body is taken to draw what it drew last on this level; a gap without steps counts as ON
for as long as an order may have held, and nothing is learned soon after it; only reports that are evidence teach.
Writes the heater's `body` and the learned facts; never an order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body import opening, reports
from thermostatd.core.body.beginning import begin
from thermostatd.core.body.doubting import doubt
from thermostatd.core.body.expected import expected_watts, is_on, is_slow
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.plug import drawing_floor_watts, evidence_watts

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

GAP_SECONDS = 180.0
ORDER_HOLDS_SECONDS = 1200.0
DOUBT_SECONDS = 2 * 3600.0


def follow(case: Case) -> BodyMemory:
    """Bring the heater's body up to now."""
    body, kept, now = case.kept.body, case.kept, case.now.steady
    doubt(case, body)
    begin(case, body)
    _advance(body, now)
    _doubt_after_suspicion(case, body, now)
    on = is_on(kept)
    _switch(case, body, on)
    if not on and (evidence_watts(kept) or 0.0) > drawing_floor_watts(case.heater):
        body.doubtful_until = now + DOUBT_SECONDS  # it is heated all the same: a contact that stuck
        body.fall = None  # and was perhaps before it was told
    believed = _believed_watts(case, body) if on else 0.0
    if on:
        reports.heed(case, body, now)
    body.watts = believed
    if kept.facts.trip_count > body.trips_taken and (len(body.tail) >= opening.TAIL or not on):
        opening.learn(case, body)
    return body


def _advance(body: BodyMemory, now: float) -> None:
    seconds = now - body.at if body.at is not None else 0.0
    body.at = now
    if seconds <= 0.0:
        return
    if seconds <= GAP_SECONDS:
        if body.watts or body.warmth[0]:
            body.warmth = body.after(body.warmth, body.watts, seconds)
        return
    on = min(seconds, ORDER_HOLDS_SECONDS) if body.watts else 0.0
    if on:
        body.warmth = body.after(body.warmth, body.watts, on)
        body.doubtful_until = now + DOUBT_SECONDS
    body.warmth = body.after(body.warmth, 0.0, seconds - on)
    body.watts, body.proven_at, body.fell_at = 0.0, None, None


def _doubt_after_suspicion(case: Case, body: BodyMemory, now: float) -> None:
    """What lay on it kept it hotter than is known, until that was taken away."""
    suspected = suspicion.suspects(case)
    if body.suspected and not suspected:
        body.doubtful_until = max(body.doubtful_until, now + DOUBT_SECONDS)
    body.suspected = suspected


def _switch(case: Case, body: BodyMemory, on: bool) -> None:
    """Take in that its plug switched since the last step, at the moment at which it did."""
    kept = case.kept
    if on and not body.watts:
        _switched_on(body, case.now.steady, _lately(kept.on_since, case), expected_watts(case))
    elif body.watts and not on:  # it was off since the order, not since this step
        body.warmth = body.after(body.warmth, body.watts, -_lately(kept.off_since, case))
        body.ended = [round(one, 1) for one in body.warmth] if is_slow(kept) else []


def _lately(since: float | None, case: Case) -> float:
    """Seconds of the last step that went by after a switching then; 0 where none is known."""
    return min(max(case.now.steady - since, 0.0), case.now.seconds) if since is not None else 0.0


def _switched_on(body: BodyMemory, now: float, seconds: float, watts: float) -> None:
    body.proven, body.proven_at, body.proven_watts = list(body.warmth), now - seconds, None
    body.peak_watts, body.fell_at = 0.0, None
    body.warmth = body.after(body.warmth, watts, seconds)


def _believed_watts(case: Case, body: BodyMemory) -> float:
    """The last proven power of this run; until there is one, what is expected of its level."""
    watts = evidence_watts(case.kept)
    return max(watts, 1.0) if watts is not None else max(body.proven_watts or expected_watts(case), 1.0)
