"""A body that opens far too early: what is told of it, how long it rests, and what shows that it is free again."""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW, case_of
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.meter.diagnosis import cover, dial, suspicion

HOUR = 3600.0


def lesson(hours_ago, warmth):
    """An opening so long ago, at that warmth."""
    return Lesson(NOON.timestamp() - hours_ago * HOUR, [warmth] * CANDIDATES, [warmth] * CANDIDATES)


@pytest.mark.parametrize(
    ("tries", "pause", "latched"),
    [(None, 1800, False), (1, 3600, False), (2, 7200, False), (3, 7200, True), (4, 7200, True)],
)
def test_each_time_it_rests_longer_and_then_until_someone_has_looked(tries, pause, latched):
    """Half an hour, one hour, two hours; the fourth time it waits for the owner."""
    case = case_of(notes={"covered": {"tries": tries} if tries else {}})
    cover.covered(case, "too early")
    assert case.kept.notes["covered"] == {
        "tries": (tries or 0) + 1,
        "at": NOW,
        "pause_until": NOW + pause,
        "latched": latched,
        "evidence": "too early",
        "unsure": False,
    }


@pytest.mark.parametrize(
    ("before", "unsure", "then"),
    [
        ({}, True, True),
        ({}, False, False),
        ({"tries": 1, "unsure": True}, True, True),
        ({"tries": 1, "unsure": True}, False, False),
        ({"tries": 1, "unsure": False}, True, False),
        ({"tries": 1}, True, False),
    ],
)
def test_once_it_was_surely_a_cover_it_stays_so(before, unsure, then):
    """It may as well be the dial only for as long as nothing has told."""
    case = case_of(notes={"covered": dict(before)})
    cover.covered(case, "", unsure)
    assert case.kept.notes["covered"]["unsure"] is then


def test_what_it_did_under_the_cover_teaches_nothing():
    """Openings of the last three hours go, the ones before stay, and the facts are told anew."""
    body = BodyMemory(
        lessons=[lesson(4, 100.0), lesson(2, 60.0)], odd=[lesson(1, 50.0)], most=[0.0] * CANDIDATES
    )
    case = case_of(body=body, facts=HeaterFacts(opens_watts=500.0))
    cover.covered(case, "")
    assert body.lessons == [lesson(4, 100.0)]
    assert body.odd == []
    assert case.kept.facts.opens_watts is None, "without a store nothing can be told"


def test_where_all_came_lately_those_near_the_warmest_may_stay():
    """From 95 % of the warmest on: a body that is free opens so."""
    body = BodyMemory(lessons=[lesson(2, 94.0), lesson(1.5, 95.0), lesson(1, 100.0)], most=[0.0] * CANDIDATES)
    cover.covered(case_of(body=body), "")
    assert [one.after[0] for one in body.lessons] == [95.0, 100.0]


def test_what_the_owner_wrote_of_a_body_that_taught_nothing_stays():
    """Without an opening to forget the facts are left alone."""
    case = case_of(facts=HeaterFacts(sustained_watts=500.0))
    cover.covered(case, "")
    assert case.kept.facts.sustained_watts == 500.0


@pytest.mark.parametrize(
    ("log", "ago"), [(None, 3.0), ({"at": NOW - 5 * HOUR}, 5.0), ({"at": NOW - HOUR}, 3.0)]
)
def test_it_may_have_begun_with_the_log_and_three_hours_ago_at_least(log, ago):
    """The wall time is counted back from now."""
    case = case_of(notes={"cut-out": {"log": log}} if log else {})
    assert suspicion.began_wall(case) == NOON.timestamp() - ago * HOUR


@pytest.mark.parametrize(
    ("notes", "so"), [({}, False), ({"cut-out": {}}, False), ({"cut-out": {"log": {}}}, True)]
)
def test_it_is_interrupted_while_a_log_is_kept(notes, so):
    """No log, no interruption."""
    assert suspicion.is_interrupted(case_of(notes=notes)) is so


@pytest.mark.parametrize(
    ("notes", "covered", "dial"),
    [
        ({}, False, False),
        ({"covered": {}, "meter": {}}, False, False),
        ({"covered": {"tries": 1}}, True, False),
        ({"meter": {"code": "dial-down"}}, True, True),
        ({"meter": {"code": "element-out"}}, False, False),
        ({"meter": {"cycles": [[NOW - 3 * HOUR + 1, 0.79, 600]]}}, True, True),
        ({"meter": {"cycles": [[NOW - 3 * HOUR, 0.5, 600]]}}, False, False),
        ({"meter": {"cycles": [[NOW - 60, 0.8, 600]]}}, False, False),
    ],
)
def test_it_is_suspected_while_covered_or_lately_out_early(notes, covered, dial):
    """Out under 80 % of what it stood, within three hours; or named already."""
    assert suspicion.suspects(case_of(notes=notes)) is covered
    assert suspicion.may_be_at_its_dial(case_of(notes=notes)) is dial


