"""Advice on a heater's setting, against closed forms and the simulated body."""

from __future__ import annotations

import pytest

from tests.core.body.plant import best_watts, design
from thermostatd.physics.advice import Body, advise, best_cycle

SETTINGS = (588.0, 912.0, 1500.0)
COLUMN = Body(626.0, 20.0, 876.0)


def advice(set_watts=1500.0, loss=20.0, outdoor=0.0, coldest=-6.0, **more):
    """A room of 20 °C with the column heater in it."""
    return advise(SETTINGS, set_watts, 20.0, loss, outdoor, coldest, body=more.pop("body", COLUMN), **more)


def test_the_low_setting_holds_and_the_high_one_opens():
    """With 20 W/K, 588 W holds 20 °C down to −9.4 °C (derived), and is better than 1500 W, whose cut-out opens."""
    found = advice()
    low, _, high = found.settings
    assert low.holds_celsius == pytest.approx(20.0 - 588.0 / 20.0)
    assert low.opens is False
    assert high.opens is True
    assert found.best is low
    assert found.current is high
    assert found.change
    assert found.clicks_saved > 50.0


def test_1500_watts_paced_carry_less_than_588():
    """Within minimum times of five minutes a 1500 W setting carries some 430 W of a body that sheds 626 W (derived)."""
    cycle = best_cycle(1500.0, COLUMN, 300.0, 300.0)
    assert cycle.on_seconds == 300.0
    assert cycle.mean_watts == pytest.approx(433.0, abs=2.0)
    assert advice().settings[2].carries_watts < advice().settings[0].carries_watts


@pytest.mark.parametrize(("capacity", "output"), [(1.0, 1.0), (1.3, 0.7), (1.3, 1.3)])
def test_the_closed_form_is_near_the_simulated_body(capacity, output):
    """The first-order cycle carries within 20 % of what the simulated body does (its output is no straight line)."""
    built = design(capacity, output)
    body = Body(built.sustained_watts(), 0.0, built.tau_seconds())
    simulated = best_watts(built, 1500.0, 300.0, 300.0, 20.0)
    assert best_cycle(1500.0, body, 300.0, 300.0).mean_watts == pytest.approx(simulated, rel=0.2)


def test_a_cycle_ends_at_the_opening_level():
    """A rest of ln(θ/y₀)·τ and a run of five minutes join up: the run ends at the opening level (derived)."""
    from math import exp

    cycle = best_cycle(1500.0, COLUMN, 300.0, 300.0)
    rested = 626.0 * exp(-cycle.off_seconds / 876.0)
    assert 1500.0 - (1500.0 - rested) * exp(-300.0 / 876.0) == pytest.approx(626.0)


def test_a_short_rest_is_lengthened_to_its_minimum():
    """Just over the opening level the rest is the shortest allowed, and the run is what it takes."""
    cycle = best_cycle(700.0, COLUMN, 300.0, 300.0)
    assert cycle.off_seconds == 300.0
    assert cycle.on_seconds > 300.0
    assert cycle.mean_watts < 626.0


def test_a_weak_setting_is_raised():
    """On a low setting that does not hold the coldest, a higher one that its body sheds is better."""
    found = advice(set_watts=588.0, loss=25.0, body=Body(1000.0, 20.0, 876.0))
    assert found.best.watts == 912.0
    assert not found.current.holds


def test_where_nothing_holds_the_most_carried_is_best():
    """A room too leaky for the heater gets the setting that carries most, and is told how far that holds."""
    found = advice(loss=60.0)
    assert found.best.watts == 588.0
    assert not found.best.holds
    assert found.best.holds_celsius == pytest.approx(20.0 - 588.0 / 60.0)


def test_what_is_not_known_is_not_claimed():
    """Without an opening nobody says whether a setting opens, and no unknown setting is advised."""
    found = advice(body=None)
    assert found.current.opens is None
    assert found.best is found.current


def test_hours_without_an_opening_are_evidence():
    """What the heater carried for hours is known to be shed, whatever else is unknown."""
    found = advice(set_watts=588.0, body=None, sheds_watts=588.0)
    assert found.current.opens is False
    assert found.best is found.current


def test_free_heat_counts():
    """A hundred watts of free heat hold five more kelvins at 20 W/K (derived)."""
    one, other = advice(), advice(free_watts=100.0)
    assert one.best.holds_celsius - other.best.holds_celsius == pytest.approx(5.0)
    assert other.needed_watts == pytest.approx(one.needed_watts - 100.0)


@pytest.mark.parametrize(
    "bad", [{"loss": 0.0}, {"loss": float("nan")}, {"outdoor": float("inf")}, {"set_watts": 0.0}]
)
def test_no_numbers_no_advice(bad):
    """Without a loss, an outdoor air or a setting there is no advice."""
    assert advice(**bad) is None


def test_a_cycle_needs_a_setting_over_the_level():
    """A setting that the body sheds has no cycle."""
    with pytest.raises(ValueError, match="over the opening level"):
        best_cycle(588.0, COLUMN, 300.0, 300.0)
