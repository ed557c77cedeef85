"""Watches a heater's runs by its meter, keeps its levels, and tells openings of its cut-out from other falls.

Rules: nothing is done at a tick that brought no report; an opening to nothing counts once power is back; one to a
lower level counts at once, and is taken back if the level stays low on a cold body, or is never seen again. What a run
shows is for `starts`, `falls`, `returns` and `holds`.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import falls, holds, interrupted, logbook, returns, run, starts, stuck
from thermostatd.core.meter.diagnosis import another_level, elements
from thermostatd.core.meter.power import Power, power_of
from thermostatd.core.meter.warmth import cool_to, later, tau_seconds
from thermostatd.core.plug import drawing_floor_watts, evidence_watts

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

CODE = "cut-out"
COVERED_HOT_SHARE, COVERED_COOLS = 0.6, 2.5  # of what it stood before, and of a free body's time


def follow(case: Case) -> None:
    """Take in what is new of this heater."""
    notes, kept = case.notes(CODE), case.kept
    if notes.pop("hot_yet", False):
        _may_be_hot_yet(case, notes)
    if not kept.told_on:
        _off(case, notes)
        return
    if kept.on_since is not None and notes.get("on_at") != kept.on_since:
        tau = tau_seconds(case.heater.kind)
        if "on_at" in notes:
            run.end(notes, kept.on_since, tau)
        run.begin(notes, kept.on_since, tau)
        logbook.switched(notes, kept.on_since, on=True)
    if kept.watts_at == notes.get("judged_at") or kept.shown_on is False:
        return
    notes["judged_at"] = kept.watts_at
    power = power_of(kept, case.heater, case.house.house.mains_volts)
    if power is not None:
        _heard(case, notes, power)


def _may_be_hot_yet(case: Case, notes: Notes) -> None:
    """Whoever looked may have taken a cover away, and what lay under it cooled far more slowly than a free body does;
    or turned its dial up, at which it ran more than reports far apart have shown."""
    tau, now = tau_seconds(case.heater.kind), case.now.steady
    rested = now - notes.get("warm_at", -inf)
    hot = COVERED_HOT_SHARE * max((one[1] for one in notes.get("proven", [])), default=0.0)
    cool_to(notes, now, tau)
    notes["warmth"] = round(max(notes["warmth"], later(hot, 0.0, rested, COVERED_COOLS * tau)), 1)


def _off(case: Case, notes: Notes) -> None:
    """It is off: its run, if there was one, is over."""
    kept = case.kept
    if "on_at" in notes:
        if notes.get("level") is None and notes.get("early") is not None:
            another_level.flowed(case, notes["early"][0], bool(kept.volts))
        run.end(notes, kept.off_since or case.now.steady, tau_seconds(case.heater.kind))
        logbook.switched(notes, kept.off_since or case.now.steady, on=False)
    if (evidence_watts(kept) or 0.0) > drawing_floor_watts(case.heater):
        stuck.drew(case, notes)  # heated all the same: how warm it is nobody knows
        logbook.drop(notes)


def _heard(case: Case, notes: Notes, power: Power) -> None:
    """A report of this run: note what it adds, and handle what happened."""
    known = [*case.heater.settings_watts, *(level.watts for level in case.kept.facts.levels)]
    happened = run.hear(notes, power, known, tau_seconds(case.heater.kind), elements.is_quick(case))
    if power.slow and power.proves:
        logbook.count_late(notes, power, notes["on_at"])
        if not power.nothing:
            notes["flowed_at"] = power.at
    if not stuck.lately(case, notes):
        logbook.reported(case, notes, power)
    interrupted.judge(case, notes)
    for happening in happened:
        _HANDLE[happening.what](case, notes, power, happening)


_HANDLE = {
    "started": starts.started,
    "held": holds.held,
    "fell": falls.fell,
    "gone": falls.gone,
    "rose": returns.rose,
}
