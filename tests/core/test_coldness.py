"""A room that stays cold is told, whatever the cause: when, in which words, and when that is over."""

import pytest

from tests.core.guard.cases import NOW, house_of, now_at, study
from thermostatd.core import coldness
from thermostatd.core.memory import AirMemory, Memory, RoomMemory
from thermostatd.core.reading import Readings
from thermostatd.core.results import Target
from thermostatd.core.values import Missing, Reading

HOUSE = house_of(study())
OUTDOOR = Reading(0.0, NOW)


class Cold:
    """The study as it is watched, minute by minute."""

    def __init__(self, wanted=20.0, house=HOUSE, **known):
        self.house, self.wanted, self.minute = house, wanted, 0
        self.kept = RoomMemory(air=AirMemory(trail=[]), **known)
        self.memory = Memory(rooms={"study": self.kept}, heaters={})

    def goes(self, celsius, minutes=1, per_minute=0.0):
        """The verdict after so many minutes at that temperature, or moving from it; None: nothing to tell."""
        for _ in range(minutes):
            steady = NOW + 60.0 * self.minute
            self.kept.air.trail = [*self.kept.air.trail, (steady, celsius)][-40:]
            readings = Readings({"study": Reading(celsius, steady)}, OUTDOOR, ())
            coldness.watch(self.house, self.memory, readings, self.targets, now_at(steady))
            self.minute += 1
            celsius += per_minute
        return coldness.verdict(self.kept)

    @property
    def targets(self):
        """What is wanted, by room."""
        return {"study": Target(self.wanted, "usual", "usual")}


@pytest.mark.parametrize(
    ("wanted", "celsius", "told"),
    [
        (20.0, 11.9, True),
        (20.0, 12.0, False),
        (10.0, 8.9, True),
        (10.0, 9.1, False),
        (7.0, 5.9, True),
        (7.0, 6.1, False),
    ],
)
def test_it_is_told_under_the_rooms_cold_limit_or_a_kelvin_under_what_is_wanted(wanted, celsius, told):
    """Whichever is lower: a room that is held at 7 degrees against frost is not cold at 11."""
    assert (Cold(wanted).goes(celsius, 31) is not None) is told


def test_it_is_told_after_half_an_hour_and_over_half_a_kelvin_above():
    """A door that stood open for a while is nobody's trouble; what was told does not come and go with a tenth."""
    room = Cold()
    assert room.goes(11.0, 30) is None
    told = room.goes(10.9)
    assert (told.code, told.trouble, told.loud, told.tripped) == ("cold-room", True, False, False)
    assert told.evidence == "It is at 10.9°, and has been under 12.0° for half an hour."
    assert room.goes(12.4).evidence == told.evidence
    assert room.goes(12.5) is None
    assert room.goes(11.0, 30) is None, "the half hour begins anew"


def test_a_room_that_comes_up_is_not_told():
    """After a cold night, or as everyone comes home, it warms as it should."""
    room = Cold()
    assert room.goes(8.0, 120, per_minute=0.6 / 60.0) is None
    assert room.goes(9.2, 60, per_minute=0.2 / 60.0) is not None


def test_near_freezing_it_is_told_at_once_and_loud():
    """Whatever is wanted, until it is a kelvin warmer; from then on it is a cold room as any."""
    room = Cold()
    told = room.goes(2.9)
    assert (told.loud, told.evidence) == (True, "It is at 2.9°: water may freeze.")
    assert room.goes(2.0).evidence == told.evidence
    assert room.goes(3.9).loud
    assert room.goes(4.0, 30) is None
    told = room.goes(4.0, 30)
    assert (told.loud, told.evidence[:12]) == (False, "It is at 4.0")
    assert Cold(wanted=7.0).goes(3.0) is None


def test_a_window_that_was_noticed_is_named_for_three_hours():
    """And not where the air came back."""
    words = "It fell as it does when a window or an outside door stands open."
    assert Cold(window={"fell_at": NOW - 3600.0}).goes(11.0, 31).evidence.endswith(words)
    assert words not in Cold(window={"fell_at": NOW - 3 * 3600.0}).goes(11.0, 31).evidence


def test_what_is_not_heated_or_not_known_is_not_told():
    """A room without heaters promises nothing; a sensor that is silent has a trouble of its own."""
    bare = HOUSE.model_copy(update={"rooms": (HOUSE.rooms[0].model_copy(update={"heaters": ()}),)})
    assert Cold(house=bare).goes(5.0, 40) is None
    room = Cold()
    room.goes(11.0, 31)
    for _ in range(40):
        readings = Readings({"study": Missing("silent")}, OUTDOOR, ())
        coldness.watch(HOUSE, room.memory, readings, room.targets, now_at(NOW + 9000.0))
    assert coldness.verdict(room.kept) is not None, "nor is it over"
