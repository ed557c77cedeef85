"""When a rise is begun, let go of and arrived at, in a room that 600 W warm by 0.1 K a minute."""

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from tests.core.demand.round_rooms import WATTS, case, hush, plans, target, tracked
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.rising import (
    Rise,
    careful_minutes,
    full_power,
    minutes_to,
    peak,
    rise_of,
)
from thermostatd.core.demand.predictive.tracking import COUNTED_SHARE
from thermostatd.physics.thermal.plans import Usual
from thermostatd.physics.thermal.responses import Course

PLANS = plans()
NONE = Rise(False, 0.0, None)


@pytest.mark.parametrize(
    ("air", "celsius", "full", "minutes"),
    [
        (19.0, 20.0, WATTS, 10.0),
        (19.8, 20.0, WATTS, 2.0),
        (19.5, 20.0, WATTS, 5.0),
        (19.0, 20.0, 300.0, 20.0),
        (8.05, 20.0, WATTS, 119.5),
        (5.0, 20.0, WATTS, 150.0),
        (19.0, 20.0, 10.01, 599.4),
        (20.0, 20.0, WATTS, 0.0),
        (21.0, 20.0, 0.0, 0.0),
    ],
)
def test_the_minutes_to_a_temperature_are_those_of_full_power(air, celsius, full, minutes):
    """A tenth of a kelvin a minute at 600 W, less at less, none where the air is there; as far as ten hours."""
    found, never = minutes_to(PLANS, tracked(air), celsius, full)
    assert found == pytest.approx(minutes, abs=0.1)
    assert never is False


@pytest.mark.parametrize(
    ("air", "rest", "minutes"), [(19.0, 5, 15.0), (19.0, 60, 70.0), (5.0, 5, 155.0), (5.0, 30, 180.0)]
)
def test_a_rest_before_full_power_is_minutes_later(air, rest, minutes):
    """In a room that loses nothing: as long as the rest; also where the near samples do not reach so far."""
    assert minutes_to(PLANS, tracked(air), 20.0, WATTS, rest=rest)[0] == pytest.approx(minutes, abs=0.1)


@pytest.mark.parametrize("full", [0.0, 9.9])
def test_what_ten_hours_do_not_reach_is_never(full):
    """No minutes, and told as such."""
    assert minutes_to(PLANS, tracked(19.0), 20.0, full) == (math.inf, True)


def _course(every, power):
    minutes = every * np.arange(1.0, len(power) + 1)
    each = np.interp(np.arange(minutes[-1] + 1), np.append(0.0, minutes), np.append(0.0, power))
    return Course(minutes, np.array([[0, 1, 0, 0, 0, 0]] * len(power)), np.zeros((len(power), 4)), each)


def _usual(every, count, kelvin=0.0):
    return Usual(every, kelvin * np.eye(count), *[np.zeros((count, count))] * 2)


def _by_hand(near, far, near_gift=0.0, far_gift=0.0):
    """Plans with courses of so many K per watt at their samples, and what a usual day's watts give there."""
    return SimpleNamespace(
        near=_course(4, near),
        far=_course(10, far),
        near_usual=_usual(4, len(near), near_gift),
        far_usual=_usual(10, len(far), far_gift),
    )


@pytest.mark.parametrize(
    ("near", "far", "celsius", "minutes"),
    [
        ([1.0, 2.0, 4.0], [9.0, 9.0], 20.5, 2.0),
        ([1.0, 2.0, 4.0], [9.0, 9.0], 21.0, 4.0),
        ([1.0, 2.0, 4.0], [9.0, 9.0], 23.0, 10.0),
        ([1.0, 2.0, 4.0], [9.0, 9.0], 24.0, 12.0),
        ([1.0, 3.0, 2.0], [9.0, 9.0], 22.0, 6.0),
        ([1.0, 2.0, 4.0], [6.0, 9.0], 25.0, 10.0 * 5 / 6),
        ([1.0, 2.0, 4.0], [6.0, 9.0], 28.0, 10.0 * (1 + 2 / 3)),
        ([1.0, 2.0, 4.0], [6.0, 9.0], 29.0, 20.0),
        ([1.0, 2.0, 4.0], [6.0, 9.0], 29.5, math.inf),
    ],
)
def test_between_samples_the_air_goes_straight(near, far, celsius, minutes):
    """First by the near samples, every four minutes, then by the far ones, every ten; a sample itself counts."""
    assert minutes_to(_by_hand(near, far), tracked(20.0), celsius, 1.0) == (
        pytest.approx(minutes),
        math.isinf(minutes),
    )


