"""How the power of a followed body falls, and what an opening teaches."""

from __future__ import annotations

import pytest

from tests.core.body.followed import (
    COLUMN_1500,
    MIDDLE,
    STORE,
    WALL,
    after,
    at_middle,
    body_of,
    each,
    metered,
    resting,
    running,
)
from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import study
from thermostatd.core.body.follow import follow
from thermostatd.core.body.meter_lag import seconds_at_once, seconds_since_fall
from thermostatd.core.body.state import Lesson
from thermostatd.core.body.store import SHARES, later, watts_of
from thermostatd.core.facts import HeaterFacts, TripFact

# How power falls.


def test_a_fall_lies_between_the_last_proof_and_its_report():
    """By a quick meter in the middle; the body cools since on what is left."""
    body = follow(metered(100.0))
    opened = later(40.0, 600.0, 30.0, STORE)
    assert (body.fell_at, body.opened, body.tail) == (NOW, True, [100.0])
    assert body.warmth[MIDDLE] == after(opened, 100.0, 30.0)
    assert body.fall.before == each(40.0)
    assert body.fall.after == pytest.approx(
        [later(40.0, 600.0, 60.0, STORE * share) for share in SHARES], abs=6e-3
    )
    assert body.fall.ran_seconds == 900.0
    assert body.fall.at_wall == WALL


def test_the_warmth_of_a_fall_is_told_for_a_room_of_twenty_degrees():
    """In hundredths; of a run whose beginning is not known, no seconds."""
    body = follow(metered(100.0, air=35.5, on_since=None, settled_at=NOW - 300.0))
    assert body.fall.before == each(round(40.0 / 0.75, 2))
    assert body.fall.ran_seconds == 0.0


def test_where_openings_lie_far_apart_it_is_taken_to_have_opened_late():
    """To be taken for too warm is the safe side."""
    lessons = [Lesson(0.0, each(100.0), each(101.0))]
    body = body_of(wide=True, lessons=lessons, weights=at_middle(), opens=each(100.0))
    body = follow(metered(100.0, body))
    assert body.warmth[MIDDLE] == after(40.0, 600.0, 60.0)


def test_a_fall_is_no_lesson_while_its_warmth_is_in_doubt():
    """To the second; of a slow meter, in the first hour besides."""
    for doubtful, period, begun, lesson in (
        (NOW, 10.0, NOW, True), (NOW + 0.1, 10.0, 0.0, False), (0.0, 300.0, NOW - 3600.0, True),
        (0.0, 300.0, NOW - 3599.0, False), (0.0, 300.0, None, True),
    ):  # fmt: skip
        body = follow(metered(100.0, body_of(doubtful_until=doubtful, begun=begun), meter_period=period))
        assert (body.fall is not None) is lesson
        assert body.opened


def test_three_reports_may_tell_when_it_fell():
    """A reading in between, then its end twice: a mean of this period, so it fell seven tenths of it before."""
    body = follow(metered(250.0, at=NOW - 20.0, body=body_of(at=NOW - 20.0, proven_at=NOW - 80.0)))
    assert (body.fell_at, body.tail) == (NOW - 20.0, [250.0])
    for at in (NOW - 10.0, NOW):
        body = follow(metered(100.0, body, at=at))
    assert body.tail == [250.0, 100.0, 100.0]
    until = 60.0 - 0.5 * (0.7 * 10.0 + 1.0)  # to the middle of what it may be: 0 … 8 s
    opened = later(40.0, 600.0, until, STORE)
    assert body.warmth[MIDDLE] == after(opened, 100.0, 80.0 - until)
    assert body.fall.before[MIDDLE] == pytest.approx(later(40.0, 600.0, 52.0, STORE), abs=6e-3)
    assert body.fall.after[MIDDLE] == pytest.approx(later(40.0, 600.0, 60.0, STORE), abs=6e-3)
    body.warmth = each(50.0)
    assert follow(metered(100.0, body, at=NOW + 10.0)).tail == [250.0, 100.0, 100.0]
    assert body.warmth == each(50.0)


