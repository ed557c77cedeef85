"""The six-state model and its filter, against SciPy (a general-purpose reference library) and closed forms."""

import numpy as np
import pytest
from scipy.linalg import expm, solve_discrete_are
from scipy.signal import cont2discrete

from tests.physics.thermal.rooms import KNOWN, WATTS, values
from thermostatd.physics.thermal.filtering import (
    Filter,
    gain_of,
    interval_mean,
    over_gap,
    process_noise,
    reading_variance,
    steady_covariance,
)
from thermostatd.physics.thermal.model import (
    AIR,
    LEVEL,
    SIZE,
    Constants,
    D,
    discrete,
    exponential,
    holding_watts,
    rates,
)
from thermostatd.physics.thermal.responses import course
from thermostatd.physics.thermal.ripple import best_cycles, calm_cycles, transfer


def test_a_step_is_what_scipy_makes_of_the_rates():
    """Held inputs over a minute give the matrices of scipy.signal.cont2discrete."""
    a, b = rates(values()[:8])
    expected = cont2discrete((a, b, np.eye(SIZE), np.zeros((SIZE, 4))), 60.0, method="zoh")
    found = discrete(values()[:8])
    np.testing.assert_allclose(found[0], expected[0], rtol=1e-9, atol=1e-14)
    np.testing.assert_allclose(found[1], expected[1], rtol=1e-9, atol=1e-14)


def test_of_two_disturbances_one_lasts_for_hours_and_one_for_days():
    """In six hours all but a share 1/e of one is gone, of the other a fortieth; both are heat to the air alike."""
    a, _ = discrete(values()[:8], 6 * 3600.0)
    assert (a[D, D], a[LEVEL, LEVEL]) == (pytest.approx(np.exp(-1.0)), pytest.approx(np.exp(-1.0 / 40.0)))
    at_once, _ = rates(values()[:8])
    assert at_once[AIR, D] == at_once[AIR, LEVEL] == pytest.approx(1.0 / KNOWN.air_joules_per_kelvin)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 40.0])
def test_the_exponential_is_scipys(scale):
    """Small and large matrices alike."""
    matrix = scale * np.random.default_rng(3).normal(size=(6, 6))
    np.testing.assert_allclose(exponential(matrix), expm(matrix), rtol=1e-8)


@pytest.mark.parametrize("gap", [1, 5, 20])
def test_the_steady_covariance_solves_the_riccati_equation(gap):
    """Doubling gives what scipy.linalg.solve_discrete_are gives, for readings a minute or many apart."""
    a, _ = discrete(values()[:8])
    noise, variance = process_noise(np.array(KNOWN.drift_watts), WATTS), reading_variance(0.1)
    power, total = over_gap(a, noise, gap)
    c = np.zeros((1, SIZE))
    c[0, 3] = 1.0
    expected = solve_discrete_are(power.T, c.T, total, np.array([[variance]]))
    np.testing.assert_allclose(steady_covariance(power, total, variance), expected, rtol=1e-6)


def test_the_gain_is_covariance_over_surprise():
    """K = P·C'/(C·P·C' + R)."""
    covariance = np.diag([1.0, 2.0, 3.0, 4.0, 5.0])
    gain, surprise = gain_of(covariance, 1.0)
    assert float(surprise) == 5.0
    assert gain.tolist() == [0.0, 0.0, 0.0, 0.8, 0.0]


def test_heat_in_balance_holds_the_air():
    """Released heat that just replaces what leaves keeps the air where it is (derived)."""
    state, inputs = np.array([0.0, 20.0, 19.0, 20.0, 30.0, 12.0]), np.array([0.0, -3.0, 18.0, 0.0])
    state[0] = holding_watts(KNOWN, 20.0, state, inputs)
    a, b = rates(values()[:8])
    assert (a @ state + b @ inputs)[AIR] == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("mass", [150e3, 1.5e6, 15e6])
def test_heat_that_holds_the_air_for_hours(mass):
    """Whatever the mass, given steadily for three hours it leaves the air near where it was: by its mean (derived)."""
    constants = Constants(**{**KNOWN.plain(), "mass_joules_per_kelvin": mass})
    state, inputs = np.array([0.0, 20.0, 18.5, 20.0, 0.0, 0.0]), np.array([0.0, -3.0, 18.0, 0.0])
    state[0] = inputs[0] = holding_watts(constants, 20.0, state, inputs, 180.0)
    a, b = discrete(values(constants)[:8])
    course = []
    for _ in range(180):
        state = a @ state + b @ inputs
        course.append(state[AIR])
    assert np.mean(course) == pytest.approx(20.0, abs=0.3)
    as_it_is = holding_watts(constants, 20.0, np.array([0.0, 20.0, 18.5, 20.0, 0.0, 0.0]), inputs)
    assert inputs[0] < as_it_is, "a mass that is cold now warms up meanwhile"


