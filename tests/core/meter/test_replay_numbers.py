"""The replay of one switch on one body, step by step: every chance is reckoned anew here (derived, no outside source).

Rules: the body opens at 100 when free, its store is 5000, so 800 W warm it from cold by 9.6 in its first minute;
a report so far from switching, as a share of 3, is doubtful by half of e to the minus that.
"""

from __future__ import annotations

from math import exp, log

import pytest

from tests.core.body.bodies import ALL, MIDDLE, body_of, each
from thermostatd.core.body.brackets import openings
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES, SHARES, cooling_seconds, later
from thermostatd.core.meter.replay import (
    COVERED,
    DIAL,
    FLOWS,
    FREE,
    NOTHING,
    OFF,
    ON,
    Chances,
    Switch,
    _away,
    _fits,
    chances,
)

FULL, STORE, WATTS = 100.0, 5000.0, 800.0
HIGH = Switch(0.9, 0.5)


def fits(switch: Switch, warmth: float, *events: float, watts: float = WATTS) -> float:
    """The logarithm of the chance of what was reported."""
    return _fits(switch, warmth, FULL, STORE, list(events), watts)


def doubt(clear: float) -> float:
    """How doubtful a report is so far from switching."""
    return max(0.01, 0.5 * exp(-clear / 3.0))


def sure(clear: float) -> float:
    """What a report adds that says what was expected."""
    return pytest.approx(log(1.0 - doubt(clear)), abs=1e-9)


def test_the_switches_are_those_of_the_trade():
    """A dial low and narrow, a cover at about two thirds and sparing of heat, a free one where it stood."""
    assert [one.opens for one in DIAL] == [0.26, 0.32, 0.38, 0.44, 0.50, 0.56]
    assert {round(one.opens - one.closes, 9) for one in DIAL} == {0.08}
    assert {one.sheds for one in DIAL + FREE} == {1.0}
    assert {one.opens for one in FREE} == {0.92, 1.0, 1.08}
    assert {round(one.closes / one.opens, 9) for one in FREE} == {0.68, 0.74, 0.80}
    assert {(one.opens, one.sheds) for one in COVERED} == {
        (opens, sheds) for opens in (0.60, 0.67, 0.74) for sheds in (0.3, 0.4, 0.55)
    }
    assert {round(one.closes / one.opens, 9) for one in COVERED} == {0.74}
    assert (len(DIAL), len(FREE), len(COVERED)) == (6, 9, 9)


def test_a_cause_is_sure_at_three_over_every_other():
    """Logarithms: twenty to one."""
    assert Chances(3.0, 0.0, -9.0, -9.0).is_dial
    for others in ((0.01, -9.0, -9.0), (-9.0, 0.01, -9.0), (-9.0, -9.0, 0.01)):
        assert not Chances(3.0, *others).is_dial
    assert Chances(0.0, 3.0, -9.0, -9.0).is_covered
    for dial, free, away in ((0.01, -9.0, -9.0), (-9.0, 0.01, -9.0), (-9.0, -9.0, 0.01)):
        assert not Chances(dial, 3.0, free, away).is_covered
    assert Chances(0.0, -9.0, 3.0, -9.0).is_free
    assert Chances(-9.0, 0.0, -9.0, 3.0).is_free
    assert not Chances(0.01, -9.0, 3.0, -9.0).is_free
    assert not Chances(-9.0, 0.01, -9.0, 3.0).is_free
    assert Chances(0.0, 0.5, 9.0, 9.0).leans_to_a_cover
    assert not Chances(0.0, 0.49, -9.0, -9.0).leans_to_a_cover


def test_power_that_was_gone_for_a_while_shows_no_flow_before_it_is_back_for_good():
    """A twentieth, and a hundredth for each report of power before the last of none."""
    assert _away([]) == pytest.approx(log(0.05))
    assert _away([1, FLOWS, 2, FLOWS]) == pytest.approx(log(0.05))
    assert _away([1, NOTHING, 2, NOTHING, 3, FLOWS, 4, FLOWS]) == pytest.approx(log(0.05))
    assert _away([1, FLOWS, 2, NOTHING, 3, FLOWS]) == pytest.approx(log(0.05) + log(0.01))
    assert _away([1, FLOWS, 2, OFF, 3, ON, 4, FLOWS, 5, NOTHING]) == pytest.approx(log(0.05) + 2 * log(0.01))


