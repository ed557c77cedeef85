"""The score's drawings: the scale, each room's rail, each room's day. Server-made SVG.

Rules: all x are per cent of the width, so a drawing fits any width without a script; colours come from the
style sheet by class; solid is what is, hollow what is wanted, dots what is to come, hatching what the owner
does not allow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from markupsafe import Markup

from thermostatd.edge.pages.amounts import number, shown_in
from thermostatd.edge.pages.door import Point, Run
from thermostatd.edge.pages.speech import Unit

PAST_HOURS, AHEAD_HOURS = 24.0, 8.0
_WIDTH, _HEIGHT = 640, 100
_BIN_SECONDS = 900.0


@dataclass(frozen=True, slots=True)
class Scale:
    """The one scale of degrees, °C from `low` to `high`."""

    low: float
    high: float

    def x(self, celsius: float) -> float:
        """Per cent of the width, kept on the scale."""
        share = (celsius - self.low) / (self.high - self.low)
        return round(100 * min(1.0, max(0.0, share)), 2)

    def marks(self, unit: Unit) -> list[tuple[float, str]]:
        """x and label of each printed degree."""
        step = 5 if unit == "F" else 2
        low, high = shown_in(unit, self.low), shown_in(unit, self.high)
        first = math.ceil((low + 0.05 * (high - low)) / step) * step
        shown = range(first, int(high - 0.02 * (high - low)) + 1, step)
        return [(round(100 * (degree - low) / (high - low), 2), number(degree, 0)) for degree in shown]


def scale_over(celsius: Iterable[float]) -> Scale:
    """A scale that holds all of these, with a degree to spare at both ends."""
    known = [value for value in celsius if math.isfinite(value)] or [15.0, 22.0]
    return Scale(math.floor(min(known)) - 1.0, math.ceil(max(known)) + 1.0)


def rail(
    scale: Scale,
    lowest: float,
    highest: float,
    air: float | None,
    target: float | None,
    forecast: Sequence[float] = (),
) -> Markup:
    """One room's rail, 32 px high: limits, air, what is to come, what is wanted."""
    low, high = scale.x(lowest), scale.x(highest)
    parts = [
        f'<line class="track" x1="{low}%" x2="{high}%" y1="16" y2="16"/>',
        f'<svg x="{low}%" class="out"><rect x="-22" y="9" width="20" height="14" class="hatch"/>'
        '<line class="tick" y1="8" y2="24"/></svg>',
        f'<svg x="{high}%" class="out"><rect x="2" y="9" width="20" height="14" class="hatch"/>'
        '<line class="tick" y1="8" y2="24"/></svg>',
    ]
    if air is not None:
        parts.append(_bar(scale, min(lowest, air), air))
        parts += [
            f'<circle class="dot" cx="{scale.x(at)}%" cy="16" r="1.75"/>' for at in _dots(air, forecast)
        ]
    if target is not None:
        parts.append(f'<svg x="{scale.x(target)}%" class="out rider">{_rider(scale, target)}</svg>')
    return Markup(f'<svg class="rail" height="32" width="100%" aria-hidden="true">{"".join(parts)}</svg>')


def _rider(scale: Scale, target: float) -> str:
    """The hollow rider; off the scale, a hollow arrow that points to where it would be."""
    if target < scale.low:
        return '<path d="M2 16l10-11v22z"/>'
    return '<path d="M-2 16l-10-11v22z"/>' if target > scale.high else '<path d="M-5 3h10v26h-10z"/>'


def _bar(scale: Scale, begins: float, ends: float) -> str:
    left, right = scale.x(begins), scale.x(ends)
    return (
        f'<rect class="is" x="{left}%" y="12" width="{round(right - left, 2)}%" height="8"/>'
        f'<svg x="{right}%" class="out"><rect class="is" x="-2" y="9" width="2" height="14"/></svg>'
    )


