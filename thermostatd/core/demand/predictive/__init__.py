"""Control by a learned model of the room: it arrives on time, keeps to the target, and clicks seldom.

Rules: without a model that was found good, or while the model is at odds with what the sensor says, a room is heated
by hysteresis exactly; decided once a minute and kept between; never over what the `overshoot` interlock allows. The
model's `thermal` part (core/modelling.py) and numpy are loaded only where there is one.

What people may be told stands in `Demand.outlook`.
"""

from __future__ import annotations

from thermostatd.core.demand import hysteresis
from thermostatd.core.demand.law import Case
from thermostatd.core.memory import Notes
from thermostatd.core.results import Demand


def decide(case: Case) -> Demand:
    """Demand of a room by its model; by hysteresis as long as there is none to search with."""
    if not case.model or not case.model.get("thermal"):
        return hysteresis.decide(case)
    from thermostatd.core.demand.predictive.planned import decide_by_model

    demand = decide_by_model(case)
    if demand is None:
        return hysteresis.decide(case)
    case.notes["on"] = demand.on
    return demand


def heats_for(notes: Notes, model: Notes | None, steady: float) -> float | None:
    """The target of a coming rise that a room is heated for already, °C; None where there is none, or no model to
    heat for it by."""
    rise = notes.get("rise")
    if rise is None or rise["at"] <= steady or notes.get("at_odds") or not (model and model.get("thermal")):
        return None
    return float(rise["celsius"])
