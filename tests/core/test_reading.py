"""Raw samples become air or a reason why not, at the very edges of the bounds."""

import math

import pytest

from tests.core.guard.cases import NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.memory import AirMemory, HandMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings, read, slope_kelvin_per_hour
from thermostatd.core.results import Event
from thermostatd.core.sensing import stale_seconds
from thermostatd.core.values import Missing, Observation, PlugReport, Reading

BEFORE = {"celsius": 20.0, "at": NOW - 60.0, "heard": True, "waiting_since": 0.0, "why": "fine"}


def taken(sample, *, toml=None, now=None, **kept):
    """What is known of the study's air after a sample; what it left in memory; what happened."""
    house = house_of(toml or study())
    memory = Memory(
        rooms={"study": RoomMemory(air=AirMemory(**{**BEFORE, **kept}))},
        heaters={key: HeaterMemory() for key, _, _ in house.heaters()},
    )
    seen = Observation(air={} if sample is None else {"study": sample})
    readings = read(house, memory, seen, now or now_at())
    return readings.air["study"], memory.rooms["study"].air, readings.events


def refused(why):
    """The event of a refusal."""
    return (Event("reading-refused", "study", f"A reading was refused: {why}."),)


@pytest.mark.parametrize(
    ("sample", "at"),
    [
        (21.0, NOW),
        (Reading(21.0), NOW),
        (Reading(21.0, NOW - 5.0), NOW - 5.0),
        (21, NOW),
        (Reading(21.0, NOW + 120.0), NOW),
    ],
)
def test_a_good_value_is_the_air_at_its_time(sample, at):
    """Its own time, now where it has none; never a time to come."""
    air, kept, events = taken(sample)
    assert (air, events) == (Reading(21.0, at), ())
    assert (kept.celsius, kept.at, kept.heard, kept.good_needed) == (21.0, at, True, 0)


@pytest.mark.parametrize(
    ("sample", "why"),
    [
        (True, "True is not a number"),
        ("20", "'20' is not a number"),
        (Reading("x" * 60), f"'{'x' * 39} is not a number"),
        (math.nan, "the value is not a finite number"),
        (60.1, "60.1° is outside -30…60°"),
        (-30.1, "-30.1° is outside -30…60°"),
        (Reading(20.0, math.nan), "the reading's time lies ahead"),
        (Reading(20.0, NOW + 120.1), "the reading's time lies ahead"),
        (30.1, "it jumped from 20.0° to 30.1° at once"),
        (9.9, "it jumped from 20.0° to 9.9° at once"),
        (Missing("a flat battery"), "a flat battery"),
        (Missing("y" * 200), "y" * 120),
    ],
)
def test_what_is_no_good_value_is_refused_with_why(sample, why):
    """It changes nothing but the reason, and three good ones are needed after it."""
    air, kept, events = taken(sample)
    assert (air, events) == (Reading(20.0, NOW - 60.0), refused(why))
    assert (kept.celsius, kept.at, kept.why, kept.good_needed) == (20.0, NOW - 60.0, why, 3)
    assert taken(sample, why=why)[2] == (), "said once"


@pytest.mark.parametrize("celsius", [60.0, -30.0, 30.0, 10.0])
def test_the_bounds_themselves_are_plausible(celsius):
    """From -30 to 60°, and a jump of ten."""
    assert taken(celsius, celsius=celsius if abs(celsius) > 20.0 and celsius != 30.0 else 20.0)[0] == Reading(
        celsius, NOW
    )


@pytest.mark.parametrize(
    ("kept", "passes"),
    [
        ({"at": NOW - 600.0}, True),
        ({"at": NOW - 599.0}, False),
        ({"celsius": None}, True),
        ({"at": None}, True),
    ],
)
def test_a_jump_is_one_within_ten_minutes_alone(kept, passes):
    """After that the air may have moved."""
    assert (taken(35.0, **kept)[0] == Reading(35.0, NOW)) is passes


