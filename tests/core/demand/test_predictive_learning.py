"""How late the air was at a rise, and what the next rise learns of it: a begin that moves by a part of that."""

import pytest

from tests.core.demand.round_rooms import WATTS, case, plans, target, tracked
from tests.core.guard.cases import NOW
from thermostatd.core.demand.predictive.rising import rise_of

PLANS = plans()


def at(minutes, since=60.0, **more):
    """A rise so many minutes from now, begun so many minutes before its time."""
    rise = NOW + 60.0 * minutes
    return {"at": rise, "celsius": 20.0, "since": rise - 60.0 * since, "vain": False} | more


def after(notes, air=19.0):
    """The notes after one decision with no other rise to come."""
    rise_of(case(air, target(20.0), notes=notes), PLANS, tracked(air), WATTS)
    return notes


@pytest.mark.parametrize(
    ("minutes", "waits"), [(0.05, False), (1.5 / 60.0, False), (1.0 / 60.0, True), (0.0, True), (-0.5, True)]
)
def test_a_rise_that_has_come_is_waited_for(minutes, waits):
    """From its second on, until the air is there; before, it is only forgotten."""
    notes = after({"rise": at(minutes)})
    assert notes.get("arriving") == (at(minutes) if waits else None)
    assert notes["rise"] is None


def test_one_that_is_waited_for_stays_until_it_is_there():
    """The next rise's time does not take its place."""
    first = at(-20.0)
    assert after({"rise": at(0.0), "arriving": first})["arriving"] == first
    ahead = at(5.0)
    one = case(19.9, target(17.0, 20.0, 5.0), notes={"rise": ahead})
    rise_of(one, PLANS, tracked(19.9), WATTS)
    assert ahead["there"] == NOW


def test_air_that_is_there_early_is_noted_once():
    """At 0.2 K under the target, and when that was first."""
    for air, before, there in ((19.79, None, None), (19.8, None, NOW), (19.9, NOW - 90.0, NOW - 90.0)):
        rise = at(5.0) | ({} if before is None else {"there": before})
        one = case(air, target(17.0, 20.0, 5.0), notes={"rise": rise})
        rise_of(one, PLANS, tracked(air), WATTS)
        assert rise.get("there") == there


@pytest.mark.parametrize(
    ("late", "since", "bias", "learned"),
    [
        (5.0, 60.0, None, 0.5 * 4.0 / 60.0),
        (5.0, 60.0, 0.01, 0.01 + 0.5 * 4.0 / 60.0),
        (-5.0, 60.0, None, 0.3 * -6.0 / 60.0),
        (1.0, 60.0, 0.05, 0.05),
        (1.5, 60.0, None, 0.5 * 0.5 / 60.0),
        (5.0, 20.0, None, 0.5 * 4.0 / 30.0),
        (5.0, 30.5, None, 0.5 * 4.0 / 30.5),
        (40.0, 300.0, None, 0.5 * 20.0 / 300.0),
        (-60.0, 300.0, None, 0.3 * -20.0 / 300.0),
        (30.0, 30.0, None, 0.2),
        (-30.0, 30.0, -0.15, -0.2),
        (59.0, 300.0, None, 0.5 * 20.0 / 300.0),
    ],
)
def test_the_next_rise_is_begun_by_so_much_sooner_or_later(late, since, bias, learned):
    """Half of what it came later than a minute late, 0.3 of what sooner; as a share of the way, within a fifth."""
    known = {} if bias is None else {"bias": bias}
    if late >= 0.0:
        notes = after({"arriving": at(-late, since)} | known, air=19.8)
    else:
        notes = after({"rise": at(0.0, since, there=NOW + 60.0 * late)} | known, air=20.0)
    assert notes["bias"] == pytest.approx(learned, abs=6e-5)
    assert notes["bias"] == round(notes["bias"], 4)
    assert notes["late"] == [late]
    assert notes["arriving"] is None


def test_when_it_was_there_counts_and_not_when_it_was_looked_at():
    """A note of when keeps what is late, even where the air has gone down again."""
    notes = after({"arriving": at(-10.0, there=NOW - 450.0)}, air=19.0)
    assert notes["late"] == [2.5]


def test_the_last_ten_are_kept_to_a_tenth_of_a_minute():
    """The oldest goes."""
    notes = after({"arriving": at(-2.54), "late": [float(n) for n in range(10)]}, air=20.0)
    assert notes["late"] == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 2.5]


@pytest.mark.parametrize(("minutes", "waits"), [(59.9, True), (60.0, False), (61.0, False)])
def test_what_is_an_hour_late_is_waited_for_no_longer(minutes, waits):
    """Nothing is learned of it."""
    notes = after({"arriving": at(-minutes)}, air=19.7)
    assert (notes["arriving"] is not None) is waits
    assert "bias" not in notes
    assert "late" not in notes


def test_nothing_is_learned_of_a_rise_that_was_vain():
    """It is done with once the air is there."""
    notes = after({"arriving": at(-10.0, vain=True)}, air=20.0)
    assert notes == {"arriving": None, "rise": None}


def test_a_rise_without_a_word_of_vanity_is_learned_of():
    """Notes of an older build do not have it."""
    old = at(-2.5)
    del old["vain"]
    assert after({"arriving": old}, air=20.0)["late"] == [2.5]


@pytest.mark.parametrize(("held", "learned"), [(0, True), (10, True), (11, False)])
def test_nothing_is_learned_of_a_rise_that_something_kept_from_heating(held, learned):
    """For more than ten minutes in all: a house that sleeps, a share to wait for, an interlock."""
    notes = after({"arriving": at(-30.0, held=held)}, air=20.0)
    assert ("bias" in notes) is learned
    assert notes["arriving"] is None


@pytest.mark.parametrize(
    ("want", "was_on", "held"), [(True, False, 4), (True, True, 3), (False, False, 3), (None, False, 3)]
)
def test_minutes_in_which_heat_was_wanted_and_none_came_are_counted(want, was_on, held):
    """Of a rise that is heated for."""
    rise = at(20.0, held=3)
    notes = {"rise": rise} | ({} if want is None else {"want": want})
    rise_of(case(17.0, target(17.0, 20.0, 20.0), notes=notes, was_on=was_on), PLANS, tracked(17.0), WATTS)
    assert rise["held"] == held