def test_a_part_of_a_usual_days_heat_is_counted_on_on_the_way():
    """Near and far samples each have their own answers to it: here one watt of several, at 2 K a watt."""
    room = tracked(20.0, day=(0.0, 1.0 / COUNTED_SHARE), minute=719.0)
    assert minutes_to(_by_hand([0.0, 0.0], [0.0, 0.0], near_gift=2.0), room, 21.0, 1.0) == (2.0, False)
    assert minutes_to(_by_hand([0.0, 0.0], [0.0, 0.0], far_gift=2.0), room, 21.0, 1.0) == (5.0, False)
    assert peak(_by_hand([0.0, -1.0], [0.0, 0.0], near_gift=2.0), room) == 22.0


def test_what_a_usual_day_takes_away_is_counted_in_full():
    """People who go, or the sun, leave no choice."""
    room = tracked(23.0, day=(0.0, -1.0), minute=719.0)
    assert peak(_by_hand([0.0, 0.0], [0.0, 0.0], near_gift=2.0), room) == 21.0


def test_full_power_adds_to_what_comes_of_itself():
    """600 W, and 600 W from outside."""
    course = full_power(PLANS.near, PLANS.near_usual, tracked(20.0, free=600.0), 300.0)
    np.testing.assert_allclose(course[:3], [20.6, 21.2, 21.8], atol=1e-3)


def test_the_peak_is_what_comes_without_any_more_power():
    """Half of what the air gains in the two hours of near samples at 300 W for free; falling, the first sample's."""
    assert peak(PLANS, tracked(20.0, free=300.0)) == pytest.approx(26.0, abs=1e-3)
    assert peak(PLANS, tracked(20.0, free=-600.0)) == pytest.approx(19.6, abs=1e-3)


def rising(lead, air=17.0, *, low=17.0, high=20.0, full=WATTS, notes=None, code="usual", **other):
    """What a rise so many minutes ahead asks for, and the notes after."""
    notes = {} if notes is None else notes
    one = case(air, replace(target(low, high, lead), code=code), notes=notes, **other)
    return rise_of(one, PLANS, tracked(air), full), notes


def begun(lead, *, since=30.0, celsius=20.0, **more):
    """The note of a rise that is so many minutes ahead, begun so many minutes ago."""
    return {"at": NOW + 60.0 * lead, "celsius": celsius, "since": NOW - 60.0 * since, "vain": False} | more


@pytest.mark.parametrize(
    ("low", "high", "lead"),
    [
        (17.0, None, 10.0),
        (17.0, 20.0, None),
        (20.0, 17.0, 10.0),
        (19.75, 20.0, 10.0),
        (20.0, 20.0, 10.0),
        (17.0, 20.0, 0.0),
        (17.0, 20.0, -1.0),
        (3.0, 30.0, 360.1),
    ],
)
def test_no_rise_no_heat_for_it(low, high, lead):
    """None known, less than 0.3 K, none to come, or more than six hours ahead: whatever was begun is forgotten."""
    found, notes = rising(lead, low, low=low, high=high, notes={"rise": None, "arrival": 1.0})
    assert found == NONE
    assert notes == {"rise": None, "arrival": 1.0}


@pytest.mark.parametrize(
    ("low", "high", "lead"), [(17.0, 20.0, 0.5), (20.0, 20.5, 0.5), (20.0, 20.3, 0.5), (4.0, 30.0, 360.0)]
)
def test_a_rise_of_three_tenths_within_six_hours_is_one(low, high, lead):
    """Both edges count."""
    found, _ = rising(lead, low, low=low, high=high)
    assert found.begun
    assert found.celsius == high


@pytest.mark.parametrize(
    ("air", "bias", "lead"),
    [
        (17.0, None, 28.0 + 3.0 + 0.45 * 18.0),
        (17.0, 0.1, 28.0 + 3.0 + 0.55 * 18.0),
        (17.0, -0.1, 28.0 + 3.0 + 0.35 * 18.0),
        (17.0, -0.9, 28.0 + 3.0),
        (19.3, None, 5.0 + 3.0),
        (18.8, None, 10.0 + 3.0),
        (18.7, None, 11.0 + 3.0 + 0.45),
    ],
)
def test_it_is_begun_so_long_before_that_it_can_be_let_go_of(air, bias, lead):
    """The minutes to 0.2 K under it, three more, and 0.45 (and what was learned) of what is over ten of them."""
    known = {} if bias is None else {"bias": bias}
    found, notes = rising(lead + 0.1, air, notes=dict(known))
    assert found == NONE
    assert notes["rise"] is None
    assert notes["arrival"] == pytest.approx(10.0 * (19.8 - air), abs=0.051)
    found, notes = rising(lead - 0.1, air, notes=dict(known))
    assert found == Rise(True, 20.0, True)
    at = NOW + 60.0 * (lead - 0.1)
    assert notes["rise"] == {"at": pytest.approx(at), "celsius": 20.0, "since": NOW, "vain": False}