def test_a_sensor_that_says_why_it_has_nothing_has_told_nothing_false():
    """One good value is enough after it."""
    _, kept, events = taken(Missing("away", implausible=False))
    assert (kept.why, kept.good_needed, events) == ("away", 0, refused("away"))


@pytest.mark.parametrize(
    ("sample", "at"), [(Reading(25.0, NOW - 60.0), NOW - 60.0), (Reading(25.0, NOW - 61.0), NOW - 60.0)]
)
def test_a_value_no_newer_than_the_last_is_none(sample, at):
    """Told again, or late."""
    assert taken(sample)[0] == Reading(20.0, at)


def test_the_first_step_is_remembered_and_silence_says_so():
    """Nothing heard yet, since when; and, after a start, not heard since."""
    air, kept, _ = taken(None, celsius=None, at=None, heard=False, waiting_since=None, why="never heard")
    assert (air, kept.waiting_since) == (Missing("never heard", NOW), NOW)
    assert taken(None, celsius=None, waiting_since=7.0, why="a fault")[0] == Missing("a fault", 7.0)
    assert taken(None, at=None, waiting_since=7.0, why="a fault")[0] == Missing("a fault", 7.0)
    assert taken(None, heard=False, waiting_since=7.0)[0] == Missing("not heard since the start", 7.0)


@pytest.mark.parametrize(
    ("interval", "seconds"),
    [(100.0, 600.0), (200.0, 600.0), (300.0, 900.0), (1200.0, 3600.0), (2000.0, 3600.0)],
)
def test_silence_counts_after_three_intervals_ten_minutes_to_an_hour(interval, seconds):
    """Learned, within bounds; the owner's word goes before it."""
    assert stale_seconds(AirMemory(interval=interval), None) == seconds
    assert stale_seconds(AirMemory(interval=interval), 5.0) == 5.0


def test_a_reading_counts_until_it_is_stale():
    """To the second; then it says for how long."""
    assert taken(None, at=NOW - 600.0, interval=60.0)[0] == Reading(20.0, NOW - 600.0)
    air, kept, _ = taken(None, at=NOW - 3660.0, interval=60.0)
    assert air == Missing("the sensor has been silent for 61 minutes", NOW - 3660.0)
    assert kept.silent
    assert taken(None, at=NOW - 660.0, interval=60.0, good_needed=1, why="bad")[0] == Missing(
        "bad", NOW - 660.0
    )


def test_the_owners_longest_silence_holds_for_all_sensors_of_a_room():
    """The longest that any of them is given."""
    toml = study().replace(
        'sensor = { topic = "study/air"  }',
        'sensors = [{ topic = "a", stale_after = "20 min" }, { topic = "b", stale_after = "40 min" }]',
    )
    assert taken(None, toml=toml, at=NOW - 2400.0)[0] == Reading(20.0, NOW - 2400.0)
    assert isinstance(taken(None, toml=toml, at=NOW - 2401.0)[0], Missing)


@pytest.mark.parametrize(
    ("kept", "celsius", "needed", "air"),
    [
        ({"good_needed": 3, "silent": True}, 20.0, 2, 20.0),
        ({"good_needed": 1, "silent": True}, 20.5, 0, 20.5),
        ({"good_needed": 3}, 21.0, 0, 21.0),
        ({"good_needed": 3}, 21.1, 2, 20.0),
        ({"good_needed": 2}, 18.9, 1, 20.0),
        ({"good_needed": 1}, 23.0, 0, 23.0),
    ],
)
def test_after_an_implausible_value_three_good_ones_are_needed_unless_it_is_where_it_was(
    kept, celsius, needed, air
):
    """Within a kelvin of the last good one it is believed at once, where there was no silence."""
    known, memory, _ = taken(celsius, **kept)
    assert (memory.good_needed, memory.celsius) == (needed, air)
    assert memory.silent is (kept.get("silent", False) and needed > 0)
    assert known.celsius == air


