"""An opened window, bound by bound: the fall that tells of one, what a room is known to do by itself, and the pause."""

import pytest

from tests.core.guard.cases import NOON, NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, house_of, study
from thermostatd.core import window
from thermostatd.core.demand import Wants
from thermostatd.core.memory import AirMemory, HandMemory, HeaterMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.reasons import reason
from thermostatd.core.results import Demand
from thermostatd.core.values import Missing, Reading

HEATED = {"told_on": True, "on_since": NOW - 900.0}
JUST_ON = {"told_on": True, "on_since": NOW - 899.0}
LONG_OFF = {"off_since": NOW - 2400.0}
JUST_OFF = {"off_since": NOW - 2399.0}


class Room:
    """The study's memory at one moment; `points` are seconds before now and °C."""

    def __init__(self, *points, toml=None, step=0.1, heater=None, demand=None, **notes):
        self.house = house_of(toml or study())
        kept = [[NOW - before, celsius] for before, celsius in points]
        self.room = RoomMemory(
            air=AirMemory(step=step), window={"points": kept, "at": NOW - 1.0, **notes}, demand=demand or {}
        )
        self.heaters = {
            key: HeaterMemory(**(HEATED if heater is None else heater)) for key, _, _ in self.house.heaters()
        }
        self.memory = Memory(rooms={"study": self.room}, heaters=self.heaters)

    def hear(self, celsius, *, at=NOW, now=None):
        """Until when heating pauses after one reading."""
        steady = now or NOW
        place = self.house.rooms[0]
        return window.watch(self.house, place, self.memory, Reading(celsius, at), now_at(steady))

    @property
    def notes(self):
        """What is kept of it."""
        return self.room.window


@pytest.mark.parametrize(
    ("before", "celsius", "kept"),
    [
        ((99.0, 20.0), 19.9, [20.0]),
        ((100.0, 20.0), 19.9, [20.0, 19.9]),
        ((720.0, 20.0), 19.9, [20.0, 19.9]),
        ((721.0, 20.0), 19.9, [19.9]),
        ((60.0, 20.0), 19.01, [20.0]),
        ((60.0, 20.0), 19.0, [19.0]),
        ((60.0, 20.0), 18.0, [18.0]),
        ((150.0, 20.0), 18.0, [20.0, 18.0]),
        ((150.0, 20.0), 17.99, [17.99]),
        ((10.0, 20.0), 19.5, [20.0]),
    ],
)
def test_readings_are_kept_every_two_minutes_for_twelve_and_begin_anew_after_a_leap(before, celsius, kept):
    """A kelvin at once, or more than 0.8 K a minute, is a sensor that was moved."""
    room = Room(before, peak=0.0, state="heated", quiet_until=NOW + 1.0)
    room.hear(celsius)
    assert [point[1] for point in room.notes["points"]] == kept
    assert room.notes["at"] == NOW


def test_what_is_kept_is_short():
    """A tenth of a second and a thousandth of a kelvin; the first reading of all begins the list."""
    room = Room(peak=0.0, state="heated")
    room.notes.pop("points")
    room.hear(19.12345, at=NOW - 0.123)
    assert room.notes["points"] == [[NOW - 0.1, 19.123]]
    room = Room(peak=0.0, state="heated")
    room.notes.clear()
    assert room.hear(19.0, at=0.0) is None
    assert room.notes["points"] == [[0.0, 19.0]]


def test_a_reading_that_was_heard_before_is_no_news():
    """Only a newer one is looked at, and one without a time never."""
    for at in (NOW - 1.0, NOW - 2.0, None):
        room = Room((300.0, 20.0), peak=0.0, state="heated")
        assert room.hear(15.0, at=at) is None
        assert room.notes["at"] == NOW - 1.0
        assert len(room.notes["points"]) == 1
    assert Room((300.0, 20.0), peak=0.0, state="heated").hear(18.0, at=NOW - 0.5) == NOW + 1800.0


