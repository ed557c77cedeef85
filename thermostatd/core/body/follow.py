"""Follows a heater's body from step to step: what it drew, and what an opening of its cut-out taught.

Rules: between reports the body is taken to draw what it drew last on this level; a gap without steps counts as ON
for as long as an order may have held, and nothing is learned soon after it; only reports that are evidence teach.
Writes the heater's `body` and the learned facts; never an order.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from thermostatd.core.body.brackets import opened_at_share, presume, seeks, weigh_intervals
from thermostatd.core.body.lessons import fraction, take, tell, trust_owner
from thermostatd.core.body.meter_lag import seconds_at_once, seconds_since_fall
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, all_later, later, warmth_of, watts_of
from thermostatd.core.facts import MOST_TRIPS, TripFact
from thermostatd.core.house import Heater
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.diagnosis import cover, elements, naming, suspicion
from thermostatd.core.meter.power import SLOW_PERIOD_SECONDS
from thermostatd.core.plug import METER_SETTLE_SECONDS, drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.values import Reading
from thermostatd.physics.heater_kinds import MAKES, heater_design, settings_of

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

HIGH_SHARE, ROUGH_HIGH_SHARE = 0.9, 0.84  # without volts the mains' drift is in the watts
NO_MEAN_SHARE = 0.7  # full power so early in a period: this meter tells no means
FULL_SHARE = 1.3
OVER_USUAL = 1.15
GAP_SECONDS = 180.0
ORDER_HOLDS_SECONDS = 1200.0
DOUBT_SECONDS, BEGUN_HOT_SECONDS = 2 * 3600.0, 3600.0
TAIL = 3
RECOGNISED_SECONDS = 4 * 3600.0
USUAL_CELSIUS = 20.0
COOLER_SHARE, SURELY_CLOSED_SHARE = 0.75, 0.4
SLOW_CLOSED_SHARE, SLOW_COOL_SHARE = 0.13, 0.1
EARLY_SHARE = 0.85
STILL_OPEN_SHARE = 0.6  # of the warmth at which a run ended; a cut-out closes at about 0.74 of its rise


def follow(case: Case) -> BodyMemory:
    """Bring the heater's body up to now."""
    body, kept, now = case.kept.body, case.kept, case.now.steady
    if _begin(body, case.heater, case.house.house.mains_volts, now) and is_on(kept):
        body.doubtful_until = now + BEGUN_HOT_SECONDS
    if not body.lessons and case.heater.sustained_watts is None:
        presume(body, _seen_late(case, body))
    _advance(body, now)
    _doubt_after_suspicion(case, body, now)
    on = is_on(kept)
    if on and not body.watts:
        _switched_on(body, now, _lately(kept.on_since, case), expected_watts(case))
    elif body.watts and not on:  # it was off since the order, not since this step
        body.warmth = _all(body, body.warmth, body.watts, -_lately(kept.off_since, case))
        body.ended = [round(one, 1) for one in body.warmth] if is_slow(kept) else []
    if not on and (evidence_watts(kept) or 0.0) > drawing_floor_watts(case.heater):
        body.doubtful_until = now + DOUBT_SECONDS  # it is heated all the same: a contact that stuck
        body.fall = None  # and was perhaps before it was told
    believed = _believed_watts(case, body) if on else 0.0
    if on:
        _heed(case, body, now)
    body.watts = believed
    if kept.facts.trip_count > body.trips_taken and (len(body.tail) >= TAIL or not on):
        _opened(case, body)
    return body


def _doubt_after_suspicion(case: Case, body: BodyMemory, now: float) -> None:
    """What lay on it kept it hotter than is known, until that was taken away."""
    suspected = suspicion.suspects(case)
    if body.suspected and not suspected:
        body.doubtful_until = max(body.doubtful_until, now + DOUBT_SECONDS)
    body.suspected = suspected


def is_on(kept: HeaterMemory) -> bool:
    """Whether the heater is taken to be on: as the plug shows, else as it was told."""
    return kept.shown_on if kept.shown_on is not None else kept.told_on


