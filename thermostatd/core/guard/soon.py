"""When a meter's next report is due, so that a run of a slow one can be begun shortly before it. Part of the guard.

Rules: reports are taken to go on in the period that they came in; seconds. A switch on the body may beat in step with
the reports: runs that are to tell of it begin in turn shortly before a report, a third and two thirds of a period more.
"""

from __future__ import annotations

from math import ceil

from thermostatd.core.guard.case import Case
from thermostatd.core.plug import METER_SETTLE_SECONDS

SOON_TICKS = 2.0
TURNS = 3


def report_in(case: Case, least_seconds: float) -> float:
    """Seconds to the first report that is due no sooner than so many seconds from now."""
    period, told_at, now = max(case.kept.meter_period, 1.0), case.kept.watts_at, case.now.steady
    if told_at is None:
        return least_seconds + period
    return told_at + ceil((now + least_seconds - told_at) / period) * period - now


def is_told_soon(case: Case, turn: int = 0) -> bool:
    """Whether a report comes soon after a start now: open yet or closed is told before it can open in the run.

    `turn` counts runs that are to tell of a beat; the first is told soon, the others somewhere in their third.
    """
    third = case.kept.meter_period / TURNS
    soon = METER_SETTLE_SECONDS + turn % TURNS * third
    # steps may come more seldom than is set: a start that waits for its moment must not miss it each time
    step = max(case.house.house.tick, case.now.seconds)
    return report_in(case, soon) <= soon + (third if turn % TURNS else SOON_TICKS * step)
