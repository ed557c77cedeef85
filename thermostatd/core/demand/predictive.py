"""Control by a learned model of the room.

Rule: without a model that was found good, a room is heated by hysteresis and says so through its reason.
No search over switchings is built yet: this slot holds the signature, and `check` warns that it heats by hysteresis.
"""

from __future__ import annotations

from thermostatd.core.demand import hysteresis
from thermostatd.core.demand.law import Case
from thermostatd.core.results import Demand


def decide(case: Case) -> Demand:
    """Demand of a room; by hysteresis as long as there is no model to search with."""
    return hysteresis.decide(case)
