"""What a plug tells of itself, at the very edges of what counts."""

import math

import pytest

from tests.core.guard.cases import BLIND, METERED, NOW, SIMULATED, now_at
from tests.stories.teller import COLUMN, house_of, study
from thermostatd.core import plug
from thermostatd.core.memory import HandMemory, HeaterMemory
from thermostatd.core.results import Event
from thermostatd.core.values import PlugReport

SHOWN = METERED.replace("draws", "shows")
ALLOWED = 'by_hand = "allow for 2 h"'


def heater_of(kind=SIMULATED, by_hand=""):
    """The study's column."""
    return house_of(study(heater=by_hand).replace(SIMULATED, kind)).rooms[0].heaters[0]


def heard(report, *, by_hand="", longest=math.inf, **kept):
    """What is known after a report, and what it showed of hands on the button."""
    known = HeaterMemory(**{"waiting_since": 0.0, "heard": True, **kept})
    events = plug.hear(known, heater_of(by_hand=by_hand), COLUMN, report, now_at(), longest)
    return known, events


def test_power_over_fifteen_watts_or_three_percent_is_drawing():
    """15 W at least; 3 % of a larger heater."""
    heater = heater_of()
    assert plug.drawing_floor_watts(heater) == 18.0
    assert plug.drawing_floor_watts(heater.model_copy(update={"watts": 400.0})) == 15.0


@pytest.mark.parametrize(
    ("kind", "heard_of", "shows"),
    [(SIMULATED, True, True), (SHOWN, True, True), (METERED, True, False), (BLIND, False, False)],
)
def test_a_plug_is_heard_by_its_contact_or_its_meter(kind, heard_of, shows):
    """Either is a way to speak; only the contact shows a state."""
    assert plug.can_be_heard(heater_of(kind)) is heard_of
    assert plug.shows_contact(heater_of(kind)) is shows


@pytest.mark.parametrize(
    ("kept", "at"),
    [
        ({}, -math.inf),
        ({"told_on": True, "on_since": 5.0, "off_since": 9.0}, 5.0),
        ({"on_since": 5.0, "off_since": 9.0}, 9.0),
        ({"off_since": 9.0, "settled_at": 10.0}, 10.0),
        ({"off_since": 9.0, "settled_at": 8.0}, 9.0),
        ({"off_since": 9.0, "waiting_since": 11.0}, 11.0),
        ({"off_since": 9.0, "waiting_since": 8.0}, 9.0),
        ({"settled_at": 12.0, "waiting_since": 11.0}, 12.0),
        ({"told_on": True}, -math.inf),
    ],
)
def test_the_last_switching_is_the_latest_that_is_known_of(kept, at):
    """An order, what was settled since, or the start."""
    assert plug.switched_at(HeaterMemory(**kept)) == at


@pytest.mark.parametrize(
    ("period", "after", "counts"),
    [(10.0, 59.0, False), (10.0, 60.0, True), (300.0, 299.0, False), (300.0, 300.0, True)],
)
def test_a_meter_value_is_evidence_a_period_after_the_switching_and_a_minute_at_least(period, after, counts):
    """To the second."""
    kept = HeaterMemory(off_since=1000.0, watts=600.0, watts_at=1000.0 + after, meter_period=period)
    assert plug.evidence_watts(kept) == (600.0 if counts else None)
    assert plug.evidence_watts(HeaterMemory(watts=600.0)) is None
    assert plug.evidence_watts(HeaterMemory(watts_at=5.0)) is None


def test_a_start_is_remembered_and_silence_brings_nothing():
    """The first step of a plug that says nothing."""
    known, events = heard(None, waiting_since=None, heard=False)
    assert (known, events) == (HeaterMemory(waiting_since=NOW), [])
    known, _ = heard(None, waiting_since=5.0)
    assert known.waiting_since == 5.0


@pytest.mark.parametrize(("until", "held"), [(NOW + 1.0, True), (NOW, False)])
def test_a_press_ends_at_its_second(until, held):
    """Whether or not the plug speaks."""
    hand = HandMemory(True, until, 0.0)
    assert heard(None, hand=hand)[0].hand == (hand if held else None)


