"""Trips, and latches, when power does not change this room's air: a heater carried away, or sensors swapped.

What tells is a rest: half an hour without heat in which the air does not sag below where it was heading. Two that
fail latch; one does, where another room's air followed this heater instead (swapped.py). A rest ends sooner
once the air has sagged. Judged by fixed bounds, never by a fitted model. Rests cost comfort, so they need a cause:
- the air has fallen by a kelvin within some hours of heat, or another room seems to get this heater's warmth;
- or it is two kelvins short of its target and has not risen in two hours of heat, whatever was answered before;
- or the air has ceased to answer ordinary switchings as it did (answering.py), and stands no higher for this run;
- or an hour of heat after a rest that was not answered; or one or two without a lift, where nothing told within a
  day that the heater is here: neither a rest nor ordinary switchings.
One room rests at a time, so that no other's rest makes this one's sag. A value that has not moved by one step since
the run began may come from a frozen sensor, and is left to `reading-missing` for two hours first. A rest that tells
begins in heat, never in a pause of the pace; and where several heaters warm a room, while the others stay as they are.
For some hours after a window was noticed, falling air is no cause and a rest without a sag no failure; while its dial
keeps its heat back, nothing is asked.
"""

import math

from thermostatd.core.guard import answering, swapped
from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.plug import drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.reading import slope_kelvin_per_hour
from thermostatd.core.results import Verdict
from thermostatd.core.said import said
from thermostatd.core.sharing.need import waited_seconds
from thermostatd.core.values import Reading

CODE = "no-answer"
SAFETY = True
HEAT_SECONDS, LONG_HEAT_SECONDS = 3600.0, 7200.0
REST_SECONDS, COARSE_REST_SECONDS = 1800.0, 3600.0
SOONEST_SECONDS = 600.0  # a rest that has told ends no sooner
BOUND_KELVIN_AT_600_W, LEAST_BOUND_KELVIN = 0.3, 0.15
SOME_LIFT_SHARE = 0.35  # of the bound: a lift that is on its way is waited for
SLOPE_SECONDS, SHORT_SLOPE_SECONDS = 2400.0, 1300.0
TRIALS = 2
TRUST_SECONDS = 24 * 3600.0
FALLEN_KELVIN, FORGIVEN_KELVIN_PER_HOUR = 1.0, 0.25
TOLD_SECONDS, FAR_FALLEN_KELVIN = 12 * 3600.0, 2.0  # after a rest that told, only a far fall asks again so soon
FAR_SHORT_KELVIN, HIGH_LIFT_KELVIN = 2.0, 1.0
LACKING_KELVIN = 0.3
LEAST_MEAN_WATTS = 150.0  # of a paced heater; less is lost in what the air does by itself
SHORT_SECONDS = 60.0
PACED_BOUND = 1.5  # an hour's rest moves the air further than half an hour's
PACED_SHARE, PACED_REST_SECONDS = 0.6, 3600.0  # its own pauses are half an hour: its rest is longer
LONGEST_RUN_SECONDS = 4 * 3600.0  # then the run is judged anew from where the air is by now
LASTING = ("peak", "lifted", "heat_at")  # of one that lifted
EARLIEST_SECONDS = 20.0
ANSWER_SHARE = 1.5  # of the bound of one trial, an hour: what ordinary switchings must show, K/h
FROZEN_SECONDS = 7800.0
COARSE_KELVIN = 0.25
CALM_SECONDS, AIRED_SECONDS = 1200.0, 7200.0
CLEARLY = 2.0  # so many times as much as here, another room's air must follow a heater to be the one it warms


def judge(case: Case) -> Verdict:
    notes = case.notes(CODE)
    if notes.get("latched"):
        return tripped(CODE, latched=True, trouble=True, evidence=str(notes["evidence"]))
    if case.room is None or not isinstance(case.air, Reading):
        return good(CODE)
    if suspicion.may_be_at_its_dial(case):
        return _unfit(notes)
    if swapped.partner_latched(case, CODE):
        notes.pop("resting_since", None)
        return tripped(CODE)
    if notes.get("resting_since") is not None:
        return _rest(case, case.air.celsius)
    _heat(case, case.air.celsius)
    if notes.get("resting_since") is not None:
        return tripped(CODE)
    return good(CODE)


