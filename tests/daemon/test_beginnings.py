"""When heating really begins ahead of a step up."""

from __future__ import annotations

import json

from thermostatd.core.reasons import CODES, reason, sentence
from thermostatd.core.said import plain_of
from thermostatd.daemon.beginnings import beginnings

NOW, STEADY, HOUR, DAY = 1_700_000_000.0, 5000.0, 3600.0, 86400.0
STEPS = [(NOW + 3 * HOUR, 20.0), (NOW + 12 * HOUR, 16.0), (NOW + 27 * HOUR, 20.0)]


def test_the_next_rise_is_told_by_the_plan() -> None:
    """Begun already: since when; not yet: by the minutes it will take; a fall has no beginning."""
    rise = {"at": STEADY + 3 * HOUR, "since": STEADY - HOUR}
    assert beginnings(STEPS, 16.0, [], {"rise": rise}, NOW, STEADY) == [(NOW + 3 * HOUR, NOW - HOUR)]
    assert beginnings(STEPS, 16.0, [], {"rise": None, "arrival": 90}, NOW, STEADY) == [
        (NOW + 3 * HOUR, NOW + 1.5 * HOUR)
    ]
    assert beginnings(STEPS, 20.0, [], {"arrival": 90}, NOW, STEADY) == []


def test_a_later_rise_is_told_by_the_last_time() -> None:
    """From the last day on which heating began ahead of that hour; with no such day nothing is said."""
    begun = [
        NOW + 3 * HOUR - 2 * HOUR - DAY,
        NOW + 3 * HOUR - HOUR - DAY,
        NOW + 3 * HOUR - 5 * HOUR - 3 * DAY,
    ]
    told = beginnings(STEPS, 16.0, begun, {}, NOW, STEADY)
    assert told == [(STEPS[0][0], NOW + HOUR), (STEPS[2][0], NOW + 25 * HOUR)]
    assert beginnings(STEPS, 16.0, [], {}, NOW, STEADY) == []


def test_an_early_start_is_known_by_its_code_in_the_record() -> None:
    """The record of a switching holds the code of its reason, by which early heating is found again."""
    why = reason("preheating", target=20.0, minutes=40.0)
    assert '"=preheating"' in json.dumps(plain_of(sentence("switched-on", why=why.sentence), CODES))
