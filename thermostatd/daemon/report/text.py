"""A report as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from thermostatd.daemon.report.comfort import ON_TIME_MINUTES, RoomSums, median_late
from thermostatd.daemon.report.energy import HeaterSums
from thermostatd.daemon.report.pieces import Piece
from thermostatd.daemon.report.whole import Report

LEAST_KWH = 0.1
NOTE = (
    "The loss is what heating alone explains: sun and people heat too, so the house's true loss is higher. One day's "
    "also has in it what the walls took up or gave back: many days together say more."
)


def report_text(report: Report) -> str:
    """The whole text."""
    since, until = (at.astimezone(report.zone) for at in (report.period.since, report.period.until))
    lines = [f"{report.house}, {since:%Y-%m-%d %H:%M} to {until:%Y-%m-%d %H:%M}", "", *_totals(report), ""]
    heads = ["room", "mean °C", "lowest", "highest", "too cold", "too warm", "not known", "late"]
    lines += [*table(heads, [_room(room) for room in report.rooms]), ""]
    heads = ["heater", "kWh", *([_money(report)] if report.currency is not None else []), "hours on", "clicks",
             "trips", "worn", "years left"]  # fmt: skip
    lines += [*table(heads, [_heater(one, report.currency is not None) for one in report.heaters]), ""]
    heads = [report.period.piece, "kWh", "outdoors °C", "W/K", ""]
    most = max((piece.kwh for piece in report.pieces), default=0.0)
    lines += [*table(heads, [_piece(report, piece, most) for piece in report.pieces]), "", NOTE]
    return "\n".join(lines)


def _totals(report: Report) -> list[str]:
    cost = f", {report.cost:.2f} {report.currency}".rstrip() if report.currency is not None else ""
    lines = [f"energy        {report.kwh:.2f} kWh{cost}", *_evenly(report)]
    if report.degree_days_kelvin_days is not None:
        lines.append(f"degree days   {report.degree_days_kelvin_days:.1f} K·d under 17 °C outdoors")
    loss = report.loss_watts_per_kelvin
    if loss is not None:
        lines.append(f"the house     loses {loss:.0f} W/K ({report.kelvin_days:.1f} K·d over outdoors)")
    if report.arrivals:
        good = sum(
            one.minutes_late is not None and one.minutes_late <= ON_TIME_MINUTES for one in report.arrivals
        )
        lines.append(
            f"arrivals      {good} of {len(report.arrivals)} steps up reached within {ON_TIME_MINUTES:.0f} min"
        )
    return lines


def _evenly(report: Report) -> list[str]:
    """What a kilowatt-hour cost, beside what it costs on a day's mean."""
    if report.even_cost is None or report.kwh < LEAST_KWH:
        return []
    ours, even = report.cost / report.kwh, report.even_cost / report.kwh
    unit = f"{report.currency} a kWh".strip()
    return [f"prices        {ours:.3f} {unit}; taken evenly over each day it would have been {even:.3f}"]


def _room(room: RoomSums) -> list[str]:
    late = median_late(room.arrivals)
    return [
        room.name,
        *(_figure(value, 1) for value in (room.mean_celsius, room.lowest_celsius, room.highest_celsius)),
        span(room.below_minutes),
        span(room.above_minutes),
        span(room.minutes - room.known_minutes),
        "–" if late is None else f"{late:.0f} min",
    ]


def _heater(one: HeaterSums, priced: bool) -> list[str]:
    worn = one.worn_share
    return [
        one.key,
        f"{one.kwh:.2f}",
        *([f"{one.cost:.2f}"] if priced else []),
        f"{one.on_hours:.1f}",
        str(one.clicks),
        str(one.trips),
        "–" if worn is None else f"{100 * worn:.1f} %",
        _figure(one.years_left, 0),
    ]


def _piece(report: Report, piece: Piece, most: float) -> list[str]:
    begins = piece.begins.astimezone(report.zone)
    name = f"{begins:%H:%M}" if report.period.piece == "hour" else f"{begins:%Y-%m-%d}"
    bar = "█" * round(24 * piece.kwh / most) if most else ""
    return [
        name,
        f"{piece.kwh:.2f}",
        _figure(piece.outdoor_celsius, 1),
        _figure(piece.loss_watts_per_kelvin, 0),
        bar,
    ]


def _money(report: Report) -> str:
    return report.currency or "cost"


def _figure(value: float | None, digits: int) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def span(minutes: float) -> str:
    """Minutes as people say them."""
    if minutes < 1:
        return "–"
    if minutes < 120:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.1f} h"


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Columns: the first to the left, figures to the right, a bar to the left."""
    widths = [max(len(row[n]) for row in (heads, *rows)) for n in range(len(heads))]

    def line(row: Sequence[str]) -> str:
        cells = [cell.ljust(width) if n == 0 or not heads[n] else cell.rjust(width)
                 for n, (cell, width) in enumerate(zip(row, widths, strict=True))]  # fmt: skip
        return "  ".join(cells).rstrip()

    return [line(heads), *(line(row) for row in rows)]
