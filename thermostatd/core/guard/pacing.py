"""Trips when a heater's body nears the warmth at which its own cut-out opens; clears when a shortest run fits again.

Rules: nothing is held before an opening was seen (or the owner wrote what it sustains), and of kinds that stand their
label none counts: paced by whole runs and rests, so small a body would give half; an ON is let through only
if its shortest run ends under the limit, so that no shortest run is cut (save where not even one from cold would
fit). After one opening the limit is sought, never after two: where reports are close, by a single run from a
half-warm body that may go on until it opens, since two openings together tell how large the store is; where they are
far apart, by runs that end at a report and each go a little further than was stood, until one of them opens.
"""

from __future__ import annotations

from thermostatd.core.body.brackets import KNOWN_SHARE, ever, outlook, seeks, unsure_share
from thermostatd.core.body.expected import expected_watts, is_slow, room_share
from thermostatd.core.body.follow import follow
from thermostatd.core.body.lessons import fraction
from thermostatd.core.body.opening import TAIL
from thermostatd.core.body.outlook import ahead, from_cold
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.guard.soon import is_told_soon, report_in
from thermostatd.core.meter import logbook
from thermostatd.core.meter.diagnosis import elements, suspicion
from thermostatd.core.plug import METER_SETTLE_SECONDS, drawing_floor_watts
from thermostatd.core.results import Verdict

CODE = "pacing"
SAFETY = False
LIMIT_SHARE = 0.98  # of the warmth at which it opens; its 1.3rd power of the watts
COARSE_LESS, FINE_SECONDS, COARSE_SECONDS = 0.03, 10.0, 60.0  # so much less where steps are a minute apart
UNSURE_LIMIT_SHARE, FAR_LIMIT_SHARE = 0.92, 0.972
# Of what it had stood at the last report before it opened last: where reports are half a minute apart it may have
# opened at once after that one, and an opening in a run's last seconds is never told. No less than so much in any case.
PROVEN_SHARE, LEAST_LIMIT_SHARE = 0.98, 0.88
TRIAL_FROM, TRIAL_UNTIL_SHARE = 0.35, 0.62
MOST_TRIALS = 2
# A run may be so likely to open it, or go so much further than was stood; and shall go further than the last one went
# after its report, so that an opening that was missed there is seen.
LEAST_RISK, STEP_SHARE, SURE_STEP_SHARE = 0.03, 0.05, 0.01
MOST_REPORTS = 6
REPORTS_LATE_SECONDS, LATE_SHARE = 8.0, 0.05  # a report that does not come ends the run there
SLACK = 1.5  # so that the mains' drift does not end a run just before its report
CLOSED_SHARE = 0.6
COLD_SHARE, COLD_SECONDS = 0.08, 86400.0
LOOK_SECONDS, LOOK_REPORTS = 90.0, 3.5


def judge(case: Case) -> Verdict:
    body = follow(case)
    if not case.wanted or not body.weights:
        return good(CODE)
    running = case.kept.told_on
    if body.wide and not body.lessons and ever(body, expected_watts(case), room_share(case)) <= LEAST_RISK:
        return good(CODE)  # it has stood nearly all that it can come to
    hold = _must_stop(case, body) if running else _must_wait(case, body)
    return tripped(CODE, safety=SAFETY) if hold else good(CODE)


def limit_share(body: BodyMemory, tick_seconds: float) -> float:
    """The most that a run may come to, as a share of the opening warmth: less where it is looked at seldom."""
    seldom = min(1.0, max(0.0, (tick_seconds - FINE_SECONDS) / (COARSE_SECONDS - FINE_SECONDS)))
    return _often_looked_at(body) - COARSE_LESS * seldom


def _limit_share(case: Case, body: BodyMemory) -> float:
    return limit_share(body, case.house.house.tick)


def _often_looked_at(body: BodyMemory) -> float:
    if body.wide:
        known = len(body.lessons) > 1 or (bool(body.lessons) and unsure_share(body) <= KNOWN_SHARE)
        return FAR_LIMIT_SHARE if known else UNSURE_LIMIT_SHARE
    if len(body.lessons) < 2:
        return UNSURE_LIMIT_SHARE
    stood = fraction(body, body.lessons[-1].before)
    return min(LIMIT_SHARE, max(LEAST_LIMIT_SHARE, PROVEN_SHARE * stood))


def _must_stop(case: Case, body: BodyMemory) -> bool:
    """Whether a running heater has to rest: it is open already, or would pass the limit before the next step."""
    on_since = case.kept.on_since
    ran = case.now.steady - on_since if on_since is not None else 0.0
    if ran < case.heater.min_on and _fits_from_cold(case, body):
        return False
    if body.fell_at is not None and not _is_off_at_its_dial(case, body):
        # looked at first: an opening that is not recognised teaches nothing
        looked = 0.0 if is_slow(case.kept) else max(LOOK_SECONDS, LOOK_REPORTS * case.kept.meter_period)
        return (body.fall is None and len(body.tail) >= TAIL) or case.now.steady - body.fell_at >= looked
    if body.trial:
        return body.wide and _ends_its_step(case, body)
    return ahead(body, max(body.watts, 1.0), case.house.house.tick) > _limit_share(case, body) * room_share(case)


