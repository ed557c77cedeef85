"""Looking back over a record with what came later: against a least squares over all steps at once (SciPy), and on
people who come at a known minute."""

import numpy as np
from scipy.linalg import lstsq, sqrtm

from tests.physics.thermal.rooms import KNOWN, record
from thermostatd.physics.thermal.filtering import process_noise, reading_variance, steady_covariance
from thermostatd.physics.thermal.fitting import smoothed, to_parameters, to_values
from thermostatd.physics.thermal.learned import PROFILE_BINS, profile
from thermostatd.physics.thermal.model import AIR, MASS, SENSOR, SIZE, discrete
from thermostatd.physics.thermal.record import Record

ROW = np.atleast_2d(to_parameters(KNOWN))
COMES, GOES, WATTS = 7 * 60, 10 * 60, 150.0


def test_it_is_what_a_least_squares_over_all_steps_finds():
    """The most likely course of all states, given every reading: the same, solved in one piece."""
    whole = record(0.2)
    short = Record(2, whole.celsius[:60], whole.inputs[:60], whole.watts, whole.step_kelvin)
    a, b = discrete(to_values(ROW)[:, :8], 120.0)
    found = smoothed(short, ROW, a, b)[:, 0]
    np.testing.assert_allclose(found, _in_one_piece(short, a[0], b[0]), rtol=1e-5, atol=1e-5)


def _in_one_piece(short, a, b):
    count, noise = len(short), 2.0 * process_noise(np.array(KNOWN.drift_watts), short.watts)
    variance = reading_variance(short.step_kelvin)
    first = np.zeros(SIZE)
    first[[AIR, MASS, SENSOR]] = short.celsius[0]
    before = np.linalg.inv(sqrtm(steady_covariance(a, noise, variance)).real)
    between = np.linalg.inv(sqrtm(noise).real)
    rows, right = [], []
    for step in range(count):
        row = np.zeros((SIZE, count * SIZE))
        row[:, step * SIZE : (step + 1) * SIZE] = between if step else before
        if step:
            row[:, (step - 1) * SIZE : step * SIZE] = -between @ a
        rows.append(row)
        right.append(between @ b @ short.inputs[step] if step else before @ (a @ first + b @ short.inputs[0]))
        seen = np.zeros((1, count * SIZE))
        seen[0, step * SIZE + SENSOR] = variance**-0.5
        rows.append(seen)
        right.append(np.array([short.celsius[step] * variance**-0.5]))
    return lstsq(np.vstack(rows), np.concatenate(right))[0].reshape(count, SIZE)


def test_a_usual_day_knows_when_people_come_and_go():
    """Guests from seven to ten: half of what they bring is there within a quarter of an hour of either."""
    days = record(5, guests=(COMES, GOES, WATTS))
    usual = np.array(profile(days, ROW[0]))
    minutes = (np.arange(PROFILE_BINS) + 0.5) * 1440 / PROFILE_BINS
    over = usual - np.median(usual)
    half = 0.5 * over[(minutes > COMES) & (minutes < GOES)].max()
    morning = (minutes > COMES - 120) & (minutes < COMES + 120)
    evening = (minutes > GOES - 90) & (minutes < GOES + 120)
    came = np.interp(half, over[morning], minutes[morning])
    went = np.interp(-half, -over[evening], minutes[evening])
    assert abs(came - COMES) < 15
    assert abs(went - GOES) < 15
