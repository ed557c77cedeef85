"""A run that goes on on a level: what it shows of that level, and that the body stands it.

Rules: on what an opened cut-out left nothing is proven; nor while nobody knows how warm the body is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import levels, logbook, run, stuck
from thermostatd.core.meter.diagnosis import naming, suspicion
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.run import Happening

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case


def held(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """Power stays on its level, as one more report shows."""
    if not this.after:
        return
    levels.see(case.kept.facts, this.after, case.now.best.timestamp(), power.exact)
    opened = notes.get("open")
    if opened is not None:
        _ran_on(opened, notes["on_at"], power.at)
        return
    proven = run.proven_warmth(notes, this.after, power.exact)
    at_its_dial = power.slow and naming.is_dial(case.kept)
    if proven and (logbook.flows_past_a_dial(notes) if at_its_dial else logbook.flows_on(notes)):
        suspicion.stood(case, this.hi_warmth / proven)
    if not stuck.lately(case, notes):
        run.prove(notes, this.after, this.hi_warmth, power.exact)


def _ran_on(opened: Notes, on_at: float, at: float) -> None:
    """How long it has drawn what its cut-out leaves, s, over its runs."""
    since = opened["told"] if opened.get("in") == on_at else max(on_at, opened["at"])
    opened.update({"ran": round(opened.get("ran", 0.0) + max(at - since, 0.0)), "told": at, "in": on_at})