@pytest.mark.parametrize(
    ("heater", "falls", "step", "opened"),
    [
        (HEATED, 1.0, 0.1, True), (HEATED, 0.99, 0.1, False),
        (JUST_ON, 2.49, 0.1, False), (JUST_ON, 2.5, 0.1, True),
        (JUST_OFF, 2.49, 0.1, False), (JUST_OFF, 2.5, 0.1, True),
        (LONG_OFF, 1.2, 0.1, True), (LONG_OFF, 1.19, 0.1, False),
        ({}, 1.2, 0.1, True), ({}, 1.19, 0.1, False),
        ({"told_on": True, "on_since": None}, 1.2, 0.1, True),
        ({"told_on": True, "on_since": NOW - 10.0, "off_since": NOW - 5000.0}, 2.4, 0.1, False),
        ({"on_since": NOW - 5000.0, "off_since": NOW - 10.0}, 2.4, 0.1, False),
        (HEATED, 1.75, 0.5, True), (HEATED, 1.74, 0.5, False),
    ],
)  # fmt: skip
def test_a_room_that_is_not_known_yet_has_to_fall_far(heater, falls, step, opened):
    """1.0 K while heated, 1.2 K long off, 2.5 K between; three and a half steps of a coarse sensor at least."""
    room = Room((400.0, 20.0), (200.0, 19.9), heater=heater, step=step)
    until = room.hear(20.0 - falls)
    assert until == (NOW + 1800.0 if opened else None)
    assert room.notes.get("since") == (NOW if opened else None)
    assert room.notes.get("lowest") == (20.0 - falls if opened else None)
    assert room.notes["peak"] == (None if opened else pytest.approx(falls))


@pytest.mark.parametrize(
    ("state", "usual", "limit"),
    [
        ("heated", [0.0, 3], 0.5), ("heated", [0.0, 2], 1.0), ("heated", [0.4, 3], 0.85), ("heated", [1.6, 3], 2.5),
        ("just off", [0.0, 3], 1.0), ("off", [0.0, 3], 0.7), ("off", [0.5, 3], 1.0),
    ],
)  # fmt: skip
def test_a_room_that_is_known_has_to_fall_further_than_it_does_by_itself(state, usual, limit):
    """One and a half times as far and a quarter kelvin more; half a kelvin at least while heated; 2.5 K is enough."""
    heater = {"heated": HEATED, "just off": JUST_OFF, "off": LONG_OFF}[state]
    for falls, opened in ((limit + 0.001, True), (limit - 0.001, False)):
        room = Room((400.0, 20.0), heater=heater, usual={state: usual}, state=state, peak=0.0)
        assert (room.hear(20.0 - falls) is not None) is opened


@pytest.mark.parametrize(
    ("usual", "peak", "after"),
    [
        (None, 0.6, [0.6, 1]),
        ([0.4, 1], 0.6, [0.5, 2]),
        ([0.4, 9], 0.6, [0.45, 10]),
        ([0.6, 9], 0.4, [0.58, 10]),
        ([0.4, 4], 0.4, [0.4, 5]),
        ([0.4, 99], 0.4444, [0.411, 99]),
        ([0.4, 9], None, [0.4, 9]),
    ],
)
def test_what_a_room_does_by_itself_is_learned_when_its_state_changes(usual, peak, after):
    """Up a quarter of the way, down a tenth, the first times a whole mean; a stretch with a window teaches nothing."""
    known = {"usual": {"off": usual}} if usual else {}
    room = Room((400.0, 20.0), state="off", peak=peak, **known)
    room.hear(19.9)
    assert room.notes["usual"]["off"] == pytest.approx(after)
    assert (room.notes["state"], room.notes["peak"]) == ("heated", pytest.approx(0.1))


def test_a_stretch_keeps_its_steepest_fall():
    """To a thousandth; and the first stretch of all teaches nothing when it begins."""
    room = Room((400.0, 20.0), state="heated", peak=0.3)
    room.hear(19.9)
    assert room.notes["peak"] == 0.3
    room.hear(19.54321, at=NOW + 1.0)
    assert room.notes["peak"] == 0.457
    room = Room((400.0, 20.0), peak=0.3)
    room.hear(19.9)
    assert "usual" not in room.notes


@pytest.mark.parametrize(
    ("surprise", "falls", "step", "control", "opened"),
    [
        (-3.0, 0.5, 0.1, "predictive", True), (-2.99, 0.5, 0.1, "predictive", False),
        (-3.0, 0.49, 0.1, "predictive", False), (-3.0, 0.6, 0.2, "predictive", False),
        (-3.0, 0.71, 0.2, "predictive", True), (-3.0, 0.5, 0.1, "hysteresis", False),
        (None, 0.9, 0.1, "predictive", False),
    ],
)  # fmt: skip
def test_a_model_that_is_surprised_tells_sooner(surprise, falls, step, control, opened):
    """Three standard deviations and half a kelvin; a model that has no state yet says nothing."""
    toml = study(room=f'control = "{control}"')
    demand = {"predictive": {"surprise": surprise, "state": [1.0]}}
    room = Room((400.0, 20.0), toml=toml, step=step, demand=demand, state="heated", peak=0.0)
    assert (room.hear(20.0 - falls) is not None) is opened
    demand["predictive"]["state"] = None
    assert (
        Room((400.0, 20.0), toml=toml, step=step, demand=demand, state="heated", peak=0.0).hear(19.2) is None
    )


