"""Watches a run of heat: where the air stood as it began, how much went in, and how far the air has come since.

Rules: heat before and after a pause of up to half an hour belongs together, if it is the pace or the cut-out that
pauses; a turn on a shared circuit ends the run. After four hours a run that lifted the air is judged anew from where
that is by then. A peak counts for less as time goes by, so that weather alone does not make a fall.
"""

from __future__ import annotations

from thermostatd.core.guard.case import Case
from thermostatd.core.guard.no_answer.air import SLOPE_SECONDS, bound_kelvin, slope
from thermostatd.core.memory import Notes
from thermostatd.core.plug import drawing_floor_watts, evidence_watts, switched_at
from thermostatd.core.sharing.need import waited_seconds
from thermostatd.core.values import Reading

HEAT_SECONDS = 3600.0  # a mean over less says little
PAUSE_SECONDS = 1800.0
LONGEST_SECONDS = 4 * 3600.0  # then the run is judged anew from where the air is by now
LONGEST_STEP_SECONDS = 600.0
LASTING = ("peak", "lifted", "heat_at")  # of one that lifted
FORGIVEN_KELVIN_PER_HOUR = 0.25
LACKING_KELVIN = 0.3
EARLIEST_SECONDS = 20.0


def watch(case: Case, notes: Notes, celsius: float, heats: bool) -> Notes | None:
    """Take one step in. Gives the run as it stands; None where there is none that has gone on."""
    ran: Notes | None = notes.get("run")
    goes_on = heats and (ran is None or _heated_lately(case, ran))
    if not goes_on and not _rests_in_a_run(case, ran):
        notes.pop("run", None)
        return None
    if ran is None:
        notes["run"] = begun(case, celsius)
        return None
    _take_in(case, ran, celsius)
    if seconds_of(case, ran) < LONGEST_SECONDS:
        return ran
    notes.pop("run")
    if ran["lifted"]:
        notes["run"] = begun(case, celsius) | {name: ran[name] for name in LASTING}
    return None


def begun(case: Case, celsius: float) -> Notes:
    """A run that begins now, in air of so many °C."""
    return {
        "since": case.now.steady,
        "celsius": celsius,
        "peak": celsius,
        "slope": round(min(0.0, slope(case, SLOPE_SECONDS)), 6),
        "joules": 0.0,
        "lifted": False,
    }


def seconds_of(case: Case, ran: Notes) -> float:
    """How long the run is, its pauses with it, s."""
    return float(case.now.steady - ran["since"])


def lift_kelvin(ran: Notes, celsius: float, seconds: float) -> float:
    """How far the air has come over where it was heading, K, or over its lowest since."""
    return float(celsius - min(ran["low"], ran["celsius"] + ran["slope"] * seconds / 3600.0))


def gives_heat(case: Case) -> bool:
    """Whether it is told to be on, and its meter does not say that nothing flows."""
    watts = evidence_watts(case.kept)
    return case.kept.told_on and (watts is None or watts > drawing_floor_watts(case.heater))


def _take_in(case: Case, ran: Notes, celsius: float) -> None:
    now, seconds = case.now, min(case.now.seconds, LONGEST_STEP_SECONDS)
    if _heat_is_proven(case):
        ran["heat_at"] = now.steady
    if case.kept.told_on:
        watts = evidence_watts(case.kept)
        ran["joules"] += (watts if watts is not None else case.heater.watts) * seconds
    forgiven = FORGIVEN_KELVIN_PER_HOUR * seconds / 3600.0
    ran["peak"] = max(round(ran.get("peak", celsius) - forgiven, 5), celsius)
    ran["low"] = min(ran.get("low", celsius), celsius)  # a cold heater's air falls a while before it rises
    lasted = seconds_of(case, ran)
    lift = lift_kelvin(ran, celsius, lasted)
    ran["lifted"] = ran["lifted"] or lift >= bound_kelvin(ran["joules"] / max(lasted, HEAT_SECONDS))


def _rests_in_a_run(case: Case, ran: Notes | None) -> bool:
    """No heat for a while though it is wanted, by its pace or its cut-out: heat before and after belongs together.

    One that waits for others on its circuit has had its run: turns of ten minutes tell little of an hour.
    """
    if ran is None or not (case.wanted or _too_cold(case)) or waited_seconds(case.kept) > 0.0:
        return False
    return _heated_lately(case, ran)


def _heated_lately(case: Case, ran: Notes) -> bool:
    heat_at: float = ran["heat_at"] if "heat_at" in ran else ran["since"]
    return case.now.steady - heat_at < PAUSE_SECONDS


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
