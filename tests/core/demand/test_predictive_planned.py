"""One decision by the model: what is kept between decisions, what is said, and where the air should be."""

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, ROUND, WATTS, case, hush, plans, target, thermal, tracked
from tests.core.guard.cases import NOW
from tests.physics.thermal.rooms import KNOWN
from thermostatd.core.demand import hysteresis, predictive
from thermostatd.core.demand.predictive.planned import (
    _fall,
    _fall_minutes,
    _until_fall,
    _wanted,
    _watch_falls,
    decide_by_model,
    plans_for,
)
from thermostatd.core.demand.predictive.telling import told
from thermostatd.physics.thermal.model import Constants
from thermostatd.physics.thermal.plans import plans_of

SECOND = """
[[room.heater]]
name = "panel"
watts = 400
may_run = ["awake", "asleep", "away"]
min_on = "{on}"
min_off = "{off}"
plug = {{ kind = "simulated" }}
"""
ROUNDED = Constants.of(ROUND.plain())


def left(minutes=1.0, air=20.0, **more):
    """The notes as they were left so many minutes ago."""
    at = NOW - 60.0 * minutes
    return (
        {"at": at, "state": [0.0, air, air, air, 0.0, 0.0], "joules": 0.0, "fitted_at": None}
        | {
            "read_at": at,
            "doubt": 1.0,
            "surprise": 0.0,
        }
        | more
    )


@pytest.mark.parametrize(
    ("clicks", "cost", "most"),
    [("very few", 14.0, 40.0), ("few", 3.4, 65.0), ("some", 0.28, 115.0), ("many", 0.14, 160.0)],
)
def test_a_switching_costs_what_the_household_minds_of_it(clicks, cost, most):
    """In K²·min, by the room's `clicks`, or what keeps the busiest hours to the most that it bears in a day."""
    assert plans_for(case(room=f'clicks = "{clicks}"'), thermal()) is plans_of(
        ROUNDED, WATTS, 0.1, 5, 5, cost, most
    )


@pytest.mark.parametrize(
    ("heater", "more", "on", "off"),
    [
        ("", "", 5, 5),
        ('min_on = "8 min"\nmin_off = "3 min"', "", 8, 3),
        ('min_on = "181 s"\nmin_off = "421 s"', "", 4, 8),
        ('min_on = "4 min"\nmin_off = "7 min"', SECOND.format(on="9 min", off="2 min"), 9, 7),
        ('min_on = "9 min"\nmin_off = "2 min"', SECOND.format(on="4 min", off="7 min"), 9, 7),
    ],
)
def test_minimum_times_are_the_longest_of_the_rooms_heaters(heater, more, on, off):
    """In whole minutes, never shorter than they are."""
    found = plans_for(case(heater=heater, more=more), thermal())
    assert found is plans_of(ROUNDED, WATTS, 0.1, on, off, 0.28, 115.0)


def test_plans_are_of_the_rooms_own_model():
    """Its constants, watts and sensor step."""
    found = plans_for(case(), thermal(LEAKY, watts=431, step_kelvin=1))
    assert found is plans_of(Constants.of(LEAKY.plain()), 431.0, 1.0, 5, 5, 0.28, 115.0)


def test_a_decision_is_kept_for_a_minute():
    """Between decisions it is what was wanted, with the share and the outlook of then."""
    notes = {}
    first = decide_by_model(case(19.0, notes=notes))
    assert (first.on, notes["want"], notes["at"]) == (True, True, NOW)
    assert first.outlook == told(notes) is not None
    notes.update(want=False, share=0.25)
    again = decide_by_model(case(19.0, notes=notes, steady=NOW + 59.0))
    assert (again.on, again.share, again.outlook) == (False, 0.25, first.outlook)
    after = decide_by_model(case(19.0, notes=notes, steady=NOW + 60.0))
    assert (after.on, after.share) == (True, 0.0)


@pytest.mark.parametrize(
    "notes",
    [
        {"at": NOW, "want": True, "share": 1.0, "at_odds": True},
        {"at": NOW},
        left(doubt=10.0, want=True, share=1.0),
    ],
)
def test_there_is_no_decision_while_the_model_is_at_odds_or_before_the_first(notes):
    """Nor is one made then."""
    before = notes.get("want")
    assert decide_by_model(case(notes=notes)) is None
    assert notes.get("want") == before
    assert "outlook" not in notes


def test_a_model_that_holds_again_decides_again():
    """Once its doubt is under four."""
    notes = left(air=19.0, doubt=3.0, at_odds=True)
    assert decide_by_model(case(19.0, notes=notes)).on