@pytest.mark.parametrize(
    ("surprise", "odds", "control", "opened"),
    [
        (-0.99, False, "predictive", False),
        (0.5, False, "predictive", False),
        (-1.0, False, "predictive", True),
        (-0.5, True, "predictive", True),
        (-0.5, False, "hysteresis", True),
    ],
)
def test_a_fall_that_a_model_foresaw_is_no_window(surprise, odds, control, opened):
    """However far it is, as after hours of full power; a model that is at odds with the sensor foresees nothing."""
    toml = study(room=f'control = "{control}"')
    demand = {"predictive": {"surprise": surprise, "state": [1.0], "at_odds": odds}}
    room = Room((400.0, 20.0), toml=toml, demand=demand, state="heated", peak=0.0)
    assert (room.hear(17.4) is not None) is opened
    assert room.notes["peak"] == (None if opened else pytest.approx(2.6))


def test_a_model_that_has_not_begun_surprises_nobody():
    """A room that was given to it just now."""
    toml = study(room='control = "predictive"')
    assert Room((400.0, 20.0), toml=toml, state="heated", peak=0.0).hear(19.2) is None


def test_what_was_heard_already_is_not_kept_again():
    """Neither while nothing seems open nor in a pause."""
    room = Room((300.0, 20.0), peak=0.0, state="heated")
    assert room.hear(19.9, at=NOW - 1.0) is None
    assert room.notes["points"] == [[NOW - 300.0, 20.0]]
    room = Room((400.0, 20.0), since=NOW - 100.0, lowest=18.0, peak=None)
    assert room.hear(18.1, at=NOW - 1.0) == NOW + 1700.0
    assert len(room.notes["points"]) == 1


def test_two_windows_may_be_open_at_once():
    """Both rooms rest."""
    house = house_of(study(more=DEN))
    memory = Memory(
        rooms={name: fallen() for name in ("bare", "study", "den")},
        heaters={key: HeaterMemory(**HEATED) for key, _, _ in house.heaters()},
    )
    demand = Demand(True, 1.0, WARMING)
    keys = [key for key, _, _ in house.heaters()]
    before = Wants(dict.fromkeys(memory.rooms, demand), dict.fromkeys(keys, (True, WARMING)))
    readings = Readings({name: Reading(18.0, NOW) for name in memory.rooms}, Missing(""), ())
    after = window.paused(house, memory, readings, before, now_at())
    assert [after.rooms[name].on for name in ("study", "den")] == [False, False]
    assert {on for on, _ in after.heaters.values()} == {False}


def test_after_a_pause_nothing_is_looked_for_for_a_while():
    """Until its second, which is free."""
    assert Room((400.0, 20.0), quiet_until=NOW + 1.0).hear(17.0) is None
    assert Room((400.0, 20.0), quiet_until=NOW).hear(17.0) == NOW + 1800.0


@pytest.mark.parametrize(
    ("gone", "lowest", "celsius", "toml", "holds"),
    [
        (1799.0, 18.0, 18.0, "", True), (1800.0, 18.0, 18.0, "", False),
        (299.0, 18.0, 18.3, "", True), (300.0, 18.0, 18.3, "", False), (300.0, 18.0, 18.29, "", True),
        (400.0, 18.0, 17.0, "", True),
        (100.0, 18.0, 17.0, "cold_celsius = 17", True), (100.0, 18.0, 16.99, "cold_celsius = 17", False),
        (100.0, 9.5, 9.0, "cold_celsius = 5", True), (100.0, 9.5, 8.99, "cold_celsius = 5", False),
    ],
)  # fmt: skip
def test_a_pause_ends_when_the_air_recovers_or_in_half_an_hour_or_when_it_gets_cold(
    gone, lowest, celsius, toml, holds
):
    """After five minutes and 0.3 K up; frost's own limit is two kelvins over the floor."""
    room = Room(
        (400.0, 20.0), toml=study(room=toml), since=NOW - gone, lowest=lowest, peak=None, state="heated"
    )
    assert room.hear(celsius) == (NOW - gone + 1800.0 if holds else None)
    if holds:
        assert (room.notes["since"], room.notes["lowest"]) == (NOW - gone, min(lowest, celsius))
    else:
        assert "since" not in room.notes
        assert "lowest" not in room.notes
        assert (room.notes["points"], room.notes["quiet_until"]) == ([], NOW + 3600.0)


