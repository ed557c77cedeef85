"""thermostatd heats rooms with portable electric heaters on smart plugs, and always ends in OFF.

house = load_house("house.toml")
regulator = Regulator(house)
result = regulator.step(moment, observation)     # reading → target → demand → pace → guard → order → record
for plug, order in result.orders.items(): ...    # tell it: order.on, until order.lapses
answer = regulator.do(moment, Ask(room="study", celsius=21.0))
history.add(moment, observation, result)
regulator.adopt(fit(house, history))
"""

from thermostatd.core.asking import (
    NEXT_STEP,
    NO_END,
    Accepted,
    AllOff,
    Ask,
    Cancel,
    Out,
    Refused,
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
    "Seen",
    "Undo",
    "UsualWeek",
    "WarmMe",
    "fit",
    "load_house",
]
