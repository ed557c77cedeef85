"""Forgets what a body was seen to open at where no such body that is free can: it is learned anew, once a day.

A cover that was never named, or a dial, teaches that a heater sustains little; paced by that, it never shows that it
stands more. Rules: under three fifths of what such bodies usually shed is not believed for longer than a day; what the
owner wrote is; an opening of a bad day costs one more opening for each day that it lasts. Of kinds that stand their
label nothing is learned, and what an earlier version learned is forgotten at once.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.body.lessons import forget_since, tell
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import watts_of
from thermostatd.core.meter.diagnosis.elements import is_quick

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

BELIEVED_SHARE = 0.6  # bodies vary by 30 % (invented for want of a source); a cover leaves 30 to 55 %
DAY_SECONDS = 86400.0


def doubt(case: Case, body: BodyMemory) -> None:
    """Forget openings of which the latest is a day old, and which no free body of this kind would show."""
    facts, wall = case.kept.facts, case.now.best.timestamp()
    if not body.lessons or facts.opens_watts is None or body.usual_opens is None:
        return
    quick = is_quick(case)
    if not quick and facts.opens_watts >= BELIEVED_SHARE * watts_of(body.usual_opens):
        return
    if quick or wall - max(one.at_wall for one in body.lessons) >= DAY_SECONDS:
        forget_since(body, -inf)
        tell(body, facts)