def test_the_arrival_is_noted_to_a_tenth_of_a_minute():
    """As a plain number even where there is none."""
    assert rising(10.0, 17.0, full=610.0)[1]["arrival"] == 27.5
    assert rising(10.0, 17.0, full=0.0)[1]["arrival"] == 1e4


@pytest.mark.parametrize(
    ("full", "vain", "most"),
    [
        (0.0, True, 90.0),
        (34.8, True, 90.0),
        (35.2, True, 330.0),
        (41.5, True, 330.0),
        (42.5, False, 360.0),
    ],
)
def test_a_rise_that_cannot_be_met_is_begun_an_hour_and_a_half_ahead(full, vain, most):
    """Over four hundred minutes of full power: no longer ahead than that, unless six hours come within 0.7 K of it."""
    assert rising(most + 0.5, full=full)[0] == NONE
    found, notes = rising(most, full=full)
    assert found == Rise(True, 20.0, True)
    assert notes["rise"]["vain"] is vain


@pytest.mark.parametrize(
    ("full", "vain", "most"), [(0.0, True, 600.0), (27.8, True, 600.0), (28.2, False, 600.0)]
)
def test_where_everyone_is_out_heating_for_their_return_begins_up_to_ten_hours_ahead(full, vain, most):
    """Also where it cannot be met: nobody minds when it begins, and all are glad of each degree."""
    found, notes = rising(most, full=full, code="out")
    assert found == Rise(True, 20.0, True)
    assert notes["rise"]["vain"] is vain
    assert rising(most + 0.5, full=full, code="out")[0] == NONE


def test_a_rise_begun_for_another_time_is_begun_anew_or_not_at_all():
    """What is noted holds for its own time alone."""
    found, notes = rising(60.0, notes={"rise": begun(120.0)})
    assert found == NONE
    assert notes["rise"] is None
    found, notes = rising(20.0, notes={"rise": begun(120.0)})
    assert (notes["rise"]["at"], notes["rise"]["since"]) == (NOW + 1200.0, NOW)
    found, notes = rising(42.0, notes={"rise": begun(42.0)}, was_on=True)
    assert (found.begun, notes["rise"]) == (True, begun(42.0))


@pytest.mark.parametrize(
    ("air", "spare"),
    [(17.0, 14.0 + 2.8), (17.25, 14.0 + 2.55), (17.35, 5.0), (19.3, 5.0)],
)
def test_it_is_let_go_of_once_there_is_much_time_to_spare(air, spare):
    """Five minutes in the last 25 of the approach; before them fourteen and a tenth of what is to come."""
    arrival = 10.0 * (19.8 - air)
    lead = arrival + 3.0 + 0.45 * max(0.0, arrival - 10.0) + spare
    asked = {}
    for extra in (-0.1, 0.1):
        found, _ = rising(lead + extra, air, notes={"rise": begun(lead + extra)}, was_on=True)
        asked[extra] = found
    assert asked == {-0.1: Rise(True, 20.0, True), 0.1: Rise(True, 20.0, False)}


@pytest.mark.parametrize(
    ("free", "power"), [(-300.0, False), (-500.0, False), (-560.0, True), (-590.0, True)]
)
def test_a_heater_that_only_just_makes_it_is_not_let_go_of(free, power):
    """Where the shortest rest would cost more than two thirds of what it is early now, it goes on."""
    slope = (WATTS + free) / 6000.0  # K a minute
    lead = 30.0 + 3.0 + 0.45 * 20.0 + 30.0
    one = case(19.8 - 30.0 * slope, target(17.0, 20.0, lead), notes={"rise": begun(lead)}, was_on=True)
    assert rise_of(one, PLANS, tracked(19.8 - 30.0 * slope, free=free), WATTS).power is power


@pytest.mark.parametrize(
    ("error", "arrival", "more"),
    [
        (0.0, 50.0, 14.0),
        (0.4, 50.0, 14.0),
        (0.8, 50.0, 24.0),
        (3.0, 50.0, 65.0),
        (0.8, 20.0, 12.0),
        (0.1, 5.0, 0.268),
    ],
)
def test_a_rise_is_begun_sooner_by_what_forecasts_usually_miss(error, arrival, more):
    """Three such errors later by the model, at least 35 % of the way over ten minutes, at most 90 % and twenty."""
    room = tracked(19.8 - arrival / 10.0, errors=(error,) * 4)
    assert careful_minutes(PLANS, room, 19.8, WATTS, arrival, 0.0) == pytest.approx(more, abs=0.02)


