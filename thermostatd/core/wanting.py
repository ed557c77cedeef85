"""The third stage, demand, with what surrounds a control law: prices before it, what can be told and windows after it.

Rules: prices move only what the law aims at, within the owner's band; what is told changes no demand; an opened window
takes heat away and adds none. What the interlocks judge by is the higher of the target and what was aimed at.
"""

from __future__ import annotations

from collections.abc import Mapping

from thermostatd.core import foretelling, tariff, window
from thermostatd.core.clock import Now
from thermostatd.core.demand import Wants, demands
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.reading import Readings
from thermostatd.core.results import Target


def wanting(
    house: House,
    memory: Memory,
    readings: Readings,
    wanted: Mapping[str, Target],
    prices: tariff.Prices,
    now: Now,
) -> tuple[Wants, Mapping[str, Target]]:
    """What every room and spot wants, and the targets to judge it by."""
    aimed = tariff.aims(house, prices, wanted, now)
    wants = demands(house, memory, readings, aimed, now)
    wants = foretelling.foretold(house, wants, now)
    wants = tariff.said(wants, house, readings, wanted, aimed, prices, now)
    return window.paused(house, memory, readings, wants, now), tariff.higher(wanted, aimed)
