"""Trips, and latches, when power does not change this room's air: a heater carried away, or sensors swapped.

What tells is a rest (`rest`). Rests cost comfort, so they need a `cause`, in the `run` of heat that is watched; what
ordinary switchings tell (`answering`) spares them, and `swapped` looks at the other rooms. All goes by fixed bounds on
what the `air` does, never by a fitted model.
A room at its ceiling that another room's heater seems to heat has that heater rest, which then names nothing: the sun
may do as much. One room rests at a time, so that no other's rest makes this one's sag. While its dial keeps its heat
back, nothing is asked; nor in a night whose quiet hours would leave no ON after the rest.
"""

from thermostatd.core.guard.case import Case, good, tripped
from thermostatd.core.guard.no_answer import answering, cause, rest, run, swapped
from thermostatd.core.guard.no_answer.air import bound_kelvin
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.pace import may_come_back
from thermostatd.core.results import Verdict
from thermostatd.core.values import Reading

CODE = "no-answer"
SAFETY = True
ANSWER_SHARE = 1.5  # of the bound of one trial, an hour: what ordinary switchings must show, K/h


def judge(case: Case) -> Verdict:
    notes = case.notes(CODE)
    if notes.get("latched"):
        return _verdict(notes)
    if case.room is None or not isinstance(case.air, Reading):
        return good(CODE)
    if suspicion.may_be_at_its_dial(case):
        rest.give_up(notes)
    elif swapped.partner_latched(case, CODE):
        notes.pop("resting_since", None)
        return tripped(CODE)
    elif notes.get("resting_since") is not None:
        rest.go_on(case, notes, case.air.celsius)
    else:
        _heat(case, notes, case.air.celsius)
    return _verdict(notes)


def _verdict(notes: Notes) -> Verdict:
    if notes.get("latched"):
        return tripped(CODE, latched=True, trouble=True, evidence=str(notes["evidence"]))
    return tripped(CODE) if notes.get("resting_since") is not None else good(CODE)


def _heat(case: Case, notes: Notes, celsius: float) -> None:
    """Watch a run, and begin the rest that tells once there is cause to ask."""
    now, heats = case.now, run.gives_heat(case)
    answering.watch(notes, celsius, heats, now.steady, now.seconds)
    if answering.answers(notes, ANSWER_SHARE * bound_kelvin(case.heater.watts), now.steady):
        notes.update(failed=0, answered_at=now.steady)
    ran = run.watch(case, notes, celsius, heats)
    if ran is None or not heats or not _alone(case) or not _comes_back(case):
        return
    if swapped.heats_another(case, celsius) and rest.may_begin(case):
        rest.begin(case, notes, ran, celsius)
        notes["spares"] = True
    if notes.get("resting_since") is not None or not cause.would_tell(case, ran):
        return
    if rest.may_begin(case) and cause.has_cause(case, notes, ran, celsius):
        rest.begin(case, notes, ran, celsius)


def _comes_back(case: Case) -> bool:
    """Whether quiet hours leave an ON after a rest: else half an hour of it becomes a cold night."""
    return case.room is None or may_come_back(case.room, case.memory, case.now)


def _alone(case: Case) -> bool:
    """Whether no other room's heater rests to tell: its rest would look like this one's sag."""
    own = case.room
    for key, _, place in case.house.heaters():
        notes = case.memory.heaters[key].notes.get(CODE)
        if notes and place is not own and notes.get("resting_since") is not None:
            return False
    return True
