"""thermostatd heats rooms with portable electric heaters on smart plugs, and always ends in OFF.

house = load_house("house.toml")
regulator = Regulator(house)
result = regulator.step(moment, observation)     # reading → target → demand → pace → guard → order → record
for plug, order in result.orders.items(): ...    # tell it: order.on, until order.lapses
answer = regulator.do(moment, Ask(room="study", celsius=21.0))
history.add(moment, observation, result)
regulator.adopt(fit(house, history))
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermostatd.core.asking import (
        NEXT_STEP,
        NO_END,
        Accepted,
        AllOff,
        Ask,
        Cancel,
        Out,
        Refused,
        RoomOff,
        Seen,
        Undo,
        UsualWeek,
        WarmMe,
    )
    from thermostatd.core.house import House
    from thermostatd.core.learning import History, fit
    from thermostatd.core.regulator import Regulator
    from thermostatd.core.values import Missing, Moment, Observation, PlugReport, Reading
    from thermostatd.edge.house_file import HouseFileError, load_house

__all__ = [
    "NEXT_STEP",
    "NO_END",
    "Accepted",
    "AllOff",
    "Ask",
    "Cancel",
    "History",
    "House",
    "HouseFileError",
    "Missing",
    "Moment",
    "Observation",
    "Out",
    "PlugReport",
    "Reading",
    "Refused",
    "Regulator",
    "RoomOff",
    "Seen",
    "Undo",
    "UsualWeek",
    "WarmMe",
    "fit",
    "load_house",
]

# Each name loads when it is first used, so that `thermostatd --help` and a shell's completion answer at once.
_PLACES = {
    "thermostatd.core.asking": (
        "NEXT_STEP",
        "NO_END",
        "Accepted",
        "AllOff",
        "Ask",
        "Cancel",
        "Out",
        "Refused",
        "RoomOff",
        "Seen",
        "Undo",
        "UsualWeek",
        "WarmMe",
    ),
    "thermostatd.core.house": ("House",),
    "thermostatd.core.learning": ("History", "fit"),
    "thermostatd.core.regulator": ("Regulator",),
    "thermostatd.core.values": ("Missing", "Moment", "Observation", "PlugReport", "Reading"),
    "thermostatd.edge.house_file": ("HouseFileError", "load_house"),
}


def __getattr__(name: str) -> Any:
    for place, names in _PLACES.items():
        if name in names:
            found = globals()[name] = getattr(import_module(place), name)
            return found
    raise AttributeError(f"thermostatd has no {name}")


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