def expected_watts(case: Case) -> float:
    """What it would draw on its level, its cut-out closed, at the mains of now, W."""
    nominal, volts, body = case.house.house.mains_volts, case.kept.volts, case.kept.body
    if is_slow(case.kept) and body.drew_watts and not body.opened:
        # its runs often end before their level is sure; volts are told of a socket at rest
        return body.drew_watts
    level = (body.full_watts if body.opened else case.kept.facts.level_watts) or case.heater.watts
    return float(level * (volts / nominal) ** 2) if volts else level


def _expected_in_report(case: Case, body: BodyMemory) -> float:
    """The same at the volts that came with the report: a bad contact takes a tenth of the power, which is no fall."""
    if is_slow(case.kept) and case.kept.volts and body.full_watts and not body.opened:
        return float(body.full_watts * (case.kept.volts / case.house.house.mains_volts) ** 2)
    return expected_watts(case)


def room_share(case: Case) -> float:
    """The opening warmth in this room's air over that in one of 20 °C: a warm room leaves less rise."""
    celsius = case.air.celsius if isinstance(case.air, Reading) else USUAL_CELSIUS
    opens = MAKES[case.heater.kind].opens_celsius
    return max(0.1, (opens - celsius) / (opens - USUAL_CELSIUS))


@lru_cache(maxsize=64)
def _usual(
    kind: str, watts: float, volts: float, settings: tuple[float, ...], sustained: float | None
) -> tuple[float, float]:
    """The store of such a body, and the warmth at which it opens."""
    design = heater_design(kind, watts, volts, settings, sustained)  # type: ignore[arg-type]
    store = design.body_joules_per_kelvin * design.watts_per_kelvin_n ** (-1.0 / design.exponent)
    return round(float(store), 3), round(warmth_of(design.sustained_watts()), 6)


def _begin(body: BodyMemory, heater: Heater, volts: float, now: float) -> bool:
    """Whether this body was not followed before: how warm it is nobody knows, if it runs already."""
    new = body.store_joules is None
    if new:
        body.begun = now
    if body.store_joules is None or len(body.warmth) != CANDIDATES:
        body.store_joules, body.usual_opens = _usual(
            heater.kind, heater.watts, volts, heater.settings_watts, heater.sustained_watts
        )
        body.warmth, body.proven, body.most = [[0.0] * CANDIDATES for _ in range(3)]
        body.at = now
    if body.usual_opens is None:  # remembered by an earlier version
        body.usual_opens = _usual(
            heater.kind, heater.watts, volts, heater.settings_watts, heater.sustained_watts
        )[1]
    if heater.sustained_watts is not None and not body.lessons:
        trust_owner(body, heater.sustained_watts)
    return new


def _seen_late(case: Case, body: BodyMemory) -> bool:
    """Whether it is set to more than such bodies shed, and its meter would show an opening late.

    The lowest setting is not behind the cut-out (common practice, no published source).
    """
    heater, kept = case.heater, case.kept
    if kept.watts_at is None or not is_slow(kept):
        return False
    lowest = min(settings_of(heater.kind, heater.watts, heater.settings_watts))
    return expected_watts(case) > OVER_USUAL * max(lowest, watts_of(body.usual_opens or 0.0))


def _advance(body: BodyMemory, now: float) -> None:
    assert body.store_joules is not None
    seconds = now - body.at if body.at is not None else 0.0
    body.at = now
    if seconds <= 0.0:
        return
    if seconds <= GAP_SECONDS:
        if body.watts or body.warmth[0]:
            body.warmth = all_later(body.warmth, body.watts, seconds, body.store_joules)
        return
    on = min(seconds, ORDER_HOLDS_SECONDS) if body.watts else 0.0
    if on:
        body.warmth = all_later(body.warmth, body.watts, on, body.store_joules)
        body.doubtful_until = now + DOUBT_SECONDS
    body.warmth = all_later(body.warmth, 0.0, seconds - on, body.store_joules)
    body.watts, body.proven_at, body.fell_at = 0.0, None, None


def _lately(since: float | None, case: Case) -> float:
    """Seconds of the last step that went by after a switching then; 0 where none is known."""
    return min(max(case.now.steady - since, 0.0), case.now.seconds) if since is not None else 0.0