def test_one_reading_of_a_slow_meter_without_means_tells_when_it_fell():
    """At its end it fell some seconds ago; in between it fell just now."""
    fields = {"no_means": True, "watts": 1500.0, "proven_watts": 1500.0, "peak_watts": 1500.0,
              "full_watts": 1500.0, "proven_at": NOW - 300.0}  # fmt: skip
    for watts, least, most in ((588.0, 9.657, 300.0), (1000.0, 0.0, 1.0 + 12.0 * 0.7947)):
        case = metered(watts, body_of(**fields), toml=COLUMN_1500, meter_period=300.0)
        body = follow(case)
        before, later_on = (later(40.0, 1500.0, 300.0 - one, STORE) for one in (most, least))
        assert body.fall.before[MIDDLE] == pytest.approx(before, abs=0.02)
        assert body.fall.after[MIDDLE] == pytest.approx(later_on, abs=0.02)
    fields["no_means"] = False
    body = follow(metered(588.0, body_of(**fields), toml=COLUMN_1500, meter_period=300.0))
    assert (body.fall.before[MIDDLE], body.fall.after[MIDDLE]) == (
        40.0, pytest.approx(later(40.0, 1500.0, 300.0, STORE), abs=0.02)
    )  # fmt: skip


def test_a_lagging_meter_tells_how_long_ago_it_fell():
    """Its readings near their end by one share each period (derived: an exponential): between 20 and 26 s."""
    body = body_of(at=NOW - 20.0, proven_at=NOW - 80.0)
    for at, watts in ((NOW - 20.0, 150.0), (NOW - 10.0, 125.0), (NOW, 112.5)):
        body = follow(metered(watts, body, at=at))
    least, most = seconds_since_fall(600.0, [150.0, 125.0, 112.5], 60.0, 10.0)
    assert 0.0 < least < most < 60.0
    assert body.fall.before[MIDDLE] == pytest.approx(later(40.0, 600.0, 60.0 - most, STORE), abs=6e-3)
    assert body.fall.after[MIDDLE] == pytest.approx(later(40.0, 600.0, 60.0 - least, STORE), abs=6e-3)
    until = 60.0 - 0.5 * (least + most)
    assert body.warmth[MIDDLE] == after(later(40.0, 600.0, until, STORE), 112.5, 80.0 - until)


@pytest.mark.parametrize(("watts", "volts", "end"), [(560.0, None, 500.0), (700.0, 207.0, 405.0), (449.0, None, 449.0),
                                                      (450.0, None, 500.0), (300.0, None, 300.0)])  # fmt: skip
def test_a_fall_ends_on_its_lowest_setting_at_the_mains_of_now(watts, volts, end):
    """Or, more than a tenth under that, where it is."""
    toml = COLUMN_1500.replace("588, 912", "500, 1000")
    full = 1500.0 if volts is None else 1500.0 * 0.81
    body = body_of(no_means=True, watts=full, proven_watts=full, peak_watts=1500.0, full_watts=1500.0,
                   proven_at=NOW - 300.0)  # fmt: skip
    body = follow(metered(watts, body, toml=toml, meter_period=300.0, volts=volts))
    least, most = seconds_at_once(full, watts, end, 300.0)
    assert body.fall.before[MIDDLE] == pytest.approx(later(40.0, full, 300.0 - most, STORE), abs=0.02)
    assert body.fall.after[MIDDLE] == pytest.approx(later(40.0, full, 300.0 - least, STORE), abs=0.02)


def test_a_lowest_setting_that_is_not_written_is_that_of_its_kind():
    """588 of 1500 W (common practice, no published source)."""
    body = body_of(no_means=True, watts=1500.0, proven_watts=1500.0, peak_watts=1500.0, full_watts=1500.0,
                   proven_at=NOW - 300.0)  # fmt: skip
    toml = study().replace("watts = 600", "watts = 1500")
    body = follow(metered(700.0, body, toml=toml, meter_period=300.0))
    _, most = seconds_at_once(1500.0, 700.0, 588.0, 300.0)
    assert most < 100.0
    assert body.fall.before[MIDDLE] == pytest.approx(later(40.0, 1500.0, 300.0 - most, STORE), abs=0.02)


