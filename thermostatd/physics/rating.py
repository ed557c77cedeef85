"""What each selection of a heater draws at low, nominal and high mains, and whether circuit and plug carry it.

Rules: P = V²/R; long loads are counted at high mains against the circuit's continuous share and the plug's long-load
rating; what is out of reason raises ValueError("what is wrong: how to mend it"). Ohms are read from a data sheet or
measured cold at the plug's pins, unplugged: nobody opens a heater for this. Local codes and licensed practice decide.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import isfinite

from thermostatd.physics.heaters import joined_ohms, ohms_for, watts_for
from thermostatd.physics.wiring import CONTINUOUS_SHARE, Draw, continuous_amps, draw

MOST_ELEMENTS = 4
LOW_VOLTAGE_REGION = 150.0
TOLERANCE_UNDER, TOLERANCE_OVER = 0.05, 0.10  # ANSI C84.1 at 120 V (from memory); EN 50160 at 230 V
VOLTS_RANGE = (50.0, 300.0)
MOST_OHMS, MOST_WATTS, MOST_AMPS = 10_000.0, 10_000.0, 125.0


@dataclass(frozen=True, slots=True)
class Selection:
    """One selection: what it is called, its resistance Ω, and what it draws."""

    name: str
    ohms: float
    draws: Draw


@dataclass(frozen=True, slots=True)
class Rated:
    """A selection against circuit and plug. None where nothing was said of them.

    `over_breaker` is a heater that its breaker does not even carry for a moment.
    """

    selection: Selection
    fits_circuit: bool | None
    fits_plug: bool | None
    over_breaker: bool


@dataclass(frozen=True, slots=True)
class Rating:
    """The whole answer. Amperes are what long loads may take."""

    volts: float
    tolerance: float
    circuit_amps: float | None
    plug_amps: float | None
    breaker_amps: float | None
    share: float
    selections: tuple[Rated, ...]

    @property
    def over_breaker(self) -> bool:
        """Whether some selection is larger than the breaker itself."""
        return any(one.over_breaker for one in self.selections)


def rate(
    ohms: Sequence[float] = (),
    watts: Sequence[float] = (),
    volts: float = 230.0,
    breaker_amps: float | None = None,
    share: float = CONTINUOUS_SHARE,
    plug_amps: float | None = None,
    tolerance: float | None = None,
) -> Rating:
    """Rate elements of `ohms` (Ω, at most four, each way they can be joined) or settings of `watts` (W at `volts`)."""
    if bool(ohms) == bool(watts):
        raise ValueError("say either the elements in ohms or the settings in watts")
    _in_range(volts, *VOLTS_RANGE, "the mains", "V", "write the nominal voltage, such as 230 or 120")
    if tolerance is None:
        tolerance = TOLERANCE_UNDER if volts < LOW_VOLTAGE_REGION else TOLERANCE_OVER
    _in_range(tolerance, 0.0, 0.5, "the tolerance", "", "write a share of nominal, such as 0.10", zero=True)
    _in_range(share, 0.0, 1.0, "the continuous share", "", "write 0.8, or what your code says")
    selections = _of_ohms(ohms, volts, tolerance) if ohms else _of_watts(watts, volts, tolerance)
    for amps, what, mend in (
        (breaker_amps, "the breaker", "write the amperes printed on it, such as 16"),
        (plug_amps, "the plug", "write its continuous resistive rating, such as 13"),
    ):
        if amps is not None:
            _in_range(amps, 0.0, MOST_AMPS, what, "A", mend)
    allowed = continuous_amps(breaker_amps, share) if breaker_amps is not None else None
    rated = tuple(_rated(one, breaker_amps, allowed, plug_amps) for one in selections)
    return Rating(volts, tolerance, allowed, plug_amps, breaker_amps, share, rated)


def _rated(one: Selection, breaker: float | None, allowed: float | None, plug: float | None) -> Rated:
    amps = one.draws.high_amps - 1e-9
    return Rated(
        one,
        None if allowed is None else amps <= allowed,
        None if plug is None else amps <= plug,
        breaker is not None and one.draws.amps > breaker,
    )


def _of_watts(watts: Sequence[float], volts: float, tolerance: float) -> list[Selection]:
    for one in watts:
        _in_range(one, 0.0, MOST_WATTS, "a setting", "W", "write what the label or the meter says")
    return [
        Selection(f"{one:g} W", ohms_for(one, volts), draw(one, volts, tolerance))
        for one in sorted(set(watts))
    ]


def _of_ohms(ohms: Sequence[float], volts: float, tolerance: float) -> list[Selection]:
    if len(ohms) > MOST_ELEMENTS:
        raise ValueError(f"{len(ohms)} elements are too many: name at most {MOST_ELEMENTS}")
    for one in ohms:
        if one == 0:
            raise ValueError("0 Ω is a short circuit: measure again, cold and unplugged, at the plug's pins")
        _in_range(one, 0.0, MOST_OHMS, "an element", "Ω", "measure it cold, unplugged, at the plug's pins")
    found: dict[float, Selection] = {}
    for count in range(1, len(ohms) + 1):
        for chosen in combinations(range(len(ohms)), count):
            for in_series in (False, True) if count > 1 else (False,):
                joined = joined_ohms([ohms[one] for one in chosen], in_series)
                name = _name([ohms[one] for one in chosen], in_series)
                drawn = draw(watts_for(joined, volts), volts, tolerance)
                found.setdefault(round(joined, 6), Selection(name, joined, drawn))
    return sorted(found.values(), key=lambda one: one.draws.watts)


def _name(ohms: Sequence[float], in_series: bool) -> str:
    joined = " + ".join(f"{one:g} Ω" for one in ohms)
    return joined if len(ohms) == 1 else f"{joined} in {'series' if in_series else 'parallel'}"


def _in_range(
    value: float, low: float, high: float, what: str, unit: str, mend: str, zero: bool = False
) -> None:
    sound = isfinite(value) and value <= high and (value > low or (zero and value == low))
    if not sound:
        shown = f"{value:g} {unit}".strip()
        raise ValueError(f"{what} of {shown} is out of reason: {mend}")
