"""What was learned of a heater from its meter: it follows the heater, and survives restarts.

Rules: watts are normalised to the house's nominal volts where the meter tells volts; None means "not known
yet" and is said so; a spread is one standard deviation; times are Unix seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field

MOST_LEVELS = 6
MOST_TRIPS = 12


@dataclass
class LevelFact:
    """One power that this heater has drawn steadily, W, how sure, how often, and when last."""

    watts: float
    spread_watts: float
    count: int = 1
    seen_wall: float = 0.0


@dataclass
class TripFact:
    """One opening of the heater's own cut-out: after so many seconds ON, from these watts down to those."""

    at_wall: float
    run_seconds: float
    before_watts: float
    after_watts: float
    body_watts: float | None = None
    """The body's filtered power just then, by the time constant believed at the time, W."""


@dataclass
class HeaterFacts:
    """Everything known of one heater.

    `level_watts` is the level it is on (or was, when last on). The body is ẏ = (P − y)/`body_tau_seconds`; its
    cut-out opens where y reaches `opens_watts`. `sustained_watts` is what it sheds for hours without opening.
    `set_watts` is what its selector was said to be set to while its levels were seen.
    """

    levels: list[LevelFact] = field(default_factory=list)
    level_watts: float | None = None
    set_watts: float | None = None
    trips: list[TripFact] = field(default_factory=list)
    trip_count: int = 0
    body_tau_seconds: float | None = None
    body_tau_spread_seconds: float | None = None
    opens_watts: float | None = None
    opens_spread_watts: float | None = None
    sustained_watts: float | None = None
    sustained_spread_watts: float | None = None
