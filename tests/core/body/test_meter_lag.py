"""When power fell, by a meter that lags or tells means: invented readings of a fall from 1500 W to 500 W.

Rules: what is expected is worked by hand: a first-order lag halves what is left each half-life, so a reading that has
half of the fall left was taken one half-life after it. The margin is a second and a tenth of the time.
"""

from math import log

import pytest

from thermostatd.core.body.meter_lag import seconds_at_once, seconds_since_fall

WIDE, PERIOD = 300.0, 10.0


@pytest.mark.parametrize(
    ("readings", "period", "expected"),
    [
        (
            (1000.0, 750.0, 625.0),
            10.0,
            (8.0, 12.0),
        ),  # one half-life of ten seconds ago: 10 s, give or take 2 s
        ((1000.0, 750.0, 625.0), 20.0, (17.0, 23.0)),
        ((750.0, 625.0, 562.5), 10.0, (17.0, 23.0)),  # two half-lives ago
    ],
)
def test_a_meter_that_lags_tells_the_fall_by_its_own_half_life(readings, period, expected):
    """The share that is left each period gives the lag, and the lag how long ago it fell."""
    assert seconds_since_fall(1500.0, readings, WIDE, period) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("wide", "expected"), [(9.0, (8.0, 9.0)), (5.0, (5.0, 5.0)), (11.9, (8.0, 11.9)), (12.1, (8.0, 12.0))]
)
def test_a_fall_is_never_sought_before_the_last_report_at_full_power(wide, expected):
    """Both bounds lie within the stretch between the two reports."""
    assert seconds_since_fall(1500.0, (1000.0, 750.0, 625.0), wide, PERIOD) == pytest.approx(expected)


def test_a_fall_is_never_sought_after_the_report_that_showed_it():
    """A reading of almost full power was taken a second after, and the margin does not reach into the future."""
    least, most = seconds_since_fall(1500.0, (1450.0, 975.0, 737.5), WIDE, PERIOD)
    since = PERIOD / log(2.0) * log(1.0 / 0.95)  # 0.74 s
    assert least == 0.0
    assert most == pytest.approx(1.0 + 1.1 * since)


def test_a_lag_whose_end_lies_under_nothing_ends_at_nothing():
    """Three readings that would run to −50 W are taken to run to zero: 200 → 100 → 70 W leave a half and 35 %."""
    since = PERIOD / log(0.5 / 0.35) * log(2.0)
    found = seconds_since_fall(200.0, (100.0, 70.0, 48.0), WIDE, PERIOD)
    assert found == pytest.approx((0.9 * since - 1.0, 1.1 * since + 1.0))


@pytest.mark.parametrize(
    "readings",
    [
        (1000.0, 500.0, 500.0),
        (1000.0, 500.0, 900.0),  # and up again: the lowest is the end
        (1000.0, 1000.0, 500.0),  # twice the same is no lag
        (1000.0, 1100.0, 500.0),
    ],
)
def test_a_reading_in_between_that_was_a_mean_tells_the_share_of_its_period(readings):
    """Half-way in one report alone, it fell in the middle of that period: five seconds ago and a margin of one."""
    assert seconds_since_fall(1500.0, readings, WIDE, PERIOD) == pytest.approx((0.0, 6.0))
    assert seconds_since_fall(1500.0, readings, 4.0, PERIOD) == (0.0, 4.0)


@pytest.mark.parametrize(
    ("first", "told"),
    [(1500.0, False), (1600.0, False), (1499.0, True), (540.0, False), (541.0, True), (500.0, False)],
)
def test_a_first_reading_at_either_end_tells_only_the_interval(first, told):
    """Within 4 % of the end, or not under full power yet, nothing was caught in between."""
    expected = (0.0, (1500.0 - first) / 1000.0 * PERIOD + 1.0) if told else (0.0, WIDE)
    assert seconds_since_fall(1500.0, (first, 500.0, 500.0), WIDE, PERIOD) == pytest.approx(expected)