@pytest.mark.parametrize(
    ("interval", "gap", "heard", "after"),
    [
        (60.0, 160.0, True, 160.0),
        (160.0, 60.0, True, 155.0),
        (60.0, 60.0, True, 60.0),
        (60.0, 160.0, False, 60.0),
        (600.0, 5000.0, True, 1200.0),
        (100.0, 100.0, True, 100.0),
    ],
)
def test_an_interval_is_learned_quickly_upward_and_slowly_downward(interval, gap, heard, after):
    """At once up, by 0.05 of the way down; a gap counts twenty minutes at most; a start teaches nothing."""
    assert taken(20.0, at=NOW - gap, interval=interval, heard=heard)[1].interval == pytest.approx(after)


@pytest.mark.parametrize(
    ("moved", "step", "after"),
    [
        (0.2, 0.5, 0.2),
        (0.005, 0.5, 0.5),
        (0.7, 0.5, 0.504),
        (5.0, 0.5, 0.51),
        (0.0, 0.5, 0.5),
        (0.5, 0.5, 0.5),
    ],
)
def test_a_sensors_step_is_learned_at_once_downward_and_slowly_upward(moved, step, after):
    """Five thousandths are no step; a great change teaches as one of a kelvin."""
    assert taken(20.0 + moved, step=step)[1].step == pytest.approx(after)


@pytest.mark.parametrize(
    ("celsius", "since", "count"), [(20.0, 5.0, 8), (20.0 + 5e-7, 5.0, 8), (20.01, NOW, 1)]
)
def test_messages_of_one_value_are_counted(celsius, since, count):
    """Another value starts the count and its time anew."""
    kept = taken(celsius, unchanged_since=5.0, unchanged_count=7)[1]
    assert (kept.unchanged_since, kept.unchanged_count) == (since, count)


def test_the_first_value_starts_the_count():
    """There was none to be unlike."""
    kept = taken(20.0, celsius=None, at=None, unchanged_count=7, step=0.3)[1]
    assert (kept.unchanged_since, kept.unchanged_count, kept.step) == (NOW, 1, 0.3)


@pytest.mark.parametrize(("spacing", "kept"), [(300.0, True), (299.0, False)])
def test_the_trail_keeps_a_point_each_five_minutes(spacing, kept):
    """Fourteen of them."""
    trail = [(NOW - spacing - 300.0 * n, 20.0) for n in range(13, -1, -1)]
    after = taken(21.0, trail=trail)[1].trail
    assert after == ([*trail[1:], (NOW, 21.0)] if kept else trail)
    assert taken(21.0, trail=[])[1].trail == [(NOW, 21.0)]


LINE = [(NOW - 1500.0, 19.0), (NOW - 600.0, 19.45), (NOW, 19.75)]


def test_the_slope_is_the_straight_line_through_the_last_stretch():
    """1.8 K an hour (derived by hand); three points at least, and not all at one time."""
    assert slope_kelvin_per_hour(AirMemory(trail=LINE), NOW) == pytest.approx(1.8)
    assert slope_kelvin_per_hour(AirMemory(trail=[(NOW - 1501.0, 5.0), *LINE]), NOW) == pytest.approx(1.8)
    assert slope_kelvin_per_hour(AirMemory(trail=LINE), NOW + 1.0) is None
    assert slope_kelvin_per_hour(AirMemory(trail=LINE), NOW + 1.0, 1501.0) == pytest.approx(1.8)
    assert slope_kelvin_per_hour(AirMemory(trail=[(NOW, 19.0)] * 3), NOW) is None
    bent = [(NOW - 1200.0, 20.0), (NOW - 600.0, 21.0), (NOW - 300.0, 20.0), (NOW, 22.0)]
    assert slope_kelvin_per_hour(AirMemory(trail=bent), NOW) == pytest.approx(3600.0 * 1.2380952381e-3)


