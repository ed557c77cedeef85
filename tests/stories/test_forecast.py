"""A cold front before a rise, with a forecast of it and without, in a room whose constants are known."""

from dataclasses import replace

import numpy as np
import pytest

from tests.stories.known_room import ALWAYS_20, NIGHTS_17, KnownRooms, house_of
from thermostatd.core.house import ForecastSource

HOUR = 20
RISE = 10 * 60 + 30
"""The stories begin at eight in the evening, so many minutes before the rise of `NIGHTS_17`."""


class Front(KnownRooms):
    """From 8° at four in the morning to -2° at six; `told` each hour of the coming day, or never."""

    def __init__(self, *, told, law="predictive", usual=NIGHTS_17, **more):
        house = house_of(usual=usual, control=law)
        if told:
            table = house.house.model_copy(update={"forecast": ForecastSource(topic="hours")})
            house = house.model_copy(update={"house": table})
        super().__init__(house, outdoor=8.0, hour=HOUR, **more)
        self.told = told

    def yard(self, minute):
        """The outdoor air then, °C."""
        return float(np.interp(minute, [8 * 60, 10 * 60], [8.0, -2.0]))

    def observation(self):
        """The same, and a forecast at each full hour."""
        seen = super().observation()
        due = self.told and self.minute % 60 == 0
        hours = range(25) if due else ()
        return replace(seen, forecast=tuple(round(self.yard(self.minute + 60 * n), 1) for n in hours))

    def step(self):
        """One minute of that night."""
        self.outdoor = self.yard(self.minute)
        super().step()

    def late(self):
        """Minutes after the rise at which the air is first within 0.2 K of its target; inf for never."""
        there = np.array(self.air["study"])[RISE - 240 :] >= 19.8
        return int(np.argmax(there)) - 240 if there.any() else np.inf


def test_a_cold_front_that_was_forecast_makes_no_rise_late():
    """Told of it, the room is warm within ten minutes of the time; untold, it is a quarter of an hour late or more."""
    told, untold = Front(told=True).run(12), Front(told=False).run(12)
    assert -10 <= told.late() <= 10
    assert untold.late() >= 15
    assert max(told.air["study"]) <= 20.4


def test_a_restart_in_the_night_keeps_the_forecast():
    """What was told before it still counts after it: as without a restart, order for order."""
    whole, halved = Front(told=True).run(6.25), Front(told=True).run(6.25)
    halved.restart()
    whole.told = halved.told = False
    assert halved.run(4).runs == whole.run(4).runs
    assert halved.result.house.forecast == whole.result.house.forecast is not None


def test_where_nothing_is_planned_hours_ahead_a_forecast_changes_nothing():
    """A room that is held at its target all day answers to the weather as it comes: order for order the same."""
    told, untold = (Front(told=one, usual=ALWAYS_20).run(11) for one in (True, False))
    assert told.runs == untold.runs
    assert told.switches() > 10


@pytest.mark.parametrize("law", ["hysteresis", "proportional"])
def test_the_other_laws_look_at_no_forecast(law):
    """Order for order the same with it and without."""
    assert Front(told=True, law=law).run(11).runs == Front(told=False, law=law).run(11).runs
