"""Trips when a heater's body nears the warmth at which its own cut-out opens; clears when a shortest run fits again.

Rules: nothing is held before an opening was seen (or the owner wrote what it sustains); an ON is let through only
if its shortest run ends under the limit, so that no shortest run is cut (save where not even one from cold would
fit); after one opening a single run from a half-warm body may go on until it opens, since two openings together
tell how large the store is; never more.
"""

from __future__ import annotations

from thermostatd.core.body.follow import TAIL, expected_watts, follow, room_share
from thermostatd.core.body.lessons import fraction
from thermostatd.core.body.outlook import ahead, from_cold
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.results import Verdict

CODE = "pacing"
SAFETY = False
LIMIT_SHARE = 0.98  # of the warmth at which it opens; its 1.3rd power of the watts
UNSURE_LIMIT_SHARE = 0.92
TRIAL_FROM, TRIAL_UNTIL_SHARE = 0.35, 0.62
MOST_TRIALS = 2
SLOWEST_TRIAL_REPORTS_SECONDS = 60.0
COLD_SHARE = 0.08
LOOK_SECONDS, LOOK_REPORTS = 90.0, 3.5


def judge(case: Case) -> Verdict:
    body = follow(case)
    if not case.wanted or not body.weights:
        return good(CODE)
    running = case.kept.told_on
    hold = _must_stop(case, body) if running else _must_wait(case, body)
    return tripped(CODE, safety=SAFETY) if hold else good(CODE)


def limit_share(body: BodyMemory) -> float:
    """The most that a run may come to, as a share of the opening warmth."""
    return LIMIT_SHARE if len(body.lessons) > 1 else UNSURE_LIMIT_SHARE


def _must_stop(case: Case, body: BodyMemory) -> bool:
    """Whether a running heater has to rest: it is open already, or would pass the limit before the next step."""
    on_since = case.kept.on_since
    ran = case.now.steady - on_since if on_since is not None else 0.0
    if ran < case.heater.min_on and _fits_from_cold(case, body):
        return False
    if body.fell_at is not None:  # looked at first: an opening that is not recognised teaches nothing
        looked = max(LOOK_SECONDS, LOOK_REPORTS * case.kept.meter_period)
        return (body.fall is None and len(body.tail) >= TAIL) or case.now.steady - body.fell_at >= looked
    if body.trial:
        return False
    return ahead(body, max(body.watts, 1.0), case.house.house.tick) > limit_share(body) * room_share(case)


def _must_wait(case: Case, body: BodyMemory) -> bool:
    """Whether a shortest run from now would pass the limit."""
    share = room_share(case)
    at_present = fraction(body, body.warmth, share)
    body.trial = False
    if at_present > body.cool_share:
        return True
    if _may_try(case, body):
        if at_present > TRIAL_UNTIL_SHARE:
            return True
        if at_present >= TRIAL_FROM:
            body.trial, body.trials = True, body.trials + 1
            return False
    if not _fits_from_cold(case, body):
        return at_present > COLD_SHARE
    return ahead(body, expected_watts(case), case.heater.min_on) > limit_share(body) * share


def _may_try(case: Case, body: BodyMemory) -> bool:
    """After one opening, on a level that would open it again, with a meter quick enough to see it."""
    meter = case.kept.meter_period <= SLOWEST_TRIAL_REPORTS_SECONDS
    one = len(body.lessons) == 1 and body.trials < MOST_TRIALS
    return one and meter and expected_watts(case) > 1.05 * (case.kept.facts.opens_watts or 0.0)


def _fits_from_cold(case: Case, body: BodyMemory) -> bool:
    run = from_cold(body, expected_watts(case), case.heater.min_on)
    return run <= limit_share(body) * room_share(case)