def test_the_loss_is_full_power_over_its_steady_rise():
    """In the long run a watt to the air lifts it by 1/loss, and the slowest mode is the time constant (derived)."""
    alone = Constants(**{**KNOWN.plain(), "to_neighbours": 1e-9, "radiant": 1e-9})
    a, b = rates(values(alone)[:8])
    rise = np.linalg.solve(-a[:4, :4], b[:4, 0])[AIR]
    assert 1.0 / rise == pytest.approx(alone.loss_watts_per_kelvin, rel=1e-6)
    slowest = -1.0 / np.max(np.linalg.eigvals(a[1:3, 1:3]))
    assert alone.settling_seconds == pytest.approx(slowest, rel=1e-6)


def test_a_filter_finds_the_state_behind_a_lagging_sensor():
    """Within a day the air is known better than the sensor shows it, though filter and room began apart."""
    rng = np.random.default_rng(5)
    a, b = discrete(values()[:8])
    one = Filter(a, b, KNOWN.drift_watts, WATTS, 0.1)
    true, guess, off, shown = (
        np.array([0.0, 20.0, 19.0, 20.0, 0.0, 0.0]),
        np.array([0.0, 18.0, 18.0, 18.0, 0.0, 0.0]),
        [],
        [],
    )
    for k in range(1440):
        inputs = np.array([WATTS * (k // 25 % 2), 0.0, 20.0, 0.0])
        true = a @ true + b @ inputs
        reading = round(true[3] + rng.normal() * 0.03, 1)
        guess, _ = one.correct(one.ahead(guess, inputs), reading, 1.0)
        off.append(guess[AIR] - true[AIR])
        shown.append(reading - true[AIR])
    assert np.std(off[720:]) < 0.05 < np.std(shown[720:])


@pytest.mark.parametrize(("off", "low", "high"), [(0.0, -1e-9, 1e-9), (0.3, 0.05, 0.3), (2.0, 1.75, 2.0)])
def test_a_value_in_coarse_steps_tells_an_interval(off, low, high):
    """A step of half a kelvin that agrees moves nothing; one that does not moves no further than to its edge."""
    assert low <= interval_mean(off, 0.5, 0.1) <= high
    assert interval_mean(off, 0.1, 0.1) == off


def test_the_ripple_is_what_the_room_does():
    """The best cycle's ripple by harmonics is that of the room stepped minute by minute."""
    a, b = rates(values()[:8])
    cycles = best_cycles(a, b, WATTS, 1.0, 5, 5)
    cost, period = cycles.at(0.5)
    step_a, step_b = discrete(values()[:8])
    state, air = np.zeros(SIZE), []
    half = round(period / 2.0)
    for k in range(40 * half):
        state = step_a @ state + step_b[:, 0] * WATTS * (0.5 if k // half % 2 else -0.5)
        air.append(state[AIR])
    square = np.mean(np.array(air[-4 * half :]) ** 2)
    assert square + 2.0 / period == pytest.approx(cost, rel=0.05)


@pytest.mark.parametrize("most", [300.0, 90.0, 40.0])
def test_a_quick_heater_switches_no_oftener_than_is_borne(most):
    """Its store is a minute's: each switching costs so much more than in a slow one's room, and no more than needed."""
    quick = values()[:8].copy()
    quick[0] = 60.0
    a, b = rates(quick)
    cycles, cost = calm_cycles(a, b, WATTS, 0.28, 5, 5, most)
    assert 2880.0 / cycles.period_minutes.min() <= most
    assert np.array_equal(cycles.cost, best_cycles(a, b, WATTS, cost, 5, 5).cost)
    assert cost == 0.28 or 2880.0 / best_cycles(a, b, WATTS, cost / 1.2, 5, 5).period_minutes.min() > most
    assert (cost == 0.28) is (most == 300.0)


def test_what_no_cost_makes_rarer_is_left_at_the_highest():
    """Fewer than three a day are not to be had."""
    _, cost = calm_cycles(*rates(values()[:8]), WATTS, 1.0, 5, 5, 0.0)
    assert cost >= 1e4


def test_the_transfer_at_rest_is_the_steady_answer():
    """G(0) is the inverse of the rates (derived)."""
    a, b = rates(values()[:8])
    steady = np.linalg.solve(-a, b[:, 0])[AIR]
    assert abs(transfer(a, b, np.array([1e-12]))[0]) == pytest.approx(steady, rel=1e-5)


def test_a_course_is_the_room_stepped_minute_by_minute():
    """State, inputs held and power all add up to the simulated air."""
    a, b = discrete(values()[:8])
    found = course(a, b, 4, 10)
    state, inputs = np.array([200.0, 20.0, 18.0, 19.5, 10.0, -7.0]), np.array([500.0, -2.0, 19.0, 5.0])
    told = found.free(state, inputs) + 500.0 * found.full
    for _ in range(40):
        state = a @ state + b @ inputs
    assert told[-1] == pytest.approx(state[AIR], abs=1e-9)
