"""What a heater is taken to do and expected to draw, as far as its plug, its meter and the mains tell.

Rules: on its level, its cut-out closed, it draws what it drew there, at the volts of now where they are told. A slow
meter is one that may show an opening only in the next run.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.body.state import BodyMemory
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.still import SLOW_PERIOD_SECONDS
from thermostatd.core.values import Reading
from thermostatd.physics.heater_kinds import MAKES

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

HIGH_SHARE, ROUGH_HIGH_SHARE = 0.9, 0.84  # of the level; without volts the mains' drift is in the watts
USUAL_CELSIUS = 20.0


def is_on(kept: HeaterMemory) -> bool:
    """Whether the heater is taken to be on: as the plug shows, else as it was told."""
    return kept.shown_on if kept.shown_on is not None else kept.told_on


def is_slow(kept: HeaterMemory) -> bool:
    """Whether an opening may lie between switch-on and the first report that proves anything."""
    return kept.meter_period > SLOW_PERIOD_SECONDS


def expected_watts(case: Case) -> float:
    """What it would draw on its level, its cut-out closed, at the mains of now, W."""
    nominal, volts, body = case.house.house.mains_volts, case.kept.volts, case.kept.body
    if is_slow(case.kept) and body.drew_watts and not body.opened:
        # its runs often end before their level is sure; volts are told of a socket at rest
        return body.drew_watts
    level = (body.full_watts if body.opened else case.kept.facts.level_watts) or case.heater.watts
    return float(level * (volts / nominal) ** 2) if volts else level


def expected_in_report(case: Case, body: BodyMemory) -> float:
    """The same at the volts that came with the report: a bad contact takes a tenth of the power, which is no fall."""
    if is_slow(case.kept) and case.kept.volts and body.full_watts and not body.opened:
        return float(body.full_watts * (case.kept.volts / case.house.house.mains_volts) ** 2)
    return expected_watts(case)


def room_share(case: Case) -> float:
    """The opening warmth in this room's air over that in one of 20 °C: a warm room leaves less rise."""
    celsius = case.air.celsius if isinstance(case.air, Reading) else USUAL_CELSIUS
    opens = MAKES[case.heater.kind].opens_celsius
    return max(0.1, (opens - celsius) / (opens - USUAL_CELSIUS))