def test_a_plug_that_goes_away_and_comes_back():
    """Since when is kept; what it shows on its return is no press."""
    known, events = heard(PlugReport(reachable=False), answered=True)
    assert (known.reachable, known.away_since, known.answered, events) == (False, NOW, False, [])
    known, _ = heard(PlugReport(reachable=False), away_since=5.0, reachable=False)
    assert known.away_since == 5.0
    known, _ = heard(PlugReport(), away_since=5.0, reachable=False, answered=True)
    assert (known.reachable, known.away_since, known.answered) == (True, None, True)


@pytest.mark.parametrize(
    ("report", "heard_of"),
    [
        (PlugReport(on=False), True),
        (PlugReport(watts=0.0), True),
        (PlugReport(volts=230.0), False),
        (PlugReport(on="yes"), False),
        (PlugReport(watts=math.nan), False),
    ],
)
def test_a_plug_is_heard_once_it_tells_its_contact_or_its_power(report, heard_of):
    """Garbage and volts alone are no word."""
    assert heard(report, heard=False)[0].heard is heard_of


@pytest.mark.parametrize(
    ("told", "kept"),
    [(50.0, 50.0), (300.0, 300.0), (49.9, 120.0), (300.1, 120.0), (math.nan, 120.0), (None, 120.0)],
)
def test_volts_count_within_what_a_mains_can_be(told, kept):
    """50 to 300 V."""
    assert heard(PlugReport(volts=told), volts=120.0)[0].volts == kept


def test_a_plugs_warmth_comes_with_its_time():
    """Its own time, now where it has none, and never a time to come."""
    assert (lambda k: (k.warm_celsius, k.warm_at))(heard(PlugReport(warm_celsius=40, warm_at=5.0))[0]) == (
        40.0,
        5.0,
    )
    assert heard(PlugReport(warm_celsius=40.0))[0].warm_at == NOW
    assert heard(PlugReport(warm_celsius=40.0, warm_at=NOW + 9.0))[0].warm_at == NOW
    assert heard(PlugReport(warm_celsius=math.nan, warm_at=5.0))[0].warm_at is None


@pytest.mark.parametrize(
    ("told", "taken"),
    [
        (-15.0, True),
        (-15.1, False),
        (100_000.0, True),
        (100_001.0, False),
        (math.inf, False),
        (None, False),
        (True, False),
    ],
)
def test_power_counts_within_what_a_plug_can_carry(told, taken):
    """A little below nothing is a meter's error; 100 kW is none of a plug."""
    assert heard(PlugReport(watts=told))[0].watts == (told if taken else None)


@pytest.mark.parametrize(
    ("at", "taken"), [(NOW - 10.0, True), (NOW - 20.0, False), (NOW - 21.0, False), (None, True)]
)
def test_a_meter_value_no_newer_than_the_last_is_none(at, taken):
    """The same value told again proves nothing anew."""
    known, _ = heard(PlugReport(watts=5.0, watts_at=at), watts=600.0, watts_at=NOW - 20.0)
    assert known.watts == (5.0 if taken else 600.0)
    assert known.watts_at == ((at or NOW) if taken else NOW - 20.0)
    assert known.meter_gaps == int(taken)


@pytest.mark.parametrize(
    ("gaps", "before", "gap", "after"),
    [
        (0, 360.0, 10.0, 360.0),
        (1, 360.0, 10.0, 360.0),
        (2, 360.0, 10.0, 10.0),
        (2, 360.0, 2000.0, 900.0),
        (3, 10.0, 20.0, 20.0),
        (3, 20.0, 10.0, 19.0),
        (9, 20.0, 2000.0, 900.0),
        (3, 20.0, 20.0, 20.0),
    ],
)
def test_a_meters_period_is_learned_from_the_third_gap_on(gaps, before, gap, after):
    """At once upward, by a tenth downward, a quarter of an hour at most."""
    known, _ = heard(
        PlugReport(watts=0.0), watts=0.0, watts_at=NOW - gap, meter_gaps=gaps, meter_period=before
    )
    assert (known.meter_gaps, known.meter_period) == (gaps + 1, pytest.approx(after))


OVER = {"off_since": NOW - 500.0, "off_reports_over": 1, "shown_on": False, "meter_period": 10.0}


