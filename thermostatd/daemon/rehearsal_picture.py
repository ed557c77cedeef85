"""A rehearsal as one SVG: five scales on which the laws are compared, and two days of the room they differ in most.

Rules: ink on paper, no colour carries a meaning alone: laws are told apart by their line and mark, and are named;
every figure that is drawn is also written; nothing is fetched and no script runs.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape
from statistics import median
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from thermostatd.daemon.rehearsing import Rehearsal
    from thermostatd.rehearsal.trial import Outcome

WIDE, LEFT, RIGHT = 880, 200, 40
ROW, TOP = 66, 72
TRACE_TOP_GAP, TRACE_TALL = 72, 240
PAPER, INK, AIR, WANTED, PALE = "#f4f1e9", "#20262a", "#9c1f2e", "#1f5a66", "#777265"
LINES = {"hysteresis": (PALE, "2 3"), "proportional": (WANTED, "8 4"), "predictive": (AIR, "")}
MARKS = {"hysteresis": "hollow", "proportional": "square", "predictive": "solid"}
DAY, TRACE_DAYS = 86400.0, 2.0


def picture_of(found: Rehearsal) -> str:
    """The picture's SVG text."""
    scales = list(_scales(found))
    trace_top = TOP + ROW * len(scales) + TRACE_TOP_GAP
    tall = trace_top + TRACE_TALL + 56
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE} {tall}" role="img" '
        f'aria-label="{escape(_said(found))}" font-family="Helvetica, Arial, sans-serif" font-size="13">',
        f'<rect width="{WIDE}" height="{tall}" fill="{PAPER}"/>',
        _text(24, 32, f"{found.days:g} cold days under each control law", size=22, serif=True),
        *_legend(found),
    ]
    for index, (name, unit, values) in enumerate(scales):
        parts += _scale(TOP + ROW * index, name, unit, values)
    parts += _trace(found, trace_top)
    return "\n".join([*parts, "</svg>", ""])


def _said(found: Rehearsal) -> str:
    said = "; ".join(
        f"{one.law}: stray {one.stray_kelvin:.2f} K, {one.clicks_a_day:.0f} clicks a day, {one.kwh:.1f} kWh"
        for one in found.outcomes
    )
    return f"The control laws compared. {said}."


def _scales(found: Rehearsal) -> Iterator[tuple[str, str, list[tuple[Outcome, float | None]]]]:
    laws = found.outcomes
    yield "away from what is wanted", "K", [(one, one.stray_kelvin) for one in laws]
    yield "clicks a day and room", "", [(one, one.clicks_a_day) for one in laws]
    arrived = {one.law: one.arrivals(found.within_reach) for one in laws}
    late = [(one, median(arrived[one.law]) if arrived[one.law] else None) for one in laws]
    if any(value is not None for _, value in late):
        yield "arrives, minutes late", "min", late
    yield "energy", "kWh", [(one, one.kwh) for one in laws]
    if any(one.cost for one in laws):
        yield "cost", "", [(one, one.cost) for one in laws]


def _legend(found: Rehearsal) -> Iterator[str]:
    at = LEFT
    for one in found.outcomes:
        yield _mark(at, TOP - 20, one.law)
        yield _text(at + 12, TOP - 15.5, one.law)
        at += 140


def _scale(top: float, name: str, unit: str, values: list[tuple[Outcome, float | None]]) -> Iterator[str]:
    """One scale: a rule from zero (or below) to the largest, a mark for each law, its figure above it."""
    known = [value for _, value in values if value is not None]
    low, high = min(0.0, *known), max(*known, 0.0)
    high = high if high > low else low + 1.0
    across = WIDE - LEFT - RIGHT
    y = top + 32
    yield _text(24, y + 4, name)
    yield f'<line x1="{LEFT}" x2="{WIDE - RIGHT}" y1="{y}" y2="{y}" stroke="{INK}" stroke-width="1"/>'
    taken: list[float] = []
    for one, value in sorted(values, key=lambda told: told[1] if told[1] is not None else 0.0):
        if value is None:
            continue
        x = LEFT + across * (value - low) / (high - low)
        yield _mark(x, y, one.law)
        lifted = sum(abs(x - other) < 64 for other in taken)
        taken.append(x)
        figure = f"{value:.2f}" if unit == "K" else f"{value:.0f}"
        height = y + 22 if lifted == 1 else y - 10 - 14 * max(lifted - 1, 0)
        yield _text(x, height, f"{figure} {unit}".strip(), middle=True)


def _trace(found: Rehearsal, top: float) -> Iterator[str]:
    """The air of one room under each law, and what was wanted, over the first two days."""
    room = max(found.rooms, key=lambda name: _spread(found, name))
    told = {one.law: [p for p in one.rooms[room].trace if p[0] <= TRACE_DAYS * DAY] for one in found.outcomes}
    everything = [value for points in told.values() for point in points for value in point[1:]]
    if not everything:
        return
    low, high = min(everything) - 0.3, max(everything) + 0.3
    end = max(points[-1][0] for points in told.values() if points) or 1.0

    def at(seconds: float, celsius: float) -> str:
        x = LEFT + (WIDE - LEFT - RIGHT) * seconds / end
        return f"{x:.1f},{top + TRACE_TALL * (high - celsius) / (high - low):.1f}"

    yield _text(24, top - 20, f"{room}, the first two days: the air (thin), and what was wanted (thick)")
    for degree in range(int(low) + 1, int(high) + 1):
        left, right = at(0, degree), at(end, degree)
        yield f'<polyline points="{left} {right}" fill="none" stroke="{PALE}" stroke-width="0.5"/>'
        yield _text(LEFT - 12, float(left.partition(",")[2]) + 4, f"{degree}°", end=True)
    for hour in range(0, int(end // 3600) + 1, 6):
        x = LEFT + (WIDE - LEFT - RIGHT) * hour * 3600.0 / end
        yield _text(x, top + TRACE_TALL + 24, f"{hour % 24:02d}:00", middle=True)
    wanted = next(iter(told.values()))
    yield _line([at(s, target) for s, _, target in wanted], INK, "", 3.0)
    for law, points in told.items():
        colour, dashes = LINES.get(law, (INK, ""))
        yield _line([at(s, air) for s, air, _ in points], colour, dashes, 1.6)


def _spread(found: Rehearsal, room: str) -> float:
    strays = [one.rooms[room].stray_kelvin for one in found.outcomes]
    return max(strays) - min(strays)


def _line(points: list[str], colour: str, dashes: str, wide: float) -> str:
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f'<polyline points="{" ".join(points)}" fill="none" stroke="{colour}" stroke-width="{wide:g}"{dashed}/>'


def _mark(x: float, y: float, law: str) -> str:
    colour = LINES.get(law, (INK, ""))[0]
    if MARKS.get(law) == "square":
        corner = f'x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10"'
        return f'<rect {corner} fill="{PAPER}" stroke="{colour}" stroke-width="2"/>'
    fill = PAPER if MARKS.get(law) == "hollow" else colour
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="{fill}" stroke="{colour}" stroke-width="2"/>'


def _text(
    x: float,
    y: float,
    said: str,
    *,
    size: int = 13,
    serif: bool = False,
    middle: bool = False,
    end: bool = False,
) -> str:
    family = ' font-family="Georgia, serif"' if serif else ""
    anchor = ' text-anchor="middle"' if middle else (' text-anchor="end"' if end else "")
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" fill="{INK}"{family}{anchor}>{escape(said)}</text>'
    )