@pytest.mark.parametrize("seconds", [30.0, 60.0])
def test_a_body_warms_by_what_it_draws(seconds):
    """Over no more than a minute by its pace at the beginning; it has strayed from cold by as much."""
    assert fits(HIGH, 0.0, seconds, FLOWS) == sure(0.16 * seconds)


def test_a_body_warms_by_what_it_draws_less_what_it_sheds():
    """From minute to minute; under a cover it sheds less."""
    for sheds in (1.0, 0.4):
        first = 40.0 + 60.0 * (WATTS - sheds * 40.0**1.3) / STORE
        second = first + 30.0 * (WATTS - sheds * first**1.3) / STORE
        assert second < 60.0
        assert fits(Switch(0.6, 0.1, sheds), 40.0, 90.0, FLOWS) == sure(min(60.0 - second, second - 40.0))


def test_close_to_its_switching_a_report_is_doubtful():
    """Whichever is nearer: where it switches, or where it switched last."""
    assert fits(Switch(0.1, 0.05), 0.0, 60.0, FLOWS) == sure(0.4)
    assert fits(Switch(0.18, 0.05), 0.0, 60.0, FLOWS) == sure(18.0 - 9.6)
    assert fits(Switch(0.9, 0.05), 0.0, 6.0, FLOWS) == sure(0.96)


def test_it_opens_on_its_way():
    """In the middle of a step, and cools from there."""
    warm = later(8.0, 0.0, 10.0, STORE)
    assert fits(Switch(0.08, 0.01), 0.0, 60.0, NOTHING) == sure(8.0 - warm)
    covered = later(8.0, 0.0, 10.0, STORE / 0.4)
    slower = 0.08 * FULL / ((WATTS) / STORE)
    assert slower == 50.0
    assert fits(Switch(0.08, 0.01, 0.4), 0.0, 60.0, NOTHING) == sure(8.0 - covered)


def test_as_soon_as_it_is_as_warm_it_opens():
    """At the end of a step too."""
    assert fits(Switch(0.096, 0.01), 0.0, 60.0, NOTHING) == pytest.approx(log(0.5))
    assert fits(Switch(0.0961, 0.01), 0.0, 60.0, FLOWS) == sure(0.01)


def test_it_closes_on_its_way():
    """And warms from there."""
    cools = cooling_seconds(80.0, 60.0, STORE)
    pace = (WATTS - 60.0**1.3) / STORE
    assert fits(Switch(0.8, 0.6), 80.0, cools + 50.0, FLOWS) == sure(min(50.0 * pace, 20.0 - 50.0 * pace))
    still = later(80.0, 0.0, cools - 50.0, STORE)
    assert fits(Switch(0.8, 0.6), 80.0, cools - 50.0, NOTHING) == sure(still - 60.0)
    slow = cooling_seconds(80.0, 60.0, STORE / 0.4)
    still = later(80.0, 0.0, slow - 50.0, STORE / 0.4)
    assert fits(Switch(0.8, 0.6, 0.4), 80.0, slow - 50.0, NOTHING) == sure(still - 60.0)


def test_it_may_open_within_a_second():
    """And cools for the rest of the step."""
    warm = later(0.08, 0.0, 59.5, STORE)
    assert fits(Switch(0.0008, 0.0001), 0.0, 60.0, NOTHING) == sure(0.08 - warm)


def test_one_that_is_as_warm_begins_open():
    """At the edge; a little under it, closed."""
    assert fits(Switch(0.8, 0.1), 80.0, 300.0, NOTHING) == sure(80.0 - later(80.0, 0.0, 300.0, STORE))
    assert fits(Switch(0.8, 0.1), 79.0, 300.0, NOTHING) == sure(
        80.0 - later(80.0, 0.0, 300.0 - 1.0 / ((WATTS - 79.0**1.3) / STORE), STORE)
    )


def test_what_sheds_more_than_it_draws_never_opens():
    """It cools to where it gives what it draws."""
    found = fits(Switch(0.9, 0.1), 80.0, 60.0, FLOWS, watts=100.0)
    cooler = 80.0 + 60.0 * (100.0 - 80.0**1.3) / STORE
    assert found == sure(min(90.0 - cooler, 80.0 - cooler))


