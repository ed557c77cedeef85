"""Trips, and latches, when power changes the air neither way in two trials: carried away, or sensors swapped.

A trial is an hour of metered heat (with a paced heater's rests in it) that lifts the air by less than a fixed bound
over where it was heading, or in which the air falls by a whole kelvin,
then half an hour's rest in which it does not sag either. Judged by fixed bounds, never by a fitted model. Where
ordinary switchings were answered lately (answering.py), only a fall begins a trial; that trust ends after twelve
hours, with an hour of heat that the air lacks, and with a trial that failed. Air
that is flat at full power on a cold day still sags in the rest, and so answers. A value that has not moved by one
step since the run began may come from a frozen sensor, and is left to `reading-missing` for two hours first.
A rest that tells begins in heat, never in a pause of the pace.
"""

import math

from thermostatd.core.guard import answering
from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.memory import Notes
from thermostatd.core.plug import drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.reading import slope_kelvin_per_hour
from thermostatd.core.results import Verdict
from thermostatd.core.sharing.need import waited_seconds
from thermostatd.core.values import Reading

CODE = "no-answer"
SAFETY = True
HEAT_SECONDS = 3600.0
REST_SECONDS = 1800.0
BOUND_KELVIN_AT_600_W, LEAST_BOUND_KELVIN = 0.3, 0.15
SLOPE_SECONDS = 2400.0
TRIALS = 2
TRUST_SECONDS = 12 * 3600.0
FALLEN_KELVIN = 1.0
LACKING_KELVIN = 0.3
LEAST_MEAN_WATTS = 150.0  # of a paced heater; less is lost in what the air does by itself
PACED_SHARE, PACED_REST_SECONDS = 0.6, 3600.0  # a paced heater's own pauses are half an hour: its rest is longer
LONGEST_RUN_SECONDS = 4 * 3600.0  # then the run is judged anew from where the air is by now
EARLIEST_SECONDS = 20.0
ANSWER_SHARE = 2.0  # of the bound of one trial, a hour: what ordinary switchings must show, K/h
FROZEN_SECONDS = 7800.0


def judge(case: Case) -> Verdict:
    notes = case.notes(CODE)
    if notes.get("latched"):
        return tripped(CODE, latched=True, trouble=True, evidence=str(notes["evidence"]))
    if case.room is None or not isinstance(case.air, Reading):
        return good(CODE)
    if notes.get("resting_since") is not None:
        return _rest(case, case.air.celsius)
    _heat(case, case.air.celsius)
    if notes.get("resting_since") is not None:
        return tripped(CODE)
    return good(CODE)


def _heat(case: Case, celsius: float) -> None:
    """Watch a run; after an hour without a lift, or once the air has fallen in it, begin the rest that tells."""
    notes, now = case.notes(CODE), case.now
    watts, on = evidence_watts(case.kept), case.kept.told_on
    answering.watch(notes, celsius, on and _gives_heat(case, watts), now.steady, now.seconds)
    if answering.answers(notes, ANSWER_SHARE * _bound_kelvin(case.heater.watts), now.steady):
        notes.update(failed=0, answered_at=now.steady)
    if answering.contradicts(notes):
        answering.forget(notes)
        notes.pop("run", None)
    run, heats = notes.get("run"), on and _gives_heat(case, watts)
    if not ((heats and (run is None or _heated_lately(case, run))) or _rests_in_a_run(case, run)):
        notes.pop("run", None)
        return
    if run is None:
        if heats:
            notes["run"] = _run(case, celsius)
        return
    if _heat_is_proven(case):
        run["heat_at"] = now.steady
    if on:
        run["joules"] += (watts if watts is not None else case.heater.watts) * min(now.seconds, 600.0)
    run["peak"] = max(run.get("peak", celsius), celsius)
    seconds = now.steady - run["since"]
    lift = celsius - run["celsius"] - run["slope"] * seconds / 3600.0
    run["lifted"] = run["lifted"] or lift >= _bound_kelvin(run["joules"] / max(seconds, HEAT_SECONDS))
    if seconds >= LONGEST_RUN_SECONDS and not run["lifted"]:
        notes.pop("run")
        return
    ran = now.steady - kept_since if (kept_since := case.kept.on_since) is not None else 0.0
    long_enough = ran >= case.heater.min_on and seconds >= HEAT_SECONDS
    enough = heats and long_enough and run["joules"] >= LEAST_MEAN_WATTS * seconds
    if enough and _doubtful(case, run, celsius) and not _may_be_frozen(case, run, seconds):
        watts_mean = run["joules"] / seconds
        notes.update(
            resting_since=now.steady,
            rest_for=REST_SECONDS if watts_mean >= PACED_SHARE * case.heater.watts else PACED_REST_SECONDS,
            rest_celsius=round(celsius, 3),
            rest_slope=round(_slope(case), 3),
            bound=round(_bound_kelvin(watts_mean), 3),
            lift=round(lift, 3),
            lit_watts=round(watts_mean, 1),
        )
        notes.pop("run")


