"""What a plug tells of itself, taken in before anything is concluded from it.

Rules: a meter value is evidence only if measured after the last switching plus one reporting period;
a press on the plug's own button is settled here first; an OFF that a lapse made is no press.
"""

from __future__ import annotations

import math

from thermostatd.core.clock import Now
from thermostatd.core.house import Heater
from thermostatd.core.house.units import seconds_of
from thermostatd.core.memory import HandMemory, HeaterMemory
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event
from thermostatd.core.values import PlugReport

SETTLE_SECONDS = 30.0
HAND_OFF_SECONDS = 7200.0
LONGEST_PERIOD_SECONDS = 900.0
DRAWING_WATTS, DRAWING_SHARE = 15.0, 0.03


def drawing_floor_watts(heater: Heater) -> float:
    """Power above which a heater counts as drawing, W."""
    return max(DRAWING_WATTS, DRAWING_SHARE * heater.watts)


def can_be_heard(heater: Heater) -> bool:
    """Whether the plug has any way to say what it does."""
    plug = heater.plug
    return plug.kind != "mqtt" or bool(plug.shows or plug.draws)


def shows_contact(heater: Heater) -> bool:
    """Whether the plug tells its contact's state."""
    return heater.plug.kind != "mqtt" or heater.plug.shows is not None


def switched_at(kept: HeaterMemory) -> float:
    """The steady second of the last switching that is known of."""
    times = (kept.on_since if kept.told_on else kept.off_since, kept.settled_at)
    return max((at for at in times if at is not None), default=-math.inf)


def evidence_watts(kept: HeaterMemory) -> float | None:
    """The metered power, W, if it was measured late enough after the last switching to prove anything."""
    if kept.watts is None or kept.watts_at is None:
        return None
    return kept.watts if kept.watts_at >= switched_at(kept) + kept.meter_period else None


def hear(kept: HeaterMemory, heater: Heater, key: str, report: PlugReport | None, now: Now) -> list[Event]:
    """Take one report in; gives the button presses that it shows."""
    if kept.waiting_since is None:
        kept.waiting_since = now.steady
    if kept.hand is not None and now.steady >= kept.hand.until:
        kept.hand = None
    if report is None:
        return []
    was_away = not kept.reachable
    kept.reachable = report.reachable is not False
    kept.away_since = None if kept.reachable else (kept.away_since or now.steady)
    _hear_meter(kept, heater, report, now)
    events = _hear_contact(kept, heater, key, report, now, was_away)
    kept.heard = kept.heard or report.on is not None or report.watts is not None
    return events


def _hear_meter(kept: HeaterMemory, heater: Heater, report: PlugReport, now: Now) -> None:
    if _is_number(report.volts):
        kept.volts = report.volts
    if _is_number(report.warm_celsius):
        kept.warm_celsius, kept.warm_at = report.warm_celsius, _time_of(report.warm_at, now)
    if not _is_number(report.watts) or report.watts is None or report.watts < -DRAWING_WATTS:
        return
    at = _time_of(report.watts_at, now)
    if kept.watts_at is not None and at <= kept.watts_at:
        return
    if kept.watts_at is not None:
        _learn_period(kept, at - kept.watts_at)
    kept.watts, kept.watts_at = report.watts, at
    over = evidence_watts(kept)
    counts = not kept.told_on and over is not None and over > drawing_floor_watts(heater)
    kept.off_reports_over = kept.off_reports_over + 1 if counts else 0


def _learn_period(kept: HeaterMemory, gap: float) -> None:
    """The meter's period: at once upward, slowly downward; six minutes until three gaps were seen."""
    kept.meter_gaps += 1
    gap = min(gap, LONGEST_PERIOD_SECONDS)
    if kept.meter_gaps == 3:
        kept.meter_period = gap
    elif kept.meter_gaps > 3:
        kept.meter_period = gap if gap > kept.meter_period else 0.9 * kept.meter_period + 0.1 * gap


def _hear_contact(
    kept: HeaterMemory, heater: Heater, key: str, report: PlugReport, now: Now, was_away: bool
) -> list[Event]:
    if not isinstance(report.on, bool):
        return []
    at = _time_of(report.on_at, now)
    if kept.shown_at is not None and at < kept.shown_at:
        return []
    before, kept.shown_on, kept.shown_at = kept.shown_on, report.on, at
    if report.on == kept.told_on:
        kept.answered = True
        return []
    changed = before is not None and before != report.on
    pressed = changed and kept.answered and not was_away and at > switched_at(kept) + SETTLE_SECONDS
    lapsed = kept.told_on and at >= kept.lapses - SETTLE_SECONDS
    if not pressed or lapsed:
        return []
    return _press(kept, heater, key, report.on, at, now)


def _press(kept: HeaterMemory, heater: Heater, key: str, on: bool, at: float, now: Now) -> list[Event]:
    allowed = None if heater.by_hand == "off" else seconds_of(heater.by_hand.removeprefix("allow for "))
    kept.settled_at, kept.off_reports_over = at, 0
    holds = allowed if on else allowed or HAND_OFF_SECONDS
    if holds is not None:
        kept.hand = HandMemory(on, now.steady + holds, now.wall_in(holds).timestamp())
    if on and allowed is None:
        kept.hand, kept.answered = None, False
    code = "pressed-on" if on else "pressed-off"
    return [Event(code, key, sentence(code))]


def _time_of(at: float | None, now: Now) -> float:
    return now.steady if at is None or not math.isfinite(at) else min(at, now.steady)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
