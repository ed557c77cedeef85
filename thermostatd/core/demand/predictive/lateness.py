"""How late the air came to a rise that was heated for, and what the next rise learns of it.

Rules: counted when the air is first within 0.2 K; what is an hour late, was vain, or was kept from heating by something
else for ten minutes says nothing of the model; what is learned is a share of the way, and never more than a fifth.
"""

from __future__ import annotations

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.predictive.tracking import Tracked
from thermostatd.physics.thermal.model import AIR

ARRIVED_KELVIN = 0.2
AIMED_EARLY_MINUTES = -1.0  # by its own reckoning, which sees the air some minutes late
MOST_BIAS, LATEST_MINUTES, SHORTEST_MINUTES = 0.2, 60.0, 30.0
BIAS_SHARE, LATE_BIAS_SHARE = 0.3, 0.5
HELD_MINUTES = 10  # for so long heat was wanted and none came


def learn(case: Case, tracked: Tracked) -> None:
    """Once a rise that was heated for has come: how late the air was, and the next one begins so much sooner."""
    notes = case.notes
    begun = notes.get("rise")
    if begun is not None and case.steady >= begun["at"] - 1.0 and notes.get("arriving") is None:
        notes["arriving"] = begun
    elif (
        begun is not None
        and tracked.state[AIR] >= begun["celsius"] - ARRIVED_KELVIN
        and not begun.get("there")
    ):
        begun["there"] = case.steady
    waiting = notes.get("arriving")
    if waiting is None:
        return
    there = waiting.get("there")
    if there is None and tracked.state[AIR] >= waiting["celsius"] - ARRIVED_KELVIN:
        there = case.steady
    late = ((case.steady if there is None else there) - waiting["at"]) / 60.0
    if there is None and late < LATEST_MINUTES:
        return
    if there is not None and not waiting.get("vain") and waiting.get("held", 0) <= HELD_MINUTES:
        length = max(SHORTEST_MINUTES, (waiting["at"] - waiting["since"]) / 60.0)
        off = max(-20.0, min(20.0, late + AIMED_EARLY_MINUTES))
        bias = notes.get("bias", 0.0) + (LATE_BIAS_SHARE if off > 0.0 else BIAS_SHARE) * off / length
        notes["bias"] = round(max(-MOST_BIAS, min(MOST_BIAS, bias)), 4)
        notes["late"] = [*notes.get("late", [])[-9:], round(late, 1)]
    notes["arriving"] = None
