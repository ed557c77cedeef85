"""PI control with a time-proportional cycle.

Rules: tuned by SIMC (Skogestad 2003) from the room's learned model, else from safe defaults (30 K gain,
14 400 s time constant, 600 s dead time); back-calculation, ten times as fast as the integral, keeps it from
winding up; a cycle is as long as the longest minimum time or longer and honours them all, and what it could
not deliver is carried into the next without bias; nothing is wanted over what the `overshoot` interlock allows.
"""

from __future__ import annotations

from thermostatd.core.demand.law import Case
from thermostatd.core.demand.saying import cold, warm
from thermostatd.core.memory import Notes
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand
from thermostatd.core.values import is_finite
from thermostatd.physics.rooms import simc_pi

DEFAULT_GAIN_KELVIN, DEFAULT_TAU_SECONDS, DEFAULT_DEAD_SECONDS = 30.0, 14400.0, 600.0
LONGEST_GAP_SECONDS = 120.0
ALL_SHARE = 0.995  # said as a whole, since nobody hears the half percent
TRACKING_SHARE = 0.1
HIGHEST_OVER_KELVIN = 0.5
_EMPTY: Notes = {"integral": 0.0, "started": None, "wanted": 0.0, "due": 0.0, "delivered": 0.0, "carry": 0.0}


def decide(case: Case) -> Demand:
    """Demand of a room as a share of each cycle."""
    notes = case.notes
    for key, value in _EMPTY.items():
        notes.setdefault(key, value)
    share = _share(case, notes)
    if case.was_on:
        notes["delivered"] += min(case.seconds, LONGEST_GAP_SECONDS)
    if _cycle_over(case, notes, share):
        _settle_account(case, notes)
        _plan_cycle(case, notes, share)
    _shorten(case, notes, share)
    on = case.steady - notes["started"] < notes["due"] - 1e-6
    if not on and share <= 0.0:
        return Demand(False, 0.0, warm(case))
    if on and share >= ALL_SHARE:
        return Demand(True, 1.0, cold(case))
    code = "portion" if on else "portion-rest"
    return Demand(on, share, reason(code, percent=100.0 * share, target=case.target.celsius))


def tuning(model: Notes | None) -> tuple[float, float]:
    """Gain in 1/K and integral time in s. A model that is not whole and over zero counts for nothing."""
    safe = (DEFAULT_GAIN_KELVIN, DEFAULT_TAU_SECONDS, DEFAULT_DEAD_SECONDS)
    known = [(model or {}).get(name) for name in ("gain_kelvin", "tau_seconds", "dead_seconds")]
    sound = [float(value) for value in known if is_finite(value) and value > 0.0]
    return simc_pi(*(sound if len(sound) == len(safe) else safe))


def _share(case: Case, notes: Notes) -> float:
    gain, integral_seconds = tuning(case.model)
    error = case.target.celsius - case.celsius
    seconds = min(case.seconds, LONGEST_GAP_SECONDS)
    raw: float = gain * error + notes["integral"]
    share = min(1.0, max(0.0, raw)) if error > -HIGHEST_OVER_KELVIN else 0.0
    notes["integral"] += seconds * (gain * error + (share - raw) / TRACKING_SHARE) / integral_seconds
    notes["integral"] = min(1.0, max(-0.5, notes["integral"]))
    return share


def _cycle_over(case: Case, notes: Notes, share: float) -> bool:
    """At its end, or at once where all or nothing is now wanted and the cycle does otherwise."""
    if notes["started"] is None:
        return True
    gone = case.steady - notes["started"]
    on = gone < notes["due"]
    return gone >= _cycle_seconds(case) - 1e-6 or (on and share <= 0.0) or (not on and share >= 1.0)


def _settle_account(case: Case, notes: Notes) -> None:
    """What was wanted of the cycle so far and not delivered is owed to the next, within one minimum time."""
    if notes["started"] is None:
        return
    gone = min(1.0, (case.steady - notes["started"]) / _cycle_seconds(case))
    owed = notes["carry"] + notes["wanted"] * gone - notes["delivered"]
    most = max(_minimum_times(case))
    notes["carry"] = min(max(owed, -most), most)


def _plan_cycle(case: Case, notes: Notes, share: float) -> None:
    length = _cycle_seconds(case)
    min_on, min_off = _minimum_times(case)
    wanted = share * length
    due = min(length, wanted + notes["carry"])
    if share <= 0.0 or due < min_on:
        due = 0.0
    elif length - due < min_off:
        due = length
    notes.update(started=case.steady, due=due, wanted=wanted, delivered=0.0)


def _shorten(case: Case, notes: Notes, share: float) -> None:
    """End the cycle's heat sooner where less is wanted by now than when it was planned."""
    length, (min_on, min_off) = _cycle_seconds(case), _minimum_times(case)
    due = share * length + notes["carry"]
    gone = case.steady - notes["started"]
    if share * length < notes["wanted"] and gone < notes["due"] and min_on <= due <= length - min_off:
        notes.update(due=min(notes["due"], due), wanted=share * length)


def _cycle_seconds(case: Case) -> float:
    return max(case.room.cycle, *_minimum_times(case))


def _minimum_times(case: Case) -> tuple[float, float]:
    heaters = case.room.heaters
    return max((h.min_on for h in heaters), default=0.0), max((h.min_off for h in heaters), default=0.0)