def test_what_was_let_go_of_is_not_begun_before_its_time():
    """Off, it waits for the last moment; on, it goes on."""
    for lead, was_on, power in ((39.5, False, False), (39.5, True, True), (39.0, False, True)):
        assert rising(lead, notes={"rise": begun(lead)}, was_on=was_on)[0] == Rise(True, 20.0, power)


@pytest.mark.parametrize("was_on", [True, False])
@pytest.mark.parametrize(("low", "held"), [(17.09, False), (17.11, True), (18.5, True)])
def test_while_it_is_let_go_of_the_room_is_not_left_to_fall(low, held, was_on):
    """Air under what is wanted until then is the search's to hold; the rise is begun anew when it is due."""
    found, notes = rising(100.0, low=low, notes={"rise": begun(100.0)}, was_on=was_on)
    assert found == (NONE if held else Rise(True, 20.0, False))
    assert (notes["rise"] is None) is held
    due = {"rise": None if held else begun(30.0)}
    assert rising(30.0, low=low, notes=due, was_on=was_on)[0] == Rise(True, 20.0, True)


@pytest.mark.parametrize("was_on", [True, False])
def test_in_quiet_hours_its_few_runs_are_kept_for_the_rise(was_on):
    """However cold it gets until then."""
    notes, quiet = {"rise": begun(100.0)}, hush(-60.0, 300.0)
    assert rising(100.0, low=18.5, notes=notes, was_on=was_on, hush=quiet)[0] == Rise(True, 20.0, False)


@pytest.mark.parametrize(("air", "power"), [(19.79, True), (19.8, None), (20.4, None)])
def test_within_two_tenths_the_search_takes_over(air, power):
    """It aims at the rise's target."""
    found, _ = rising(3.0, air, notes={"rise": begun(3.0)}, was_on=True)
    assert found == Rise(True, 20.0, power)


@pytest.mark.parametrize(("kelvin", "power"), [(-0.05, False), (-0.07, True)])
def test_heat_in_store_that_carries_the_air_there_is_enough(kelvin, power):
    """To 0.06 K under the target, in the last 25 minutes of the approach."""
    free = WATTS * (1.0 + kelvin) / 12.0  # what it lacks, in the two hours of near samples
    one = case(19.0, target(17.0, 20.0, 5.0), notes={"rise": begun(5.0)}, was_on=True)
    assert rise_of(one, PLANS, tracked(19.0, free=free), WATTS).power is power
    one = case(16.0, target(15.0, 20.0, 5.0), notes={"rise": begun(5.0)}, was_on=True)
    assert rise_of(one, PLANS, tracked(16.0, free=WATTS * 4.5 / 12.0), WATTS).power is True


def test_in_quiet_hours_a_rise_is_begun_once_it_has_been_due_for_five_minutes():
    """One minute's reckoning, near what the heater can do, may be hours off; by day it is begun at once."""
    notes, quiet = {}, hush(-60.0, 300.0)
    found = [rising(20.0, notes=notes, hush=quiet)[0].begun for _ in range(5)]
    assert found == [False, False, False, False, True]
    assert rising(20.0)[0].begun
    notes = {}
    for lead in (20.0, 20.0, 20.0, 20.0, 200.0, 20.0, 20.0, 20.0, 20.0):
        assert not rising(lead, notes=notes, hush=quiet)[0].begun
    assert rising(20.0, notes=notes, hush=quiet)[0].begun


def test_in_quiet_hours_one_that_was_let_go_of_waits_for_that_too():
    """Each ON is one of few."""
    quiet, notes = hush(-60.0, 300.0), {"rise": begun(20.0)}
    powers = [rising(20.0, notes=notes, hush=quiet, was_on=False)[0].power for _ in range(5)]
    assert powers == [False, False, False, False, True]
    assert rising(20.0, notes={"rise": begun(20.0)}, was_on=False)[0].power


def test_in_quiet_hours_a_rise_is_heated_for_to_a_little_below():
    """By 0.05 K: 28 minutes of 0.1 K become 27.5."""
    assert rising(300.0)[1]["arrival"] == pytest.approx(28.0, abs=0.05)
    assert rising(300.0, hush=hush(-60.0, 400.0))[1]["arrival"] == pytest.approx(27.5, abs=0.05)
