"""The body's arithmetic against closed forms and against the simulated heater."""

from __future__ import annotations

import pytest

from tests.core.body.plant import design
from thermostatd.core.body.store import (
    all_later,
    later,
    stores,
    tau_seconds,
    warmth_of,
    watts_of,
)
from thermostatd.physics.heaters import HeaterBody

STORE = 5031.0


def true_store(built) -> float:
    """The store of a design on the scale of warmth (derived: C·K^(−1/n))."""
    return built.body_joules_per_kelvin * built.watts_per_kelvin_n ** (-1.0 / built.exponent)


def test_warmth_and_watts_are_one_scale():
    """Output follows the rise to the power of 1.3: 60 K give 1.267 of what 50 K give (EN 442)."""
    assert watts_of(warmth_of(626.0)) == pytest.approx(626.0)
    assert watts_of(1.2 * warmth_of(100.0)) == pytest.approx(126.7, abs=0.05)


def test_a_body_settles_where_it_gives_what_it_draws():
    """After many time constants the output is the power drawn."""
    assert watts_of(later(0.0, 588.0, 6 * 3600.0, STORE)) == pytest.approx(588.0, rel=1e-3)


def test_cooling_is_the_closed_form():
    """Without power, c·ẇ = −w^1.3 has w^(−0.3) rising by 0.3·t/c (derived)."""
    after = later(140.0, 0.0, 1800.0, STORE)
    assert after**-0.3 == pytest.approx(140.0**-0.3 + 0.3 * 1800.0 / STORE)


def test_the_time_constant_is_the_slope_of_the_output():
    """τ = C over dΦ/dΔT at the opening temperature (derived)."""
    built = design(1.1, 0.9)
    opens = warmth_of(built.sustained_watts())
    assert tau_seconds(true_store(built), opens) == pytest.approx(built.tau_seconds(), rel=1e-6)


def test_a_run_agrees_with_the_simulated_heater():
    """From cold at full power the arithmetic reaches the opening warmth when the simulated body opens."""
    built = design(0.8, 1.2)
    body, seconds = HeaterBody(built, selection=2), 0.0
    while not body.cutout_open:
        body.step(1.0, 230.0, True, 20.0)
        seconds += 1.0
    warmth = later(0.0, built.selection_watts(2, 230.0), seconds, true_store(built))
    assert warmth == pytest.approx(warmth_of(built.sustained_watts()), rel=5e-3)


def test_some_seconds_can_be_taken_back():
    """A few seconds forth and back are where one began."""
    there = later(100.0, 1500.0, 10.0, STORE)
    assert later(there, 1500.0, -10.0, STORE) == pytest.approx(100.0, abs=0.02)


def test_a_larger_store_warms_more_slowly():
    """The candidates are in order: more store, less warmth."""
    after = all_later([0.0] * len(stores(STORE)), 1500.0, 300.0, STORE)
    assert after == sorted(after, reverse=True)
    assert after[0] > 2.0 * after[-1]


def test_nothing_is_under_nothing():
    """Neither watts nor warmth; and what is under a twentieth is cold."""
    assert warmth_of(-5.0) == watts_of(-5.0) == 0.0
    assert warmth_of(0.5) == pytest.approx(0.5 ** (1 / 1.3))
    assert watts_of(0.5) == pytest.approx(0.5**1.3)
    assert tau_seconds(STORE, 0.0) == tau_seconds(STORE, 0.05) != tau_seconds(STORE, 0.06)
    assert tau_seconds(STORE, 100.0) == pytest.approx(STORE / (1.3 * 100.0**0.3))


def test_a_cold_body_cools_no_further():
    """At a twentieth it still does."""
    assert later(0.049, 0.0, 1.0, STORE) == 0.0
    assert later(0.05, 0.0, 1.0, STORE) == pytest.approx(0.05, abs=1e-3)
    assert later(0.05, 0.0, 1.0, STORE) > 0.0


def test_a_step_is_as_long_as_is_said_and_taken_by_its_middle():
    """The midpoint rule: 20 s unless another is asked for (derived)."""

    def midpoint(warmth: float, watts: float, seconds: float) -> float:
        middle = warmth + 0.5 * seconds / STORE * (watts - warmth**1.3)
        return warmth + seconds / STORE * (watts - middle**1.3)

    assert later(50.0, 900.0, 20.0, STORE) == pytest.approx(midpoint(50.0, 900.0, 20.0), rel=1e-12)
    twice = midpoint(midpoint(50.0, 900.0, 10.5), 900.0, 10.5)
    assert later(50.0, 900.0, 21.0, STORE) == pytest.approx(twice, rel=1e-12)
    assert later(50.0, 900.0, 21.0, STORE, 21.0) == pytest.approx(midpoint(50.0, 900.0, 21.0), rel=1e-12)
    assert later(50.0, 900.0, -20.0, STORE) == pytest.approx(midpoint(50.0, 900.0, -20.0), rel=1e-12)
    assert later(50.0, 900.0, 0.0, STORE) == 50.0
    assert later(50.0, 0.0, -10.0, STORE) == pytest.approx(midpoint(50.0, 0.0, -10.0), rel=1e-12)
    assert later(1.0, 100.0, -300.0, STORE, 300.0) == 0.0


def test_every_candidate_goes_on_by_its_own_store():
    """In thousandths."""
    found = all_later([50.0 + n for n in range(11)], 900.0, 60.0, STORE)
    expected = [round(later(50.0 + n, 900.0, 60.0, one), 3) for n, one in enumerate(stores(STORE))]
    assert found == expected
    assert len(found) == 11
