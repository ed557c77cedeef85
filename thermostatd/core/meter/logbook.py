"""Keeps what a meter told since power first went to nothing, for the replay that says why (`replay`).

Rules: it begins with the warmth at the last moment at which the heater was surely closed; the relay's switchings are
in it exactly, reports only where they prove something; it is dropped once the heater stood what it stood before, after
some hours, and where the meter tells means or a cut-out would leave an element, since then nothing needs a replay.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from thermostatd.core.body.expected import room_share
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.memory import Notes
from thermostatd.core.meter.causes import FLOWS, NOTHING, OFF, ON, Chances
from thermostatd.core.meter.diagnosis import elements
from thermostatd.core.meter.power import Power

if TYPE_CHECKING:
    from thermostatd.core.guard.case import Case

NAME = "log"
MOST_EVENTS, MOST_SECONDS = 120, 7 * 3600.0
FEWEST_REPORTS, FLOWING_ON = 3, 4
MOST_NOTHING = 5  # then a rest: reports may keep step with a dial's beat, and show nothing of it
FLOWING_PAST_DIAL, LATE_SECONDS = 6, 600.0  # a dial would have opened in such a run


def switched(notes: Notes, at: float, on: bool) -> None:
    """The relay switched."""
    book = notes.get(NAME)
    if book is not None and bool(book["on"]) != on:
        _flush(book)
        book.pop("last", None)
        _write(book, at, ON if on else OFF)
        book["on"] = on


def reported(case: Case, notes: Notes, power: Power) -> None:
    """A report came while the heater is on."""
    body, book = case.kept.body, notes.get(NAME)
    if (power.slow and not body.no_means) or not (power.proves or not power.nothing):
        return
    if elements.leaves_an_element(case, body.full_watts or case.heater.watts):
        return
    if book is not None and (len(book["ev"]) >= MOST_EVENTS or power.at - book["at"] > MOST_SECONDS):
        notes.pop(NAME)
        book = None
    if book is None:
        if not power.nothing or body.proven_at is None or len(body.proven) != CANDIDATES:
            return
        if not 0.0 < power.at - body.proven_at < MOST_SECONDS:
            return
        watts = body.full_watts or case.kept.facts.level_watts or case.heater.watts
        warmth = [round(one, 1) for one in body.proven]
        book = notes[NAME] = {"at": body.proven_at, "w": warmth, "on": True, "watts": watts, "ev": []}
    what = NOTHING if power.nothing else FLOWS
    if power.slow:
        _write(book, power.at, what)
    elif "last" not in book:
        _write(book, power.at, what)
        book["last"] = [power.at, what, True]
    elif book["last"][1] != what:  # a quick meter's say is in its changes
        _flush(book)
        _write(book, power.at, what)
        book["last"] = [power.at, what, True]
    else:
        book["last"] = [power.at, what, False]


def drop(notes: Notes) -> None:
    """What is in it is explained, or over."""
    notes.pop(NAME, None)


def is_news(notes: Notes) -> bool:
    """Whether it says more than when this was last asked."""
    book = notes.get(NAME)
    if book is None or book.get("read") == len(book["ev"]):
        return False
    book["read"] = len(book["ev"])
    return True


def read(case: Case, notes: Notes) -> Chances | None:
    """How well each cause explains it; None while it says too little."""
    book = notes.get(NAME)
    if book is None or sum(1 for what in book["ev"][1::2] if what >= FLOWS) < FEWEST_REPORTS:
        return None
    if not _came_back(book):
        return None  # what never came back is for others to name
    from thermostatd.core.meter.replay import chances  # it loads numpy

    return chances(case.kept.body, book["w"], book["ev"], book["watts"], room_share(case))


def flows_on(notes: Notes) -> bool:
    """Whether power has flowed for so many reports that it is not by chance that none fell between."""
    book = notes.get(NAME)
    return book is None or book["ev"][1::2][-FLOWING_ON:] == [FLOWS] * FLOWING_ON


def count_late(notes: Notes, power: Power, on_at: float) -> None:
    """How many reports on end showed power late in a run, with or without a log."""
    if power.nothing:
        notes.pop("late", None)
    elif power.at - on_at >= LATE_SECONDS:
        notes["late"] = min(int(notes.get("late", 0)) + 1, FLOWING_PAST_DIAL)


def flows_past_a_dial(notes: Notes) -> bool:
    """Whether it flows on, of one known to be at its dial, whose beat the reports may keep step with."""
    return int(notes.get("late", 0)) >= FLOWING_PAST_DIAL


def says_no_more(notes: Notes) -> bool:
    """Nothing again and again: by chance the reports may keep step with what they should show."""
    return bool(notes[NAME]["ev"][-2 * MOST_NOTHING + 1 :: 2] == [NOTHING] * MOST_NOTHING)


def length(notes: Notes) -> tuple[float, int]:
    """Hours, and reports, that it holds."""
    events = notes[NAME]["ev"]
    return events[-2] / 3600.0, sum(1 for what in events[1::2] if what >= FLOWS)


def runs(notes: Notes) -> int:
    """How many runs have begun in it."""
    return int(notes[NAME]["ev"][1::2].count(ON))


def _flush(book: Notes) -> None:
    """Write the last report before a change."""
    if "last" in book and not book["last"][2]:
        _write(book, book["last"][0], book["last"][1])


def _came_back(book: Notes) -> bool:
    reports = [what for what in book["ev"][1::2] if what >= FLOWS]
    return (NOTHING, FLOWS) in pairwise(reports)


def _write(book: Notes, at: float, what: int) -> None:
    book["ev"] += [round(at - book["at"]), what]