@pytest.mark.parametrize("before", [500.0, 499.0, 400.0])
def test_no_fall_has_no_moment(before):
    """Where the readings end no lower than it was, anything within the stretch may be."""
    assert seconds_since_fall(before, (700.0, 500.0, 500.0), WIDE, PERIOD) == (0.0, WIDE)
    assert seconds_at_once(before, 700.0, 500.0, WIDE) == (0.0, WIDE)


def test_the_moment_goes_by_shares_of_the_fall_however_small_it_is():
    """Half a watt tells what a thousand tell."""
    assert seconds_since_fall(500.5, (500.25, 500.0, 500.0), WIDE, PERIOD) == pytest.approx((0.0, 6.0))
    assert seconds_at_once(500.5, 500.25, 500.0, WIDE) == pytest.approx((0.0, 1.0 + 12.0 * log(2.0)))


@pytest.mark.parametrize(("second", "lags"), [(500.09, False), (500.12, True)])
def test_a_second_reading_within_a_hundredth_of_the_end_is_there(second, lags):
    """9 thousandths of the fall left are noise, so the first was a mean; 12 thousandths are a lag."""
    left, later = 0.5, (second - 500.0) / 10.0
    since = PERIOD / log(left / later) * log(1.0 / left)
    expected = (0.9 * since - 1.0, 1.1 * since + 1.0) if lags else (0.0, 6.0)
    found = seconds_since_fall(510.0, (505.0, second, 500.0), WIDE, PERIOD)
    assert found == pytest.approx((max(0.0, expected[0]), expected[1]), rel=1e-6)


@pytest.mark.parametrize(
    ("third", "end"),
    [(820.0, 820.0), (825.0, 600.0), (800.0, 800.0)],  # bends of 20, 25 and 0 W; 1000 − 400·400/(…)
)
def test_readings_that_hardly_bend_end_at_the_lowest(third, end):
    """A bend of two hundredths of the first reading is noise; over that the readings run to (a·c − b²)/(a + c − 2b)."""
    left, later = (1000.0 - end) / (1500.0 - end), (900.0 - end) / (1500.0 - end)
    since = PERIOD / log(left / later) * log(1.0 / left)
    found = seconds_since_fall(1500.0, (1000.0, 900.0, third), WIDE, PERIOD)
    assert found == pytest.approx((0.9 * since - 1.0, 1.1 * since + 1.0))


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (1000.0, (0.0, 1.0 + 12.0 * log(2.0))),  # half of it left: at most one and a half of 8 s, times log 2
        (541.0, (0.0, 1.0 + 12.0 * log(1.0 / 0.041))),
        (540.0, (3.0 * log(25.0), WIDE)),  # a twenty-fifth left, which a lag of 3 s takes 9.7 s to reach
        (500.0, (3.0 * log(25.0), WIDE)),
        (400.0, (3.0 * log(25.0), WIDE)),
        (1480.0, (0.0, 1.0 + 12.0 * log(1.0 / 0.98))),
        (1495.0, (0.0, 1.0 + 12.0 * log(1.0 / 0.99))),
        (1700.0, (0.0, 1.0 + 12.0 * log(1.0 / 0.99))),
    ],
)
def test_one_reading_of_a_meter_without_means_bounds_the_moment(reading, expected):
    """In between: so lately, by the slowest meters; at its end: so long ago, by the quickest."""
    assert seconds_at_once(1500.0, reading, 500.0, WIDE) == pytest.approx(expected)


@pytest.mark.parametrize(("reading", "expected"), [(1000.0, (0.0, 5.0)), (500.0, (5.0, 5.0))])
def test_one_reading_is_never_sought_outside_its_stretch_either(reading, expected):
    """Five seconds between two reports bound both ends."""
    assert seconds_at_once(1500.0, reading, 500.0, 5.0) == expected