def _switched_on(body: BodyMemory, now: float, seconds: float, watts: float) -> None:
    body.proven, body.proven_at, body.proven_watts = list(body.warmth), now - seconds, None
    body.peak_watts, body.fell_at = 0.0, None
    body.warmth = _all(body, body.warmth, watts, seconds)


def _believed_watts(case: Case, body: BodyMemory) -> float:
    """The last proven power of this run; until there is one, what is expected of its level."""
    watts = evidence_watts(case.kept)
    return max(watts, 1.0) if watts is not None else max(body.proven_watts or expected_watts(case), 1.0)


def _heed(case: Case, body: BodyMemory, now: float) -> None:
    """A new report: power on its level proves the body closed; a first fall is where an opening may lie."""
    kept, expected = case.kept, _expected_in_report(case, body)
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
    body.peak_watts = max(body.peak_watts, level)
    if level >= high * body.peak_watts:
        body.full_watts, body.drew_watts = round(body.peak_watts, 1), watts
        _proven(case, body, watts, kept.watts_at, now)
    else:
        _fell(case, body, watts, kept.watts_at, now)


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


def is_slow(kept: HeaterMemory) -> bool:
    """Whether an opening may lie between switch-on and the first report that proves anything."""
    return kept.meter_period > SLOW_PERIOD_SECONDS


def _begins(case: Case, body: BodyMemory, watts: float, low: bool, now: float) -> bool:
    """A run's first proof. True where it is low: still open, or, told late, opened meanwhile."""
    assert body.store_joules is not None
    assert body.proven_at is not None
    assert case.kept.watts_at is not None
    if low and is_slow(case.kept) and not body.opened:
        body.proven_watts = expected_watts(case)
        _fell(case, body, watts, case.kept.watts_at, now)
        _or_before(case, body)
        return True
    # it drew this from the start
    body.warmth = all_later(body.proven, watts, now - body.proven_at, body.store_joules)
    body.proven_watts = watts
    if body.opened and low:
        return _still_open(case, body, case.kept.watts_at)
    if body.opened:
        _opened(case, body)
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
    assert body.store_joules is not None
    body.proven = (
        all_later(body.warmth, watts, at - now, body.store_joules) if at != now else list(body.warmth)
    )
    body.proven_at, body.proven_watts, body.fell_at = at, watts, None
    body.opened, body.cool_share = False, 1.0
    expected = _expected_in_report(case, body)
    high = HIGH_SHARE if case.kept.volts else ROUGH_HIGH_SHARE
    if watts >= high * expected and now >= body.doubtful_until and not suspicion.is_interrupted(case):
        share = room_share(case)
        body.most = [
            max(most, round(one / share, 2)) for most, one in zip(body.most, body.proven, strict=True)
        ]
        if seeks(body):
            weigh_intervals(body)
            tell(body, case.kept.facts)


def _fell(case: Case, body: BodyMemory, watts: float, at: float, now: float) -> None:
    """Power fell: if that was the cut-out, it opened between the last report and this one."""
    assert body.proven_at is not None
    before_watts = body.proven_watts or watts
    if body.fell_at is None:
        body.fell_at, body.opened, body.tail = at, True, []
        wide = max(0.0, at - body.proven_at)
        least, most = _told_by_one(case, body, before_watts, watts, wide)
        ago = least if body.wide else 0.5 * (least + most)  # to be taken for too warm is the safe side
        opened = _all(body, body.proven, before_watts, wide - ago)
        body.warmth = _all(body, opened, watts, now - at + ago)
        body.fall = None if _is_doubtful(case, body, now) else _fall_of(case, body, wide - most, wide - least)
    if len(body.tail) < TAIL:
        body.tail.append(watts)
        if len(body.tail) == TAIL and body.fall is not None:
            _sharpen(case, body, before_watts, now)


def _is_doubtful(case: Case, body: BodyMemory, now: float) -> bool:
    """Whether nobody knows how warm it is: after a gap, or soon after it was first followed by reports far apart."""
    hot = is_slow(case.kept) and body.begun is not None and now < body.begun + BEGUN_HOT_SECONDS
    return hot or now < body.doubtful_until


