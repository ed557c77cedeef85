"""A usual week as seven staves under one scale of hours: hollow, since it is what is wanted.

Rules: all x are per cent of the width; all days have the same degrees to the height; a solid stroke before a step is
the time at which heating will really begin.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from markupsafe import Markup

from thermostatd.edge.pages.amounts import limit_degrees
from thermostatd.edge.pages.speech import DAYS, LONG_DAYS, Unit, speech, t

HEIGHT = 24
_DAY = 1440


@dataclass(frozen=True, slots=True)
class Stave:
    """One day: its name short and long, its drawing, its steps in words, whether it is today."""

    number: int
    short: str
    long: str
    drawing: Markup
    spoken: str
    today: bool


def staves(
    days: Mapping[int, Sequence[tuple[int, float]]],
    now: datetime,
    unit: Unit,
    early: Mapping[tuple[int, int], int] | None = None,
) -> list[Stave]:
    """The seven days. `early` tells the minutes by which heating begins before a step."""
    degrees = [celsius for steps in days.values() for _, celsius in steps] or [18.0]
    low, high = min(degrees), max(degrees)
    found = []
    for day in range(7):
        parts = _stretches(days, day)
        drawing = _drawing(parts, low, max(high, low + 2.0), unit, day, early or {})
        found.append(
            Stave(
                day,
                t(DAYS[day]),
                t(LONG_DAYS[day]),
                drawing,
                _spoken(days[day], unit, day, early or {}),
                now.weekday() == day,
            )
        )
    return found


def _stretches(
    days: Mapping[int, Sequence[tuple[int, float]]], day: int
) -> list[tuple[int, int, float, bool]]:
    """(from minute, to minute, °C, whether a step begins it) over one day."""
    held = next((days[(day - back) % 7][-1][1] for back in range(1, 8) if days[(day - back) % 7]), None)
    edges = [(at, celsius, True) for at, celsius in days[day]]
    if held is not None and (not edges or edges[0][0] > 0):
        edges.insert(0, (0, held, False))
    ends = [at for at, _, _ in edges[1:]] + [_DAY]
    return [(at, end, celsius, step) for (at, celsius, step), end in zip(edges, ends, strict=True)]


def _drawing(
    parts: Sequence[tuple[int, int, float, bool]],
    low: float,
    high: float,
    unit: Unit,
    day: int,
    early: Mapping[tuple[int, int], int],
) -> Markup:
    drawn = []
    before: float | None = None
    for begins, ends, celsius, step in parts:
        left, right = 100 * begins / _DAY, 100 * ends / _DAY
        y = round(HEIGHT - 2 - (HEIGHT - 4) * (celsius - low) / (high - low), 1)
        if before is not None and before != y:
            drawn.append(f'<line class="step" x1="{left:.2f}%" x2="{left:.2f}%" y1="{before}" y2="{y}"/>')
        if step and (day, begins) in early:
            start = max(0.0, left - 100 * early[day, begins] / _DAY)
            drawn.append(
                f'<line class="early" x1="{start:.2f}%" x2="{left:.2f}%" y1="{HEIGHT}" y2="{HEIGHT}"/>'
            )
        drawn.append(f'<line class="step" x1="{left:.2f}%" x2="{right:.2f}%" y1="{y}" y2="{y}"/>')
        if step and right - left > 6:
            above = y > HEIGHT / 2
            where = 'class="last" x="100%"' if right - left < 12 and right > 99 else f'x="{left + 1:.2f}%"'
            drawn.append(
                f'<text {where} y="{y - 4 if above else y + 13}">{limit_degrees(unit, celsius)}</text>'
            )
        before = y
    return Markup(
        f'<svg class="stave" width="100%" height="{HEIGHT}" aria-hidden="true">{"".join(drawn)}</svg>'
    )


def _spoken(
    steps: Sequence[tuple[int, float]], unit: Unit, day: int, early: Mapping[tuple[int, int], int]
) -> str:
    """The day's steps in words."""
    if not steps:
        return t("No steps: the day before goes on.")
    told = []
    for at, celsius in steps:
        clock = speech().hours(datetime(2000, 1, 1, at // 60, at % 60))  # noqa: DTZ001
        words = t("{degrees} from {clock}", degrees=limit_degrees(unit, celsius), clock=clock)
        if (day, at) in early:
            begins = at - early[day, at]
            start = speech().hours(datetime(2000, 1, 1, begins // 60 % 24, begins % 60))  # noqa: DTZ001
            words += " " + t("(heating begins about {clock})", clock=start)
        told.append(words)
    return ", ".join(told)
