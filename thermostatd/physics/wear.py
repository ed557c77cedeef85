"""What is used up of a plug's relay and a heater's cut-out, and when it is likely spent at this season's pace.

Rules: one cycle, an ON and an OFF, is one rated operation; a count without a pace has no date; type-test counts are
what a part is tested for, not when it fails: near them, look at it. A season is what a heater runs in a year.
"""

from __future__ import annotations

from dataclasses import dataclass

from thermostatd.physics.wiring import SELF_RESETTING_OPERATIONS

YEAR_SECONDS = 365.25 * 86400.0
LEAST_SEASON_SECONDS = 3 * 86400.0


@dataclass(frozen=True, slots=True)
class Part:
    """One part: how much is used of what it is rated for, and the years left at this pace (None: no pace yet)."""

    used: float
    rated: float
    a_day: float | None
    years_left: float | None

    @property
    def share(self) -> float:
        """Used over rated; over 1 when it has outlived its rating."""
        return self.used / self.rated


@dataclass(frozen=True, slots=True)
class Wear:
    """A heater on its plug: the relay by its rated operations, the cut-out by its type test, and hours on."""

    relay: Part
    cutout: Part
    hours: float
    hours_a_day: float | None


def wear(
    switchings: int,
    on_seconds: float,
    openings: int,
    *,
    rated_operations: float,
    season_seconds: float = 0.0,
    season_switchings: int = 0,
    season_on_seconds: float = 0.0,
    season_openings: int = 0,
    days_a_year: float = 180.0,
) -> Wear:
    """Wear of one heater. `season_…` are this season's counts over `season_seconds`; ValueError out of reason.

    `switchings` counts ON and OFF each; `days_a_year` is how long the pace holds in a year (180 days: a heating
    season). 300 openings of a self-resetting cut-out: IEC 60335-1 clause 24, from memory.
    """
    if not rated_operations > 0.0 or not 0.0 < days_a_year <= 366.0:
        raise ValueError("rated_operations must be over zero, and a year has 1 to 366 days of heating")
    if (
        min(switchings, openings, season_switchings, season_openings) < 0
        or min(on_seconds, season_seconds) < 0.0
    ):
        raise ValueError("counts cannot be negative")
    days = season_seconds / 86400.0 if season_seconds >= LEAST_SEASON_SECONDS else None
    return Wear(
        _part(switchings / 2.0, rated_operations, season_switchings / 2.0, days, days_a_year),
        _part(float(openings), float(SELF_RESETTING_OPERATIONS), float(season_openings), days, days_a_year),
        on_seconds / 3600.0,
        season_on_seconds / 3600.0 / days if days else None,
    )


def _part(used: float, rated: float, lately: float, days: float | None, days_a_year: float) -> Part:
    pace = lately / days if days else None
    years = max(0.0, rated - used) / (pace * days_a_year) if pace else None
    return Part(used, rated, pace, years)
