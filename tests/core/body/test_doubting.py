"""What no free body would open at is believed for a day. All invented."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.core.body.followed import USUAL, WALL, body_of, each, running
from thermostatd.core.body.doubting import BELIEVED_SHARE, doubt
from thermostatd.core.body.follow import follow
from thermostatd.core.body.state import Lesson
from thermostatd.core.body.store import watts_of
from thermostatd.core.facts import HeaterFacts

LEAST = BELIEVED_SHARE * watts_of(USUAL)
DAY = 86400.0


def opened(ago, watts, **more):
    """A body that opened so many seconds ago, at those watts."""
    body = body_of(lessons=[Lesson(WALL - ago, each(50.0), each(52.0))], weights=each(0.09), opens=each(51.0))
    for name, value in more.items():
        setattr(body, name, value)
    facts = HeaterFacts(opens_watts=watts, sustained_watts=watts, trip_count=1)
    return running(body, facts=facts)


@pytest.mark.parametrize(
    ("ago", "watts", "forgotten"),
    [
        (DAY, LEAST - 1.0, True),
        (DAY - 60.0, LEAST - 1.0, False),
        (DAY, LEAST + 1.0, False),
        (99 * DAY, LEAST + 1.0, False),
        (DAY, None, False),
    ],
)
def test_an_opening_that_cannot_be_believed_is_forgotten_after_a_day(ago, watts, forgotten):
    """Then it may run until it opens again, or does not; that it has opened stays counted."""
    case = opened(ago, watts)
    doubt(case, case.kept.body)
    assert (not case.kept.body.lessons) is forgotten
    assert (not case.kept.body.weights) is forgotten
    assert case.kept.facts.opens_watts == (None if forgotten else watts)
    assert case.kept.facts.trip_count == 1


def test_the_latest_of_several_counts():
    """While it still opens it is paced."""
    case = opened(2 * DAY, LEAST - 1.0)
    case.kept.body.lessons.append(Lesson(WALL - 3600.0, each(50.0), each(52.0)))
    doubt(case, case.kept.body)
    assert len(case.kept.body.lessons) == 2


def test_what_the_owner_wrote_is_believed():
    """Without an opening nothing is doubted."""
    case = opened(DAY, LEAST - 1.0, lessons=[])
    doubt(case, case.kept.body)
    assert case.kept.facts.opens_watts == LEAST - 1.0


def test_a_body_is_doubted_as_it_is_followed():
    """At the next step."""
    case = opened(DAY, LEAST - 1.0)
    assert not follow(case).lessons


def test_kinds_that_stand_their_label_are_learned_from_no_more():
    """What an earlier version learned of one is forgotten at once."""
    case = opened(60.0, LEAST + 1.0)
    case = replace(case, heater=case.heater.model_copy(update={"kind": "panel"}))
    doubt(case, case.kept.body)
    assert not case.kept.body.lessons
    assert case.kept.facts.sustained_watts is None
