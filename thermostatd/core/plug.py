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
from thermostatd.core.still import REPEAT_SECONDS, note_switching, repeats, speaks_on_change
from thermostatd.core.values import PlugReport, is_finite

SETTLE_SECONDS = 30.0
BACK_SECONDS = 60.0
METER_SETTLE_SECONDS = 60.0
PATIENCE_SECONDS = 120.0
HAND_OFF_SECONDS = 7200.0
LONGEST_PERIOD_SECONDS = 900.0
VOLTS_RANGE, MOST_WATTS = (50.0, 300.0), 100_000.0
DRAWING_WATTS, DRAWING_SHARE = 15.0, 0.03


def drawing_floor_watts(heater: Heater) -> float:
    """Power above which a heater counts as drawing, W."""
    return max(DRAWING_WATTS, DRAWING_SHARE * heater.watts)


def can_be_heard(heater: Heater) -> bool:
    """Whether the plug has any way to say what it does."""
    return heater.plug.tells_contact or heater.plug.tells_power


def shows_contact(heater: Heater) -> bool:
    """Whether the plug tells its contact's state."""
    return heater.plug.tells_contact


def switched_at(kept: HeaterMemory) -> float:
    """The steady second of the last switching that is known of; the start tells every plug OFF."""
    latest = kept.on_since if kept.told_on else kept.off_since
    latest = -math.inf if latest is None else latest
    if kept.settled_at is not None and kept.settled_at > latest:
        latest = kept.settled_at
    if kept.waiting_since is not None and kept.waiting_since > latest:
        latest = kept.waiting_since
    return latest


def evidence_watts(kept: HeaterMemory) -> float | None:
    """The metered power, W, if it was measured late enough after the last switching to prove anything.

    A fast meter lags too, and a plug may take a while to obey: never sooner than a minute after.
    """
    if kept.watts is None or kept.watts_at is None:
        return None
    settled = switched_at(kept) + max(kept.meter_period, METER_SETTLE_SECONDS)
    return kept.watts if kept.watts_at >= settled else None


def level_watts(kept: HeaterMemory, heater: Heater) -> float:
    """What a heater gives when on, W: as metered lately, else as set."""
    return kept.facts.level_watts or heater.watts


def drawn_watts(kept: HeaterMemory, heater: Heater) -> float:
    """What it draws, W: as metered, else as it is told."""
    metered = evidence_watts(kept)
    if metered is not None:
        return max(metered, 0.0)
    return level_watts(kept, heater) if kept.told_on else 0.0


def hear(
    kept: HeaterMemory,
    heater: Heater,
    key: str,
    report: PlugReport | None,
    now: Now,
    longest_by_hand: float = math.inf,
) -> list[Event]:
    """Take one report in; gives the button presses that it shows. A press to ON holds `longest_by_hand` s at most."""
    if kept.waiting_since is None:
        kept.waiting_since = now.steady
    if kept.hand is not None and now.steady >= kept.hand.until:
        kept.hand = None
    if report is None:
        _hear_silence(kept, heater, now)
        return []
    if report.reachable is False:
        kept.answered = False  # whatever it shows on its return is no press
    kept.reachable = report.reachable is not False
    kept.away_since = None if kept.reachable else (kept.away_since or now.steady)
    events = _hear_contact(kept, heater, key, report, now, longest_by_hand)
    _hear_meter(kept, heater, report, now)
    kept.heard = kept.heard or isinstance(report.on, bool) or is_finite(report.watts)
    return events


def _hear_meter(kept: HeaterMemory, heater: Heater, report: PlugReport, now: Now) -> None:
    if is_finite(report.volts) and VOLTS_RANGE[0] <= report.volts <= VOLTS_RANGE[1]:
        kept.volts = round(float(report.volts), 3)
    if is_finite(report.warm_celsius):
        kept.warm_celsius, kept.warm_at = round(float(report.warm_celsius), 3), _time_of(report.warm_at, now)
    if not is_finite(report.watts) or not -DRAWING_WATTS <= report.watts <= MOST_WATTS:
        return
    at = _time_of(report.watts_at, now)
    spoke_at = kept.watts_at if kept.meter_at is None else kept.meter_at
    if spoke_at is not None and at <= spoke_at:
        _hear_silence(kept, heater, now)
        return
    before, floor = kept.watts, drawing_floor_watts(heater)
    if spoke_at is not None:
        _learn_period(kept, at - spoke_at)
    moved = before is not None and (before > floor) != (report.watts > floor)
    note_switching(kept, switched_at(kept), at, moved, at - spoke_at if spoke_at is not None else 0.0)
    kept.watts, kept.watts_at, kept.meter_at = round(float(report.watts), 3), at, at
    _count_over(kept, heater, at)


