"""When what is asked for begins and ends.

Rules: an end is turned into a steady second at once; none lies past the longest that the owner allows; a time without
a zone is not understood.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from thermostatd.core.asking import NEXT_STEP, Refused, Until
from thermostatd.core.clock import Now
from thermostatd.core.door.refusing import hours, refuse
from thermostatd.core.week import Week

LONGEST_OUT_SECONDS = LONGEST_OFF_SECONDS = 366 * 86400.0


def begin_of(begins: object) -> float | Refused:
    """The wall time, Unix s, at which what is asked for later begins."""
    if not isinstance(begins, datetime) or begins.tzinfo is None:
        return refuse("not-understood", what="a begin is a time with its zone")
    return begins.timestamp()


def end_of(until: object, longest: float, week: Week | None, now: Now, begins: float = 0.0) -> float | Refused:
    """The steady second a request ends at that begins in so many seconds and may last `longest`, s."""
    if until is NEXT_STEP and week is not None:
        return now.steady + begins + min(longest, _left_of_step(week, now, begins, longest))
    if until is Until.NO_END:
        return now.steady + begins + longest
    if not isinstance(until, datetime) or until.tzinfo is None:
        return refuse("not-understood", what="an end is a time with its zone, the next step, or no end")
    remaining = until.timestamp() - now.best.timestamp() - begins
    if remaining <= 0:
        return refuse("ends-before" if begins else "in-the-past")
    if remaining > longest:
        return refuse("too-long", limit=hours(longest))
    return now.steady + begins + remaining


def _left_of_step(week: Week, now: Now, begins: float, longest: float) -> float:
    """Seconds from a begin to the week's next step; `longest` where it has none."""
    wall = now.wall + timedelta(seconds=begins)
    step = week.at(wall)[1]
    return step - wall.timestamp() if step is not None else longest