def _is_off_at_its_dial(case: Case, body: BodyMemory) -> bool:
    """To nothing, where a cut-out would leave an element: a rest would hide from a slow meter that it comes back."""
    nothing = bool(body.tail) and body.tail[-1] <= drawing_floor_watts(case.heater)
    if not is_slow(case.kept) or not nothing:
        return False
    if elements.leaves_an_element(case, body.full_watts):
        return not _keeps_step(case)
    return _is_looked_into(case) and not logbook.says_no_more(case.notes("cut-out"))


def _keeps_step(case: Case) -> bool:
    """Nothing so often in one run that a dial's beat may be the reports' own: after a rest the next begins anew."""
    on_since, count = case.kept.on_since, case.notes("drawing-nothing").get("nothing_count", 0)
    ran = case.now.steady - on_since if on_since is not None else 0.0
    return count >= logbook.MOST_NOTHING and ran >= logbook.MOST_NOTHING * case.kept.meter_period


def _is_looked_into(case: Case) -> bool:
    """Whether it is being found out what keeps interrupting it: only a run that goes on tells a slow meter."""
    return is_slow(case.kept) and logbook.NAME in case.notes("cut-out") and suspicion.suspects(case)


def _must_wait(case: Case, body: BodyMemory) -> bool:
    """Whether a shortest run from now would pass the limit."""
    share = room_share(case)
    at_present = fraction(body, body.warmth, share)
    _end_trial(body)
    if _is_looked_into(case):
        return _waits_to_be_told(case, body, at_present)
    if at_present > (min(body.cool_share, CLOSED_SHARE) if body.wide and body.opened else body.cool_share):
        return True
    if body.opened and is_slow(case.kept) and not is_told_soon(case):
        return True
    if seeks(body) and not body.opened:
        body.trial = _is_a_step(case, body)
        if body.trial or _steps_from_cold(case, body):
            return not body.trial and at_present > COLD_SHARE
    if _may_try(case, body):
        if at_present > TRIAL_UNTIL_SHARE:
            return True
        if at_present >= TRIAL_FROM:
            body.trial, body.trials = True, body.trials + 1
            return False
    if not _fits_from_cold(case, body):
        return at_present > COLD_SHARE
    return ahead(body, expected_watts(case), case.heater.min_on) > _limit_share(case, body) * share


def _end_trial(body: BodyMemory) -> None:
    """One that ended before it opened, since no heat was wanted any more, told nothing and is not counted."""
    if body.trial and not body.wide and body.trials:
        body.trials -= 1
    body.trial = False


def _waits_to_be_told(case: Case, body: BodyMemory, at_present: float) -> bool:
    """Whether a run from now would tell little: its first report shows only that it closed, so it shall see two."""
    if not is_told_soon(case, logbook.runs(case.notes("cut-out"))):
        return True
    reached = ahead(body, expected_watts(case), METER_SETTLE_SECONDS + case.kept.meter_period)
    return at_present > COLD_SHARE and reached > _limit_share(case, body) * room_share(case)


def _may_try(case: Case, body: BodyMemory) -> bool:
    """After one opening, closely seen, on a level that would open it again."""
    one = len(body.lessons) == 1 and not body.wide and body.trials < MOST_TRIALS
    return one and expected_watts(case) > 1.05 * (case.kept.facts.opens_watts or 0.0)


def _ends_its_step(case: Case, body: BodyMemory) -> bool:
    """The report that a run was made for is there and the next one lies too far, or no more is dared."""
    on_since, told_at = case.kept.on_since, case.kept.watts_at
    told = on_since is not None and told_at is not None and told_at >= on_since + _shortest(case)
    watts, share = max(body.watts, 1.0), room_share(case)
    seconds = report_in(case, 1.0) if told else case.house.house.tick
    risk, over = outlook(body, watts, seconds, share)
    if risk <= SLACK * LEAST_RISK or over <= LATE_SHARE + max(STEP_SHARE, body.dared + SURE_STEP_SHARE):
        return False
    if told:  # it may have opened since: the next one goes further than that
        body.dared = round(outlook(body, watts, REPORTS_LATE_SECONDS, share)[1], 3)
    return True


def _is_a_step(case: Case, body: BodyMemory) -> bool:
    """Whether a run up to a report goes clearly further than was stood, and no more than it may.

    It begins at the last tick at which it would, so that its step is as small as it can be.
    """
    watts, share, least = expected_watts(case), room_share(case), body.dared + SURE_STEP_SHARE
    first, period, tick = report_in(case, _shortest(case)), case.kept.meter_period, case.house.house.tick
    for count in range(MOST_REPORTS):
        seconds = first + count * period
        risk, over = outlook(body, watts, seconds, share)
        if over >= least:
            a_tick_later = outlook(body, watts, max(0.0, seconds - tick), share, tick)[1]
            last = seconds - tick < _shortest(case)
            return risk <= LEAST_RISK or a_tick_later < least or (last and over <= STEP_SHARE)
    return False


def _steps_from_cold(case: Case, body: BodyMemory) -> bool:
    """Whether a run of a cold body could go further than was stood: only then is it worth waiting for."""
    seconds = _shortest(case) + (MOST_REPORTS - 1) * case.kept.meter_period
    _, over = outlook(body, expected_watts(case), seconds, room_share(case), COLD_SECONDS)
    return over >= body.dared + SURE_STEP_SHARE


def _shortest(case: Case) -> float:
    """The shortest run in which a report proves something, s."""
    return max(case.heater.min_on, case.kept.meter_period)


def _fits_from_cold(case: Case, body: BodyMemory) -> bool:
    run = from_cold(body, expected_watts(case), case.heater.min_on)
    return run <= _limit_share(case, body) * room_share(case)
