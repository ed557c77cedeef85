"""A heater carried to another room, a selector turned: the owner says so, and what was learned follows the heater."""

from __future__ import annotations

import json

import pytest

from tests.stories.teller import COLUMN, Story, study
from thermostatd.core.asking import Accepted, Refused, SetTo, Stands
from thermostatd.core.facts import TripFact
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import from_plain

BEDROOM = """
[[room]]
name = "bedroom"
sensor = { topic = "bedroom/air" }
usual = [{ days = "daily", at = "00:00", celsius = 18 }]
"""
SETTINGS = "settings_watts = [600, 900, 1500]"
SPOT = """
[[spot]]
name = "sewing table"
[spot.heater]
name = "panel"
kind = "infrared"
watts = 900
plug = { kind = "simulated" }
"""


def two_rooms(**more) -> Story:
    """A study with a heater, and a bedroom without."""
    return Story(study(heater=SETTINGS, more=BEDROOM + SPOT, **more), air=16.0)


def stands(story: Story, room: str = "bedroom", key: str = COLUMN):
    """The owner says where it stands."""
    return story.do(Stands(key, room, "Ana"))


def set_to(story: Story, watts: float, key: str = COLUMN):
    """The owner says what it is set to."""
    return story.do(SetTo(key, watts, "Ana"))


def test_the_heater_warms_the_room_it_stands_in():
    """Said to stand in the bedroom, it follows the bedroom's air and target, under its old key."""
    story = two_rooms().run(5, study=16.0, bedroom=19.0)
    assert story.on()
    assert stands(story).sentence.startswith("Ana said that column now stands in bedroom.")
    story.run(10, study=16.0, bedroom=19.0)
    assert not story.on()
    story.run(30, study=21.0, bedroom=17.5)
    assert story.on(), story.code()
    assert COLUMN in story.result.rooms["bedroom"].heaters
    assert story.result.rooms["study"].heaters == {}


def test_its_old_room_says_that_it_has_no_heater():
    """The room it left has none, and says so."""
    story = two_rooms()
    stands(story)
    story.run(3)
    assert story.result.rooms["study"].demand.reason.code == "no-heater"


def test_it_survives_a_restart():
    """What the owner said of a heater is remembered over a restart."""
    story = two_rooms().run(2)
    stands(story)
    set_to(story, 1500.0)
    story.restart().run(10, study=21.0, bedroom=16.0)
    assert story.on()
    (heater,) = story.regulator.house.room("bedroom").heaters
    assert heater.watts == 1500.0


def test_the_learned_facts_follow_the_heater():
    """What was learned of the body stays; only the level is another."""
    story = two_rooms().run(2)
    facts = story.regulator._memory.heaters[COLUMN].facts
    facts.body_tau_seconds, facts.opens_watts, facts.trip_count = 876.0, 626.0, 2
    facts.trips.append(TripFact(0.0, 600.0, 1500.0, 588.0))
    stands(story)
    set_to(story, 900.0)
    kept = story.regulator._memory.heaters[COLUMN]
    assert (kept.facts.body_tau_seconds, kept.facts.opens_watts, kept.facts.trip_count) == (876.0, 626.0, 2)
    assert kept.facts.level_watts == 900.0


def test_both_rooms_are_learned_anew():
    """A model of a room with another heater in it is no use any more."""
    story = two_rooms().run(2)
    story.regulator.adopt({"study": {"gain_kelvin": 30.0}, "bedroom": {"gain_kelvin": 20.0}})
    stands(story)
    assert story.regulator.memory["models"] == {}


def test_the_circuit_counts_what_it_is_set_to_now():
    """A selector turned up counts with its new watts on the circuit that the file names."""
    story = two_rooms(house="mains_volts = 100")
    set_to(story, 1500.0)
    story.run(5)
    assert story.code() == "turn-never"
    set_to(story, 600.0)
    story.run(10)
    assert story.on()


def test_the_file_wins_again_when_it_is_edited():
    """Once the file says other watts than when the owner spoke, the file's word holds."""
    story = two_rooms().run(2)
    set_to(story, 900.0)
    plain = json.loads(json.dumps(story.regulator.memory))
    same = Regulator(story.house, plain)
    assert same.house.room("study").heaters[0].watts == 900.0
    edited = Story(study(heater=SETTINGS, more=BEDROOM + SPOT).replace("watts = 600\n", "watts = 1500\n"))
    again = Regulator(edited.house, plain)
    assert again.house.room("study").heaters[0].watts == 1500.0
    assert again.memory["heaters"][COLUMN]["placed"] is None


def test_a_room_that_left_the_file_gives_its_heater_back():
    """A heater said to stand in a room that is no more stands where the file says."""
    story = two_rooms().run(2)
    stands(story)
    without = Story(study(heater=SETTINGS, more=SPOT))
    again = Regulator(without.house, json.loads(json.dumps(story.regulator.memory)))
    assert [heater.name for heater in again.house.room("study").heaters] == ["column"]


def test_carried_back_nothing_is_left_of_it():
    """Said to stand where the file says, set to what it says, nothing more is remembered."""
    story = two_rooms().run(2)
    stands(story)
    set_to(story, 900.0)
    stands(story, "study")
    set_to(story, 600.0)
    assert from_plain(story.regulator.memory).heaters[COLUMN].placed is None
    assert story.regulator.house == story.house


@pytest.mark.parametrize(
    ("request_", "code"),
    [
        (Stands("study/none", "bedroom"), "no-such-heater"),
        (Stands(COLUMN, "attic"), "no-such-room"),
        (Stands(COLUMN, "sewing table"), "no-such-room"),
        (Stands("sewing table/panel", "study"), "stays-at-spot"),
        (SetTo(COLUMN, 1234.0), "no-such-setting"),
        (SetTo(COLUMN, float("nan")), "not-watts"),
        (SetTo(COLUMN, -600.0), "not-watts"),
        (SetTo(COLUMN, True), "not-watts"),
        (SetTo(7, 600.0), "no-such-heater"),
    ],
)
def test_what_cannot_be_is_refused(request_, code):
    """A heater, room or setting that is not there is refused and changes nothing."""
    story = two_rooms().run(1)
    before = story.regulator.memory["heaters"]
    answer = story.do(request_)
    assert isinstance(answer, Refused)
    assert answer.code == code
    assert story.regulator.memory["heaters"] == before


def test_a_spots_setting_may_be_said():
    """A spot's heater stays, but its selector may be turned."""
    story = two_rooms().run(1)
    assert isinstance(set_to(story, 600.0, "sewing table/panel"), Accepted)
    assert story.regulator.house.spot("sewing table").heater.watts == 600.0
    assert story.regulator.house.spot("sewing table").key == "sewing table/panel"


def test_a_trouble_is_told_of_the_room_it_stands_in():
    """A sensor that falls silent is a trouble of the room that the heater stands in."""
    story = two_rooms().run(2)
    stands(story)
    story.run(hours=1.5, bedroom=None, study=16.0)
    assert "bedroom/reading-missing" in story.troubles()
    assert "study/reading-missing" not in story.troubles()