def _hear_silence(kept: HeaterMemory, heater: Heater, now: Now) -> None:
    """What a meter that speaks on change says by saying nothing: the same as before, once a switching has settled."""
    if now.steady - switched_at(kept) >= METER_SETTLE_SECONDS and repeats(kept, now.steady):
        kept.watts_at, kept.meter_period = now.steady, REPEAT_SECONDS
        _count_over(kept, heater, now.steady)


def _count_over(kept: HeaterMemory, heater: Heater, at: float) -> None:
    """Reports on end of power that flows though it is told OFF."""
    over = evidence_watts(kept)
    obeyed = kept.shown_on is not True or at > switched_at(kept) + PATIENCE_SECONDS
    counts = not kept.told_on and obeyed and over is not None and over > drawing_floor_watts(heater)
    kept.off_reports_over = kept.off_reports_over + 1 if counts else 0


def _learn_period(kept: HeaterMemory, gap: float) -> None:
    """The meter's period: at once upward, slowly downward; six minutes until three gaps were seen."""
    kept.meter_gaps += 1
    gap = min(gap, LONGEST_PERIOD_SECONDS)
    kept.meter_gap = gap if gap > kept.meter_gap else round(0.98 * kept.meter_gap + 0.02 * gap, 3)
    if speaks_on_change(kept):
        return  # its gaps are those of the power
    if kept.meter_gaps == 3:
        kept.meter_period = gap
    elif kept.meter_gaps > 3:
        kept.meter_period = gap if gap > kept.meter_period else round(0.9 * kept.meter_period + 0.1 * gap, 3)


def _hear_contact(
    kept: HeaterMemory, heater: Heater, key: str, report: PlugReport, now: Now, longest_by_hand: float
) -> list[Event]:
    if not isinstance(report.on, bool):
        return []
    at = _time_of(report.on_at, now)
    if kept.shown_at is not None and at < kept.shown_at:
        return []
    before, before_at, kept.shown_on, kept.shown_at = kept.shown_on, kept.shown_at, report.on, at
    kept.maybe_on = False
    if report.on == kept.told_on:
        kept.answered, kept.unanswered_since = True, None
        return []
    changed = before is not None and before != report.on
    pressed = changed and kept.answered and at > switched_at(kept) + SETTLE_SECONDS
    lapsed = kept.told_on and at >= kept.lapses - SETTLE_SECONDS
    came_back = is_finite(report.back_at) and (
        at <= report.back_at + BACK_SECONDS or (before_at or 0.0) < report.back_at  # its first word since, however late
    )
    harmless = report.on and heater.by_hand == "off"  # it is told OFF again whatever it was
    if pressed and not lapsed and (harmless or not came_back):
        return _press(kept, heater, key, report.on, at, now, longest_by_hand)
    if kept.told_on and kept.answered:
        kept.answered, kept.unanswered_since = False, now.steady
    if report.on and before is not True:
        kept.settled_at, kept.off_reports_over = at, 0  # found ON: it has yet to obey OFF
    return []


def _press(
    kept: HeaterMemory, heater: Heater, key: str, on: bool, at: float, now: Now, longest_by_hand: float
) -> list[Event]:
    allowed = None if heater.by_hand == "off" else seconds_of(heater.by_hand.removeprefix("allow for "))
    kept.settled_at, kept.off_reports_over = at, 0
    holds = allowed if on else allowed or HAND_OFF_SECONDS
    if holds is not None:
        holds = min(holds, longest_by_hand) if on else holds
        kept.hand = HandMemory(on, now.steady + holds, now.wall_in(holds).timestamp())
    if on and allowed is None:
        kept.hand, kept.answered = None, False
    code = "pressed-on" if on else "pressed-off"
    return [Event(code, key, sentence(code))]


def _time_of(at: float | None, now: Now) -> float:
    return min(float(at), now.steady) if is_finite(at) else now.steady