def _told_by_one(
    case: Case, body: BodyMemory, before_watts: float, watts: float, wide: float
) -> tuple[float, float]:
    """The least and the most seconds since the fall, by a slow meter's first reading after it."""
    if not is_slow(case.kept) or not body.no_means:
        return 0.0, wide
    heater, nominal, volts = case.heater, case.house.house.mains_volts, case.kept.volts
    lowest = min(settings_of(heater.kind, heater.watts, heater.settings_watts))
    end = lowest * (volts / nominal) ** 2 if volts else lowest
    return seconds_at_once(before_watts, watts, end if watts >= HIGH_SHARE * end else watts, wide)


def _sharpen(case: Case, body: BodyMemory, before_watts: float, now: float) -> None:
    """Three readings after a fall may tell its moment more closely than the two reports round it."""
    assert body.proven_at is not None
    assert body.fell_at is not None
    wide = body.fell_at - body.proven_at
    least, most = seconds_since_fall(before_watts, body.tail, wide, case.kept.meter_period)
    body.fall = _fall_of(case, body, wide - most, wide - least)
    until_open = wide - 0.5 * (least + most)
    opened = _all(body, body.proven, before_watts, until_open)
    body.warmth = _all(body, opened, body.tail[-1], max(0.0, now - body.proven_at - until_open))


def _fall_of(case: Case, body: BodyMemory, from_seconds: float, to_seconds: float) -> Lesson:
    """What it would teach if the cut-out opened between these seconds after the last proof."""
    share, watts = room_share(case), body.proven_watts or 0.0
    sides = (_all(body, body.proven, watts, max(0.0, seconds)) for seconds in (from_seconds, to_seconds))
    before, after = ([round(one / share, 2) for one in side] for side in sides)
    ran = case.now.steady - case.kept.on_since if case.kept.on_since is not None else 0.0
    return Lesson(float(round(case.now.best.timestamp())), before, after, round(ran))


def _opened(case: Case, body: BodyMemory) -> None:
    """The fall was an opening, as was recognised, or as full power on a cooled body shows: learn from it."""
    counted, fall = case.kept.facts.trip_count > body.trips_taken, body.fall
    if naming.is_less(case.kept):
        body.fall = None  # power is back because someone turned the selector back
    elif fall is not None and case.now.best.timestamp() - fall.at_wall < RECOGNISED_SECONDS:
        body.fall, body.trial = None, False
        after = body.tail[-1] if body.tail else 0.0
        share = opened_at_share(body, fall) if is_slow(case.kept) else 1.0
        nothing = after <= drawing_floor_watts(case.heater)
        level = body.full_watts or case.kept.facts.level_watts or case.heater.watts
        if share < EARLY_SHARE and not nothing:
            cover.opened_under_what_it_stood(case, share)
        elif suspicion.suspects(case):
            pass  # under a cover, or by its dial: it says nothing of the body
        elif share >= EARLY_SHARE and not (nothing and elements.leaves_an_element(case, level)):
            take(body, fall, is_slow(case.kept))
            tell(body, case.kept.facts)
            if not counted:
                _count(case, fall, after)
    body.trips_taken = case.kept.facts.trip_count


def _count(case: Case, fall: Lesson, after_watts: float) -> None:
    """An opening that only the next run's full power has shown: told and counted as any other."""
    facts, now = case.kept.facts, case.now
    before = case.kept.body.full_watts or case.heater.watts
    facts.trips.append(TripFact(fall.at_wall, fall.ran_seconds, before, round(after_watts, 1)))
    del facts.trips[:-MOST_TRIPS]
    facts.trip_count += 1
    case.notes("cut-out")["tripped_at"] = now.steady


def _all(body: BodyMemory, warmth: list[float], watts: float, seconds: float) -> list[float]:
    assert body.store_joules is not None
    if seconds == 0.0:
        return list(warmth)
    return [
        round(later(one, watts, seconds, body.store_joules * share), 3)
        for one, share in zip(warmth, SHARES, strict=True)
    ]
