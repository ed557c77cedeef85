"""The span in which a room's air most likely is, in the hours that a learned model foretells.

Rules: a forecast is off in degrees, by the spread that the model was off by in its record, and in time: a heater is
switched a little sooner or later than planned, by more the farther ahead. In a light room whose air swings by a kelvin
in half an hour the second is the larger: without it, three of four airs lay outside (measured in the simulated house).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from thermostatd.core.results import Outlook

SPREADS = 1.28  # standard deviations either way that hold 80 % of a normal spread
OFF_SECONDS, OFF_SHARE = 120.0, 0.35
"""How far a forecast may be off in time: by this, and by this share of how far ahead it is."""


def likely(outlook: Outlook, celsius: float | None, steady: float) -> tuple[tuple[float, float, float], ...]:
    """When (steady seconds), and the lowest and highest air then, °C; `celsius` is the air now, where it is known."""
    points = [(at, air) for at, air, _ in outlook.course if at > steady]
    line = points if celsius is None else [(steady, celsius), *points]
    return tuple(
        (at, low - SPREADS * spread, high + SPREADS * spread)
        for at, _, spread in outlook.course
        if at > steady
        for low, high in [_ends(line, at, OFF_SECONDS + OFF_SHARE * (at - steady))]
    )


def _ends(line: Sequence[tuple[float, float]], at: float, off: float) -> tuple[float, float]:
    """The lowest and highest of a line as far either way of a moment."""
    begins, ends = max(at - off, line[0][0]), min(at + off, line[-1][0])
    airs = [air for when, air in line if begins <= when <= ends]
    airs += [_on(line, begins), _on(line, ends)]
    return min(airs), max(airs)


def _on(line: Sequence[tuple[float, float]], at: float) -> float:
    """The line at a moment within it."""
    for (before, low), (after, high) in pairwise(line):
        if before <= at <= after:
            return low + (high - low) * (at - before) / (after - before)
    return line[-1][1]
