"""What a decision costs: the predictive law's own time against hysteresis's, in the same minutes of the same house.

Rules: CPU time of the law alone, a room and decision, and of the whole step; from the third day, when a model is in
use; both laws are given the very same cases, so that a busy machine weighs on both alike.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from statistics import mean, median
from typing import Any

from tests.bench.plant.engine import simulate, weather_file
from tests.bench.plant.goals import Goal
from tests.bench.plant.houses import BUILDINGS
from tests.bench.plant.programme import house_tables
from tests.bench.plant.regulated import Knobs, Regulated
from tests.bench.plant.run import FIRST_DAY
from tests.bench.plant.trace import Trace
from thermostatd.core import demand
from thermostatd.core.demand import hysteresis
from thermostatd.core.house import House

MOST_TIMES, DAYS = 200.0, 3


@dataclass
class Timed:
    """A law that also times itself and hysteresis on each case."""

    law: Callable[[Any], Any]
    own: list[float] = field(default_factory=list)
    plain: list[float] = field(default_factory=list)

    def __call__(self, case: Any) -> Any:
        """The law's demand."""
        same = replace(case, notes={"on": case.was_on})
        begun = time.thread_time_ns()
        found = self.law(case)
        between = time.thread_time_ns()
        hysteresis.decide(same)
        ended = time.thread_time_ns()
        if case.steady > 2.2 * 86400.0:
            self.own.append((between - begun) / 1e3)
            self.plain.append((ended - between) / 1e3)
        return found


def measure() -> list[Goal]:
    """The ratio; in this process, since it is the process that is timed."""
    building, trace = BUILDINGS["light"], Trace()
    house = House.model_validate(house_tables(building, "constant", "predictive", {}))
    timed = Timed(demand.LAWS["predictive"])
    driver = Regulated(building, house, 1, trace, Knobs(fit_days=(1, 2)))
    kept = demand.LAWS
    demand.LAWS = {**kept, "predictive": timed}  # type: ignore[misc]
    try:
        simulate(building, weather_file("newark"), FIRST_DAY, DAYS, driver)
    finally:
        demand.LAWS = kept  # type: ignore[misc]
    own, plain = mean(timed.own), mean(timed.plain)
    told = f"{own / plain:.0f} times: {own:.0f} us (median {median(timed.own):.0f}) against {plain:.1f} us"
    fits = ", ".join(f"{seconds:.1f}" for seconds in driver.fits.seconds)
    return [
        Goal(
            "cost", "a room and decision ≤ 200 times hysteresis's own step", told, own <= MOST_TIMES * plain
        ),
        Goal("cost", "(told only) fitting three rooms, CPU s of days 1, 2", fits, None),
    ]