def test_what_a_run_finds_open_may_have_opened_at_the_end_of_the_one_before():
    """If it has not cooled so far that it would have closed: under six tenths of that."""
    for proven, kept in ((60.0, True), (59.9, False)):
        body = body_of(proven_watts=None, peak_watts=0.0, proven=each(proven), ended=each(100.0))
        body = follow(metered(100.0, body, meter_period=300.0, air=35.5))
        found = later(proven, 600.0, 60.0, STORE) / 0.75
        if kept:
            assert body.fall.after[MIDDLE] == 133.33
        else:
            assert body.fall.after[MIDDLE] == pytest.approx(found, abs=6e-3)
    body = body_of(proven_watts=None, peak_watts=0.0, proven=each(60.0), ended=[])
    assert follow(metered(100.0, body, meter_period=300.0)).fall.after[MIDDLE] == pytest.approx(
        later(60.0, 600.0, 60.0, STORE), abs=6e-3
    )


# What an opening teaches.

FALL = {"at_wall": WALL - 600.0, "before": each(100.0), "after": each(101.0), "ran_seconds": 700.0}


def opened(fall: dict | None = None, *, tail=(588.0, 588.0, 588.0), count=1, period=10.0, facts=None, notes=None,
           on=True, **changed):  # fmt: skip
    """A case whose fall was recognised as an opening by the meter's watch."""
    fields = {"opened": True, "fell_at": NOW - 300.0, "full_watts": 1500.0, "tail": list(tail), "judged_at": NOW,
              "fall": Lesson(**FALL | (fall or {})), "watts": 588.0, "peak_watts": 1500.0}  # fmt: skip
    facts = facts or HeaterFacts(trip_count=count, level_watts=1500.0)
    make = running if on else resting
    return make(body_of(**fields | changed), toml=COLUMN_1500, facts=facts, notes=notes or {}, watts=588.0,
                watts_at=NOW, meter_period=period)  # fmt: skip


def test_an_opening_that_was_recognised_is_taken_in_once():
    """It is told, and the trial is over."""
    case = opened(trial=True)
    body = follow(case)
    assert (len(body.lessons), body.fall, body.trips_taken, body.trial) == (1, None, 1, False)
    assert not body.wide
    assert case.kept.facts.opens_watts == pytest.approx(watts_of(100.35), rel=0.01)
    assert (case.kept.facts.trips, case.kept.facts.trip_count) == ([], 1)
    follow(case)
    assert len(body.lessons) == 1


def test_an_opening_waits_for_three_reports_or_the_end_of_the_run():
    """Then its moment is as well known as it will be."""
    assert follow(opened(tail=(588.0, 588.0))).trips_taken == 0
    assert follow(opened(tail=(588.0, 588.0), on=False)).trips_taken == 1
    assert follow(opened(count=0)).lessons == []


def test_a_fall_of_long_ago_is_not_what_was_recognised():
    """Four hours, to the second."""
    assert len(follow(opened({"at_wall": WALL - 14_399.0})).lessons) == 1
    body = follow(opened({"at_wall": WALL - 14_400.0}))
    assert (body.lessons, body.trips_taken) == ([], 1)
    assert body.fall is not None


def test_power_that_someone_turned_down_was_no_opening():
    """What fell is forgotten."""
    body = follow(opened(notes={"meter": {"code": "selector-moved", "level": 912.0, "usual": 1500.0}}))
    assert (body.fall, body.lessons, body.trips_taken) == (None, [], 1)


def test_an_opening_by_a_slow_meter_is_wide():
    """It lies between reports far apart."""
    body = follow(opened({"before": each(60.0), "after": each(130.0)}, period=300.0))
    assert body.wide
    assert len(body.lessons) == 1


def test_an_opening_far_under_what_it_stood_is_a_cover():
    """Under 85 % by a slow meter: told as such, and teaches nothing."""
    for share, taught in ((0.86, True), (0.84, False)):
        fall = {"before": each(20.0), "after": each(100.0 * share)}
        case = opened(fall, period=300.0, most=each(100.0), weights=at_middle(), opens=each(100.0))
        body = follow(case)
        assert len(body.lessons) == taught
        assert (case.kept.notes.get("covered", {}).get("tries") == 1) is not taught
        assert body.trips_taken == 1


