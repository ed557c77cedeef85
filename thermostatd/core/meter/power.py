"""One report of a meter, made comparable with others.

Rules: where the meter tells volts, watts are taken to the house's nominal volts, P·(Vn/V)², since a heater is a
resistance; where it does not, the mains' drift stays in them, and levels are wider. Early in a run a report is
proof only of power that flows, never of power that does not: meters lag, and some average over their period. A slow
meter that was seen not to average proves either a minute after the switching.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.core.house import Heater
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.plug import METER_SETTLE_SECONDS, drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.still import SLOW_PERIOD_SECONDS

EXACT_SHARE, ROUGH_SHARE = 0.07, 0.13
LEAST_WATTS = 12.0
EARLIEST_SECONDS, EARLIEST_SLOW_SECONDS = 5.0, 20.0  # an order may take a moment, and slow meters lag for longer


@dataclass(frozen=True, slots=True)
class Power:
    """Watts at nominal volts at a steady second. `exact`: volts were told; `proves`: late enough in the run."""

    watts: float
    at: float
    exact: bool
    proves: bool
    nothing: bool
    slow: bool

    def near(self, watts: float) -> bool:
        """Whether this is the same power, as far as this meter can tell."""
        return near(self.watts, watts, self.exact)


def near(one: float, other: float, exact: bool) -> bool:
    """Whether two powers, W, are one level."""
    share = EXACT_SHARE if exact else ROUGH_SHARE
    return abs(one - other) <= max(LEAST_WATTS, share * max(one, other))


def power_of(kept: HeaterMemory, heater: Heater, nominal_volts: float) -> Power | None:
    """The heater's latest report while ON; None where it says nothing of this run."""
    slow = kept.meter_period > SLOW_PERIOD_SECONDS
    earliest = switched_at(kept) + (EARLIEST_SLOW_SECONDS if slow else EARLIEST_SECONDS)
    if kept.watts is None or kept.watts_at is None or kept.watts_at < earliest:
        return None
    watts, exact = kept.watts, bool(kept.volts)
    if kept.volts:
        watts *= (nominal_volts / kept.volts) ** 2
    nothing = kept.watts <= drawing_floor_watts(heater)
    at_once = slow and kept.body.no_means and kept.watts_at >= switched_at(kept) + METER_SETTLE_SECONDS
    return Power(watts, kept.watts_at, exact, at_once or evidence_watts(kept) is not None, nothing, slow)
