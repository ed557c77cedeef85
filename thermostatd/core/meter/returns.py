"""Power that comes back or rises: a cut-out that closed, the dial, or another level.

Rules: what went to nothing counts as an opening once power is back on its level, unless no body takes so long to cool;
power that rises to what flowed before an opening shows that it has closed, any other rise is another level.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import lessons, logbook, news, run, stuck
from thermostatd.core.meter.diagnosis import another_level, cover, dial, elements, naming, suspicion
from thermostatd.core.meter.holds import held
from thermostatd.core.meter.power import Power, near
from thermostatd.core.meter.run import Happening

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

BACK_SECONDS, SLOW_BACK_SECONDS = 2400.0, 5400.0


def rose(case: Case, notes: Notes, power: Power, this: Happening) -> None:
    """Power rose, from nothing or from a lower level."""
    opened = notes.get("open")
    if not this.before:
        back(case, notes, power, this.after, this.at)
    elif opened is not None and near(this.after, opened["before"], power.exact):
        is_over(case, notes, opened, this.after, power.exact)
        news.closed(notes, this.after)
    else:
        another_level.rose(case, power, this.after)
    held(case, notes, power, this)


def back(case: Case, notes: Notes, power: Power, watts: float, at: float) -> None:
    """Power is back after nothing: that was its cut-out or its dial, unless no body takes so long to cool."""
    gone = notes.pop("gone", None)
    off_seconds = at - gone["at"] if gone is not None else -1.0
    longest = SLOW_BACK_SECONDS if power.slow else BACK_SECONDS
    if gone is None or not near(watts, gone["before"], power.exact) or not 0 <= off_seconds <= longest:
        return
    if stuck.lately(case, notes) or not _opened(case, notes, power, gone, off_seconds):
        return
    if suspicion.suspects(case):
        news.went_off(notes, gone["before"])  # no opening that its setting brought about: the report counts those
        return
    news.opened(notes, gone["before"], 0.0)
    news.closed(notes, watts)


def is_over(case: Case, notes: Notes, opened: Notes, watts: float, exact: bool) -> bool:
    """Whether more flows than an opening left: it has closed, or what opened was left for another level."""
    if near(watts, opened["after"], exact) or watts < opened["after"]:
        return False
    notes.pop("open")
    if opened.get("odd") and near(watts, opened["before"], exact) and not naming.is_less(case.kept):
        _came_back(case, opened, exact)
    return True


def _came_back(case: Case, opened: Notes, exact: bool) -> None:
    """No element comes back by itself: that was its cut-out, of one that has stood it till then a sign of a cover."""
    if elements.is_interrupted(case, opened, exact):
        cover.interrupted(case, opened)
    else:
        lessons.learn(case, opened)


def _opened(case: Case, notes: Notes, power: Power, gone: Notes, off_seconds: float) -> bool:
    """Name what that was, or learn from it. False where it says nothing of a cut-out."""
    before = gone["before"]
    proven = run.proven_warmth(notes, before, power.exact)
    found = logbook.read(case, notes)
    unsure = not (found is not None and found.is_covered)
    if dial.came_back(case, power, gone, off_seconds, proven, unsure):
        lessons.forget_openings_to_nothing(case, before)
        lessons.unlearn(case, suspicion.began_wall(case))
    elif elements.has_no_cut_out(case, before):
        return False
    elif elements.is_interrupted(case, gone, power.exact):
        return False  # its dial as likely as a cut-out
    elif power.slow and elements.leaves_an_element(case, before):
        return False  # told so late, nothing speaks for a cut-out that takes all
    elif not (naming.is_dial(case.kept) or (found is not None and found.is_early)) and (
        proven is None or gone["most"] >= suspicion.EARLY_SHARE * proven
    ):
        lessons.learn(case, gone)
        logbook.drop(notes)  # it was free
    return True