@pytest.mark.parametrize(
    ("told", "before", "after", "events"),
    [
        (14.9, None, 14.9, 1),
        (15.0, None, None, 0),
        (14.0, 14.9, 14.9, 0),
        (25.0, 14.9, 14.9, 0),
        (25.1, 14.9, None, 0),
        (math.nan, 14.9, 14.9, 0),
        ("low", None, None, 0),
    ],
)
def test_a_low_battery_is_told_once_and_over_at_a_quarter(told, before, after, events):
    """Under 15 %, until over 25 %."""
    house = house_of(study())
    memory = Memory(rooms={"study": RoomMemory(battery_low=before)}, heaters={COLUMN: HeaterMemory()})
    found = read(house, memory, Observation(battery_percent={"study": told}), now_at())
    assert memory.rooms["study"].battery_low == after
    assert found.events == (Event("battery-low", "study", "The sensor's battery is at 15 %."),) * events


@pytest.mark.parametrize(
    ("sample", "known"),
    [(-60.0, Reading(-60.0, NOW)), (60.0, Reading(60.0, NOW)), (-60.1, None), (60.1, None), (None, None)],
)
def test_outdoors_has_bounds_of_its_own_and_two_hours(sample, known):
    """From -60 to 60°; refused without an event."""
    memory = Memory(rooms={"study": RoomMemory()}, heaters={COLUMN: HeaterMemory()})
    found = read(house_of(study()), memory, Observation(outdoor=sample), now_at())
    assert found.events == ()
    assert found.outdoor == known if known else isinstance(found.outdoor, Missing)
    for late, counts in ((7200.0, True), (7201.0, False)):
        memory.outdoor = AirMemory(celsius=1.0, at=NOW - late, heard=True, waiting_since=0.0)
        assert isinstance(read(house_of(study()), memory, Observation(), now_at()).outdoor, Reading) is counts


def test_each_plugs_report_is_taken_in_and_a_spots_press_ends_with_its_longest():
    """Ninety minutes for the sewing table, though its plug's button is allowed two hours."""
    house = house_of(
        study(
            more=SPOT.replace("watts = 900", 'watts = 900\nby_hand = "allow for 2 h"'),
            heater='by_hand = "allow for 2 h"',
        )
    )
    memory = Memory(
        rooms={"study": RoomMemory()},
        heaters={
            key: HeaterMemory(waiting_since=0.0, shown_on=False, answered=True) for key in (COLUMN, PANEL)
        },
    )
    seen = Observation(plugs={COLUMN: PlugReport(on=True), PANEL: PlugReport(on=True)})
    found = read(house, memory, seen, now_at())
    assert [(event.code, event.about) for event in found.events] == [
        ("pressed-on", COLUMN),
        ("pressed-on", PANEL),
    ]
    assert memory.heaters[COLUMN].hand == HandMemory(True, NOW + 7200.0, now_at().wall.timestamp() + 7200.0)
    assert memory.heaters[PANEL].hand == HandMemory(True, NOW + 5400.0, now_at().wall.timestamp() + 5400.0)
    assert isinstance(found, Readings)


def test_an_interval_is_kept_in_thousandths():
    """As times are."""
    _, kept, _ = taken(Reading(20.0, NOW), interval=100.0, celsius=20.0, at=NOW - 107.7777, heard=True)
    assert kept.interval == 107.778


def test_air_is_kept_in_ten_thousandths_and_its_trail_in_thousandths():
    """A zero has no sign, and what a sensor's step is learned to be is short too."""
    _, kept, _ = taken(Reading(20.04567, NOW), celsius=20.0, step=0.5, at=NOW - 300.0)
    assert kept.celsius == 20.0457
    assert kept.trail[-1] == (NOW, 20.046)
    assert kept.step == round(kept.step, 5)
    _, kept, _ = taken(Reading(-0.00001, NOW), celsius=0.0)
    assert math.copysign(1.0, kept.celsius) == 1.0
