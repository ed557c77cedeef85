"""What openings between reports far apart tell: intervals, risks and steps, against closed forms."""

from __future__ import annotations

from math import erf, log, sqrt

import pytest

from thermostatd.core.body.brackets import (
    LEVEL_SPREAD,
    NEVER,
    interval,
    likely,
    opened_at_most,
    openings,
    outlook,
    presume,
    seeks,
    unsure_share,
    weigh_intervals,
)
from thermostatd.core.body.lessons import take
from thermostatd.core.body.meter_lag import seconds_at_once
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, later

STORE, USUAL = 5031.0, 141.6
MIDDLE = CANDIDATES // 2


def body_of(most: float = 100.0) -> BodyMemory:
    """A body that has stood so much, by every candidate."""
    zeros = [0.0] * CANDIDATES
    return BodyMemory(
        store_joules=STORE, usual_opens=USUAL, warmth=list(zeros), most=[most] * CANDIDATES, wide=True
    )


def test_what_was_stood_and_what_was_open_bound_it():
    """The interval reaches from the most that was stood to the least at which it was seen open."""
    body = body_of(110.0)
    assert interval(body, MIDDLE) == (110.0, float("inf"))
    body.lessons = [Lesson(0.0, [90.0] * CANDIDATES, [130.0] * CANDIDATES)]
    assert interval(body, MIDDLE) == (110.0, 130.0)


def test_the_risk_is_the_share_of_such_bodies_that_open_by_then():
    """From a cold body of one sure size the risk is the lognormal share below the warmth reached (derived)."""
    body = body_of(1.0)
    weigh_intervals(body)
    body.weights = [1.0 if n == MIDDLE else 0.0 for n in range(CANDIDATES)]
    reached = later(0.0, 1500.0, 480.0, STORE, 60.0)
    share = 0.5 * (1.0 + erf(log(reached / USUAL) / LEVEL_SPREAD / sqrt(2.0)))
    risk, over = outlook(body, 1500.0, 480.0, 1.0)
    assert risk == pytest.approx(share / (1.0 + NEVER), rel=1e-3)
    assert over == pytest.approx(log(reached))


def test_no_risk_in_what_was_stood():
    """A run that ends under what every candidate has stood dares nothing."""
    body = body_of(300.0)
    weigh_intervals(body)
    assert outlook(body, 1500.0, 300.0, 1.0) == (0.0, 0.0)


def test_a_candidate_that_contradicts_itself_is_none():
    """One that has stood more than it opens at weighs nothing beside one that has not."""
    body = body_of()
    body.most = [150.0 if n < 4 else 100.0 for n in range(CANDIDATES)]
    body.lessons = [Lesson(0.0, [100.0] * CANDIDATES, [120.0] * CANDIDATES)]
    weigh_intervals(body)
    assert sum(body.weights[:4]) < 0.02


def test_the_likely_level_lies_in_its_interval():
    """Between stood and opened the mean of what is usual is taken, and it moves with the interval."""
    body = body_of(120.0)
    body.lessons = [Lesson(0.0, [100.0] * CANDIDATES, [126.0] * CANDIDATES)]
    weigh_intervals(body)
    assert 120.0 < likely(body, MIDDLE) < 126.0
    assert unsure_share(body) == pytest.approx(0.05)


def test_it_is_sought_until_known_and_never_after_two_openings():
    """Nothing is dared once two openings, or one closely bracketed, are known."""
    body = body_of(100.0)
    presume(body, doubtful=True)
    assert seeks(body)
    take(body, Lesson(0.0, [100.0] * CANDIDATES, [130.0] * CANDIDATES), wide=True)
    assert seeks(body)
    body.most = [124.0] * CANDIDATES
    weigh_intervals(body)
    assert not seeks(body)
    body.most = [100.0] * CANDIDATES
    take(body, Lesson(0.0, [101.0] * CANDIDATES, [129.0] * CANDIDATES), wide=True)
    assert not seeks(body)


def test_a_quick_meter_presumes_nothing():
    """Once the meter turns out quick, what was presumed of the body is forgotten."""
    body = body_of(1.0)
    presume(body, doubtful=True)
    assert body.weights
    presume(body, doubtful=False)
    assert not body.weights
    assert not body.wide


def test_one_reading_in_between_fell_just_now():
    """A meter that tells no means and shows power in between saw the fall seconds ago; at the end, longer ago."""
    least, most = seconds_at_once(1500.0, 940.0, 588.0, 300.0)
    assert least == 0.0
    assert most < 20.0
    least, most = seconds_at_once(1500.0, 590.0, 588.0, 300.0)
    assert least > 5.0
    assert most == 300.0


def test_what_any_such_body_stands_may_be_run_though_an_opening_says_little():
    """An opening of which only its upper bound is known does not hold a heater at nothing."""
    body = body_of(0.0)
    take(body, Lesson(0.0, [0.0] * CANDIDATES, [90.0] * CANDIDATES), wide=True)
    assert body.opens[MIDDLE] == pytest.approx(0.4 * USUAL, rel=1e-3)


def test_the_likely_candidate_that_makes_most_of_an_opening_speaks():
    """One candidate that says "as warm as ever" is enough for an opening to be no early one."""
    body = body_of(100.0)
    weigh_intervals(body)
    after = [60.0] * CANDIDATES
    after[MIDDLE + 1] = 99.0
    fall = Lesson(0.0, [10.0] * CANDIDATES, after)
    assert opened_at_most(body, fall) == pytest.approx(0.99)
    after[0], after[MIDDLE + 1] = 99.0, 60.0  # the smallest store is not likely
    assert opened_at_most(body, Lesson(0.0, [10.0] * CANDIDATES, after)) == pytest.approx(0.60)
    assert opened_at_most(body_of(10.0), fall) == 0.0


def test_an_opening_is_most_likely_where_it_was_learned_or_where_such_bodies_usually_open():
    """Closely seen openings are believed as they are; else what is usual within the bounds."""
    body = body_of(100.0)
    assert openings(body)[MIDDLE] == pytest.approx(likely(body, MIDDLE))
    take(body, Lesson(0.0, [120.0] * CANDIDATES, [121.0] * CANDIDATES))
    assert openings(body) == body.opens
