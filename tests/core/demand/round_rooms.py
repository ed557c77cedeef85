"""Rooms in round numbers for the tests of predictive control, and one moment in them. All invented.

Rules: in `ROUND` 600 W warm the air by 0.1 K a minute, at once and for good: nothing is in store and nothing leaves;
`LEAKY` is the same with 20 W/K to outdoors and 10 W/K to the neighbours, of which half leaves from the air.
"""

from dataclasses import replace
from functools import lru_cache

import numpy as np

from tests.core.guard.cases import NOW
from tests.stories.teller import house_of, study
from thermostatd.core.demand.law import Case, Hush
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.core.memory import AirMemory
from thermostatd.core.results import Target
from thermostatd.physics.thermal.model import Constants
from thermostatd.physics.thermal.plans import plans_of

WATTS = 600.0
ROUND = Constants(
    heater_seconds=0.01,
    air_joules_per_kelvin=360_000.0,
    mass_joules_per_kelvin=1e9,
    to_mass=1e-9,
    to_outdoors=1e-9,
    to_neighbours=1e-9,
    sensor_seconds=0.01,
    radiant=1e-9,
    drift_watts=1.0,
)
LEAKY = replace(ROUND, to_outdoors=20.0, to_neighbours=10.0)


def plans(constants=ROUND, cost=0.26, least_on=5, least_off=5):
    """A room's plans: with the minimum times that a heater has if its household says nothing."""
    return plans_of(constants, WATTS, 0.1, least_on, least_off, cost)


def thermal(constants=ROUND, **more):
    """The thermal part of a room's model."""
    return {"constants": constants.plain(), "step_kelvin": 0.1, "watts": WATTS} | more


def tracked(
    air=20.0,
    *,
    store=0.0,
    mass=None,
    drift=0.0,
    outdoor=20.0,
    neighbours=20.0,
    free=0.0,
    day=(),
    minute=0.0,
    errors=(),
    around=(),
):
    """The room as it is followed; `store` and `drift` W, `free` W from a usual day of the parts `day`, W."""
    state = np.array([store, air, air if mass is None else mass, air, drift, 0.0])
    return Tracked(state, np.array([0.0, outdoor, neighbours, free]), tuple(day), (), minute, None, errors, around)


def target(celsius=20.0, coming=None, minutes=None):
    """A target, and what it steps to in so many minutes."""
    at = None if minutes is None else NOW + 60.0 * minutes
    return Target(celsius, "usual", "usual", next_celsius=coming, next_at=at)


def hush(begins, ends, left=4):
    """Quiet hours that begin and end in so many minutes."""
    return Hush(NOW + 60.0 * begins, NOW + 60.0 * ends, left, left, "07:00")


@lru_cache
def _room(room, heater, more):
    return house_of(study(room=room, heater=heater, more=more)).rooms[0]


def case(celsius=20.0, wish=None, *, room="", heater="", more="", at=None, **other):
    """One moment: the air as read at `at`, a target, and whatever else differs from a quiet hour with the heat off."""
    given = {
        "room": _room(room, heater, more),
        "celsius": celsius,
        "target": wish if isinstance(wish, Target) else target(20.0 if wish is None else wish),
        "steady": NOW,
        "seconds": 60.0,
        "was_on": False,
        "watts": WATTS,
        "outdoor_celsius": 20.0,
        "air": AirMemory(celsius=celsius, at=at),
        "notes": {},
        "model": {"thermal": thermal()},
    }
    return Case(**(given | other))
