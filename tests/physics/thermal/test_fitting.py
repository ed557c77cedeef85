"""Learning a room's constants: on records made with known ones, and against SciPy's least squares."""

import numpy as np
import pytest
from scipy.optimize import least_squares

from tests.physics.thermal.rooms import KNOWN, WATTS, record, values
from thermostatd.physics.thermal import fitting
from thermostatd.physics.thermal.fitting import fit, to_parameters, usual
from thermostatd.physics.thermal.learned import answer_kelvin, answer_spread, learn


@pytest.fixture(scope="module")
def two_days():
    return record(2)


@pytest.fixture(scope="module")
def fitted(two_days):
    return fit(two_days, usual(WATTS, 900.0, False))


def test_known_constants_come_back_within_the_stated_error(fitted):
    """What the record tells (answer to heat, loss) is right within three stated deviations, and these are small."""
    true = to_parameters(KNOWN)
    spread = answer_spread(fitted)
    assert spread < 0.15
    assert abs(np.log(answer_kelvin(fitted.parameters) / answer_kelvin(true))) < 3 * spread + 0.05
    found = fitted.constants
    assert found.loss_watts_per_kelvin == pytest.approx(KNOWN.loss_watts_per_kelvin, rel=0.25)
    off = (fitted.parameters - true) / np.sqrt(np.diag(fitted.covariance))
    assert np.sum(np.abs(off[:8]) < 3.0) >= 7


def test_forecasts_are_nearly_as_good_as_with_the_true_constants(fitted):
    """On days it has not seen, the fitted room forecasts within a tenth of what the true constants do."""
    unseen = record(2, seed=9)
    true = fitting.forecast_errors(unseen, to_parameters(KNOWN))
    found = fitting.forecast_errors(unseen, fitted.parameters)
    for mine, best in zip(found[:3], true[:3], strict=True):
        assert np.sqrt(np.mean(mine**2)) < 1.15 * np.sqrt(np.mean(best**2))


def test_scipys_least_squares_finds_no_better_constants():
    """From what was fitted, scipy.optimize.least_squares gains less than two percent of the same robust cost."""
    day, prior = record(1), usual(WATTS, 900.0, False)
    mine = fit(day, prior)
    bad = day.broken()
    scales = fitting._scales([e[0] for e in fitting._forecasts(day, mine.parameters[None, :], bad)])

    def residuals(parameters):
        parts = [(parameters - prior.mean) / prior.spread]
        errors = fitting._forecasts(day, parameters[None, :], bad)
        for error, scale, trust in zip(errors, scales, fitting.TRUSTS, strict=True):
            size = np.abs(error[0]) / scale
            rho = np.where(size <= fitting.HUBER, 0.5 * size**2, fitting.HUBER * (size - 0.5 * fitting.HUBER))
            parts.append(np.sqrt(2.0 * trust * rho) * np.sign(error[0]))
        return np.concatenate(parts)

    theirs = least_squares(residuals, mine.parameters, max_nfev=4)
    assert 0.5 * np.sum(residuals(mine.parameters) ** 2) < 1.02 * theirs.cost


def test_a_record_without_excitation_is_refused():
    """A heater that never ran tells nothing of what it would do: no model, rather than one that takes it for sun."""
    assert learn(record(2, moves=False), 900.0, False, None) is None


def test_too_short_a_record_is_refused():
    """Half a day is not enough."""
    assert learn(record(0.5), 900.0, False, None) is None


def test_a_day_is_enough_and_what_is_told_is_whole(two_days):
    """A day of a relay's switching gives a model, with loss and time constant and how sure they are."""
    plain = learn(record(1), 900.0, False, None).plain
    assert plain["loss_watts_per_kelvin"] > 3 * plain["loss_spread_watts_per_kelvin"] > 0
    assert plain["settling_hours"] > 0
    assert len(plain["state"]) == 6
    assert plain["profile"] == []
    assert len(learn(two_days, 900.0, False, None).plain["profile"]) == 48


def test_a_worse_model_does_not_replace_a_better_one(two_days):
    """Where the model in use forecasts the held-out hours better, it stays."""
    known = {"constants": KNOWN.plain()}
    other = record(1, seed=3)
    learned = learn(other, 900.0, False, known)
    if learned is not None:
        mine = np.mean(
            [np.mean(np.abs(e)) for e in fitting.forecast_errors(other, to_parameters(learned.constants))]
        )
        best = np.mean([np.mean(np.abs(e)) for e in fitting.forecast_errors(other, to_parameters(KNOWN))])
        assert mine < 1.05 * best
    nonsense = {"constants": {**KNOWN.plain(), "air_joules_per_kelvin": 5e6}}
    assert learn(two_days, 900.0, False, nonsense) is not None


def test_without_outdoor_air_it_still_learns_what_heat_does():
    """No sensor outdoors: the disturbance takes it up, and the answer to heat is still right."""
    learned = learn(record(2, outdoor_known=False), 900.0, False, None)
    assert answer_kelvin(to_parameters(learned.constants)) == pytest.approx(
        answer_kelvin(to_parameters(KNOWN)), rel=0.2
    )


def test_values_are_the_constants_in_order():
    """Parameters and constants turn into one another."""
    np.testing.assert_allclose(fitting.to_values(to_parameters(KNOWN)), values())