def _dots(air: float, forecast: Sequence[float]) -> list[float]:
    """Where dots stand between the air and the farthest of the forecast, a quarter kelvin apart."""
    if not forecast:
        return []
    far = max(forecast, key=lambda celsius: abs(celsius - air))
    count = min(24, int(abs(far - air) / 0.25))
    return [air + math.copysign(0.25 * k, far - air) for k in range(1, count + 1)]


@dataclass(frozen=True, slots=True)
class Day:
    """What a day's trace is drawn from. `now` is in the house's zone; °C span from `low` to `high`."""

    now: datetime
    points: Sequence[Point]
    runs: Sequence[Run]
    ahead: Sequence[tuple[float, float]]
    low: float
    high: float
    course: Sequence[tuple[float, float]] = ()
    """Where the air will be: epoch second and °C, by a model that was learned."""
    span: Sequence[tuple[float, float, float]] = ()
    """Between what it most likely is then: epoch second, lowest and highest °C."""

    def x(self, epoch: float) -> float:
        """Share of the width (0..1) of a moment, kept inside."""
        share = (epoch - self.now.timestamp()) / 3600 + PAST_HOURS
        return min(1.0, max(0.0, share / (PAST_HOURS + AHEAD_HOURS)))

    def y(self, celsius: float) -> int:
        """Height in the drawing's own units, from the top."""
        share = (celsius - self.low) / (self.high - self.low)
        return round(_HEIGHT * (1 - min(1.0, max(0.0, share))))


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, to be inked on the trace: when (epoch) and of what kind."""

    at: float
    kind: str


def trace(day: Day, target_now: float | None, marks: Sequence[Mark] = (), unit: Unit | None = None) -> Markup:
    """The last 24 h and the next 8: air and target, under them a mark for each run, and the hours.

    Strips of one width, so that the style sheet may choose the height of the first. `marks` are inked above it: hollow
    for what people asked, solid for troubles. With a `unit` whole degrees are printed at its left, and the span of the
    air to come is shaded.
    """
    air = _path(day, [(at, value) for at, value, _ in day.points], stepped=False)
    wanted = [(at, value) for at, _, value in day.points] + _ahead(day, target_now)
    now = round(100 * day.x(day.now.timestamp()), 2)
    line = f'<line class="now" x1="{now}%" x2="{now}%" y2="100%"/>'
    curves = (
        f'<svg viewBox="0 0 {_WIDTH} {_HEIGHT}" preserveAspectRatio="none" width="100%" height="100%">'
        f"{_likely(day) if unit else ''}"
        f'<path class="want" d="{_path(day, wanted, stepped=True)}"/><path class="air" d="{air}"/>'
        f"{_to_come(day)}</svg>"
    )
    return Markup(
        f"{_inked(day, marks)}"
        f'<svg class="plot" width="100%" height="20" aria-hidden="true">{curves}{_degrees(day, unit)}{line}</svg>'
        f'<svg class="hours" width="100%" height="24" aria-hidden="true">{_runs(day)}'
        f'<line class="base" x2="100%" y1="6.5" y2="6.5"/>{_hours(day)}'
        f'<line class="now" x1="{now}%" x2="{now}%" y2="9"/></svg>'
    )


def _degrees(day: Day, unit: Unit | None) -> str:
    """Hairlines at a few whole degrees, with their numbers."""
    if unit is None:
        return ""
    low, high = shown_in(unit, day.low), shown_in(unit, day.high)
    step = next((size for size in (1, 2, 5, 10) if (high - low) / size <= 4.5), 20)
    printed = []
    for degree in range(math.ceil(low / step) * step, math.floor(high) + 1, step):
        y = round(100 - 100 * (degree - low) / (high - low), 1)
        if 8 <= y <= 98:
            printed.append(
                f'<line class="hair" x2="100%" y1="{y}%" y2="{y}%"/>'
                f'<svg y="{y}%" class="out"><text y="-3">{number(degree, 0)}°</text></svg>'
            )
    return "".join(printed)


def _inked(day: Day, marks: Sequence[Mark]) -> str:
    shapes = {
        "asked": '<path class="wish" d="M-4 2h8l-4 8z"/>',
        "trouble": '<path class="ill" d="M-4 10h8l-4-8z"/>',
    }
    drawn = [
        f'<svg x="{100 * day.x(one.at):.2f}%" class="out">{shapes[one.kind]}</svg>'
        for one in marks
        if one.kind in shapes and 0 < day.x(one.at) < 1
    ]
    return (
        f'<svg class="marks" width="100%" height="12" aria-hidden="true">{"".join(drawn)}</svg>'
        if drawn
        else ""
    )


def _to_come(day: Day) -> str:
    """The air that is to come: dots, as on the rail."""
    coming = _path(day, [*day.course], stepped=False)
    return f'<path class="coming" d="{coming}"/>' if coming else ""


def _likely(day: Day) -> str:
    """The span of the air to come, as one shape: along its highest, and back along its lowest."""
    around = [(at, high) for at, _, high in day.span] + [(at, low) for at, low, _ in reversed(day.span)]
    corners = " ".join(f"{round(_WIDTH * day.x(at))},{day.y(celsius)}" for at, celsius in around)
    return f'<polygon class="likely" points="{corners}"/>' if corners else ""


def _ahead(day: Day, target_now: float | None) -> list[tuple[float, float | None]]:
    now = day.now.timestamp()
    end = now + AHEAD_HOURS * 3600
    steps: list[tuple[float, float | None]] = [(now, target_now)]
    steps += [(at, celsius) for at, celsius in day.ahead if now < at < end]
    return [*steps, (end, steps[-1][1])]


def _path(day: Day, line: Sequence[tuple[float, float | None]], stepped: bool) -> str:
    """An SVG path through the values, one a quarter of an hour, broken where there is none."""
    parts: list[str] = []
    pen: tuple[int, int] | None = None
    for at, value in _thinned(line):
        if value is None:
            pen = None
            continue
        here = (round(_WIDTH * day.x(at)), day.y(value))
        if pen is None:
            parts.append(f"M{here[0]} {here[1]}")
        elif stepped:
            parts.append(f"H{here[0]}" + (f"V{here[1]}" if here[1] != pen[1] else ""))
        else:
            parts.append(f"l{here[0] - pen[0]} {here[1] - pen[1]}")
        pen = here
    return "".join(parts)


def _thinned(line: Sequence[tuple[float, float | None]]) -> list[tuple[float, float | None]]:
    """The first of each quarter of an hour, every change to or from nothing, and the last."""
    kept: list[tuple[float, float | None]] = []
    for point in line:
        fresh = not kept or point[0] // _BIN_SECONDS != kept[-1][0] // _BIN_SECONDS
        if fresh or (point[1] is None) != (kept[-1][1] is None):
            kept.append(point)
    if line and kept[-1] != line[-1]:
        kept.append(line[-1])
    return kept


def _runs(day: Day) -> str:
    marks = []
    for begins, ends in day.runs:
        left, right = 100 * day.x(begins), 100 * day.x(ends)
        if right > 0:
            marks.append(
                f'<rect class="run" x="{left:.2f}%" y="2" width="{max(0.3, right - left):.2f}%" height="3"/>'
            )
    return "".join(marks)


def _hours(day: Day) -> str:
    """Labels at 0, 6, 12 and 18 o'clock of the house."""
    zone: tzinfo | None = day.now.tzinfo
    first = day.now - timedelta(hours=PAST_HOURS)
    labels = []
    for k in range(int(PAST_HOURS + AHEAD_HOURS) + 1):
        at = datetime.fromtimestamp((first.timestamp() // 3600 + 1 + k) * 3600, tz=zone)
        share = day.x(at.timestamp())
        if at.hour % 6 == 0 and 0.02 < share < 0.98:
            labels.append(
                f'<text x="{100 * share:.2f}%" y="20">{at.hour}</text>'
                f'<line class="tick" x1="{100 * share:.2f}%" x2="{100 * share:.2f}%" y1="6" y2="9"/>'
            )
    return "".join(labels)
