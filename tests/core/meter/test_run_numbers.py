"""One run of a heater, report by report: what is kept of it, to the tenth of a watt, and each bound at its edge."""

from __future__ import annotations

import pytest

from thermostatd.core.meter import run
from thermostatd.core.meter.power import Power
from thermostatd.core.meter.run import Happening
from thermostatd.core.meter.warmth import later

TAU = 1000.0
HELD = {
    "level": 1400.0,
    "top": 1400.0,
    "warmth": 500.0,
    "warm_at": 90.0,
    "last_at": 90.0,
    "cold": 50.0,
    "on_at": 0.0,
}


def power(watts, at, *, exact=True, proves=True, slow=False, nothing=None):
    """One report."""
    return Power(watts, at, exact, proves, watts <= 15.0 if nothing is None else nothing, slow)


def warm(watts, seconds, before=500.0):
    """The warmth so much later, as it is kept."""
    return round(later(before, watts, seconds, TAU), 1)


# How a run begins and ends.


@pytest.mark.parametrize(("ended", "hot"), [(0.0, 800.0), (2700.0, 800.0), (2700.5, None), (-1.0, None)])
def test_how_hot_it_ended_is_kept_for_as_long_as_its_cut_out_may_be_open(ended, hot):
    """Three quarters of an hour; a clock that began anew tells nothing."""
    notes = {"warmth": 800.0, "warm_at": 5000.0 - ended, "hot": 1.0, "other": 3}
    run.begin(notes, 5000.0, TAU)
    assert notes.get("hot") == hot
    assert notes["on_at"] == notes["warm_at"] == 5000.0
    assert notes["cold"] == notes["warmth"] == round(later(800.0, 0.0, ended, TAU), 1)
    assert notes["other"] == 3


def test_a_first_run_begins_cold():
    """Nothing is known of one before."""
    notes = {}
    run.begin(notes, 5000.0, TAU)
    assert notes == {"on_at": 5000.0, "cold": 0.0, "warmth": 0.0, "warm_at": 5000.0}


def test_a_run_ends_as_warm_as_its_level_made_it():
    """What was heard in it is forgotten; what was proven, and what is open, stays."""
    notes = HELD | {
        "early": [1, 2],
        "other": [1, 2, 3],
        "judged_at": 5.0,
        "hot": 7.0,
        "proven": [[1, 2]],
        "open": {},
    }
    run.end(notes, 290.0, TAU)
    assert notes == {"warmth": warm(1400.0, 200.0), "warm_at": 290.0, "cold": 50.0, "hot": 7.0,
                     "proven": [[1, 2]], "open": {}}  # fmt: skip


@pytest.mark.parametrize(("off_at", "changes"), [(90.0, True), (89.9, False)])
def test_a_run_that_ended_before_it_was_heard_leaves_the_warmth(off_at, changes):
    """At the same second nothing has gone by."""
    notes = dict(HELD)
    run.end(notes, off_at, TAU)
    assert notes["warmth"] == 500.0
    assert notes["warm_at"] == 90.0
    notes = {"warmth": 500.0, "warm_at": 90.0, "on_at": 0.0}
    run.end(notes, 290.0, TAU)
    assert notes == {"warmth": 500.0, "warm_at": 90.0}
    assert changes is (off_at >= 90.0)


# The first reports.


def begun(**more):
    """A run that began at 0 s with a body at 50 W."""
    return {"on_at": 0.0, "warmth": 50.0, "warm_at": 0.0, "cold": 50.0} | more


def test_the_first_report_that_proves_gives_the_level():
    """To the tenth of a watt, with the warmth from cold to now."""
    notes = begun()
    found = run.hear(notes, power(1400.06, 70.0), (), TAU)
    warmth = warm(1400.1, 70.0, 50.0)
    assert found == [Happening("started", 1400.1, 1400.1, 70.0, 70.0, 50.0, warmth)]
    assert notes == begun(level=1400.1, top=1400.1, warmth=warmth, warm_at=70.0, last_at=70.0)


def test_nothing_is_a_level_too():
    """Whatever little the meter shows."""
    notes = begun()
    assert run.hear(notes, power(9.0, 70.0), (), TAU)[0].after == 0.0
    assert notes["level"] == 0.0


