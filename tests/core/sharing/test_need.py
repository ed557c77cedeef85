"""How much a heater needs its share, in kelvins."""

import pytest

from tests.core.guard.cases import NOW, now_at
from thermostatd.core.memory import AirMemory, HeaterMemory
from thermostatd.core.results import Target
from thermostatd.core.sharing import need
from thermostatd.core.values import Missing, Reading

FLAT = AirMemory()
FALLING = AirMemory(trail=[(NOW - 1200.0, 19.0), (NOW - 600.0, 18.75), (NOW, 18.5)])  # 1.5 K an hour
RISING = AirMemory(trail=[(NOW - 1200.0, 18.0), (NOW - 600.0, 18.25), (NOW, 18.5)])


@pytest.mark.parametrize(
    ("air", "following", "trail", "waited", "kelvin"),
    [
        (Reading(18.0), None, FLAT, 0.0, 2.0),
        (Reading(21.0), None, FLAT, 0.0, 0.0),
        (Reading(18.0), None, FLAT, 1800.0, 3.0),
        (Reading(18.0), None, FALLING, 0.0, 2.75),
        (Reading(18.0), None, RISING, 0.0, 2.0),
        (Missing("away"), 25.0, FALLING, 900.0, 0.5),
        (Reading(18.0), 23.0, FLAT, 0.0, 2.5),
        (Reading(18.0), 21.0, FLAT, 0.0, 2.0),
        (Reading(20.0), 22.0, FLAT, 0.0, 1.0),
        (Reading(19.5), None, FLAT, 0.0, 0.5),
    ],
)
def test_need_is_what_is_missing_the_fall_of_half_an_hour_and_two_kelvins_an_hour_of_waiting(
    air, following, trail, waited, kelvin
):
    """A coming step counts half; a rise takes nothing away; without air the wait alone speaks."""
    target = Target(20.0, "usual", "usual", None, following, NOW + 21600.0)
    assert need.need_kelvin(air, target, trail, waited, now_at()) == pytest.approx(kelvin)


@pytest.mark.parametrize(("ahead", "kelvin"), [(21600.0, 2.5), (21601.0, 2.0), (None, 2.0)])
def test_a_step_that_nobody_heats_for_yet_does_not_count(ahead, kelvin):
    """More than six hours ahead, or at no known time."""
    target = Target(20.0, "usual", "usual", None, 23.0, None if ahead is None else NOW + ahead)
    assert need.need_kelvin(Reading(18.0), target, FLAT, 0.0, now_at()) == pytest.approx(kelvin)


@pytest.mark.parametrize(
    ("before", "waits", "runs", "seconds", "after"),
    [
        (None, True, False, 10.0, 10.0),
        (40.0, True, False, 10.0, 50.0),
        (40.0, False, False, 10.0, 30.0),
        (5.0, False, False, 10.0, None),
        (10.0, False, False, 10.0, None),
        (40.0, False, True, 10.0, None),
        (None, False, False, 10.0, None),
        (40.0, True, False, 3600.0, 640.0),
        (700.0, False, False, 3600.0, 100.0),
        (40.0, True, True, 10.0, None),
        (None, True, False, 0.0, None),
        (0.5, True, False, 0.0, 0.5),
    ],
)
def test_a_wait_is_counted_by_the_step_and_ten_minutes_at_most(before, waits, runs, seconds, after):
    """A run ends it; wanting nothing takes it back; what came to nothing leaves no note."""
    kept = HeaterMemory(notes={} if before is None else {"circuit": {"waited": before}})
    need.note_wait(kept, now_at(seconds=seconds), waits=waits, runs=runs)
    assert kept.notes == ({} if after is None else {"circuit": {"waited": after}})
    assert need.waited_seconds(kept) == (after or 0.0)


def test_a_note_without_a_wait_is_no_wait():
    """A note of an earlier version is read as no wait."""
    assert need.waited_seconds(HeaterMemory(notes={"circuit": {}})) == 0.0