@pytest.mark.parametrize("model", [None, {}, {"thermal": None}, {"gain_kelvin": 3.0}])
def test_without_a_thermal_model_it_is_hysteresis(model):
    """To the letter, its notes too."""
    for celsius in (19.0, 19.95, 21.0):
        mine, plain = {"on": True}, {"on": True}
        found = predictive.decide(case(celsius, model=model, notes=mine))
        assert found == hysteresis.decide(case(celsius, notes=plain))
        assert mine == plain


def test_a_model_at_odds_is_left_for_hysteresis():
    """As long as that lasts."""
    notes = left(doubt=10.0)
    found = predictive.decide(case(19.0, notes=notes))
    assert (found.on, found.outlook, notes["on"]) == (True, None, True)


def test_what_a_model_decides_is_what_hysteresis_would_go_on_from():
    """On or off, it is noted."""
    for celsius, on in ((19.0, True), (20.2, False)):
        notes = {"on": not on}
        found = predictive.decide(case(celsius, notes=notes))
        assert (found.on, notes["on"]) == (on, on)
        assert found.outlook is not None


def said(celsius, wish=None, *, want=True, rise=None, **other):
    """The demand between two decisions."""
    notes = {"at": NOW, "want": want, "share": 0.5, "rise": rise}
    return decide_by_model(case(celsius, wish, notes=notes, **other))


@pytest.mark.parametrize(
    ("celsius", "hushed", "on"),
    [
        (20.49, None, True),
        (20.5, None, False),
        (20.51, hush(1.0, 9.0), False),
        (20.58, hush(0.0, 9.0), True),
        (20.58, hush(-1.0, 9.0), True),
        (20.59, hush(-1.0, 9.0), False),
    ],
)
def test_no_heat_is_wanted_over_what_may_be(celsius, hushed, on):
    """Half a kelvin over the target, in quiet hours a tenth more, whatever the model says."""
    assert said(celsius, hush=hushed).on is on


def test_a_rise_that_is_heated_for_is_what_counts_as_too_warm():
    """Only while it is; and never less than the target."""
    rise = {"at": NOW + 600.0, "celsius": 20.0}
    coming = target(17.0, 20.0, 10.0)
    assert said(20.49, coming, rise=rise).on
    assert not said(20.5, coming, rise=rise).on
    assert not said(17.5, coming).on
    assert said(20.49, target(20.0, 17.0, 10.0), rise=rise).on
    assert not said(17.5, target(17.0, None, None), rise=rise).on


@pytest.mark.parametrize(
    ("celsius", "want", "rise", "code"),
    [
        (20.0, False, False, "warm-enough"),
        (17.8, False, True, "cooling-down"),
        (16.69, True, True, "warming"),
        (16.7, True, True, "preheating"),
        (18.5, True, True, "preheating"),
        (17.0, True, False, "warming"),
    ],
)
def test_what_is_done_is_said(celsius, want, rise, code):
    """Warming early only where the present target is as good as met."""
    wish = target(17.0, 20.0, 7.0) if code != "warm-enough" else 20.0
    noted = {"at": NOW + 420.0, "celsius": 20.0} if rise else None
    found = said(celsius, wish, want=want, rise=noted)
    assert (found.on, found.share, found.reason.code) == (want, 0.5, code)
    if code == "preheating":
        assert found.reason.numbers == {"target": 20.0, "minutes": 7.0}


def test_a_rise_whose_time_is_past_is_no_minutes_away():
    """Between its time and the next decision."""
    found = said(17.0, target(17.0, 20.0, 7.0), rise={"at": NOW - 30.0, "celsius": 20.0})
    assert found.reason.numbers == {"target": 20.0, "minutes": 0.0}


@pytest.mark.parametrize("want", [True, False])
@pytest.mark.parametrize("rise", [None, {"at": NOW + 420.0, "celsius": 20.0}])
def test_the_outlook_goes_with_every_demand(want, rise):
    """As it was noted."""
    kept = {
        "course": [[NOW, 20.0, 0.1]],
        "warm_at": None,
        "wanted": 20.0,
        "by": None,
        "reach": None,
        "limit": -9.0,
    }
    notes = {"at": NOW, "want": want, "share": 0.5, "rise": rise, "outlook": kept}
    assert decide_by_model(case(17.0, target(17.0, 20.0, 7.0), notes=notes)).outlook == told(notes)