def test_of_early_reports_the_highest_is_kept():
    """The latest of those as high; nothing is none."""
    notes = begun()
    for watts, at in ((0.0, 20.0), (600.04, 25.0), (599.0, 30.0), (300.0, 40.0)):
        assert run.hear(notes, power(watts, at, proves=False), (), TAU) == []
    assert notes["early"] == [600.0, 25.0]
    run.hear(notes, power(600.0, 45.0, proves=False), (), TAU)
    assert notes["early"] == [600.0, 45.0]
    run.hear(notes, power(700.0, 50.0, proves=False), (), TAU)
    assert notes["early"] == [700.0, 50.0]


def test_an_early_report_is_kept_in_tenths():
    """As a level is."""
    notes = begun()
    run.hear(notes, power(600.06, 25.0, proves=False), (), TAU)
    assert notes["early"] == [600.1, 25.0]


def test_the_warmth_of_a_first_level_is_reckoned_from_where_it_was_known():
    """Not from zero."""
    notes = begun(warm_at=10.0)
    run.hear(notes, power(1400.0, 70.0), (), TAU)
    assert notes["warmth"] == warm(1400.0, 60.0, 50.0)


def test_an_early_report_of_a_little_more_is_the_same_level():
    """As far as the meter is sure."""
    notes = begun(early=[1450.0, 30.0])
    found = run.hear(notes, power(1400.0, 370.0), (), TAU)
    assert [(one.what, one.after, one.lo_at) for one in found] == [("started", 1400.0, 370.0)]


def test_an_early_report_of_more_was_its_level_and_it_fell_since():
    """Where the first that proves is lower by more than the meter is unsure: two happenings."""
    notes = begun(early=[1400.0, 30.0])
    found = run.hear(notes, power(600.0, 370.0, slow=True), (600.0,), TAU)
    warmth = warm(1400.0, 30.0, 50.0)
    assert found[0] == Happening("started", 1400.0, 1400.0, 30.0, 30.0, 50.0, warmth)
    upper = later(warmth, 1400.0, 340.0, TAU)
    assert found[1] == Happening("fell", 1400.0, 600.0, 30.0, 370.0, warmth, upper)
    assert (notes["level"], notes["top"], notes["last_at"]) == (600.0, 1400.0, 370.0)


@pytest.mark.parametrize("early", [1400.0, 1310.0, 900.0])
def test_an_early_report_of_as_much_or_less_tells_nothing(early):
    """The run was on its level from the start, or had not reached it."""
    notes = begun(early=[early, 30.0])
    found = run.hear(notes, power(1400.0, 370.0), (), TAU)
    assert [(one.what, one.after, one.lo_at) for one in found] == [("started", 1400.0, 370.0)]


# While it holds.


def test_a_level_follows_by_a_quarter():
    """And its warmth by the level it had; the most of the run is kept."""
    notes = dict(HELD)
    found = run.hear(notes, power(1420.0, 190.0), (), TAU)
    warmth = warm(1400.0, 100.0)
    assert found == [Happening("held", 1400.0, 1405.0, 190.0, 190.0, warmth, warmth)]
    assert notes == HELD | {
        "level": 1405.0,
        "top": 1405.0,
        "warmth": warmth,
        "warm_at": 190.0,
        "last_at": 190.0,
    }
    run.hear(notes, power(1385.3, 200.0), (), TAU)
    assert (notes["level"], notes["top"]) == (1400.1, 1405.0)


def test_nothing_holds_at_nothing():
    """And any power is more; a level that is near nothing is not nothing."""
    notes = HELD | {"level": 0.0, "top": 0.0}
    assert [one.what for one in run.hear(notes, power(12.0, 100.0), (), TAU)] == ["held"]
    assert notes["level"] == 0.0
    assert run.hear(notes, power(16.0, 110.0), (), TAU) == []
    notes = HELD | {"level": 16.0, "top": 16.0}
    assert run.hear(notes, power(15.0, 100.0), (), TAU) == []


def test_a_report_of_the_level_clears_the_doubt():
    """One odd report is none."""
    notes = HELD | {"other": [600.0, 95.0, 510.0]}
    run.hear(notes, power(1400.0, 100.0), (), TAU)
    assert "other" not in notes


# When it changes.


