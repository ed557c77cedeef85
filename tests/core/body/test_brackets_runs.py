"""What a run would dare, by hand and by Python's own normal distribution (derived); when it is sought, and presumed."""

from math import inf, log

import pytest

from tests.core.body.bodies import ALL, MIDDLE, STORE, at, body_of, each, reached, risk, under
from thermostatd.core.body.brackets import ever, outlook, presume, seeks
from thermostatd.core.body.store import CANDIDATES, SHARES, later, warmth_of


@pytest.mark.parametrize(
    ("opened", "change", "expected"),
    [
        ([], {}, True),
        ([], {"wide": False}, False),
        ([], {"weights": []}, False),
        ([(0.0, 111.0)], {}, True),
        ([(0.0, 109.9)], {}, False),  # a tenth apart is known
        ([(0.0, 130.0), (0.0, 130.0)], {}, False),
        ([(0.0, 130.0)] * 3, {}, False),
    ],
)
def test_it_is_sought_only_while_far_reports_leave_it_open(opened, change, expected):
    """Until one opening is known to a tenth, and never after two."""
    assert seeks(body_of(100.0, *opened, **change)) is expected


def test_what_such_bodies_usually_shed_is_presumed_once_and_only_in_doubt():
    """In doubt it weighs; what was weighed is left; without doubt a wide body is forgotten and no other."""
    body = body_of(50.0, weights=[], wide=False)
    presume(body, doubtful=True)
    assert body.wide is True
    assert body.opens[MIDDLE] == 70.0
    body.most = each(90.0)
    presume(body, doubtful=True)
    assert body.opens[MIDDLE] == 70.0
    presume(body, doubtful=False)
    assert (body.wide, body.weights, body.opens) == (False, [], [])
    close = body_of(50.0, wide=False, opens=[60.0] * CANDIDATES)
    presume(close, doubtful=False)
    assert close.opens == [60.0] * CANDIDATES
    assert close.weights[MIDDLE] == 1.0


@pytest.mark.parametrize(
    ("low", "high", "seconds", "share"),
    [
        (50.0, inf, 600.0, 1.0),
        (50.0, inf, 600.0, 0.8),
        (50.0, 110.0, 600.0, 1.0),
        (50.0, 70.0, 600.0, 1.0),
        (99.0, inf, 300.0, 1.0),
        (90.0, inf, 300.0, 1.0),
    ],
)
def test_a_runs_risk_and_how_far_it_goes_follow_from_where_it_ends(low, high, seconds, share):
    """By one sure candidate; a warm room makes the same run go further."""
    body = body_of(low, *([(0.0, high)] if high < inf else []), warmth=[20.0] * CANDIDATES)
    end = reached(MIDDLE, 1000.0, seconds, 20.0) / share
    assert 70.0 < end < 200.0
    found = outlook(body, 1000.0, seconds, share)
    assert found == pytest.approx((risk(MIDDLE, low, end, high), max(0.0, log(end / low))))


def test_a_run_that_ends_within_the_interval_is_as_likely_to_open_as_the_part_that_it_passes():
    """One that passes its upper bound is sure to open it, one that ends at its lower bound sure not to."""
    end = reached(MIDDLE, 1000.0, 300.0)
    assert outlook(body_of(end), 1000.0, 300.0, 1.0) == (0.0, 0.0)
    assert outlook(body_of(1.0, (0.0, end)), 1000.0, 300.0, 1.0)[0] == 1.0
    body = body_of(end / 1.1, (0.0, end * 1.1))
    part = (under(5, end) - under(5, end / 1.1)) / (under(5, end * 1.1) - under(5, end / 1.1))
    assert outlook(body, 1000.0, 300.0, 1.0) == pytest.approx((part, log(1.1)))


def test_a_run_is_judged_by_all_candidates_that_are_not_quite_unlikely():
    """Each by its weight, its own store and its own warmth; under four thousandths it is not heard."""
    weights = at(n3=0.004, n4=0.25, n5=0.5, n6=0.0039)
    body = body_of(
        at(n3=40.0, n4=50.0, n5=60.0, n6=1.0), weights=weights, warmth=[float(10 + n) for n in ALL]
    )
    ends = {n: reached(n, 1000.0, 400.0, 10.0 + n) for n in (3, 4, 5)}
    lows = {3: 40.0, 4: 50.0, 5: 60.0}
    risks = sum(weights[n] * risk(n, lows[n], ends[n]) for n in ends)
    over = sum(weights[n] * log(ends[n] / lows[n]) for n in ends)
    assert outlook(body, 1000.0, 400.0, 1.0) == pytest.approx((risks, over))


def test_a_rest_before_the_run_cools_the_body_first():
    """By the closed form of its cooling, from the warmth of now."""
    body = body_of(50.0, warmth=[90.0] * CANDIDATES)
    rested = (90.0**-0.3 + 0.3 * 3600.0 / STORE) ** (-1.0 / 0.3)
    end = reached(MIDDLE, 1000.0, 600.0, rested)
    assert outlook(body, 1000.0, 600.0, 1.0, 3600.0)[1] == pytest.approx(log(end / 50.0))
    one_second = (90.0**-0.3 + 0.3 * 1.0 / STORE) ** (-1.0 / 0.3)
    end = reached(MIDDLE, 1000.0, 600.0, one_second)
    assert outlook(body, 1000.0, 600.0, 1.0, 1.0)[1] == pytest.approx(log(end / 50.0), abs=1e-9)
    large = body_of(50.0, warmth=[90.0] * CANDIDATES, weights=at(n8=1.0))
    rested = (90.0**-0.3 + 0.3 * 3600.0 / (STORE * SHARES[8])) ** (-1.0 / 0.3)
    end = reached(8, 1000.0, 600.0, rested)
    assert outlook(large, 1000.0, 600.0, 1.0, 3600.0)[1] == pytest.approx(log(end / 50.0))


def test_a_run_without_heat_from_cold_goes_nowhere():
    """A warmth under one counts as one, which every body has stood."""
    assert outlook(body_of(0.0), 0.0, 600.0, 1.0) == (0.0, 0.0)


def test_a_store_that_is_not_known_is_one_joule():
    """Nothing is divided by nothing: a body of one joule is at its end at once."""
    body = body_of(1.0, store_joules=None, warmth=[0.5] * CANDIDATES)
    assert outlook(body, 0.5, 0.5, 1.0)[1] == 0.0
    end = later(0.5, 3.0, 1.0, 1.0, 60.0)
    assert outlook(body, 3.0, 1.0, 1.0)[1] == pytest.approx(log(end))


def test_how_likely_it_opens_at_all_is_told_by_the_warmth_of_its_power_for_ever():
    """The warmth at which it gives what it draws, over the room's share, against what each candidate stands."""
    weights = at(n4=0.4, n5=0.5)
    body = body_of(80.0, weights=weights)
    warmth = warmth_of(500.0) / 0.9
    expected = 0.4 * risk(4, 80.0, warmth) + 0.5 * risk(5, 80.0, warmth)
    assert ever(body, 500.0, 0.9) == pytest.approx(expected)
    assert 0.3 < expected < 0.9
    assert ever(body, 100.0, 1.0) == 0.0