def test_while_the_relay_is_off_it_cools_closed():
    """And warms again from where it was."""
    cold = later(60.0, 0.0, 600.0, STORE)
    warm = cold + 30.0 * (WATTS - cold**1.3) / STORE
    found = fits(Switch(0.8, 0.1), 60.0, 0.0, OFF, 600.0, ON, 630.0, FLOWS)
    assert found == sure(min(80.0 - warm, 60.0 - cold))


def test_how_far_it_strayed_is_the_most_since_it_switched():
    """Back where it closed, it is in no doubt."""
    cold = later(60.0, 0.0, 1800.0, STORE)
    assert 60.0 - cold > 10.0
    assert fits(Switch(0.9, 0.1), 60.0, 0.0, OFF, 1800.0, ON, 1800.0, FLOWS) == sure(60.0 - cold)


def test_two_reports_add_up():
    """Each by its own doubt."""
    first = 9.6
    second = first + 60.0 * (WATTS - first**1.3) / STORE
    expected = log(1.0 - doubt(min(50.0 - first, first))) + log(1.0 - doubt(min(50.0 - second, second)))
    assert fits(Switch(0.5, 0.1), 0.0, 60.0, FLOWS, 120.0, FLOWS) == pytest.approx(expected)


def test_a_report_that_contradicts_counts_by_how_far_it_is_off():
    """The first tells less: how warm the body was is not sure. A hundredth at the least."""
    assert fits(Switch(0.9, 0.1), 0.0, 60.0, NOTHING) == pytest.approx(log(0.3))
    assert fits(Switch(0.1, 0.05), 0.0, 60.0, NOTHING) == pytest.approx(log(doubt(0.4)))
    twice = fits(Switch(0.9, 0.85), 0.0, 60.0, NOTHING, 61.0, NOTHING, 121.0, FLOWS)
    set_right = later(90.0, 0.0, 1.0, STORE)
    closes = cooling_seconds(90.0, 85.0, STORE)
    assert closes > 61.0
    cooled = later(90.0, 0.0, 61.0, STORE)
    expected = log(0.3) + log(1.0 - doubt(90.0 - set_right)) + log(doubt(min(cooled - 85.0, 90.0 - cooled)))
    assert twice == pytest.approx(expected)


def test_what_was_found_open_first_is_as_warm_as_it_opens():
    """Later it is as warm as it was, but not under where it closes."""
    switch = Switch(0.9, 0.6)
    found = fits(switch, 0.0, 60.0, NOTHING, 360.0, NOTHING) - log(0.3)
    cooled = later(90.0, 0.0, 300.0, STORE)
    assert found == sure(min(cooled - 60.0, 90.0 - cooled))
    flows_first = log(1.0 - doubt(9.6)) + log(0.3)
    found = fits(switch, 0.0, 60.0, FLOWS, 60.0, NOTHING, 360.0, NOTHING) - flows_first
    assert found == sure(90.0 - later(90.0, 0.0, 300.0, STORE))


def test_what_was_found_closed_is_no_warmer_than_it_opens():
    """And then warms from there."""
    warm = later(80.0, 0.0, 10.0, STORE)
    off_by = min(warm - 10.0, 80.0 - warm)
    found = fits(Switch(0.8, 0.1), 80.0, 10.0, FLOWS)
    assert found == pytest.approx(log(max(0.3, doubt(off_by))))
    closed = fits(Switch(0.8, 0.1), 95.0, 10.0, FLOWS, 10.0, OFF, 310.0, ON, 310.0, FLOWS)
    first = later(95.0, 0.0, 10.0, STORE)
    first = log(max(0.3, doubt(min(first - 10.0, 95.0 - first))))
    assert closed - first == sure(80.0 - later(80.0, 0.0, 300.0, STORE))


def test_what_was_found_closed_keeps_its_warmth():
    """Where it is cooler than it opens."""
    warm = later(80.0, 0.0, 900.0, STORE)
    first = log(max(0.3, doubt(min(warm - 10.0, 80.0 - warm))))
    found = fits(Switch(0.8, 0.1), 80.0, 900.0, FLOWS, 900.0, OFF, 1000.0, ON, 1000.0, FLOWS)
    assert found - first == sure(warm - later(warm, 0.0, 100.0, STORE))


