"""A fall of power, and what it teaches of the body if it turns out to be an opening of the cut-out.

Rules: an opening lies between the last report on the level and the first below it; a few readings after it, or one of a
slow meter, may tell its moment more closely. Nothing is learned of it before the opening is recognised, or the next
run's full power shows it; nor while nobody knows how warm the body is, or something keeps it from its warmth; nor of
kinds that stand their label (common practice, no published source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body.beginning import BEGUN_HOT_SECONDS
from thermostatd.core.body.brackets import opened_at_share
from thermostatd.core.body.expected import HIGH_SHARE, is_slow, room_share
from thermostatd.core.body.lessons import take, tell
from thermostatd.core.body.meter_lag import seconds_at_once, seconds_since_fall
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.facts import MOST_TRIPS, TripFact
from thermostatd.core.meter.diagnosis import cover, elements, naming, suspicion
from thermostatd.core.plug import drawing_floor_watts
from thermostatd.physics.heater_kinds import settings_of

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

TAIL = 3
RECOGNISED_SECONDS = 4 * 3600.0
EARLY_SHARE = 0.85


def fell(case: Case, body: BodyMemory, watts: float, at: float, now: float) -> None:
    """Power fell: if that was the cut-out, it opened between the last report and this one."""
    assert body.proven_at is not None
    before_watts = body.proven_watts or watts
    if body.fell_at is None:
        body.fell_at, body.opened, body.tail = at, True, []
        wide = max(0.0, at - body.proven_at)
        least, most = _told_by_one(case, body, before_watts, watts, wide)
        ago = least if body.wide else 0.5 * (least + most)  # to be taken for too warm is the safe side
        opened = body.after(body.proven, before_watts, wide - ago)
        body.warmth = body.after(opened, watts, now - at + ago)
        body.fall = None if _is_doubtful(case, body, now) else _fall_of(case, body, wide - most, wide - least)
    if len(body.tail) < TAIL:
        body.tail.append(watts)
        if len(body.tail) == TAIL and body.fall is not None:
            _sharpen(case, body, before_watts, now)


def learn(case: Case, body: BodyMemory) -> None:
    """The fall was an opening, as was recognised, or as full power on a cooled body shows: learn from it."""
    fall = body.fall
    if naming.is_less(case.kept):
        body.fall = None  # power is back because someone turned the selector back
    elif fall is not None and case.now.best.timestamp() - fall.at_wall < RECOGNISED_SECONDS:
        body.fall, body.trial = None, False
        _learn_of(case, body, fall)
    body.trips_taken = case.kept.facts.trip_count


def _learn_of(case: Case, body: BodyMemory, fall: Lesson) -> None:
    facts, slow = case.kept.facts, is_slow(case.kept)
    after = body.tail[-1] if body.tail else 0.0
    share = opened_at_share(body, fall) if slow else 1.0
    nothing = after <= drawing_floor_watts(case.heater)
    level = body.full_watts or facts.level_watts or case.heater.watts
    if share < EARLY_SHARE and not nothing:
        cover.opened_under_what_it_stood(case, share)
    elif suspicion.suspects(case):
        pass  # under a cover, or by its dial: it says nothing of the body
    elif share >= EARLY_SHARE and not (nothing and elements.leaves_an_element(case, level)):
        counted = facts.trip_count > body.trips_taken
        if not elements.is_quick(case):  # it stands its label; and paced by whole runs and rests it would give half
            take(body, fall, slow)
            tell(body, facts)
        if not counted:
            _count(case, fall, after)


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
    opened = body.after(body.proven, before_watts, until_open)
    body.warmth = body.after(opened, body.tail[-1], max(0.0, now - body.proven_at - until_open))


def _fall_of(case: Case, body: BodyMemory, from_seconds: float, to_seconds: float) -> Lesson:
    """What it would teach if the cut-out opened between these seconds after the last proof."""
    share, watts = room_share(case), body.proven_watts or 0.0
    sides = (body.after(body.proven, watts, max(0.0, seconds)) for seconds in (from_seconds, to_seconds))
    before, after = ([round(one / share, 2) for one in side] for side in sides)
    ran = case.now.steady - case.kept.on_since if case.kept.on_since is not None else 0.0
    return Lesson(float(round(case.now.best.timestamp())), before, after, round(ran))


def _count(case: Case, fall: Lesson, after_watts: float) -> None:
    """An opening that only the next run's full power has shown: told and counted as any other."""
    facts, now = case.kept.facts, case.now
    before = case.kept.body.full_watts or case.heater.watts
    facts.trips.append(TripFact(fall.at_wall, fall.ran_seconds, before, round(after_watts, 1)))
    del facts.trips[:-MOST_TRIPS]
    facts.trip_count += 1
    case.notes("cut-out")["tripped_at"] = now.steady