def test_a_change_needs_two_reports_that_agree():
    """It came between the last on the old level and the first on the new; the body warmed until then."""
    notes = dict(HELD)
    assert run.hear(notes, power(600.0, 100.0), (), TAU) == []
    upper = later(500.0, 1400.0, 10.0, TAU)
    assert notes["other"] == [600.0, 100.0, upper]
    found = run.hear(notes, power(610.06, 137.0), (), TAU)
    assert found == [Happening("fell", 1400.0, 610.1, 90.0, 100.0, 500.0, upper)]
    assert found[0].at == 95.0
    assert "other" not in notes
    warmth = round(later(0.5 * (500.0 + upper), 610.1, 37.0, TAU), 1)
    assert notes["warmth"] == warmth
    assert notes == HELD | {"level": 610.1, "last_at": 137.0, "warm_at": 137.0, "warmth": warmth}


def test_a_third_level_begins_the_doubt_anew():
    """Two in a row have to agree; the level was left by the first that differed: means tell of what came and went."""
    notes = dict(HELD)
    run.hear(notes, power(600.0, 100.0), (), TAU)
    assert run.hear(notes, power(900.0, 110.0), (), TAU) == []
    upper = later(500.0, 1400.0, 10.0, TAU)
    assert notes["other"] == [900.0, 100.0, upper]
    found = run.hear(notes, power(905.0, 120.0), (), TAU)
    assert found == [Happening("fell", 1400.0, 905.0, 90.0, 100.0, 500.0, upper)]
    warmth = round(later(0.5 * (500.0 + upper), 905.0, 20.0, TAU), 1)
    assert notes == HELD | {"level": 905.0, "last_at": 120.0, "warm_at": 120.0, "warmth": warmth}


@pytest.mark.parametrize(
    ("second", "exact", "agree"), [(650.0, True, False), (650.0, False, True), (640.0, True, True)]
)
def test_two_reports_agree_as_closely_as_the_meter_is_sure(second, exact, agree):
    """7 % where volts are told, 13 % where they are not."""
    notes = dict(HELD)
    run.hear(notes, power(600.0, 100.0, exact=exact), (), TAU)
    assert bool(run.hear(notes, power(second, 110.0, exact=exact), (), TAU)) is agree


def test_to_more_it_rises_and_to_nothing_it_is_gone():
    """The most of the run follows; a body that cools is between its bounds all the same."""
    notes = dict(HELD)
    for at in (100.0, 110.0):
        found = run.hear(notes, power(2000.0, at), (), TAU)
    assert (found[0].what, notes["top"]) == ("rose", 2000.0)
    notes = HELD | {"warmth": 1600.0}
    for at in (100.0, 110.0):
        found = run.hear(notes, power(5.0, at), (), TAU)
    assert (found[0].what, found[0].after) == ("gone", 0.0)
    assert (found[0].lo_warmth, found[0].hi_warmth) == (later(1600.0, 1400.0, 10.0, TAU), 1600.0)
    assert (notes["level"], notes["top"]) == (0.0, 1400.0)


@pytest.mark.parametrize(
    ("watts", "slow", "known", "told"),
    [(590.0, True, (900.0, 600.0), True), (590.0, True, (900.0,), False), (590.0, False, (600.0,), False),
     (5.0, True, (), True), (5.0, False, (), False)],
)  # fmt: skip
def test_a_slow_meters_one_report_is_enough_for_what_is_known(watts, slow, known, told):
    """A setting of this heater, or nothing."""
    notes = dict(HELD)
    found = run.hear(notes, power(watts, 390.0, slow=slow), known, TAU)
    assert bool(found) is told
    assert ("other" in notes) is not told


# What was proven.


def test_the_warmest_of_each_level_is_proven():
    """To the tenth; it never falls, and four levels are kept."""
    notes = {}
    run.prove(notes, 1400.06, 300.06, True)
    assert notes["proven"] == [[1400.1, 300.1]]
    run.prove(notes, 1410.0, 350.06, True)
    run.prove(notes, 1400.0, 200.0, True)
    assert notes["proven"] == [[1400.1, 350.1]]
    for watts in (100.0, 200.0, 400.0, 800.0):
        run.prove(notes, watts, watts / 2.0, True)
    assert notes["proven"] == [[100.0, 50.0], [200.0, 100.0], [400.0, 200.0], [800.0, 400.0]]
    assert run.proven_warmth(notes, 205.0, True) == 100.0
    assert run.proven_warmth(notes, 230.0, True) is None
    assert run.proven_warmth(notes, 225.0, False) == 100.0
    assert run.proven_warmth({}, 205.0, True) is None
    run.prove(notes, 225.0, 120.0, False)
    assert len(notes["proven"]) == 4