def test_what_is_found_open_later_is_as_warm_as_it_closes():
    """At least: else it could not be."""
    switch = Switch(0.9, 0.6)
    cold = later(later(90.0, 0.0, 1.0, STORE), 0.0, 3000.0, STORE)
    assert cold < 60.0
    before = fits(switch, 0.0, 60.0, NOTHING, 61.0, FLOWS, 61.0, OFF, 3061.0, ON, 3061.0, NOTHING)
    after = fits(
        switch, 0.0, 60.0, NOTHING, 61.0, FLOWS, 61.0, OFF, 3061.0, ON, 3061.0, NOTHING, 3111.0, FLOWS
    )
    warmer = 50.0 * (WATTS - 60.0**1.3) / STORE
    assert after - before == sure(warmer)


def test_a_cause_is_as_likely_as_its_switches_in_the_mean():
    """Of one candidate: the mean of their chances."""
    body, events = body_of(), [60.0, FLOWS, 700.0, NOTHING, 900.0, FLOWS]
    found = chances(body, each(0.0), events, WATTS, 1.0)
    for name, switches in (("dial", DIAL), ("covered", COVERED), ("free", FREE)):
        opens = openings(body)[MIDDLE]
        each_one = [exp(_fits(one, 0.0, opens, STORE, events, WATTS)) for one in switches]
        assert getattr(found, name) == pytest.approx(log(sum(each_one) / len(each_one)))
    assert found.away == _away(events)


def test_a_warm_room_opens_it_sooner():
    """By the share of its rise that is left."""
    body, events = body_of(), [600.0, NOTHING, 900.0, FLOWS]
    found = chances(body, each(0.0), events, WATTS, 0.7)
    opens = 0.7 * openings(body)[MIDDLE]
    each_one = [exp(_fits(one, 0.0, opens, STORE, events, WATTS)) for one in FREE]
    assert found.free == pytest.approx(log(sum(each_one) / len(each_one)))


@pytest.mark.parametrize("weights", [[], [0.1] * CANDIDATES, [0.02, 0.3] + [0.1] * (CANDIDATES - 2)])
def test_each_likely_size_counts_by_its_weight(weights):
    """By what openings taught and by how usual it is (25 % of logarithms); what is under 6 % of the most is not."""
    body, events = body_of(weights=weights), [500.0, NOTHING, 900.0, FLOWS]
    warmth = [float(10 + n) for n in ALL]
    told = [
        (body.weights[n] if body.weights else 1.0) * exp(-0.5 * (log(SHARES[n]) / 0.25) ** 2) for n in ALL
    ]
    likely = [n for n in ALL if told[n] >= 0.06 * max(told)]
    assert 0 < len(likely) < CANDIDATES
    opens = openings(body)
    total = sum(
        told[n] * exp(_fits(one, warmth[n], opens[n], STORE * SHARES[n], events, WATTS))
        for n in likely
        for one in DIAL
    )
    found = chances(body, warmth, events, WATTS, 1.0)
    assert found.dial == pytest.approx(log(total / (len(DIAL) * sum(told[n] for n in likely))))


def test_a_size_at_six_parts_in_a_hundred_is_likely():
    """At the edge."""
    least = 0.06 / exp(-0.5 * (log(SHARES[0]) / 0.25) ** 2)
    events = [500.0, NOTHING]
    found = []
    for share in (1.000001, 0.99):
        weights = [least * share if n == 0 else float(n == MIDDLE) for n in ALL]
        found.append(chances(body_of(weights=weights), each(0.0), events, WATTS, 1.0).dial)
    alone = chances(body_of(), each(0.0), events, WATTS, 1.0).dial
    assert found[1] == alone
    assert found[0] != alone


def test_a_body_without_a_store_yet_does_not_fail():
    """It is taken as one."""
    body = BodyMemory(usual_opens=100.0, most=each(1.0), weights=[float(n == MIDDLE) for n in ALL], wide=True)
    events = [1.0, FLOWS]
    found = [exp(_fits(one, 0.0, openings(body)[MIDDLE], 1.0, events, 5.0)) for one in FREE]
    assert chances(body, each(0.0), events, 5.0, 1.0).free == pytest.approx(log(sum(found) / len(found)))