@pytest.mark.parametrize(
    ("change", "watts", "count"),
    [
        ({}, 18.1, 2),
        ({}, 18.0, 0),
        ({"told_on": True, "on_since": 0.0}, 600.0, 0),
        ({"off_since": NOW - 59.0}, 600.0, 0),
        ({"shown_on": True, "off_since": NOW - 120.0}, 600.0, 0),
        ({"shown_on": True, "off_since": NOW - 121.0}, 600.0, 2),
        ({"shown_on": None, "off_since": NOW - 60.0}, 600.0, 2),
    ],
)
def test_reports_of_power_after_off_are_counted_once_it_had_the_time_to_obey(change, watts, count):
    """Over the floor, settled, and two minutes on where it shows ON; anything else starts the count anew."""
    assert heard(PlugReport(watts=watts), **OVER | change)[0].off_reports_over == count


def test_an_older_contact_state_is_not_heard():
    """What was shown before what is known already."""
    known, events = heard(
        PlugReport(on=True, on_at=NOW - 6.0), shown_on=False, shown_at=NOW - 5.0, maybe_on=True
    )
    assert (known.shown_on, known.shown_at, known.maybe_on, events) == (False, NOW - 5.0, True, [])
    known, _ = heard(PlugReport(on=True, on_at=NOW - 5.0), shown_on=False, shown_at=NOW - 5.0, maybe_on=True)
    assert (known.shown_on, known.shown_at, known.maybe_on) == (True, NOW - 5.0, False)


def test_what_was_told_is_answered():
    """Nothing is owed any more."""
    known, events = heard(PlugReport(on=False), unanswered_since=5.0)
    assert (known.answered, known.unanswered_since, known.shown_on, known.shown_at, events) == (
        True,
        None,
        False,
        NOW,
        [],
    )


RESTS = {"off_since": NOW - 31.0, "shown_on": False, "answered": True, "off_reports_over": 2}
RUNS = {
    "told_on": True,
    "on_since": NOW - 31.0,
    "shown_on": True,
    "answered": True,
    "lapses": NOW + 900.0,
    "off_reports_over": 2,
}


def test_a_press_to_on_where_it_is_not_allowed_is_told_and_undone():
    """It is settled as found ON; no hand holds; the plug owes OFF."""
    known, events = heard(PlugReport(on=True), **RESTS)
    assert events == [Event("pressed-on", COLUMN, "Someone pressed the plug's button: ON.")]
    assert (known.hand, known.answered, known.settled_at, known.off_reports_over) == (None, False, NOW, 0)


@pytest.mark.parametrize(("longest", "holds"), [(math.inf, 7200.0), (1800.0, 1800.0)])
def test_a_press_to_on_where_it_is_allowed_holds_that_long(longest, holds):
    """As long as the owner allows, a spot no longer than its longest."""
    known, events = heard(PlugReport(on=True), by_hand=ALLOWED, longest=longest, **RESTS)
    assert [event.code for event in events] == ["pressed-on"]
    assert known.hand == HandMemory(True, NOW + holds, now_at().wall.timestamp() + holds)
    assert (known.answered, known.settled_at) == (True, NOW)


@pytest.mark.parametrize(("by_hand", "holds"), [("", 7200.0), ('by_hand = "allow for 1 h"', 3600.0)])
def test_a_press_to_off_holds_whatever_is_allowed(by_hand, holds):
    """Two hours, or what the owner allows; a spot's longest does not shorten it."""
    known, events = heard(PlugReport(on=False), by_hand=by_hand, longest=60.0, **RUNS)
    assert events == [Event("pressed-off", COLUMN, "Someone pressed the plug's button: OFF.")]
    assert known.hand == HandMemory(False, NOW + holds, now_at().wall.timestamp() + holds)
    assert (known.settled_at, known.off_reports_over, known.answered) == (NOW, 0, True)