def _heat(case: Case, celsius: float) -> None:
    """Watch a run, and begin the rest that tells once there is cause to ask."""
    notes, now = case.notes(CODE), case.now
    watts, on = evidence_watts(case.kept), case.kept.told_on
    heats = on and _gives_heat(case, watts)
    answering.watch(notes, celsius, heats, now.steady, now.seconds)
    if answering.answers(notes, ANSWER_SHARE * _bound_kelvin(case.heater.watts), now.steady):
        notes.update(failed=0, answered_at=now.steady)
    run = notes.get("run")
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
    forgiven = FORGIVEN_KELVIN_PER_HOUR * min(now.seconds, 600.0) / 3600.0
    run["peak"] = max(round(run.get("peak", celsius) - forgiven, 5), celsius)
    seconds = now.steady - run["since"]
    run["low"] = min(run.get("low", celsius), celsius)  # a cold heater's air falls a while before it rises
    lift = celsius - min(run["low"], run["celsius"] + run["slope"] * seconds / 3600.0)
    run["lifted"] = run["lifted"] or lift >= _bound_kelvin(run["joules"] / max(seconds, HEAT_SECONDS))
    if seconds >= LONGEST_RUN_SECONDS:
        notes.pop("run")
        if run["lifted"]:
            notes["run"] = _run(case, celsius) | {name: run[name] for name in LASTING}
        return
    if heats and _may_rest(case, run, seconds) and _has_cause(case, run, celsius, lift, seconds):
        _begin(case, run, celsius, lift, seconds)


def _may_rest(case: Case, run: Notes, seconds: float) -> bool:
    """Whether a rest begun now would tell."""
    ran = case.now.steady - case.kept.on_since if case.kept.on_since is not None else 0.0
    heated = ran >= case.heater.min_on and run["joules"] >= LEAST_MEAN_WATTS * seconds
    return heated and not _may_be_frozen(case, run, seconds) and _alone(case) and _calm(case)


def _has_cause(case: Case, run: Notes, celsius: float, lift: float, seconds: float) -> bool:
    """Why this heater is to be doubted, if it is."""
    notes, now = case.notes(CODE), case.now.steady
    if _aired(case):
        return False
    if now - notes.get("passed_at", -math.inf) >= TRUST_SECONDS and swapped.suspects(case, celsius):
        return True
    if seconds < HEAT_SECONDS:
        return False
    if answering.doubts(notes):
        if not _stands_high(run, celsius, lift):
            return True
        answering.doubt_less(notes)  # air that comes up to what a heater can do ceases to rise
    told_lately = now - notes.get("told_at", -math.inf) < TOLD_SECONDS
    if celsius <= run["peak"] - (FAR_FALLEN_KELVIN if told_lately else FALLEN_KELVIN):
        return True
    if seconds >= LONG_HEAT_SECONDS and not told_lately and _stays_cold(case, run, celsius):
        return True
    trusted = now - notes.get("answered_at", -math.inf) < TRUST_SECONDS
    if notes.get("failed") and not trusted:
        return True  # one rest was not answered: another one decides
    little = lift < SOME_LIFT_SHARE * _bound_kelvin(run["joules"] / seconds)
    return not trusted and not run["lifted"] and (little or seconds >= LONG_HEAT_SECONDS)


def _stands_high(run: Notes, celsius: float, lift: float) -> bool:
    """Whether this run has plainly warmed the air, and it is still about as warm as it became."""
    return lift >= HIGH_LIFT_KELVIN and celsius >= run["peak"] - HIGH_LIFT_KELVIN / 4.0


def _stays_cold(case: Case, run: Notes, celsius: float) -> bool:
    """Whether a room far short of its target is no warmer than when this run of heat began."""
    far = case.target is not None and celsius <= case.target.celsius - FAR_SHORT_KELVIN
    return far and celsius <= run["celsius"]


