"""A heater that drew though it was told to be off: for a while nobody knows how warm it is."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

STUCK_SECONDS = 7200.0


def drew(case: Case, notes: Notes) -> None:
    """It draws now, and is off."""
    notes["stuck_at"] = case.now.steady


def lately(case: Case, notes: Notes) -> bool:
    """Whether it drew though it was off, not long ago."""
    return bool(0.0 <= case.now.steady - notes.get("stuck_at", -inf) < STUCK_SECONDS)