@pytest.mark.parametrize(
    ("before", "wish", "air", "was", "falling"),
    [
        (None, 20.0, 21.0, None, False),
        (20.0, 17.0, 20.0, False, True),
        (20.0, 17.0, 20.0, None, True),
        (20.0, 19.9, 20.1, False, True),
        (20.0, 19.96, 20.1, False, False),
        (20.0, 19.95, 20.1, False, False),
        (17.0, 20.0, 21.0, False, False),
        (17.0, 17.0, 18.0, True, True),
        (17.0, 17.0, 17.2, True, True),
        (17.0, 17.0, 17.1, True, False),
        (20.0, 17.0, 17.1, False, False),
        (0.0, -1.0, 5.0, False, True),
    ],
)
def test_after_a_fall_in_target_the_air_is_let_fall_until_it_is_there(before, wish, air, was, falling):
    """A fall of more than 0.05 K; there is a tenth over the target."""
    notes = ({} if before is None else {"target": before}) | ({} if was is None else {"falling": was})
    _watch_falls(notes, wish, air)
    assert notes == {"target": wish, "falling": falling}


@pytest.mark.parametrize(
    ("coming", "minutes", "aim", "expected"),
    [
        (17.0, 90.0, 20.0, 90.0),
        (20.0, 90.0, 20.0, np.inf),
        (19.99, 90.0, 20.0, 90.0),
        (21.0, 90.0, 20.0, np.inf),
        (21.0, 90.0, 22.0, 90.0),
        (None, 90.0, 20.0, np.inf),
        (17.0, None, 20.0, np.inf),
        (None, None, 20.0, np.inf),
    ],
)
def test_a_fall_ahead_is_known_by_its_minutes(coming, minutes, aim, expected):
    """Where the week's next step is under what is aimed at."""
    assert _fall_minutes(case(20.0, target(20.0, coming, minutes)), aim) == expected


def test_air_that_is_let_fall_should_be_where_it_falls():
    """Never under the aim; else at the aim throughout."""
    made = plans()
    free = np.linspace(21.0, 15.0, len(made.near.minutes))
    held = _wanted(case(notes={"falling": False}), made, 18.0, free)
    assert held.tolist() == [18.0] * len(free)
    assert (
        _wanted(case(notes={"falling": True}), made, 18.0, free).tolist() == np.maximum(18.0, free).tolist()
    )


@pytest.mark.parametrize(("minutes", "lower"), [(30.0, 19.0), (32.0, 17.0), (0.0, 19.5), (200.0, 19.0)])
def test_from_a_fall_on_the_air_should_fall_as_a_room_without_heat_does(minutes, lower):
    """A kelvin less for every hour that a loss of 100 W takes from it, from the aim, down to the lower target."""
    made = plans()
    cooling = tracked(18.0, store=500.0, free=-100.0)
    found = _until_fall(made, _fall(made, cooling, 20.0), 20.0, minutes, lower)
    at = made.near.minutes
    since = at - at[at >= minutes][0] + 4.0 if minutes < at[-1] else 0.0 * at
    expected = np.where(at < minutes, 20.0, np.maximum(20.0 - since / 60.0, lower))
    assert found == pytest.approx(expected, abs=1e-3)
    assert cooling.state[1] == 18.0


def test_what_a_heater_holds_is_not_part_of_how_the_air_should_fall():
    """The walls are as they are, and the air is at the aim."""
    made = plans(KNOWN)
    for store in (0.0, 500.0):
        found = _fall(made, tracked(19.0, store=store, mass=18.0, outdoor=2.0), 20.0)
        bare = made.near.free(np.array([0.0, 20.0, 18.0, 0.0, 0.0, 0.0]), np.array([0.0, 2.0, 20.0, 0.0]))
        assert found == pytest.approx(bare, abs=1e-6)


@pytest.mark.parametrize(
    ("lasting", "begun", "arrival", "reach"),
    [(None, False, 18.0, None), (WATTS, False, 18.0, None), (900.0, False, 12.0, None), (300.0, True, 36.0, 19.5)],
)
def test_a_rise_goes_by_what_a_heater_can_go_on_giving(lasting, begun, arrival, reach):
    """1.8 K take 600 W 18 minutes and half of that 36: begun half an hour ahead, and told that it comes to 19.5 °C.

    A second heater that can be counted on counts, though the law does not switch it now.
    """
    now = case(18.0, target(18.0, 20.0, 30.0), notes=left(air=18.0), lasting_watts=lasting)
    decide_by_model(now)
    assert (now.notes["want"], now.notes["rise"] is not None) == (begun, begun)
    assert now.notes["arrival"] == arrival
    assert now.notes["outlook"]["reach"] == reach