def _begin(case: Case, run: Notes, celsius: float, lift: float, seconds: float) -> None:
    watts_mean = run["joules"] / seconds
    paced = watts_mean < PACED_SHARE * case.heater.watts or _paused_lately(case, seconds)
    notes = case.notes(CODE)
    notes.update(
        resting_since=case.now.steady,
        rest_for=PACED_REST_SECONDS if paced else REST_SECONDS,
        rest_celsius=round(celsius, 3),
        rest_slope=round(_paced_slope(run, celsius, seconds) if paced else _heading(case), 3),
        bound=round(_bound_kelvin(watts_mean) * (PACED_BOUND if paced else 1.0), 3),
        lift=round(lift, 3),
        lit_watts=round(watts_mean, 1),
        beside=swapped.beside(case),
        others=_others(case),
    )
    notes.pop("run")


def _paused_lately(case: Case, seconds: float) -> bool:
    """Whether the heater had a pause of its own in the last hour of such a run."""
    assert case.kept.on_since is not None
    return case.now.steady - case.kept.on_since < min(seconds, HEAT_SECONDS) - SHORT_SECONDS


def _heading(case: Case) -> float:
    """Where the air is heading, K/h: the lower of what it did lately."""
    return min(_slope(case, SLOPE_SECONDS), _slope(case, SHORT_SLOPE_SECONDS))


def _paced_slope(run: Notes, celsius: float, seconds: float) -> float:
    """The same of a paced heater: over its pauses and its heat together, since either alone leads elsewhere."""
    before: float = run["celsius"]
    return min(0.0, 3600.0 * (celsius - before) / seconds)


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
    slope = min(0.0, _slope(case, SLOPE_SECONDS))
    return {
        "since": case.now.steady,
        "celsius": celsius,
        "peak": celsius,
        "slope": round(slope, 6),
        "joules": 0.0,
        "lifted": False,
    }


def _alone(case: Case) -> bool:
    """Whether no other room's heater rests to tell: its rest would look like this one's sag."""
    own = case.room
    for key, _, place in case.house.heaters():
        notes = case.memory.heaters[key].notes.get(CODE)
        if notes and place is not own and notes.get("resting_since") is not None:
            return False
    return True


def _others(case: Case) -> list[bool]:
    """Whether the room's other heaters are on."""
    assert case.room is not None
    if len(case.room.heaters) < 2:
        return []
    keys = [case.room.key_of(heater) for heater in case.room.heaters]
    return [case.memory.heaters[key].told_on for key in keys if key != case.key]


def _calm(case: Case) -> bool:
    """Whether the room's other heaters have been as they are for a while."""
    assert case.room is not None
    for heater in case.room.heaters if len(case.room.heaters) > 1 else ():
        key = case.room.key_of(heater)
        if key != case.key and case.now.steady - switched_at(case.memory.heaters[key]) < CALM_SECONDS:
            return False
    return True


def _may_be_frozen(case: Case, run: Notes, seconds: float) -> bool:
    air = case.air_memory
    still = air is not None and air.unchanged_since is not None and air.unchanged_since <= run["since"]
    return still and seconds < FROZEN_SECONDS


def _slope(case: Case, seconds: float) -> float:
    assert case.air_memory is not None
    return slope_kelvin_per_hour(case.air_memory, case.now.steady, seconds) or 0.0