def _gives_heat(case: Case, watts: float | None) -> bool:
    return watts is None or watts > drawing_floor_watts(case.heater)


def _rests_in_a_run(case: Case, run: Notes | None) -> bool:
    """No heat for a while though it is wanted, by its pace or its cut-out: heat before and after belongs together.

    One that waits for others on its circuit has had its run: turns of ten minutes tell little of an hour.
    """
    if run is None or not (case.wanted or _too_cold(case)) or waited_seconds(case.kept) > 0.0:
        return False
    return _heated_lately(case, run)


def _heated_lately(case: Case, run: Notes) -> bool:
    heat_at: float = run["heat_at"] if "heat_at" in run else run["since"]
    return case.now.steady - heat_at < REST_SECONDS


def _heat_is_proven(case: Case) -> bool:
    """Whether power was seen to flow in this run; early in a run a meter proves that, and never the contrary."""
    kept = case.kept
    if not kept.told_on or kept.watts is None or kept.watts_at is None:
        return kept.told_on and kept.watts is None
    fresh = kept.watts_at >= switched_at(kept) + EARLIEST_SECONDS
    return fresh and kept.watts > drawing_floor_watts(case.heater)


def _too_cold(case: Case) -> bool:
    """Whether the air is short of its target, whatever a pace makes of it."""
    if case.target is None or not isinstance(case.air, Reading):
        return False
    return case.air.celsius < case.target.celsius - LACKING_KELVIN


def _run(case: Case, celsius: float) -> Notes:
    slope = min(0.0, _slope(case))
    return {
        "since": case.now.steady,
        "celsius": celsius,
        "peak": celsius,
        "slope": slope,
        "joules": 0.0,
        "lifted": False,
    }


def _doubtful(case: Case, run: Notes, celsius: float) -> bool:
    """No lift in the run; where a rest has told lately that the heater is here, only a clear fall counts."""
    told_lately = case.now.steady - case.notes(CODE).get("answered_at", -math.inf) < TRUST_SECONDS
    peak: float = run["peak"] if "peak" in run else run["celsius"]
    fallen = celsius <= peak - FALLEN_KELVIN
    return fallen if run["lifted"] or told_lately else True


def _may_be_frozen(case: Case, run: Notes, seconds: float) -> bool:
    air = case.air_memory
    still = air is not None and air.unchanged_since is not None and air.unchanged_since <= run["since"]
    return still and seconds < FROZEN_SECONDS


def _slope(case: Case) -> float:
    assert case.air_memory is not None
    return slope_kelvin_per_hour(case.air_memory, case.now.steady, SLOPE_SECONDS) or 0.0


def _rest(case: Case, celsius: float) -> Verdict:
    """Stay off for half an hour; a sag against where the air was heading is an answer."""
    notes, now = case.notes(CODE), case.now
    seconds = now.steady - notes["resting_since"]
    sag = notes["rest_celsius"] + notes["rest_slope"] * seconds / 3600.0 - celsius
    if seconds < notes.get("rest_for", REST_SECONDS):
        return tripped(CODE)
    notes.pop("resting_since")
    if sag >= notes["bound"] / 2.0:
        notes.update(failed=0, answered_at=now.steady)
        return good(CODE)
    answering.forget(notes)  # what answered before this trial answers no more
    notes["failed"] = int(notes.get("failed", 0)) + 1
    if notes["failed"] < TRIALS:
        return good(CODE)
    notes.update(
        latched=True,
        evidence=f"{notes['lit_watts']:.0f} W for an hour moved the air by "
        f"{notes['lift']:+.1f}°, its rest by {-sag:+.1f}°, {TRIALS} times over.",
    )
    return tripped(CODE, latched=True, trouble=True, evidence=str(notes["evidence"]))


def _bound_kelvin(watts: float) -> float:
    return max(LEAST_BOUND_KELVIN, BOUND_KELVIN_AT_600_W * watts / 600.0)
