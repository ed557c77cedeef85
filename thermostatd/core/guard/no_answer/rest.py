"""The rest that tells: half an hour without heat, in which air that the heater warms sags below where it was heading.

Rules: two rests that fail latch; one does, where another room's air followed this heater instead (swapped.py). A rest
ends sooner once the air has sagged, and lasts an hour where the heater paused in its run, or the sensor's steps are
coarse. It begins with a fresh reading, and none but a reading made at its end fails it: a sensor that speaks on change
may say nothing for an hour. For some hours after a window was noticed, one without a sag is no failure; nor is one in
which another heater of the room was switched.
"""

from __future__ import annotations

from math import inf

from thermostatd.core.guard.case import Case
from thermostatd.core.guard.no_answer import answering, swapped
from thermostatd.core.guard.no_answer.air import aired, bound_kelvin, heading
from thermostatd.core.guard.no_answer.run import HEAT_SECONDS, begun, lift_kelvin, seconds_of
from thermostatd.core.memory import Notes
from thermostatd.core.said import said
from thermostatd.core.values import Reading

REST_SECONDS, COARSE_REST_SECONDS = 1800.0, 3600.0
SOONEST_SECONDS = 600.0  # a rest that has told ends no sooner
TRIALS = 2
SHORT_SECONDS = 60.0
PACED_BOUND = 1.5  # an hour's rest moves the air further than half an hour's
PACED_SHARE, PACED_REST_SECONDS = 0.6, 3600.0  # its own pauses are half an hour: its rest is longer
COARSE_KELVIN = 0.25
FRESH_SECONDS = 300.0  # so old a reading still tells of now
ON_END_SECONDS = 7 * 86400.0  # rests that told no farther apart go together
CLEARLY = 2.0  # so many times as much as here, another room's air must follow a heater to be the one it warms


def begin(case: Case, notes: Notes, ran: Notes, celsius: float) -> None:
    """Rest from now on, after that run of heat."""
    seconds = seconds_of(case, ran)
    watts_mean = ran["joules"] / seconds
    paced = watts_mean < PACED_SHARE * case.heater.watts or _paused_lately(case, seconds)
    notes.update(
        resting_since=case.now.steady,
        rest_for=PACED_REST_SECONDS if paced else REST_SECONDS,
        rest_celsius=round(celsius, 3),
        rest_slope=round(_paced_slope(ran, celsius, seconds) if paced else heading(case), 3),
        bound=round(bound_kelvin(watts_mean) * (PACED_BOUND if paced else 1.0), 3),
        lift=round(lift_kelvin(ran, celsius, seconds), 3),
        lit_watts=round(watts_mean, 1),
        beside=swapped.beside(case),
        others=_others(case),
    )
    notes.pop("run")


def may_begin(case: Case) -> bool:
    """Whether it is known where the air stands now."""
    return case.now.steady - _heard_at(case) <= FRESH_SECONDS


def go_on(case: Case, notes: Notes, celsius: float) -> None:
    """Stay off until the air has sagged against where it was heading, or for so long that it should have."""
    if notes.get("others", []) != _others(case):
        _void(case, notes)
        return
    seconds, bound = case.now.steady - notes["resting_since"], notes["bound"]
    heard = max(0.0, _heard_at(case) - notes["resting_since"])
    sag = notes["rest_celsius"] + notes["rest_slope"] * heard / 3600.0 - celsius
    elsewhere, bend = swapped.most_bent(case, notes.get("beside", {}), seconds)
    whole = seconds >= notes.get("rest_for", REST_SECONDS)
    clear = sag >= bound and not notes.get("beside") and seconds >= SOONEST_SECONDS
    if not whole and not clear:
        return
    follows = bend >= max(bound, CLEARLY * sag)
    if sag >= bound / 2.0 and not follows:
        _passed(case, notes, sag, elsewhere is not None and sag > bend)
    elif not _is_heard_of(case, notes, seconds, heard):
        return
    elif aired(case) or notes.get("spares"):
        _void(case, notes)
    else:
        _failed(notes, sag, bend, elsewhere if follows else None)


def give_up(notes: Notes) -> None:
    """Its dial keeps most of its heat back: what the air does says nothing of where it stands."""
    notes.pop("run", None)
    if notes.get("failed"):
        notes["failed"] = 0
    answering.believe(notes)
    _end(notes)


def _is_heard_of(case: Case, notes: Notes, seconds: float, heard: float) -> bool:
    """Whether a rest of so many seconds, last heard of so many seconds into it, tells of air that does not answer."""
    coarse = case.air_memory is not None and case.air_memory.step >= COARSE_KELVIN
    least = max(notes.get("rest_for", REST_SECONDS), COARSE_REST_SECONDS if coarse else 0.0)
    return bool(seconds >= least and heard >= least - FRESH_SECONDS)


def _heard_at(case: Case) -> float:
    return case.air.at if isinstance(case.air, Reading) and case.air.at is not None else case.now.steady


def _paused_lately(case: Case, seconds: float) -> bool:
    """Whether the heater had a pause of its own in the last hour of such a run."""
    assert case.kept.on_since is not None
    return case.now.steady - case.kept.on_since < min(seconds, HEAT_SECONDS) - SHORT_SECONDS


def _paced_slope(ran: Notes, celsius: float, seconds: float) -> float:
    """Where the air of a paced heater heads, K/h: over its pauses and its heat together, since either alone leads
    elsewhere."""
    before: float = ran["celsius"]
    return min(0.0, 3600.0 * (celsius - before) / seconds)


def _others(case: Case) -> list[bool]:
    """Whether the room's other heaters are on."""
    assert case.room is not None
    if len(case.room.heaters) < 2:
        return []
    keys = [case.room.key_of(heater) for heater in case.room.heaters]
    return [case.memory.heaters[key].told_on for key in keys if key != case.key]


def _passed(case: Case, notes: Notes, sag: float, nobody_else: bool) -> None:
    """The air answered. `nobody_else`: no other room that could have told followed this heater."""
    now = case.now.steady
    notes.update(failed=0, answered_at=now)
    if sag >= notes["bound"]:
        on_end = now - notes.get("told_at", -inf) < ON_END_SECONDS
        notes.update(told_at=now, told_on_end=int(notes.get("told_on_end", 1)) + 1 if on_end else 1)
        answering.believe(notes)
    else:
        answering.doubt_less(notes)  # a cloud may have done as much
    if nobody_else:
        notes["passed_at"] = now
    _end(notes)


def _failed(notes: Notes, sag: float, bend: float, follows: str | None) -> None:
    """The air did not answer, or that of another room followed more clearly."""
    answering.forget(notes)  # what answered before this trial answers no more
    notes.pop("told_at", None)
    notes.pop("told_on_end", None)
    # air that sagged here as well may have answered, air that rose may get its heat late: another rest decides
    clearly = follows is not None and abs(sag) <= notes["bound"]
    notes["failed"] = TRIALS if clearly else int(notes.get("failed", 0)) + 1
    notes.pop("swapped_with", None)
    if follows is not None:
        notes["swapped_with"] = follows
    if notes["failed"] >= TRIALS:
        notes.update(latched=True, evidence=_evidence(notes, sag, bend))
    _end(notes)


def _void(case: Case, notes: Notes) -> None:
    """Another heater of the room was switched, or a window opened: the rest tells nothing, and is tried again later."""
    notes["run"] = begun(case, notes["rest_celsius"])
    _end(notes)


def _end(notes: Notes) -> None:
    for name in ("resting_since", "beside", "others", "spares"):
        notes.pop(name, None)


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