def _rest(case: Case, celsius: float) -> Verdict:
    """Stay off until the air has sagged against where it was heading, or for so long that it should have."""
    notes, now = case.notes(CODE), case.now
    if notes.get("others", []) != _others(case):
        return _void(case)
    seconds, bound = now.steady - notes["resting_since"], notes["bound"]
    sag = notes["rest_celsius"] + notes["rest_slope"] * seconds / 3600.0 - celsius
    elsewhere, bend = swapped.most_bent(case, notes.get("beside", {}), seconds)
    whole = seconds >= notes.get("rest_for", REST_SECONDS)
    clear = sag >= bound and not notes.get("beside") and seconds >= SOONEST_SECONDS
    if not whole and not clear:
        return tripped(CODE)
    follows = bend >= max(bound, CLEARLY * sag)
    if sag >= bound / 2.0 and not follows:
        return _passed(case, sag, bend, elsewhere)
    if seconds < COARSE_REST_SECONDS and case.air_memory and case.air_memory.step >= COARSE_KELVIN:
        return tripped(CODE)
    if _aired(case):
        return _void(case)
    return _failed(case, sag, bend, elsewhere if follows else None)


def _passed(case: Case, sag: float, bend: float, elsewhere: str | None) -> Verdict:
    """The air answered."""
    notes, now = case.notes(CODE), case.now
    notes.update(failed=0, answered_at=now.steady)
    if sag >= notes["bound"]:
        notes["told_at"] = now.steady
        answering.believe(notes)
    else:
        answering.doubt_less(notes)  # a cloud may have done as much
    if elsewhere is not None and sag > bend:
        notes["passed_at"] = now.steady  # no other room that could have told followed this heater
    return _end(notes)


def _failed(case: Case, sag: float, bend: float, follows: str | None) -> Verdict:
    """The air did not answer, or that of another room followed more clearly."""
    notes = case.notes(CODE)
    answering.forget(notes)  # what answered before this trial answers no more
    notes.pop("told_at", None)
    # air that sagged here as well may have answered: another rest decides
    clearly = follows is not None and sag <= notes["bound"]
    notes["failed"] = TRIALS if clearly else int(notes.get("failed", 0)) + 1
    notes.pop("swapped_with", None)
    if follows is not None:
        notes["swapped_with"] = follows
    if notes["failed"] < TRIALS:
        return _end(notes)
    notes.update(latched=True, evidence=_evidence(notes, sag, bend))
    _end(notes)
    return tripped(CODE, latched=True, trouble=True, evidence=str(notes["evidence"]))


def _aired(case: Case) -> bool:
    """Whether a window was noticed lately: air that falls then tells nothing of the heater."""
    assert case.room is not None
    notes = case.memory.rooms[case.room.name].window
    return "since" in notes or case.now.steady < notes.get("quiet_until", -math.inf) + AIRED_SECONDS


def _unfit(notes: Notes) -> Verdict:
    """Its dial keeps most of its heat back: what the air does says nothing of where it stands."""
    notes.pop("run", None)
    if notes.get("failed"):
        notes["failed"] = 0
    answering.believe(notes)
    return _end(notes)


def _void(case: Case) -> Verdict:
    """Another heater of the room was switched, or a window opened: the rest tells nothing, and is tried again later."""
    notes = case.notes(CODE)
    notes["run"] = _run(case, notes["rest_celsius"])
    return _end(notes)


def _end(notes: Notes) -> Verdict:
    for name in ("resting_since", "beside", "others"):
        notes.pop(name, None)
    return good(CODE)


def _evidence(notes: Notes, sag: float, bend: float) -> str:
    lit, elsewhere = notes["lit_watts"], notes.get("swapped_with")
    if elsewhere is not None:
        return said(
            "In a rest of this heater ({watts:.0f} W) this room's air changed by {sag:+.1f}° against where it was "
            "heading, that of “{room}” by {kelvins:+.1f}°, with no heat there: the two sensors seem swapped.",
            watts=lit, sag=-sag, room=str(elsewhere), kelvins=-bend,
        )  # fmt: skip
    return said(
        "{watts:.0f} W for an hour moved the air by {lift:+.1f}°, its rest by {sag:+.1f}°, {trials:.0f} times over.",
        watts=lit, lift=notes["lift"], sag=-sag, trials=TRIALS,
    )  # fmt: skip


def _bound_kelvin(watts: float) -> float:
    return max(LEAST_BOUND_KELVIN, BOUND_KELVIN_AT_600_W * watts / 600.0)
