"""A run that begins: what was open may be open yet, closed, or was another level all along."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW
from tests.core.meter.watching import BEGAN, GONE, OIL, OPEN, heater, show
from tests.stories.teller import study
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts, TripFact

WALL = NOON.timestamp() - 300.0
USUAL = {"usual": 1500.0, "runs": 5}


def lesson(seconds):
    """What an opening so long after that one taught."""
    return Lesson(WALL + seconds, [100.0] * CANDIDATES, [101.0] * CANDIDATES)


def starts(case, level=588.0, cold=100.0, **how):
    """A run begins on that level with so warm a body."""
    return show(case, "started", level, level, (cold, cold + 20.0), **how)


def test_a_run_on_its_power_tells_what_is_usual_and_what_it_stands():
    """Its level is kept, and how warm it was when nothing had opened."""
    case = heater()
    notes = starts(case, 1500.0)
    assert case.kept.notes["meter"] == {"usual": 1500.0, "runs": 1}
    assert (case.kept.facts.level_watts, notes["proven"]) == (1500.0, [[1500.0, 120.0]])


def test_a_run_on_nothing_tells_nothing():
    """What is gone stays gone until power is back."""
    case = heater({"gone": GONE})
    assert starts(case, 0.0) == {"on_at": BEGAN, "gone": GONE}
    assert "meter" not in case.kept.notes
    assert show(case, "held", 0.0, 0.0) == {"on_at": BEGAN, "gone": GONE}
    assert case.kept.facts.levels == []


def test_power_that_went_in_one_run_and_is_back_in_the_next_was_off_so_long():
    """Up to the first report that shows it."""
    case = heater({"gone": GONE})
    assert "gone" not in starts(case, 1500.0)
    assert case.kept.notes["meter"]["cycles"] == [[NOW, 1.0, 680]]


def test_back_on_what_it_drew_before_its_cut_out_is_closed():
    """A run that proves what it stands."""
    case = heater({"open": dict(OPEN)}, more={"meter": dict(USUAL)})
    notes = starts(case, 1450.0)
    assert "open" not in notes
    assert notes["proven"] == [[1450.0, 120.0]]
    assert case.kept.notes["meter"] == {"usual": 1450.0, "runs": 6}


@pytest.mark.parametrize(
    ("tries", "cold", "level", "still"),
    [(1, 23.0, 588.0, True), (1, 22.5, 588.0, False), (0, 100.0, 588.0, False), (1, 100.0, 500.0, False)],
)
def test_under_a_cover_it_is_open_yet_for_long(tries, cold, level, still):
    """Until a twentieth of its warmth is left, low power of a heater that is suspected is no other level."""
    case = heater({"open": dict(OPEN)}, more={"covered": {"tries": tries}, "meter": dict(USUAL)})
    starts(case, level, cold, at=(NOW + 300.0, NOW + 320.0))
    assert (case.kept.notes["covered"].get("tries") == 2) is still
    assert (case.kept.notes["meter"]["runs"] == 5) is still
    if still:
        assert case.kept.notes["covered"]["evidence"] == (
            "Its own cut-out opened far too early, and was open yet after 10 min."
        )


@pytest.mark.parametrize(
    ("slow", "opened", "counts"), [(True, True, False), (False, True, True), (True, False, True)]
)
def test_a_slow_meter_says_nothing_of_a_body_that_may_be_open(slow, opened, counts):
    """Told so late, it may have opened within this run."""
    case = heater(body=BodyMemory(opened=opened))
    starts(case, 1500.0, slow=slow)
    assert ("meter" in case.kept.notes) is counts


@pytest.mark.parametrize(
    ("ran", "cold", "more", "slow", "warm"),
    [
        (None, 54.0, {}, False, False),
        (None, 54.5, {}, False, True),
        (2399.0, 54.5, {}, False, True),
        (2400.0, 180.0, {}, False, False),
        (2400.0, 180.5, {}, False, True),
        (None, 0.0, {"stuck_at": NOW - 60.0}, False, True),
        (None, 180.0, {}, True, False),
        (None, 180.5, {}, True, True),
    ],
)
def test_low_power_of_a_cold_body_was_no_opening(ran, cold, more, slow, warm):
    """An eighth of the warmth is cold for sure, four tenths after forty minutes on its low element or on a slow
    meter; and of a body heated while off nobody knows."""
    opened = OPEN | {"wall": WALL} | ({"ran": ran} if ran is not None else {})
    facts = HeaterFacts(trips=[TripFact(WALL, 300.0, 1500.0, 588.0), TripFact(WALL - 1, 9.0, 1500.0, 588.0)],
                        trip_count=8)  # fmt: skip
    body = BodyMemory(lessons=[lesson(-900.0), lesson(0.0)], most=[0.0] * CANDIDATES)
    about = USUAL | ({"low": [588.0, 1]} if slow else {})
    known = {"meter": about, "covered": {"leans": "a note"}}
    case = heater({"open": opened} | more, facts=facts, body=body, more=known)
    notes = starts(case, 588.0, cold, slow=slow)
    assert ("open" in notes) is warm
    assert case.kept.notes["covered"] == ({"leans": "a note"} if warm else {})
    assert (facts.trip_count, len(facts.trips), len(body.lessons)) == ((8, 2, 2) if warm else (7, 1, 1))
    assert case.kept.notes["meter"].get("code") == (None if warm else "less-power")


@pytest.mark.parametrize("wall", [None, WALL])
def test_what_taught_nothing_has_nothing_to_forget(wall):
    """Nothing was learned of the opening that was none, or its lesson was never taken: all else stays."""
    trips = [TripFact(WALL - 2.0, 9.0, 1500.0, 588.0)]
    body = BodyMemory(lessons=[lesson(-1.0)], odd=[lesson(-2.0)], most=[0.0] * CANDIDATES)
    case = heater({"open": OPEN | {"wall": wall}}, facts=HeaterFacts(trips=trips, trip_count=3), body=body,
                  more={"meter": dict(USUAL)})  # fmt: skip
    assert "open" not in starts(case, 588.0, 0.0)
    assert (case.kept.facts.trips, case.kept.facts.trip_count) == (trips, 3)
    assert (body.lessons, body.odd) == ([lesson(-1.0)], [lesson(-2.0)])


def test_an_odd_lesson_of_it_is_forgotten_too():
    """Though it was only set aside."""
    body = BodyMemory(lessons=[lesson(-900.0)], odd=[lesson(0.0)], most=[0.0] * CANDIDATES)
    case = heater({"open": OPEN | {"wall": WALL}}, body=body, facts=HeaterFacts(opens_watts=500.0),
                  more={"meter": dict(USUAL)})  # fmt: skip
    starts(case, 588.0, 0.0)
    assert (body.lessons, body.odd) == ([lesson(-900.0)], [])
    assert case.kept.facts.opens_watts is None, "without a store nothing can be told"


HOT = {"hot": 250.26, "proven": [[1500.0, 500.0]]}
FOUND = {"on_at": BEGAN, "before": 1500.0, "after": 588.0, "at": BEGAN, "seconds": 0.0, "warmth": 250.3, "most": 250.3,
         "found": True}  # fmt: skip


def left():
    """What is known of a cut-out that left 588 W once."""
    return HeaterFacts(trips=[TripFact(0.0, 600.0, 1500.0, 588.0)])


def test_a_cover_thrown_over_a_hot_body_opens_it_while_it_is_off():
    """Less than usual after a short rest: its cut-out is found open, until the body is cold for sure."""
    case = heater(HOT, facts=left(), more={"meter": dict(USUAL)})
    assert starts(case, 588.0, 31.0)["open"] == FOUND | {"ran": 600, "told": NOW, "in": BEGAN}
    assert case.kept.notes["meter"] == USUAL | {"runs": 6}
    case = heater(HOT, facts=left(), more={"meter": dict(USUAL)})
    assert "open" not in starts(case, 588.0, 30.0)
    assert case.kept.notes["meter"]["code"] == "less-power"


def test_what_was_found_open_and_is_cold_by_now_was_another_level():
    """It taught nothing, so that nothing is taken back."""
    found = {"open": FOUND | {"ran": 60}}
    case = heater(found, more={"meter": dict(USUAL), "covered": {"leans": "a note"}})
    assert "open" not in starts(case, 588.0, 30.0)
    assert case.kept.notes["meter"]["code"] == "less-power"
    assert case.kept.notes["covered"] == {"leans": "a note"}


@pytest.mark.parametrize(
    ("level", "notes", "about", "how", "found"),
    [
        (588.0, {}, {}, {}, True),
        (588.0, {"hot": 250.0}, {}, {}, True),
        (588.0, {"hot": 249.0}, {}, {}, False),
        (588.0, {"hot": 0.0}, {}, {}, False),
        (588.0, {"hot": 249.0, "stuck_at": NOW - 60.0}, {}, {}, True),
        (588.0, {"proven": []}, {}, {}, False),
        (588.0, {"proven": [[1500.0, 0.0]]}, {}, {}, False),
        (588.0, {}, {"usual": None}, {}, False),
        (588.0, {}, {"usual": 588.0}, {}, False),
        (588.0, {"proven": [[500.0, 400.0]]}, {"usual": 500.0}, {}, False),
        (1420.0, {}, {}, {"toml": study(heater="settings_watts = [600, 1420]")}, False),
        (700.0, {}, {}, {}, False),
        (900.0, {}, {}, {"toml": OIL}, False),
        (600.0, {}, {}, {"toml": OIL, "facts": HeaterFacts()}, True),
        (900.0, {}, {}, {"toml": OIL, "facts": HeaterFacts()}, False),
        (588.0, {}, {"code": "less-power", "evidence": "", "level": 588.0}, {}, False),
    ],
)
def test_it_is_found_open_only_on_what_a_cut_out_leaves_of_a_hot_body(level, notes, about, how, found):
    """From half of what it stood; on what openings left before, else on the lowest setting; and where nothing tells of
    another level already."""
    about = {key: value for key, value in (USUAL | about).items() if value is not None}
    case = heater(HOT | notes, more={"meter": about}, **({"facts": left()} | how))
    assert ("open" in starts(case, level)) is found


def test_a_slow_meter_finds_nothing_open():
    """Its first report may be minutes after the switch-on."""
    case = heater(HOT, facts=left(), more={"meter": dict(USUAL)})
    assert "open" not in starts(case, 588.0, slow=True)


@pytest.mark.parametrize(
    ("notes", "covered", "proven"),
    [
        ({}, {}, 460.0),
        ({"log": {"ev": [600, 3]}}, {"tries": 1}, 460.0),
        ({"stuck_at": NOW - 60.0}, {}, 400.0),
        ({"proven": []}, {"tries": 1}, 460.0),
    ],
)
def test_a_run_that_holds_shows_what_it_stands(notes, covered, proven):
    """That clears a cover, unless reports may have missed what happened; warmth that nobody knows proves nothing."""
    case = heater({"proven": [[1500.0, 400.0]]} | notes, more={"covered": {"tries": 1}})
    found = show(case, "held", 1500.0, 1500.0)
    assert case.kept.notes["covered"] == covered
    assert found["proven"] == [[1500.0, proven]]
