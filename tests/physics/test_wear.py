"""Wear: counts against ratings, and the date at this pace."""

import pytest

from thermostatd.physics.wear import wear

DAY = 86400.0


def test_relay_years_at_a_pace():
    """100 000 operations at 6 cycles an hour, 180 days a year, last 3.86 years (IEC 61810 class, second-hand)."""
    for cycles, years in ((6, 3.86), (3, 7.72)):
        found = wear(
            0, 0.0, 0, rated_operations=100_000, season_seconds=10 * DAY, season_switchings=2 * cycles * 240
        )
        assert found.relay.years_left == pytest.approx(years, abs=0.005)
        assert found.relay.a_day == pytest.approx(cycles * 24)


def test_what_is_used_is_taken_off():
    """Half of the rating used leaves half of the years."""
    new = wear(0, 0.0, 0, rated_operations=1000, season_seconds=10 * DAY, season_switchings=20)
    half = wear(1000, 0.0, 0, rated_operations=1000, season_seconds=10 * DAY, season_switchings=20)
    assert half.relay.share == 0.5
    assert half.relay.years_left == pytest.approx(new.relay.years_left / 2)


def test_the_cut_out_counts_against_its_type_test():
    """A self-resetting cut-out is tested for 300 operations (IEC 60335-1 clause 24, from memory)."""
    found = wear(0, 0.0, 30, rated_operations=1000, season_seconds=30 * DAY, season_openings=30)
    assert found.cutout.rated == 300
    assert found.cutout.share == pytest.approx(0.1)
    assert found.cutout.years_left == pytest.approx(270 / 180)


def test_without_a_pace_there_is_no_date():
    """Before three days of a season, or without a single switching, no date is claimed."""
    assert (
        wear(10, 0.0, 0, rated_operations=1000, season_seconds=DAY, season_switchings=10).relay.years_left
        is None
    )
    idle = wear(10, 0.0, 0, rated_operations=1000, season_seconds=30 * DAY)
    assert idle.relay.years_left is None
    assert idle.relay.a_day == 0.0


def test_hours():
    """Hours are on-time, and their pace is a day's."""
    found = wear(0, 36_000.0, 0, rated_operations=1000, season_seconds=5 * DAY, season_on_seconds=36_000.0)
    assert found.hours == pytest.approx(10.0)
    assert found.hours_a_day == pytest.approx(2.0)


@pytest.mark.parametrize("bad", [{"rated_operations": 0}, {"rated_operations": 1, "days_a_year": 400}])
def test_out_of_reason_is_refused(bad):
    """A rating of nothing and a year of 400 days are refused."""
    with pytest.raises(ValueError, match="over zero"):
        wear(0, 0.0, 0, **bad)
    with pytest.raises(ValueError, match="negative"):
        wear(-1, 0.0, 0, rated_operations=1)
