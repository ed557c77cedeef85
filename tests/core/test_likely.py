"""The span in which the air most likely is: off in degrees as the record was, and in time by more the farther ahead."""

from __future__ import annotations

import pytest

from thermostatd.core.likely import SPREADS, likely
from thermostatd.core.results import Outlook

NOW = 5000.0


def outlook(*course: tuple[float, float, float]) -> Outlook:
    """One whose course is minutes from now, °C, K."""
    told = tuple((NOW + 60.0 * minutes, air, spread) for minutes, air, spread in course)
    return Outlook(told, None, 20.0, None, None, -9.0)


def test_a_steady_air_is_off_by_its_spread_alone() -> None:
    """Where nothing moves, no time is off."""
    told = likely(outlook((10, 20.0, 0.1), (60, 20.0, 0.2)), 20.0, NOW)
    assert [at - NOW for at, _, _ in told] == [600.0, 3600.0]
    assert [round(high - low, 6) for _, low, high in told] == [pytest.approx(2 * SPREADS * s) for s in (0.1, 0.2)]


def test_an_air_that_swings_may_be_anywhere_in_its_swing_an_hour_ahead() -> None:
    """Half an hour up and down: an hour ahead a trough may as well be a crest, in a quarter of an hour it is none."""
    swing = [(minutes, 20.0 + (1.0 if minutes % 30 else -1.0), 0.0) for minutes in range(15, 121, 15)]
    told = {round((at - NOW) / 60): (low, high) for at, low, high in likely(outlook(*swing), 19.0, NOW)}
    assert told[60] == (-1.0 + 20.0, 21.0)
    assert told[75] == (19.0, 21.0)
    assert told[15][0] > 19.9
    assert told[15][1] == 21.0


def test_a_way_up_is_off_by_a_share_of_its_time() -> None:
    """A kelvin in 20 minutes: ten minutes ahead, and so five and a half minutes off, it is 0.275 K off either way."""
    told = likely(outlook((10, 18.5, 0.0), (20, 19.0, 0.0)), 18.0, NOW)
    assert told[0][1:] == (pytest.approx(18.225), pytest.approx(18.775))
    assert told[1][2] == pytest.approx(19.0), "not beyond what is foretold"


def test_what_is_over_is_not_told() -> None:
    """An outlook may be some minutes old."""
    told = likely(outlook((-1, 17.0, 0.1), (0, 17.0, 0.1), (5, 19.0, 0.0)), None, NOW)
    assert told == ((NOW + 300.0, 19.0, 19.0),)
    assert likely(outlook(), 20.0, NOW) == ()
