"""What a control law is told of quiet hours: those that hold now, or begin within three quarters of an hour."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import house_of, study
from thermostatd.core.demand import _hush
from thermostatd.core.demand.law import Hush
from thermostatd.core.memory import RoomMemory

QUIET = (
    'quiet = [{ from = "12:45", to = "14:00", switches = 3 }, { from = "22:00", to = "06:00", switches = 5 }]'
)
ROOM = house_of(study(room=QUIET)).rooms[0]


def hush(hours, **kept):
    """At so many hours after noon."""
    return _hush(ROOM, RoomMemory(**kept), now_at(wall=NOON + timedelta(hours=hours)))


@pytest.mark.parametrize(
    ("hours", "expected"),
    [
        (-0.01, None),
        (0.0, Hush(NOW + 2700.0, NOW + 7200.0, 3, 3, "")),
        (0.7, Hush(NOW + 180.0, NOW + 4680.0, 3, 3, "")),
        (0.75, Hush(NOW, NOW + 4500.0, 3, 3, "")),
        (1.5, Hush(NOW, NOW + 1800.0, 3, 3, "")),
        (2.0, None),
        (9.5, Hush(NOW + 1800.0, NOW + 30600.0, 5, 5, "")),
        (10.0, Hush(NOW, NOW + 28800.0, 5, 5, "")),
        (17.0, Hush(NOW, NOW + 3600.0, 5, 5, "")),
    ],
)
def test_quiet_hours_are_told_with_their_begin_and_end_on_the_steady_clock(hours, expected):
    """The first that holds or comes; over midnight too."""
    found = hush(hours)
    if expected is None:
        assert found is None
    else:
        assert (found.begins, found.ends) == (pytest.approx(expected.begins), pytest.approx(expected.ends))
        assert found.left == expected.left


@pytest.mark.parametrize(
    ("window_hours", "used", "left"),
    [
        (0.75, 1, 2),
        (0.75, 3, 0),
        (0.75, 4, 0),
        (None, 2, 3),
        (4.75, 2, 1),
        (4.76, 2, 3),
        (-3.25, 2, 1),
        (-3.26, 2, 3),
    ],
)
def test_what_was_switched_in_these_quiet_hours_is_no_longer_left(window_hours, used, left):
    """Never under nothing; a clock that was set right by up to four hours does not give them anew."""
    window = None if window_hours is None else (NOON + timedelta(hours=window_hours)).timestamp()
    assert hush(1.0, quiet_window=window, quiet_used=used).left == left


def test_what_was_used_of_others_does_not_count_ahead():
    """The coming hours have all of theirs."""
    assert hush(0.5, quiet_window=(NOON - timedelta(hours=14)).timestamp(), quiet_used=2).left == 3


def test_quiet_hours_go_by_the_houses_own_clock():
    """Oslo is an hour ahead in January."""
    oslo = ZoneInfo("Europe/Oslo")
    at = [replace(now_at(wall=NOON + timedelta(hours=h)), zone=oslo) for h in (-1.0, 0.0, 9.0)]
    found = [_hush(ROOM, RoomMemory(), now) for now in at]
    assert found == [
        Hush(NOW + 2700.0, NOW + 7200.0, 3, 3, "14:00"), Hush(NOW, NOW + 3600.0, 3, 3, "14:00"),
        Hush(NOW, NOW + 28800.0, 5, 5, "Tue 06:00"),
    ]  # fmt: skip
