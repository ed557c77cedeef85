"""What a heater's own cut-out leaves when it opens: an element, or nothing.

Rules: what it was seen to leave decides; until then an oil-filled heater's lowest setting has no cut-out behind it, and
its highest falls back to the lowest; other kinds stand their label, so that none opens but where something is wrong
(common practice, no published source).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from thermostatd.core.memory import Notes
from thermostatd.core.meter import run
from thermostatd.core.meter.power import near
from thermostatd.core.meter.warmth import tau_seconds

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

STOOD_SHARE, AS_WARM_SHARE, SURELY_COLDER_SHARE = 0.95, 0.97, 0.85
CLOSE_SHARE = 0.5  # of the time in which it warms


def leaves_an_element(case: Case, watts: float | None) -> bool:
    """Whether a cut-out would not take this level to nothing: of an oil-filled heater's settings the lowest has none
    behind it, and of the highest it leaves the lowest (common practice, no published source)."""
    settings = sorted(case.heater.settings_watts)
    if watts is None or case.heater.kind != "oil-filled" or len(settings) < 2:
        return False
    leaves, takes_all = openings_seen(case, watts)
    return takes_all <= leaves and (near(watts, settings[0], False) or near(watts, settings[-1], False))


def may_be_left(case: Case, before: float, after: float, exact: bool) -> bool:
    """Whether its cut-out may leave that level of the other: what it was seen to leave, else an oil-filled heater's
    lowest setting, whichever that is; that of other kinds takes all (common practice, no published source)."""
    seen = [trip.after_watts for trip in case.kept.facts.trips if near(trip.before_watts, before, False)]
    settings = sorted(case.heater.settings_watts)
    if not seen and is_quick(case):
        return False
    if not seen and len(settings) < 2:
        return True
    return any(near(after, one, exact) for one in seen or settings[:1])


def openings_seen(case: Case, watts: float) -> tuple[int, int]:
    """How many openings from this level left an element, and how many took all."""
    after = [trip.after_watts for trip in case.kept.facts.trips if near(trip.before_watts, watts, False)]
    return sum(1 for one in after if one), sum(1 for one in after if not one)


def is_a_setting(case: Case, watts: float) -> bool:
    """Whether that is one of its settings, to which someone may have turned its selector."""
    return any(near(watts, one, exact=False) for one in case.heater.settings_watts)


def is_known_level(case: Case, watts: float) -> bool:
    """Whether someone may have turned its selector to that: one of its settings, or a level that it stood before."""
    stood = (one[0] for one in case.notes("cut-out").get("proven", []))
    return is_a_setting(case, watts) or any(near(watts, one, exact=False) for one in stood)


def is_interrupted(case: Case, opened: Notes, exact: bool) -> bool:
    """Whether power fell of a body of a kind that stands its label, which has stood this level until it was as warm as
    it gets, clearly before it was so again: nothing but a cover or its dial does that.

    One that stands its label only just may open once it is warm; reports far apart may have hidden that it did before.
    """
    proven = run.proven_warmth(case.notes("cut-out"), opened["before"], exact) if is_quick(case) else None
    if proven is None or proven < STOOD_SHARE * opened["before"]:
        return False
    return bool(opened["most"] < (AS_WARM_SHARE if shows_openings(case) else SURELY_COLDER_SHARE) * proven)


def shows_openings(case: Case) -> bool:
    """Whether its meter speaks so often that so small a body cannot have opened and closed again unseen."""
    return case.kept.meter_period <= CLOSE_SHARE * tau_seconds(case.heater.kind)


def is_quick(case: Case) -> bool:
    """Whether its store is so small that under a cover, too, power is soon back (common practice)."""
    return case.heater.kind != "oil-filled"


def has_no_cut_out(case: Case, watts: float) -> bool:
    """Whether this is the lowest of the heater's settings, which goes to nothing only by its dial or by hand."""
    return leaves_an_element(case, watts) and near(watts, min(case.heater.settings_watts), False)
