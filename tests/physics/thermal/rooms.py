"""Rooms with known constants for the tests: an invented one, and a day or more of its record under a plain relay."""

import numpy as np

from thermostatd.physics.thermal.model import Constants, discrete
from thermostatd.physics.thermal.record import Record

KNOWN = Constants(
    heater_seconds=1000.0,
    air_joules_per_kelvin=2.0e5,
    mass_joules_per_kelvin=3.0e6,
    to_mass=120.0,
    to_outdoors=20.0,
    to_neighbours=5.0,
    sensor_seconds=420.0,
    radiant=0.3,
    drift_watts=2.0,
)
WATTS = 650.0


def values(constants=KNOWN):
    """Constants as a row."""
    return np.array([getattr(constants, name) for name in Constants.__slots__])


def record(days, seed=1, constants=KNOWN, moves=True, outdoor_known=True, guests=None):
    """What a relay of ±0.2 K and a sensor of 0.1 K steps leave of so many days; `moves` False: the relay never does;
    `guests`: from and to which minute of each day people give how many watts that nobody tells of."""
    rng = np.random.default_rng(seed)
    a, b = discrete(values(constants)[:8])
    count = int(days * 1440)
    state, on = np.array([300.0, 20.0, 19.0, 20.0, 0.0, 0.0]), False
    celsius, inputs = np.empty(count), np.zeros((count, 4))
    for k in range(count):
        inputs[k] = WATTS * on, 3.0 * np.sin(2 * np.pi * k / 1440) - 2.0, 20.0, 0.0
        comes = guests is not None and guests[0] <= k % 1440 < guests[1]
        state = a @ state + b @ (inputs[k] + [0.0, 0.0, 0.0, guests[2] if comes else 0.0])
        state[4] += rng.normal() * constants.drift_watts
        celsius[k] = round(state[3] + rng.normal() * 0.03, 1)
        on = (celsius[k] < 20.2 if on else celsius[k] <= 19.8) if moves else False
    if not outdoor_known:
        inputs[:, 1] = 5.0
    pairs = inputs.reshape(count // 2, 2, 4).mean(axis=1)
    return Record(2, celsius[1::2], pairs, WATTS, 0.1)
