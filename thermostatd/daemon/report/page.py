"""A report as one HTML file that needs nothing else: tables, and pictures drawn as SVG.

Rules: no script, nothing fetched; names are escaped; solid against hollow carries the meaning without colour; each
picture has its figures in a table beside it.
"""

# ruff: noqa: E501  (the style sheet)
from __future__ import annotations

from collections.abc import Sequence
from html import escape

from thermostatd.daemon.report.comfort import RoomSums
from thermostatd.daemon.report.pieces import Piece
from thermostatd.daemon.report.text import NOTE, _heater, _piece, _room, _totals
from thermostatd.daemon.report.whole import Report

WIDTH, HEIGHT, LEFT, FOOT = 720, 200, 56, 24
STYLE = """
:root { color-scheme: light dark; --paper: #f4f1e9; --ink: #20262a; --air: #9c1f2e; --wanted: #1f5a66; --hatch: #777265 }
@media (prefers-color-scheme: dark) {
  :root { --paper: #16181a; --ink: #ece6d8; --air: #e8806f; --wanted: #7fb3c4; --hatch: #8a8478 } }
body { background: var(--paper); color: var(--ink); font: 16px/1.5 system-ui, sans-serif; margin: 0 auto; max-width: 760px;
  padding: 24px }
h1, h2 { font-family: Georgia, serif; font-weight: normal } h1 { font-size: 40px; line-height: 1.1; margin: 0 }
h2 { font-size: 22px; border-top: 1px solid var(--ink); padding-top: 8px; margin-top: 40px }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; display: block; overflow-x: auto }
th, td { text-align: right; padding: 4px 8px; font-weight: normal; white-space: nowrap }
th { border-bottom: 1px solid var(--ink); font-size: 13px } th:first-child, td:first-child { text-align: left; padding-left: 0 }
svg { width: 100%; height: auto; overflow: visible } svg text { fill: var(--ink); font-size: 13px }
.bar { fill: var(--air) } .line { fill: none; stroke: var(--wanted); stroke-width: 2 } .dot { fill: var(--paper); stroke: var(--wanted);
  stroke-width: 2 } .rule { stroke: var(--hatch); stroke-width: 1 } .cold { fill: var(--wanted) } .warm { fill: var(--air) }
.fine { fill: none; stroke: var(--hatch) } pre { font: 16px/1.5 system-ui, sans-serif; white-space: pre-wrap }
"""


def report_page(report: Report) -> str:
    """The whole file."""
    since, until = (at.astimezone(report.zone) for at in (report.period.since, report.period.until))
    title = f"{report.house}, {since:%Y-%m-%d} to {until:%Y-%m-%d %H:%M}"
    priced = report.currency is not None
    heaters = ["heater", "kWh", *([report.currency or "cost"] if priced else []), "hours on", "clicks", "trips", "worn",
               "years left"]  # fmt: skip
    most = max((piece.kwh for piece in report.pieces), default=0.0)
    parts = [
        f"<h1>{escape(report.house)}</h1><p>{since:%Y-%m-%d %H:%M} to {until:%Y-%m-%d %H:%M}</p>",
        "".join(f"<p>{escape(' '.join(line.split()))}</p>" for line in _totals(report)),
        "<h2>Energy</h2>", _bars(report),
        "<h2>What the house loses</h2>", _line(report), f"<p>{NOTE}</p>",
        "<h2>Comfort</h2>", _strips(report.rooms),
        _table(["room", "mean °C", "lowest", "highest", "too cold", "too warm", "not known", "late"],
               [_room(room) for room in report.rooms]),
        "<h2>Heaters</h2>", _table(heaters, [_heater(one, priced) for one in report.heaters]),
        f"<h2>By the {report.period.piece}</h2>",
        _table([report.period.piece, "kWh", "outdoors °C", "W/K"],
               [_piece(report, piece, most)[:4] for piece in report.pieces]),
    ]  # fmt: skip
    body = "\n".join(parts)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{escape(title)}</title>\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><style>{STYLE}</style></head>\n'
        f"<body>{body}</body></html>\n"
    )


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f'<th scope="col">{escape(one)}</th>' for one in heads)
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


def _scale(most: float) -> float:
    """A round number at or over the most: 1, 2 or 5 times a power of ten."""
    step = 10.0 ** (len(f"{int(most)}") - 1 if most >= 1 else -1)
    return next(factor * step for factor in (1, 2, 5, 10, 20) if factor * step >= most)