def test_a_pause_goes_on_and_ends_without_news():
    """The time alone ends it; the lowest air is kept from reading to reading."""
    room = Room((400.0, 20.0), since=NOW - 100.0, lowest=18.0, peak=None)
    assert room.hear(18.1, at=None) == NOW + 1700.0
    assert len(room.notes["points"]) == 1
    assert room.hear(18.1, at=None, now=NOW + 1700.0) is None


WARMING = reason("warming", target=20.0, eta="")
BY_HAND = reason("by-hand", until="13:00")


def wants(on=True):
    """What is wanted before windows are looked at."""
    demand = Demand(on, 1.0 if on else 0.0, WARMING)
    return Wants({"study": demand}, {COLUMN: (on, WARMING), PANEL: (True, BY_HAND)})


def test_a_room_with_an_open_window_gets_no_heat_and_says_until_when():
    """Half an hour on the house's clock; what others want is theirs."""
    room = Room((400.0, 20.0), toml=study(more=SPOT))
    before = wants()
    after = window.paused(
        room.house, room.memory, Readings({"study": Reading(18.0, NOW)}, Missing(""), ()), before, now_at()
    )
    why = reason("window-open", until="12:30")
    assert after == Wants({"study": Demand(False, 0.0, why)}, {COLUMN: (False, why), PANEL: (True, BY_HAND)})
    assert before == wants()


def test_a_window_changes_nothing_where_no_heat_was_wanted_or_a_hand_is_on_the_button():
    """Nor where the air is missing, nor in a room without heaters."""
    room = Room((400.0, 20.0), toml=study(more=SPOT))
    readings = Readings({"study": Reading(18.0, NOW)}, Missing(""), ())
    before = wants(on=False)
    assert window.paused(room.house, room.memory, readings, before, now_at()) is before
    assert room.notes["since"] == NOW
    room = Room((400.0, 20.0), toml=study(more=SPOT))
    away = Readings({"study": Missing("silent")}, Missing(""), ())
    assert window.paused(room.house, room.memory, away, wants(), now_at()) == wants()
    room.heaters[COLUMN].hand = HandMemory(True, NOW + 60.0, NOON.timestamp())
    after = window.paused(room.house, room.memory, readings, wants(), now_at())
    assert (after.rooms["study"].on, after.heaters[COLUMN]) == (False, (True, WARMING))


def test_each_room_has_its_own_window():
    """One that is open leaves the other's heat; a room without heaters is not looked at; all heaters of one rest."""
    house = house_of(study(more=SECOND.format(name="second", watts=400) + DEN))
    memory = Memory(
        rooms={name: fallen() for name in ("bare", "study", "den")},
        heaters={key: HeaterMemory(**HEATED) for key, _, _ in house.heaters()},
    )
    memory.rooms["study"].window["points"][0][1] = 18.1
    keys = [key for key, _, _ in house.heaters()]
    demand = Demand(True, 1.0, WARMING)
    before = Wants(dict.fromkeys(memory.rooms, demand), dict.fromkeys(keys, (True, WARMING)))
    readings = Readings({name: Reading(18.0, NOW) for name in memory.rooms}, Missing(""), ())
    after = window.paused(house, memory, readings, before, now_at())
    assert {name: one.on for name, one in after.rooms.items()} == {"bare": True, "study": True, "den": False}
    assert {key: on for key, (on, _) in after.heaters.items()} == {
        key: not key.startswith("den/") for key in keys
    }
    assert "since" not in memory.rooms["bare"].window


DEN = """
[[room]]
name = "bare"
sensor = { topic = "bare/air" }
[[room]]
name = "den"
sensor = { topic = "den/air" }
[[room.heater]]
name = "one"
watts = 600
plug = { kind = "simulated" }
[[room.heater]]
name = "two"
watts = 600
plug = { kind = "simulated" }
"""


def fallen():
    """A room that was at 20 °C some minutes ago."""
    return RoomMemory(air=AirMemory(step=0.1), window={"points": [[NOW - 400.0, 20.0]], "at": NOW - 1.0})