def test_by_a_quick_meter_the_watch_says_what_is_early():
    """It is taken in as it is."""
    fall = {"before": each(20.0), "after": each(50.0)}
    case = opened(fall, most=each(100.0), weights=at_middle(), opens=each(100.0))
    assert len(follow(case).lessons) == 1
    assert "covered" not in case.kept.notes


def test_to_nothing_far_under_what_it_stood_is_no_opening_and_no_cover():
    """Its dial may be: the watch tells."""
    fall = {"before": each(20.0), "after": each(50.0)}
    case = opened(fall, tail=(18.0, 0.0, 45.0), period=300.0, most=each(100.0), weights=at_middle(),
                  opens=each(100.0))  # fmt: skip
    assert follow(case).lessons == []
    assert "covered" not in case.kept.notes


def test_what_a_cover_or_a_dial_did_says_nothing_of_the_body():
    """While either is suspected."""
    for notes in ({"covered": {"tries": 1}}, {"meter": {"code": "dial-down"}}):
        body = follow(opened(notes=notes))
        assert (body.lessons, body.fall, body.trips_taken) == ([], None, 1)


def test_to_nothing_from_a_setting_that_keeps_its_lowest_is_no_opening():
    """A cut-out would have left 588 W; 45 W is nothing of 1500, 46 W is not."""
    assert follow(opened(tail=(0.0, 0.0, 45.0))).lessons == []
    assert len(follow(opened(tail=(0.0, 0.0, 46.0))).lessons) == 1
    middle = HeaterFacts(trip_count=1, level_watts=1150.0)
    assert len(follow(opened(tail=(0.0, 0.0, 0.0), full_watts=1150.0)).lessons) == 1
    assert len(follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None, facts=middle)).lessons) == 1
    assert follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None)).lessons == []
    unknown = HeaterFacts(trip_count=1)
    assert follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None, facts=unknown)).lessons == []


def test_an_opening_that_only_the_next_run_shows_is_told_and_counted():
    """Full power on a cooled body: what fell before was the cut-out."""
    body = body_of(opened=True, full_watts=1500.0, tail=[700.0, 588.06], fall=Lesson(**FALL), proven_watts=None,
                   watts=1500.0, peak_watts=0.0, trips_taken=3)  # fmt: skip
    facts = HeaterFacts(trip_count=3, level_watts=1500.0)
    case = metered(1500.0, body, toml=COLUMN_1500, facts=facts)
    body = follow(case)
    assert (len(body.lessons), body.fall, body.trips_taken, body.opened) == (1, None, 4, False)
    assert case.kept.facts.trip_count == 4
    trip = case.kept.facts.trips[0]
    assert (trip.at_wall, trip.run_seconds, trip.before_watts, trip.after_watts) == (
        WALL - 600.0, 700.0, 1500.0, 588.1
    )  # fmt: skip
    assert case.kept.notes["cut-out"]["tripped_at"] == NOW


def test_twelve_openings_are_kept():
    """The latest."""
    body = body_of(opened=True, tail=[588.0], fall=Lesson(**FALL), proven_watts=None, watts=1500.0,
                   peak_watts=0.0, trips_taken=12)  # fmt: skip
    old = [TripFact(float(n), 1.0, 1500.0, 588.0) for n in range(12)]
    case = metered(1500.0, body, toml=COLUMN_1500,
                   facts=HeaterFacts(trip_count=12, level_watts=1500.0, trips=old))  # fmt: skip
    follow(case)
    assert [trip.at_wall for trip in case.kept.facts.trips] == [*range(1, 12), WALL - 600.0]
    assert case.kept.facts.trips[-1].before_watts == 1500.0


def test_a_slice_of_a_step_is_none():
    """No seconds leave it as it is, of its own; a second is one, in thousandths."""
    body = body_of()
    assert body.after(each(50.0), 600.0, 1.0) == [
        round(later(50.0, 600.0, 1.0, STORE * share), 3) for share in SHARES
    ]
    kept = body.after(body.warmth, 600.0, 0.0)
    assert kept == body.warmth
    assert kept is not body.warmth


def test_a_moment_is_that_of_the_best_clock():
    """Rounded to the second."""
    wall = NOON.replace(microsecond=600_000)
    body = follow(metered(100.0, now=now_at(wall=wall)))
    assert body.fall.at_wall == WALL + 1.0
