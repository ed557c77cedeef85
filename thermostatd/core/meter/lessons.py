"""What an opening that a meter showed writes into the heater's facts, and what is taken back once it was none.

Rules: the body's own lessons come and go with the facts; what came after a wall time is forgotten as one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from thermostatd.core.body.lessons import forget_since, tell
from thermostatd.core.facts import MOST_TRIPS, TripFact
from thermostatd.core.memory import Notes
from thermostatd.core.meter.diagnosis import suspicion
from thermostatd.core.meter.power import near

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case


def learn(case: Case, opened: Notes) -> float:
    facts, now = case.kept.facts, case.now
    wall = float(round(now.best.timestamp() - (now.steady - opened["at"])))
    facts.trips.append(TripFact(wall, opened["seconds"], opened["before"], opened["after"], opened["warmth"]))
    del facts.trips[:-MOST_TRIPS]
    facts.trip_count += 1
    case.notes("cut-out")["tripped_at"] = now.steady
    return wall


def take_back(case: Case, notes: Notes) -> None:
    """What looked like an opening was an element or the selector: nothing is to be learned from it."""
    opened = notes.pop("open", None)
    case.kept.notes.get("covered", {}).clear()
    if opened is not None and opened.get("wall") is not None:
        _forget(case, lambda trip: trip.at_wall == opened["wall"])
        unlearn(case, opened["wall"] - 1.0)


def forget_openings_to_nothing(case: Case, before: float) -> None:
    since = suspicion.began_wall(case)
    _forget(
        case,
        lambda trip: not trip.after_watts and trip.at_wall > since and near(trip.before_watts, before, False),
    )


def unlearn(case: Case, since: float) -> None:
    """What came after that wall time and was no opening taught nothing of the body."""
    body = case.kept.body
    if any(lesson.at_wall > since for lesson in (*body.lessons, *body.odd)):
        forget_since(body, since)
        tell(body, case.kept.facts)


def _forget(case: Case, wrong: Callable[[TripFact], bool]) -> None:
    facts = case.kept.facts
    kept = [trip for trip in facts.trips if not wrong(trip)]
    facts.trip_count -= len(facts.trips) - len(kept)
    facts.trips = kept