@pytest.mark.parametrize(
    ("base", "change", "report"),
    [
        (RESTS, {"off_since": NOW - 30.0}, PlugReport(on=True)),
        (RESTS, {"answered": False}, PlugReport(on=True)),
        (RESTS, {"shown_on": None}, PlugReport(on=True)),
        (RUNS, {"lapses": NOW + 30.0}, PlugReport(on=False)),
        (RUNS, {"lapses": NOW - 5.0}, PlugReport(on=False)),
        (RUNS, {"shown_at": NOW - 60.0}, PlugReport(on=False, back_at=NOW - 60.0)),
        (RUNS, {"shown_at": NOW - 501.0}, PlugReport(on=False, back_at=NOW - 500.0)),
        (RUNS, {"on_since": NOW - 30.0}, PlugReport(on=False)),
        (RUNS, {"shown_on": False}, PlugReport(on=False)),
    ],
)
def test_what_may_be_a_late_answer_a_lapse_or_a_return_is_no_press(base, change, report):
    """Half a minute from the switching, half a minute to the lapse, a minute from its return, and the first word since,
    however late: a plug is now and then minutes later than the broker, and what it was told meanwhile is lost."""
    known, events = heard(report, **base | change)
    assert events == []
    assert known.hand is None


@pytest.mark.parametrize(
    ("base", "change", "report"),
    [
        (RUNS, {"lapses": NOW + 30.1}, PlugReport(on=False)),
        (RUNS, {"shown_at": NOW - 60.1}, PlugReport(on=False, back_at=NOW - 60.1)),
        (RESTS, {"shown_at": NOW - 600.0}, PlugReport(on=True, back_at=NOW - 500.0)),
        (RESTS, {}, PlugReport(on=True, back_at=NOW)),
        (RESTS, {"lapses": NOW - 5.0}, PlugReport(on=True)),
        (RUNS, {}, PlugReport(on=False, back_at=math.nan)),
    ],
)
def test_what_can_be_nothing_else_is_a_press(base, change, report):
    """Just past each of those bounds; ON where no ON is allowed is told OFF whatever it was."""
    assert len(heard(report, **base | change)[1]) == 1


def test_an_on_shown_on_return_where_it_is_allowed_is_no_press():
    """It may have been told ON by what was before."""
    for back_at in (NOW, NOW - 500.0):
        report = PlugReport(on=True, back_at=back_at)
        known, events = heard(report, by_hand=ALLOWED, **RESTS | {"shown_at": NOW - 501.0})
        assert (events, known.hand, known.settled_at, known.off_reports_over) == ([], None, NOW, 0)


def test_one_that_is_found_on_has_yet_to_obey():
    """Found ON is settled then, once; shown ON again it is not settled anew."""
    known, _ = heard(PlugReport(on=True, on_at=NOW - 3.0), off_since=NOW - 5.0, off_reports_over=2)
    assert (known.settled_at, known.off_reports_over) == (NOW - 3.0, 0)
    known, _ = heard(PlugReport(on=True), off_since=NOW - 5.0, shown_on=True, off_reports_over=2)
    assert (known.settled_at, known.off_reports_over) == (None, 2)
    known, _ = heard(PlugReport(on=False), told_on=True, shown_on=None, off_reports_over=2)
    assert (known.settled_at, known.off_reports_over) == (None, 2)


@pytest.mark.parametrize(
    ("kept", "answered", "since"),
    [
        (RUNS | {"lapses": NOW}, False, NOW),
        (RUNS | {"lapses": NOW, "answered": False, "unanswered_since": 5.0}, False, 5.0),
        (RESTS | {"off_since": NOW - 5.0}, True, None),
    ],
)
def test_an_on_that_is_no_longer_shown_owes_an_answer_from_then_on(kept, answered, since):
    """From the moment it fell OFF by itself."""
    known, _ = heard(PlugReport(on=not kept.get("told_on", False)), **kept)
    assert (known.answered, known.unanswered_since) == (answered, since)


def test_what_a_plug_tells_is_kept_in_thousandths():
    """Power, volts, warmth, and the period of its reports."""
    kept, _ = heard(
        PlugReport(watts=600.12345, watts_at=NOW, volts=229.12345, warm_celsius=31.12345),
        watts=1.0, watts_at=NOW - 7.12345, meter_gaps=5, meter_period=10.0,
    )  # fmt: skip
    assert (kept.watts, kept.volts, kept.warm_celsius) == (600.123, 229.123, 31.123)
    assert kept.meter_period == round(9.0 + 0.712345, 3)
