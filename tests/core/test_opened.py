"""Contacts that the broker's last word opened, to the very second. All invented."""

import math

import pytest

from tests.core.guard.cases import NOW, now_at
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.memory import HeaterMemory, Memory, RoomMemory
from thermostatd.core.opened import take_openings
from thermostatd.core.results import Event
from thermostatd.core.values import Observation, PlugReport

OPENED = Event("switched-off", COLUMN, "OFF: The way to the plug was lost, and the broker told it OFF.")


def taken(at, key=COLUMN, **kept):
    """The column's memory and the events, after a report on `key` that it was opened at a second."""
    heaters = {COLUMN: HeaterMemory(**kept), PANEL: HeaterMemory()}
    memory = Memory(rooms={"study": RoomMemory()}, heaters=heaters)
    seen = Observation(plugs={key: PlugReport(opened_at=at)})
    events = take_openings(house_of(study(more=SPOT)), memory, seen, now_at())
    return heaters[COLUMN], events


@pytest.mark.parametrize(
    ("at", "kept", "opened"),
    [
        (NOW - 5.0, {"told_on": True, "on_since": NOW - 5.0}, True),
        (NOW - 5.1, {"told_on": True, "on_since": NOW - 5.0}, False),
        (0.0, {"told_on": True, "on_since": None}, True),
        (NOW, {"told_on": False, "on_since": NOW - 9.0}, False),
        (None, {"told_on": True, "on_since": NOW - 9.0}, False),
        (math.nan, {"told_on": True, "on_since": NOW - 9.0}, False),
    ],
)
def test_an_opening_since_the_last_on_is_a_switching(at, kept, opened):
    """Told OFF from now on, counted, and told with its reason; one of before that ON is old news."""
    heater, events = taken(at, operations=7, **kept)
    assert events == ([OPENED] if opened else [])
    assert heater.operations == (8 if opened else 7)
    assert heater.told_on is (kept["told_on"] and not opened)
    assert heater.off_since == (NOW if opened else None)


def test_quiet_hours_count_it():
    """As any other switching of the room."""
    memory = Memory(rooms={"study": RoomMemory()}, heaters={COLUMN: HeaterMemory(told_on=True)})
    house = house_of(study(room='quiet = [{ from = "11:00", to = "13:00", switches = 4 }]'))
    take_openings(house, memory, Observation(plugs={COLUMN: PlugReport(opened_at=NOW)}), now_at())
    assert memory.rooms["study"].quiet_used == 1


def test_each_plug_is_looked_at_by_itself():
    """One that says nothing, and one that was not told ON, keep no other from being taken."""
    assert taken(NOW, key=PANEL, told_on=True)[1] == []
    memory = Memory(
        rooms={"study": RoomMemory()}, heaters={COLUMN: HeaterMemory(), PANEL: HeaterMemory(told_on=True)}
    )
    seen = Observation(plugs={PANEL: PlugReport(opened_at=NOW)})
    (event,) = take_openings(house_of(study(more=SPOT)), memory, seen, now_at())
    assert event == Event("switched-off", PANEL, OPENED.sentence)
