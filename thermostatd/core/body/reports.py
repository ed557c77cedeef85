"""What a meter's report proves of the body: that it is closed, still open, or that power fell meanwhile.

Rules: only reports that are evidence prove anything, each one once. Power on its level proves the body closed, and what
it stood without an opening counts; low power at switch-on is no opening, but a slow meter may have missed one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body import opening
from thermostatd.core.body.brackets import seeks, weigh_intervals
from thermostatd.core.body.expected import (
    HIGH_SHARE,
    ROUGH_HIGH_SHARE,
    expected_in_report,
    expected_watts,
    is_slow,
    room_share,
)
from thermostatd.core.body.lessons import fraction, tell
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.plug import METER_SETTLE_SECONDS, evidence_watts, switched_at

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

NO_MEAN_SHARE = 0.7  # full power so early in a period: this meter tells no means
FULL_SHARE = 1.3
COOLER_SHARE, SURELY_CLOSED_SHARE = 0.75, 0.4
SLOW_CLOSED_SHARE, SLOW_COOL_SHARE = 0.13, 0.1
STILL_OPEN_SHARE = 0.6  # of the warmth at which a run ended; a cut-out closes at about 0.74 of its rise


def heed(case: Case, body: BodyMemory, now: float) -> None:
    """A new report: power on its level proves the body closed; a first fall is where an opening may lie."""
    kept, expected = case.kept, expected_in_report(case, body)
    high = HIGH_SHARE if kept.volts or kept.body.opened else ROUGH_HIGH_SHARE
    watts = _proof(kept, high * expected)
    if watts is None or kept.watts_at is None or kept.watts_at == body.judged_at:
        return
    body.judged_at = kept.watts_at
    nominal = case.house.house.mains_volts
    level = watts * (nominal / kept.volts) ** 2 if kept.volts else watts
    low = watts < high * expected
    if body.proven_watts is None and body.proven_at is not None and _begins(case, body, watts, low, now):
        return
    if body.fell_at is not None and not body.peak_watts and low:
        return  # open since switch-on
    body.peak_watts = max(body.peak_watts, round(level, 1))
    if level >= high * body.peak_watts:
        body.full_watts, body.drew_watts = body.peak_watts, watts
        _proven(case, body, watts, kept.watts_at, now)
    else:
        opening.fell(case, body, watts, kept.watts_at, now)


def _proof(kept: HeaterMemory, high_watts: float) -> float | None:
    """The watts that prove something: late enough after the switching. Of a slow meter full power proves at once, and
    anything does once it was seen to tell power at once, not means."""
    watts = evidence_watts(kept)
    if watts is not None or kept.watts is None or kept.watts_at is None or not is_slow(kept):
        return watts
    since = kept.watts_at - switched_at(kept)
    if since < METER_SETTLE_SECONDS:
        return None
    full = (
        high_watts <= kept.watts <= FULL_SHARE * high_watts
    )  # more is another level, whose mean may be as much
    if full and since <= NO_MEAN_SHARE * kept.meter_period:
        kept.body.no_means = True
    return kept.watts if kept.watts >= high_watts or kept.body.no_means else None


def _begins(case: Case, body: BodyMemory, watts: float, low: bool, now: float) -> bool:
    """A run's first proof. True where it is low: still open, or, told late, opened meanwhile."""
    assert body.proven_at is not None
    assert case.kept.watts_at is not None
    if low and is_slow(case.kept) and not body.opened:
        body.proven_watts = expected_watts(case)
        opening.fell(case, body, watts, case.kept.watts_at, now)
        _or_before(case, body)
        return True
    # it drew this from the start
    body.warmth = body.after(body.proven, watts, now - body.proven_at)
    body.proven_watts = watts
    if body.opened and low:
        return _still_open(case, body, case.kept.watts_at)
    if body.opened:
        opening.learn(case, body)
    return False


def _or_before(case: Case, body: BodyMemory) -> None:
    """What a run finds open after a short rest may have opened at the end of the one before, after its last report."""
    if body.fall is None or len(body.ended) != CANDIDATES:
        return
    if max(body.proven) < STILL_OPEN_SHARE * max(body.ended):
        return  # cooled so far that it had closed again
    share = room_share(case)
    body.fall.after = [
        max(one, round(end / share, 2)) for one, end in zip(body.fall.after, body.ended, strict=True)
    ]


def _still_open(case: Case, body: BodyMemory, at: float) -> bool:
    """Low power at switch-on is no opening: the body rests for longer. On a cold body it is another level instead."""
    cool = fraction(body, body.proven, room_share(case)) if body.weights else 0.0
    slow = is_slow(case.kept)  # one covered cools far more slowly, and a slow meter does not tell that it is
    if cool < (SLOW_CLOSED_SHARE if slow else SURELY_CLOSED_SHARE):
        return False
    body.fell_at, body.cool_share = at, SLOW_COOL_SHARE if slow else COOLER_SHARE * cool
    return True


def _proven(case: Case, body: BodyMemory, watts: float, at: float, now: float) -> None:
    body.proven = body.after(body.warmth, watts, at - now)
    body.proven_at, body.proven_watts, body.fell_at = at, watts, None
    body.opened, body.cool_share = False, 1.0
    high = HIGH_SHARE if case.kept.volts else ROUGH_HIGH_SHARE
    stands = watts >= high * expected_in_report(case, body)
    if stands and now >= body.doubtful_until and not suspicion.is_interrupted(case):
        share = room_share(case)
        body.most = [
            max(most, round(one / share, 2)) for most, one in zip(body.most, body.proven, strict=True)
        ]
        if seeks(body):
            weigh_intervals(body)
            tell(body, case.kept.facts)
