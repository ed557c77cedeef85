"""How a room is judged: stray, arrivals, overshoot. Closed forms, derived here."""

from __future__ import annotations

import pytest

from tests.rehearsal.homes import home
from thermostatd.core.results import Target
from thermostatd.rehearsal.judging import LATEST_MINUTES, RoomJudge

ROOM = home().rooms[0]
MINUTE = 60.0


def judge(air, wanted, rise=None, minutes=600, held=lambda _: False):
    """Judge a room whose air and target are functions of the minute; `rise` is (minute, °C) of the coming rise.

    `held`: whether its heater may not run in that minute.
    """
    watching = RoomJudge(ROOM)
    for minute in range(minutes):
        target, ahead = wanted(minute), None
        following = None
        if rise is not None and minute < rise[0]:
            ahead, following = (rise[0] - minute) * MINUTE, rise[1]
        watching.see(
            minute * MINUTE, air(minute), Target(target, "usual", "usual", None, following), ahead, held(minute)
        )
    return watching.finish()


def test_stray_is_the_root_mean_square_once_there() -> None:
    """Air that swings by ±0.3 K in a square wave strays by 0.3 K (derived)."""
    found = judge(lambda minute: 20.0 + (0.3 if minute % 20 < 10 else -0.3), lambda _: 20.0)
    assert found.stray_kelvin == pytest.approx(0.3, abs=0.01)
    assert found.over_kelvin == pytest.approx(0.3)
    assert found.mean_celsius == pytest.approx(20.0, abs=0.02)


def test_the_way_there_is_not_counted_as_stray() -> None:
    """A room that is four hours on its way up, then true, does not stray."""
    found = judge(lambda minute: min(20.0, 16.0 + minute / 60.0), lambda _: 20.0)
    assert found.stray_kelvin < 0.05


def test_a_night_that_cools_is_nobodys_doing() -> None:
    """After a fall in target, the time until the air has come down is left out."""
    found = judge(lambda m: max(16.0, 20.0 - m / 60.0), lambda m: 20.0 if m < 1 else 16.0)
    assert found.stray_kelvin < 0.2


@pytest.mark.parametrize(("there", "late"), [(300, 0.0), (285, -15.0), (340, 40.0)])
def test_an_arrival_is_when_the_air_is_there_for_good(there: int, late: float) -> None:
    """Minutes against the rise from which the true air is within 0.2 K of the new target."""

    def air(minute):
        return 19.85 if minute >= there else 18.0

    found = judge(air, lambda minute: 18.0 if minute < 300 else 20.0, rise=(300, 20.0))
    assert found.arrivals == [(300 * MINUTE, late)]


def test_a_touch_is_no_arrival() -> None:
    """Air that comes up for a moment and sinks again is not there yet."""

    def air(minute):
        return 20.0 if 280 <= minute < 290 or minute >= 320 else 18.0

    found = judge(air, lambda minute: 18.0 if minute < 300 else 20.0, rise=(300, 20.0))
    assert found.arrivals == [(300 * MINUTE, 20.0)]


def test_a_rise_that_is_never_met_is_as_late_as_can_be() -> None:
    """After three hours it is given up, and counted so."""
    found = judge(lambda _: 18.0, lambda minute: 18.0 if minute < 300 else 20.0, rise=(300, 20.0))
    assert found.arrivals == [(300 * MINUTE, LATEST_MINUTES)]


def test_a_room_that_never_cooled_has_nothing_to_arrive_from() -> None:
    """Warm all night: no arrival is counted, early or late."""
    found = judge(lambda _: 20.0, lambda minute: 18.0 if minute < 300 else 20.0, rise=(300, 20.0))
    assert found.arrivals == []


def test_the_way_up_before_a_rise_is_not_counted_as_stray() -> None:
    """An hour and a half of preheating is judged by when it comes to an end; what passes the new target is counted."""

    def air(minute):
        return 18.0 if minute < 210 else min(20.0, 18.0 + (minute - 210) / 40.0)

    def wanted(minute):
        return 18.0 if minute < 300 else 20.0

    found = judge(air, wanted, rise=(300, 20.0))
    assert found.stray_kelvin < 0.06
    assert found.over_kelvin < 0.25
    over = judge(lambda m: air(m) + (1.0 if 290 <= m < 300 else 0.0), wanted, rise=(300, 20.0))
    assert over.over_kelvin == pytest.approx(1.0)
    unasked = judge(air, lambda _: 18.0)  # with no rise ahead the same air strays
    assert unasked.stray_kelvin > 1.0


def test_what_is_too_cold_while_its_heater_may_not_run_is_nobodys_doing() -> None:
    """Two hours two kelvins too cold, for which it was not allowed: no stray; too warm counts all the same."""

    def air(minute):
        return 18.0 if 200 <= minute < 320 else 20.0

    assert judge(air, lambda _: 20.0).stray_kelvin > 0.8
    assert judge(air, lambda _: 20.0, held=lambda m: 200 <= m < 320).stray_kelvin == 0.0
    assert judge(air, lambda _: 17.0, held=lambda m: True).stray_kelvin > 0.9


@pytest.mark.parametrize(("last", "told"), [(299, True), (181, True), (179, False)])
def test_a_rise_before_which_a_heater_might_not_run_is_told_apart(last: int, told: bool) -> None:
    """Held until shortly before it, or not for two hours before it."""
    found = judge(
        lambda m: 18.0 if m < 330 else 20.0,
        lambda m: 18.0 if m < 300 else 20.0,
        rise=(300, 20.0),
        held=lambda m: m <= last,
    )
    assert found.arrivals == [(300 * MINUTE, 30.0)]
    assert found.held == ([300 * MINUTE] if told else [])
