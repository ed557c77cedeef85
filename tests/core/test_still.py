"""A meter that speaks only when its power has moved: how it is known, and what its silence says. Invented."""

import pytest

from tests.core.guard.cases import NOW, now_at
from tests.stories.teller import COLUMN, house_of, study
from thermostatd.core import plug
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.still import MOST_PROMPT, note_switching, repeats, speaks_on_change
from thermostatd.core.values import PlugReport

HEATER = house_of(study()).rooms[0].heaters[0]
ON = {"told_on": True, "on_since": NOW - 600.0, "shown_on": True, "waiting_since": 0.0, "heard": True}
STILL = {
    "watts": 600.0,
    "watts_at": NOW - 590.0,
    "meter_at": NOW - 590.0,
    "meter_gap": 900.0,
    "meter_prompt": 9,
}


@pytest.mark.parametrize(
    ("gap", "prompt", "known"),
    [
        (900.0, 5, False),
        (900.0, 6, True),
        (300.0, 8, False),
        (300.0, 9, True),
        (61.0, MOST_PROMPT, False),
        (62.0, 49, False),
        (62.0, 50, True),
        (0.0, MOST_PROMPT, False),
    ],
)
def test_it_is_known_by_so_many_prompt_words_as_a_clock_would_hardly_give(gap, prompt, known):
    """(45 s/gap)^n is under e^-16 (derived); one that tells each minute needs no such knowledge."""
    assert speaks_on_change(HeaterMemory(meter_gap=gap, meter_prompt=prompt)) is known


@pytest.mark.parametrize(
    ("at", "moved", "told", "prompt"),
    [
        (45.0, True, None, 5),
        (46.0, True, None, 2),
        (10.0, False, None, 4),
        (10.0, True, NOW, 4),
        (10.0, True, NOW - 600.0, 5),
    ],
)
def test_each_switching_is_told_in_time_or_not(at, moved, told, prompt):
    """Once; one told late takes half of what was known back."""
    kept = HeaterMemory(meter_prompt=4, meter_told=told)
    note_switching(kept, NOW, NOW + at, moved, 700.0)
    assert kept.meter_prompt == prompt
    assert kept.meter_told == (NOW if moved else told)


def test_no_more_is_counted_than_could_be_needed():
    """So that a meter exchanged for another is found out."""
    kept = HeaterMemory(meter_prompt=MOST_PROMPT)
    note_switching(kept, NOW, NOW + 9.0, True, 700.0)
    assert kept.meter_prompt == MOST_PROMPT


@pytest.mark.parametrize(
    ("gap", "last", "prompt"),
    [
        (300.0, 300.0, 4),
        (323.0, 300.0, 4),
        (325.0, 300.0, 5),
        (300.0, 900.0, 4),
        (600.0, 300.0, 4),
        (630.0, 300.0, 5),
        (360.0, 360.0, 4),
        (361.0, 361.0, 5),
        (900.0, 900.0, 5),
        (700.0, 0.0, 5),
        (0.0, 300.0, 5),
    ],
)
def test_a_word_on_the_beat_of_those_before_says_nothing(gap, last, prompt):
    """A heater whose shortest run is as long as a meter's period is told in time for hours, by chance."""
    kept = HeaterMemory(meter_prompt=4, meter_last=last)
    note_switching(kept, NOW, NOW + 10.0, True, gap)
    assert (kept.meter_prompt, kept.meter_last) == (prompt, gap)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({}, True),
        ({"watts_at": NOW - 30.0}, True),
        ({"watts_at": NOW - 29.0}, False),
        ({"meter_at": NOW - 3900.0}, True),
        ({"meter_at": NOW - 3901.0}, False),
        ({"meter_at": None}, False),
        ({"watts": None}, False),
        ({"watts_at": None}, False),
        ({"reachable": False}, False),
        ({"meter_prompt": 1}, False),
    ],
)
def test_its_silence_repeats_its_last_word(change, said):
    """Each half minute, for an hour and a little more, while it can be reached."""
    assert repeats(HeaterMemory(**STILL | change), NOW) is said


@pytest.mark.parametrize(("since", "said"), [(60.0, True), (59.0, False)])
def test_its_silence_says_nothing_in_the_first_minute_after_a_switching(since, said):
    """Its word of that may be on its way."""
    kept = HeaterMemory(**ON | STILL | {"on_since": NOW - since})
    plug.hear(kept, HEATER, COLUMN, None, now_at())
    assert (kept.watts_at == NOW) is said


@pytest.mark.parametrize("report", [None, PlugReport(watts=600.0, watts_at=NOW - 590.0)])
def test_a_silent_meters_power_is_evidence(report):
    """Whether nothing is said, or what was said before is said again."""
    kept = HeaterMemory(**ON | STILL)
    plug.hear(kept, HEATER, COLUMN, report, now_at())
    assert (kept.watts, kept.watts_at, kept.meter_at, kept.meter_period) == (600.0, NOW, NOW - 590.0, 30.0)
    assert plug.evidence_watts(kept) == 600.0


def test_a_meter_by_the_clock_is_not_made_to_speak():
    """Its last word stays as old as it is."""
    kept = HeaterMemory(**ON | STILL | {"meter_prompt": 0})
    plug.hear(kept, HEATER, COLUMN, None, now_at())
    assert kept.watts_at == NOW - 590.0


def test_silence_after_off_tells_of_power_that_still_flows():
    """A meter that speaks on change would have told that it had gone."""
    kept = HeaterMemory(**ON | STILL | {"told_on": False, "off_since": NOW - 200.0, "shown_on": False})
    plug.hear(kept, HEATER, COLUMN, None, now_at())
    assert kept.off_reports_over == 1


def test_its_own_gaps_are_those_of_the_power_and_no_period():
    """A word after ten minutes of silence leaves the half minute that it is taken to speak at."""
    kept = HeaterMemory(**ON | STILL | {"meter_period": 30.0, "meter_gaps": 40})
    plug.hear(kept, HEATER, COLUMN, PlugReport(watts=500.0, watts_at=NOW), now_at())
    assert (kept.meter_period, kept.watts, kept.meter_at) == (30.0, 500.0, NOW)
    assert kept.meter_gap == pytest.approx(0.98 * 900.0 + 0.02 * 590.0)


def test_a_meter_is_known_to_speak_on_change_after_nine_switchings():
    """ON and OFF nine times, to no beat, each told within ten seconds, then nothing more; then its silence speaks."""
    kept = HeaterMemory(waiting_since=0.0, heard=True)
    steady = 10_000.0
    for _ in range(9):
        for on, watts in ((True, 600.0), (False, 0.0)):
            steady += 1200.0 if on else 1700.0
            kept.told_on, kept.shown_on = on, on
            kept.on_since, kept.off_since = (steady, kept.off_since) if on else (kept.on_since, steady)
            told = PlugReport(watts=watts, watts_at=steady + 10.0)
            plug.hear(kept, HEATER, COLUMN, told, now_at(steady=steady + 10.0))
    assert speaks_on_change(kept)
    assert kept.meter_period == 900.0
    plug.hear(kept, HEATER, COLUMN, None, now_at(steady=steady + 90.0))
    assert kept.meter_period == 30.0
