"""What one report of a meter proves, and how warm a body may be by the power that it drew."""

from __future__ import annotations

from math import e

import pytest

from tests.core.guard.cases import case_of
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.meter.power import Power, near, power_of
from thermostatd.core.meter.warmth import cool_to, later, tau_seconds

HEATER = case_of().heater  # 600 W: it draws from 18 W on


def told(*, at=1000.0, watts=600.0, period=10.0, no_means=False, **kept):
    """What a report says of a heater on since 0 s."""
    body = BodyMemory(no_means=no_means)
    known = {
        "told_on": True,
        "on_since": 0.0,
        "meter_period": period,
        "body": body,
        "watts": watts,
        "watts_at": at,
    }
    return power_of(HeaterMemory(**(known | kept)), HEATER, 230.0)


@pytest.mark.parametrize(
    ("kept", "says"),
    [({}, True), ({"at": 5.0}, True), ({"at": 4.9}, False), ({"at": 20.0, "period": 300.0}, True),
     ({"at": 19.9, "period": 300.0}, False), ({"at": -100.0}, False), ({"at": None}, False), ({"watts": None}, False)],
)  # fmt: skip
def test_a_report_says_something_of_this_run_soon_after_the_switching(kept, says):
    """Five seconds, of a slow meter twenty: sooner it may be of the time before."""
    assert (told(**kept) is not None) is says


@pytest.mark.parametrize(
    ("at", "period", "no_means", "proves"),
    [
        (60.0, 10.0, False, True),
        (59.9, 10.0, False, False),
        (300.0, 300.0, False, True),
        (299.0, 300.0, False, False),
        (60.0, 300.0, True, True),
        (59.9, 300.0, True, False),
    ],
)
def test_late_enough_it_proves_power_that_does_not_flow(at, period, no_means, proves):
    """A minute and a period after the switching, or a minute where a slow meter was seen to tell no means."""
    assert told(at=at, period=period, no_means=no_means).proves is proves


@pytest.mark.parametrize(("period", "slow"), [(61.0, False), (61.1, True)])
def test_a_meter_that_tells_once_a_minute_is_quick(period, slow):
    """A second late is no slower."""
    assert told(period=period).slow is slow


@pytest.mark.parametrize(("watts", "nothing"), [(18.0, True), (18.1, False)])
def test_up_to_the_floor_no_power_flows(watts, nothing):
    """3 % of 600 W, at the mains as it is."""
    assert told(watts=watts, volts=200.0).nothing is nothing


def test_with_volts_it_is_exact_and_at_the_nominal_voltage():
    """A resistance: 600 W at 460 V would be 150 W at 230 V; without volts the watts stand as told."""
    assert told(volts=460.0) == Power(150.0, 1000.0, True, True, False, False)
    assert told() == Power(600.0, 1000.0, False, True, False, False)


def test_two_powers_are_one_level_up_to_a_share_of_the_greater():
    """7 W of 100 are within the 12 W that any meter may stray; 70 of 1000 are not more than 7 %."""
    assert near(88.0, 100.0, True)
    assert not near(87.9, 100.0, True)
    assert near(930.0, 1000.0, True)
    assert Power(1370.0, 0.0, False, True, False, False).near(1500.0)
    assert not Power(1370.0, 0.0, True, True, False, False).near(1500.0)


def test_warmth_goes_to_the_power_within_its_time_constant():
    """1 - 1/e of the way after one; a second that is past changes nothing (derived from the differential equation)."""
    assert later(0.0, 1000.0, 900.0, 900.0) == pytest.approx(1000.0 * (1.0 - 1.0 / e))
    assert later(500.0, 1000.0, 0.5, 900.0) == pytest.approx(1000.0 - 500.0 * e ** (-0.5 / 900.0), abs=1e-9)
    assert later(500.0, 1000.0, -10.0, 900.0) == 500.0


def test_a_kinds_time_constant_is_its_store_over_the_slope_of_its_output():
    """EN 442: the output goes as the rise to the power of 1.3, so near its label it takes c·rise/(1.3·P); the panel's
    2.5 J/(K·W) and 60 K are common practice, no published source."""
    assert tau_seconds("panel") == pytest.approx(2.5 * 60.0 / 1.3)


def test_a_resting_body_is_brought_up_to_a_second():
    """To a tenth of a watt; without a time it has rested for six hours, and a clock that began anew leaves it warm."""
    notes = {"warmth": 271.8, "warm_at": 100.0}
    cool_to(notes, 1000.0, 900.0)
    assert notes == {"warmth": 100.0, "warm_at": 1000.0}
    notes = {"warmth": 700.0, "warm_at": 100.0}
    cool_to(notes, 1000.0, 900.0)
    assert notes["warmth"] == 257.5  # 700 W / e is 257.516 W
    notes = {"warmth": 700.0}
    cool_to(notes, 1000.0, 21_600.0)
    assert notes["warmth"] == 257.5
    notes = {"warmth": 700.0, "warm_at": 5000.0}
    cool_to(notes, 1000.0, 900.0)
    assert notes == {"warmth": 700.0, "warm_at": 1000.0}
    notes = {}
    cool_to(notes, 1000.0, 21_600.0)
    assert notes == {"warmth": 0.0, "warm_at": 1000.0}
