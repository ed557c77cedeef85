"""Invented rows of a record, from one midnight on."""

from __future__ import annotations

from datetime import UTC, datetime

from thermostatd.edge.store import HeaterMinuteRow, MinuteRow

START = int(datetime(2026, 1, 12, tzinfo=UTC).timestamp() // 60)


def minutes(
    air: list[float | None], target: float | list[float] = 20.0, outdoor: float | None = 0.0, span: int = 1
) -> list[MinuteRow]:
    """A study's minutes, each of so many; °C."""
    wanted = target if isinstance(target, list) else [target] * len(air)
    return [
        MinuteRow(START + n * span, "study", one, goal, outdoor, "usual", span)
        for n, (one, goal) in enumerate(zip(air, wanted, strict=True))
    ]


def heat(watt_seconds: list[int], span: int = 1, on: int = 60, clicks: int = 0) -> list[HeaterMinuteRow]:
    """A heater's rows of watt-seconds, from the same minute on."""
    return [
        HeaterMinuteRow(START + n * span, "study/column", on, one, clicks, span)
        for n, one in enumerate(watt_seconds)
    ]