def _frame(title: str, top: float, unit: str, report: Report, inside: str) -> str:
    rules = ""
    for share in (0.0, 0.5, 1.0):
        y = HEIGHT * (1 - share)
        rules += (
            f'<line class="rule" x1="{LEFT}" x2="{WIDTH}" y1="{y:.0f}" y2="{y:.0f}"/>'
            f'<text x="{LEFT - 8}" y="{y + 4:.0f}" text-anchor="end">{top * share:g}</text>'
        )
    names = ""
    step = max(1, len(report.pieces) // 6)
    for place in range(0, len(report.pieces), step):
        names += (
            f'<text x="{_x(place, len(report.pieces)):.0f}" y="{HEIGHT + 18}">{_name(report, place)}</text>'
        )
    return (
        f'<svg viewBox="0 -20 {WIDTH} {HEIGHT + FOOT + 20}" role="img" aria-label="{escape(title)}">'
        f'<text x="{LEFT - 8}" y="-8" text-anchor="end">{unit}</text>{rules}{inside}{names}</svg>'
    )


def _x(place: int, count: int) -> float:
    return LEFT + (WIDTH - LEFT) * place / max(1, count)


def _name(report: Report, place: int) -> str:
    begins = report.pieces[place].begins.astimezone(report.zone)
    return f"{begins:%H:%M}" if report.period.piece == "hour" else f"{begins:%d %b}"


def _bars(report: Report) -> str:
    most = max((piece.kwh for piece in report.pieces), default=0.0)
    if most <= 0:
        return "<p>No energy was used.</p>"
    top, count = _scale(most), len(report.pieces)
    wide = max(1.0, (WIDTH - LEFT) / count - 2)
    bars = "".join(
        f'<rect class="bar" x="{_x(n, count):.1f}" y="{HEIGHT * (1 - piece.kwh / top):.1f}" width="{wide:.1f}" '
        f'height="{HEIGHT * piece.kwh / top:.1f}"><title>{_name(report, n)}: {piece.kwh:.2f} kWh</title></rect>'
        for n, piece in enumerate(report.pieces)
    )
    return _frame(f"kWh by the {report.period.piece}", top, "kWh", report, bars)


def _line(report: Report) -> str:
    known = [(n, piece) for n, piece in enumerate(report.pieces) if (piece.loss_watts_per_kelvin or 0) > 0]
    if not known and report.loss_watts_per_kelvin is not None:
        return f"<p>{report.loss_watts_per_kelvin:.0f} W/K over this time. It is drawn by the day, where there are some.</p>"
    if not known:
        return "<p>Not known: it needs an outdoor sensor, and some days.</p>"
    top, count = _scale(max(_loss(piece) for _, piece in known)), len(report.pieces)
    half = (WIDTH - LEFT) / count / 2
    points = [(_x(n, count) + half, HEIGHT * (1 - _loss(piece) / top), piece) for n, piece in known]
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y, _ in points)
    dots = "".join(
        f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="4"><title>{_loss(piece):.0f} W/K</title></circle>'
        for x, y, piece in points
    )
    return _frame(
        "Loss in watts per kelvin over time",
        top,
        "W/K",
        report,
        f'<polyline class="line" points="{line}"/>{dots}',
    )


def _loss(piece: Piece) -> float:
    return piece.loss_watts_per_kelvin or 0.0


def _strips(rooms: Sequence[RoomSums]) -> str:
    """Each room's time in one strip: too cold, as wanted (hollow), too warm, not known (nothing)."""
    drawn = ""
    for place, room in enumerate(rooms):
        y, x = place * 32, 160.0
        drawn += f'<text x="0" y="{y + 16}">{escape(room.name)}</text>'
        fine = room.known_minutes - room.below_minutes - room.above_minutes
        for kind, minutes in (("cold", room.below_minutes), ("fine", fine), ("warm", room.above_minutes)):
            wide = (WIDTH - 160) * minutes / room.minutes if room.minutes else 0.0
            drawn += f'<rect class="{kind}" x="{x:.1f}" y="{y + 2}" width="{wide:.1f}" height="18"/>'
            x += wide
    tall = 32 * len(rooms)
    words = "Each room's time: too cold first, hollow as wanted, too warm last"
    return f'<svg viewBox="0 0 {WIDTH} {tall}" role="img" aria-label="{words}">{drawn}</svg><p>{words}.</p>'