@pytest.mark.parametrize(
    ("about", "share", "cleared"),
    [
        ({"code": "dial-down", "share": 0.4}, 0.65, True),
        ({"code": "dial-down", "share": 0.4}, 0.64, False),
        ({"code": "dial-down", "share": 0.8}, 0.9, True),
        ({"code": "dial-down", "share": 0.8}, 0.89, False),
        ({"code": "dial-down"}, 0.9, True),
        ({"code": "dial-down"}, 0.89, False),
        ({"code": "element-out"}, 1.0, False),
    ],
)
def test_a_run_far_past_the_dial_shows_that_it_was_turned_up(about, share, cleared):
    """A quarter further than the dial let it go, or nine tenths of what it stood."""
    case = case_of(notes={"meter": {**about, "usual": 1500.0}})
    suspicion.stood(case, share)
    assert case.kept.notes["meter"] == ({} if cleared else about) | {"usual": 1500.0}


@pytest.mark.parametrize(
    ("covered", "share", "then"),
    [
        ({"tries": 2, "at": 5.0}, 0.9, {}),
        ({"tries": 2, "at": 5.0}, 0.89, {"tries": 2, "at": 5.0}),
        ({"tries": 4, "latched": True}, 1.0, {"tries": 4, "latched": True}),
        ({"leans": "a note"}, 1.0, {"leans": "a note"}),
    ],
)
def test_a_run_near_what_it_stood_shows_that_nothing_lies_on_it(covered, share, then):
    """From nine tenths on; but what waits for the owner goes on waiting."""
    case = case_of(notes={"covered": dict(covered), "cut-out": {"looked": True, "hot": 3.0}})
    suspicion.stood(case, share)
    assert case.kept.notes["covered"] == then
    assert case.kept.notes["cut-out"] == ({"hot": 3.0} if share >= 0.9 else {"looked": True, "hot": 3.0})


@pytest.mark.parametrize(
    ("ago", "tries", "latched"), [(0.0, 4, True), (4 * HOUR - 1.0, 4, True), (4 * HOUR, 1, False)]
)
def test_what_comes_and_goes_is_counted_on(ago, tries, latched):
    """For four hours after it seemed free: else it would be tried for ever."""
    case = case_of(notes={"covered": {"tried": 3, "free_at": NOW - ago}})
    cover.covered(case, "too early")
    notes = case.kept.notes["covered"]
    assert (notes["tries"], notes["latched"]) == (tries, latched)


def test_a_long_run_of_a_heater_with_nothing_noted_changes_nothing():
    """No notes are made."""
    case = case_of(notes={"cut-out": {}})
    suspicion.stood(case, 1.0)
    suspicion.stood(case_of(), 1.0)
    assert case.kept.notes == {"cut-out": {}}


@pytest.mark.parametrize(
    ("tell", "evidence"),
    [
        (
            lambda case: cover.opened_early(case, {"seconds": 300.0, "most": 450.0}, 500.0),
            "Its own cut-out opened after 5 min, at 90 % of the warmth that it has stood before.",
        ),
        (
            lambda case: cover.opened_early(case, {"seconds": 20.0, "most": 250.0}, 500.0),
            "Its own cut-out opened after 1 min, at 50 % of the warmth that it has stood before.",
        ),
        (
            lambda case: cover.opened_under_what_it_stood(case, 0.62),
            "Its own cut-out opened at 62 % of the warmth that it has stood before, or sooner.",
        ),
        (
            lambda case: cover.still_open(case, 3600.0),
            "Its own cut-out opened far too early, and was open yet after 60 min.",
        ),
        (
            lambda case: cover.overheated(case, {"after": 588.0, "at": NOW - 600.0}),
            "Its cut-out left 588 W, and after 10 min more even that went out: it cannot get rid of its heat.",
        ),
    ],
)
def test_what_shows_a_cover_is_told_in_numbers(tell, evidence):
    """Each way to see one rests the heater, surely, with what was seen."""
    case = case_of()
    tell(case)
    covered = case.kept.notes["covered"]
    assert (covered["evidence"], covered["tries"], covered["unsure"]) == (evidence, 1, False)


def test_what_was_taken_for_a_cover_was_the_dial():
    """Named, and nothing is held against the body any more."""
    case = case_of(notes={"covered": {"tries": 2}, "meter": {"usual": 1500.0}})
    dial.turned_down(case, "soon back")
    assert case.kept.notes == {
        "covered": {},
        "meter": {"usual": 1500.0, "code": "dial-down", "evidence": "soon back", "level": None},
    }
