"""Trips when the plug is on and no power flows: pauses of 10, 30, 60 minutes, then off and a trouble.

Knocked over, unplugged, switched off or dialled down at the heater, its manual reset or its fuse: all are 0 W to the
meter, which cannot tell them apart. Power that was there in this run or shortly before may be the heater's own
cut-out or dial: a hot or covered body has forty minutes to cool until it closes again, ninety where the meter is
slow and may miss short runs, three hours where it rests for a cover or a dial meanwhile. Reports of a slow meter may
keep step with a dial's beat and show nothing of it: after five, a short rest, and a run that begins shortly before the
next report. Clears when a retry draws power; latched after three.
"""

import math

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.guard.soon import is_told_soon
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.plug import METER_SETTLE_SECONDS, drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.results import Verdict
from thermostatd.core.said import said
from thermostatd.core.still import SLOW_PERIOD_SECONDS

CODE = "drawing-nothing"
SAFETY = True
PAUSES_SECONDS = (600.0, 1800.0, 3600.0)
REOPENING_SECONDS, SLOW_REOPENING_SECONDS = 2400.0, 5400.0
SUSPECT_REOPENING_SECONDS = 3 * 3600.0  # its rests are an hour or two, and hide when it closed
REPORTS = 2
EARLY_RUNS = 4
IN_STEP_REPORTS, LOOK_REST_SECONDS = 5, 420.0


def judge(case: Case) -> Verdict:
    notes, now, kept = case.notes(CODE), case.now, case.kept
    if kept.told_on and kept.shown_on is not False:
        _watch_run(case)
    elif (evidence_watts(kept) or 0.0) > drawing_floor_watts(case.heater):
        notes["drew_at"] = now.steady  # a contact that stuck heats the body all the same
    if _rests_to_look(case, notes):
        return tripped(CODE)
    latched, tries = bool(notes.get("latched")), int(notes.get("tries", 0))
    evidence = said("Switched on without power.")
    if tries > 1:
        evidence = said("Switched on {tries:.0f} times without power.", tries=tries)
    if latched or now.steady < notes.get("pause_until", -math.inf):
        return tripped(CODE, latched=latched, trouble=True, evidence=evidence)
    if tries:  # on trial again: not over before it draws
        return Verdict(CODE, False, trouble=True, evidence=evidence)
    return good(CODE)


def _watch_run(case: Case) -> None:
    notes, now, kept = case.notes(CODE), case.now, case.kept
    watts = evidence_watts(kept)
    if kept.watts is None or kept.watts_at == notes.get("judged_at"):
        return
    notes["judged_at"] = kept.watts_at
    if watts is None and not _began_to_draw(case):
        _watch_early(case, notes)
        return
    if watts is None or watts > drawing_floor_watts(case.heater):
        notes.update(drew_at=now.steady, nothing_count=0, early_runs=0, tries=0)
        return
    notes["nothing_count"] = int(notes.get("nothing_count", 0)) + 1
    drew_lately = now.steady - notes.get("drew_at", -math.inf) < _patience_seconds(case)
    if notes["nothing_count"] >= REPORTS and not drew_lately:
        _try_again_later(case, notes)
    elif notes["nothing_count"] >= IN_STEP_REPORTS and kept.meter_period > SLOW_PERIOD_SECONDS:
        notes.update(nothing_count=0, looks_at=now.steady + LOOK_REST_SECONDS)


def _began_to_draw(case: Case) -> bool:
    """Whether its meter told power after nothing since it was switched on: some say so at once and then no more."""
    kept = case.kept
    assert kept.watts is not None
    return kept.meter_told == switched_at(kept) and kept.watts > drawing_floor_watts(case.heater)


def _rests_to_look(case: Case, notes: Notes) -> bool:
    """Whether it rests until it has cooled a little and a report is due soon after a start."""
    looks_at, now = notes.get("looks_at"), case.now.steady
    if looks_at is None:
        return False
    looks = int(notes.get("looks", 0))
    waits = looks_at <= now < looks_at + case.kept.meter_period and not is_told_soon(case, looks)
    if now < looks_at or waits:
        return True
    notes.pop("looks_at")
    notes["looks"] = looks + 1
    return False


def _watch_early(case: Case, notes: Notes) -> None:
    """Runs so short that a slow meter never settles in them: nothing in several of them, a minute on, proves it too."""
    now, kept = case.now, case.kept
    assert kept.watts is not None
    assert kept.watts_at is not None
    if kept.watts_at < switched_at(kept) + METER_SETTLE_SECONDS or kept.meter_period <= SLOW_PERIOD_SECONDS:
        return
    if kept.watts > drawing_floor_watts(case.heater):
        notes.update(drew_at=now.steady, early_runs=0, tries=0)
        return
    if notes.get("early_at") == kept.on_since:
        return
    notes.update(early_at=kept.on_since, early_runs=int(notes.get("early_runs", 0)) + 1)
    drew_lately = now.steady - notes.get("drew_at", -math.inf) < _patience_seconds(case)
    if notes["early_runs"] >= EARLY_RUNS and not drew_lately:
        notes.update(early_runs=EARLY_RUNS - 1)
        _try_again_later(case, notes)


def _try_again_later(case: Case, notes: Notes) -> None:
    tries = int(notes.get("tries", 0))
    notes.update(
        tries=tries + 1,
        nothing_count=0,
        latched=tries + 1 > len(PAUSES_SECONDS),
        pause_until=case.now.steady + PAUSES_SECONDS[min(tries, 2)],
    )


def _patience_seconds(case: Case) -> float:
    """How long the heater's own cut-out or dial may take to close again; longer where it rests for being suspect."""
    slow = case.kept.meter_period > SLOW_PERIOD_SECONDS
    if slow and suspicion.suspects(case):
        return SUSPECT_REOPENING_SECONDS
    return SLOW_REOPENING_SECONDS if slow else REOPENING_SECONDS
