"""What a heater takes from the mains, what a plug and a circuit carry for hours, and how long a relay lasts.

Rules: a heater is a resistance, so at high mains it takes more amperes and the square of that in watts;
long loads are counted with high mains; local codes and licensed practice decide, not this file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor

CONTINUOUS_SHARE = 0.8  # NEC 210.20, 210.23(A)(1)
CONTINUOUS_HOURS = 3.0  # NEC article 100: a load of three hours or more is continuous
BS1363_LONG_LOAD_AMPS = 10.0  # a 13 A plug on long loads: practitioners' advice, second-hand
THERMOSTAT_OPERATIONS = 10_000  # IEC 60335-1 clause 24, from memory; type-test counts
SELF_RESETTING_OPERATIONS = 300
MANUAL_RESET_OPERATIONS = 30
AUTOMATIC_ACTION_CLASSES = (
    6_000,
    10_000,
    20_000,
    30_000,
    100_000,
    200_000,
    300_000,
)  # IEC 60730-1, second-hand


@dataclass(frozen=True, slots=True)
class Draw:
    """What one selection draws at three mains voltages, W and A."""

    low_watts: float
    watts: float
    high_watts: float
    low_amps: float
    amps: float
    high_amps: float


def draw(watts: float, volts: float, tolerance: float = 0.10) -> Draw:
    """What a heater of `watts` at nominal `volts` takes at mains of ± `tolerance` (EN 50160: 0.10)."""
    if not watts > 0:
        raise ValueError("a heater has more than 0 W: write what its label or its meter says")
    if not volts > 0:
        raise ValueError("volts must be over zero: write the nominal mains voltage, such as 230")
    if not 0 <= tolerance < 1:
        raise ValueError("the tolerance is a share of nominal, such as 0.10")
    low, high, amps = 1 - tolerance, 1 + tolerance, watts / volts
    return Draw(watts * low * low, watts, watts * high * high, amps * low, amps, amps * high)


def continuous_amps(breaker_amps: float, share: float = CONTINUOUS_SHARE) -> float:
    """Amperes that long loads may take of a breaker together."""
    if not breaker_amps > 0 or not 0 < share <= 1:
        raise ValueError("a breaker has more than 0 A and its continuous share lies over 0 up to 1")
    return breaker_amps * share


def continuous_watts(breaker_amps: float, volts: float, share: float = CONTINUOUS_SHARE) -> float:
    """Watts that long loads may take of a breaker together at `volts`."""
    return continuous_amps(breaker_amps, share) * volts


@dataclass(frozen=True, slots=True)
class Fit:
    """Whether a load fits: the amperes it takes at high mains, the amperes allowed, and one sentence."""

    fits: bool
    amps: float
    allowed_amps: float
    sentence: str


def fits_circuit(
    watts: Iterable[float],
    volts: float,
    breaker_amps: float,
    share: float = CONTINUOUS_SHARE,
    tolerance: float = 0.10,
) -> Fit:
    """Whether heaters may run together for hours on one breaker, counted at high mains."""
    taken = sum(draw(one, volts, tolerance).high_amps for one in watts)
    allowed = continuous_amps(breaker_amps, share)
    word = "fits" if taken <= allowed else "is over it: use a lower setting, or another circuit"
    against = f"{allowed:.1f} A for long loads on a {breaker_amps:g} A breaker"
    return Fit(taken <= allowed, taken, allowed, f"{taken:.1f} A at high mains against {against}: {word}")


def fits_plug(watts: float, volts: float, rated_amps: float, tolerance: float = 0.10) -> Fit:
    """Whether a plug of a continuous resistive rating carries a heater at high mains."""
    if not rated_amps > 0:
        raise ValueError("a plug is rated over 0 A: read the continuous resistive rating printed on it")
    taken = draw(watts, volts, tolerance).high_amps
    word = (
        "carries it" if taken <= rated_amps else "is rated too low: use a lower setting, or a stronger plug"
    )
    return Fit(
        taken <= rated_amps,
        taken,
        rated_amps,
        f"{taken:.1f} A at high mains; a plug of {rated_amps:g} A {word}",
    )


def heaters_that_fit(
    watts: float, volts: float, breaker_amps: float, share: float = CONTINUOUS_SHARE, tolerance: float = 0.10
) -> int:
    """How many equal heaters may run together for hours on one breaker."""
    return floor(continuous_amps(breaker_amps, share) / draw(watts, volts, tolerance).high_amps + 1e-9)


def relay_years(operations: float, cycles_per_hour: float, days_per_year: float) -> float:
    """Years until a relay has done its rated operations; one cycle (ON and OFF) counts as one."""
    if not (operations > 0 and cycles_per_hour > 0 and days_per_year > 0):
        raise ValueError("operations, cycles per hour and days per year must be over zero")
    return operations / (cycles_per_hour * 24.0 * days_per_year)
