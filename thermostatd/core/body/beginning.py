"""Begins to follow a heater's body: of such a heater's usual store, at the warmth at which such bodies open.

Rules: how warm a body is that runs already nobody knows; what the owner wrote of it counts until an opening teaches
more.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from thermostatd.core.body.brackets import presume
from thermostatd.core.body.expected import expected_watts, is_on, is_slow
from thermostatd.core.body.lessons import trust_owner
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES, warmth_of, watts_of
from thermostatd.core.house import Heater
from thermostatd.physics.heater_kinds import heater_design, settings_of

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

BEGUN_HOT_SECONDS = 3600.0
OVER_USUAL = 1.15


def begin(case: Case, body: BodyMemory) -> None:
    """Give the body what it lacks, before its first step and after an update."""
    now = case.now.steady
    if _equip(body, case.heater, case.house.house.mains_volts, now) and is_on(case.kept):
        body.doubtful_until = now + BEGUN_HOT_SECONDS
    if not body.lessons and case.heater.sustained_watts is None:
        presume(body, _seen_late(case, body))


def _equip(body: BodyMemory, heater: Heater, volts: float, now: float) -> bool:
    """Give it a store, and where such a body opens. True if it was not followed before: how warm it is nobody knows, if
    it runs already."""
    new = body.store_joules is None
    if new:
        body.begun = now
    if body.store_joules is None or len(body.warmth) != CANDIDATES:
        body.store_joules, body.usual_opens = _usual(
            heater.kind, heater.watts, volts, heater.settings_watts, heater.sustained_watts
        )
        body.warmth, body.proven, body.most = [[0.0] * CANDIDATES for _ in range(3)]
        body.at = now
    if body.usual_opens is None:  # remembered by an earlier version
        body.usual_opens = _usual(
            heater.kind, heater.watts, volts, heater.settings_watts, heater.sustained_watts
        )[1]
    if heater.sustained_watts is not None and not body.lessons:
        trust_owner(body, heater.sustained_watts)
    return new


@lru_cache(maxsize=64)
def _usual(
    kind: str, watts: float, volts: float, settings: tuple[float, ...], sustained: float | None
) -> tuple[float, float]:
    """The store of such a body, and the warmth at which it opens."""
    design = heater_design(kind, watts, volts, settings, sustained)  # type: ignore[arg-type]
    store = design.body_joules_per_kelvin * design.watts_per_kelvin_n ** (-1.0 / design.exponent)
    return round(float(store), 3), round(warmth_of(design.sustained_watts()), 6)


def _seen_late(case: Case, body: BodyMemory) -> bool:
    """Whether it is set to more than such bodies shed, and its meter would show an opening late.

    The lowest setting is not behind the cut-out (common practice, no published source).
    """
    heater, kept = case.heater, case.kept
    if kept.watts_at is None or not is_slow(kept):
        return False
    lowest = min(settings_of(heater.kind, heater.watts, heater.settings_watts))
    return expected_watts(case) > OVER_USUAL * max(lowest, watts_of(body.usual_opens or 0.0))
