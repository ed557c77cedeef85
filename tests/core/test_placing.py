"""Where a heater stands and what it is set to, by the owner's word, bound by bound. All invented."""

import pytest

from tests.core.guard.cases import NOW
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HeaterMemory, Memory, PlacedMemory, RoomMemory
from thermostatd.core.meter.diagnosis import naming
from thermostatd.core.placing import Fault, placed, set_to, stands
from thermostatd.core.tally import RoomTally

DEN = """
[[room]]
name = "den"
sensor = { topic = "d" }
[[room.heater]]
name = "flat"
watts = 400
plug = { kind = "simulated" }
"""
HOUSE = house_of(study(more=DEN + SPOT))
FLAT = "den/flat"


def memory_of(house=HOUSE, **column):
    """A memory of the house; `column` is what is kept of the study's heater."""
    heaters = {key: HeaterMemory() for key, _, _ in house.heaters()}
    heaters[COLUMN] = HeaterMemory(**column)
    return Memory(
        rooms={room.name: RoomMemory(tally=RoomTally(seconds=99.0)) for room in house.rooms},
        heaters=heaters,
        models={room.name: {"gain_kelvin": 20.0} for room in house.rooms},
    )


def rooms_of(house):
    """Each room's heaters: name, watts and key."""
    return {room.name: [(h.name, h.watts, room.key_of(h)) for h in room.heaters] for room in house.rooms}


def test_without_a_word_the_house_is_the_files():
    """The very same."""
    assert placed(HOUSE, memory_of()) is HOUSE
    assert placed(HOUSE, Memory()) is HOUSE


def test_a_heater_that_was_carried_keeps_its_key():
    """It stands in the other room, after those that were there; and goes back when it is said."""
    memory = memory_of(notes={"no-answer": {"latched": True}, "warm-plug": {"latched": True}})
    assert stands(HOUSE, memory, COLUMN, "den", "Ana", 5.0).name == "column"
    assert memory.heaters[COLUMN].placed == PlacedMemory("den", None, 600.0, "Ana", 5.0)
    assert rooms_of(placed(HOUSE, memory)) == {
        "study": [],
        "den": [("column", 600.0, COLUMN), ("flat", 400.0, FLAT)],
    }
    assert placed(HOUSE, memory).spots == HOUSE.spots
    assert memory.heaters[COLUMN].notes == {"warm-plug": {"latched": True}}
    assert memory.models == {}
    assert {name: room.tally.seconds for name, room in memory.rooms.items()} == {"study": 0.0, "den": 0.0}
    assert stands(HOUSE, memory, COLUMN, "study", "Bo", 6.0).name == "column"
    assert memory.heaters[COLUMN].placed is None
    assert placed(HOUSE, memory) is HOUSE


@pytest.mark.parametrize(
    ("there", "counts_on"),
    [
        ([], "north"),
        (["south"], "south"),
        (["south", "south"], "south"),
        (["south", "north"], "north"),
        ([None], "north"),
        (["south", None], "north"),
    ],
)
def test_a_heater_that_was_carried_counts_on_the_sockets_of_the_room(there, counts_on):
    """As the heaters there do; where they tell of no single circuit, on its own. At home it is the file's."""
    flats = "".join(
        f'[[room.heater]]\nname = "flat {n}"\nwatts = 400\nplug = {{ kind = "simulated" }}\n'
        + (f'circuit = "{circuit}"\n' if circuit else "")
        for n, circuit in enumerate(there)
    )
    south = '[[circuit]]\nname = "south"\nbreaker_amps = 10\n'
    house = house_of(study(more=south + '[[room]]\nname = "den"\nsensor = { topic = "d" }\n' + flats))
    memory = memory_of(house)
    stands(house, memory, COLUMN, "den", "Ana", 5.0)
    assert placed(house, memory).room("den").heaters[0].circuit == counts_on
    stands(house, memory, COLUMN, "study", "Ana", 5.0)
    assert placed(house, memory).room("study").heaters[0].circuit == "north"


def test_a_heater_that_stays_where_it_was_changes_nothing():
    """Said again, in its own room or in the other; nothing is learned anew."""
    for before in (None, PlacedMemory("den", None, 600.0, "Ana", 5.0)):
        memory = memory_of(placed=before, notes={"no-answer": {"tries": 1}})
        stands(HOUSE, memory, COLUMN, "den" if before else "study", "Bo", 9.0)
        assert memory.heaters[COLUMN].notes == {"no-answer": {"tries": 1}}
        assert set(memory.models) == {"study", "den"}
        assert memory.rooms["den"].tally.seconds == 99.0
        assert memory.heaters[COLUMN].placed == (before and PlacedMemory("den", None, 600.0, "Bo", 9.0))


def test_only_the_two_rooms_are_learned_anew():
    """A third one keeps what it knows; and from the second to the third it is those two."""
    house = house_of(study(more=DEN + '[[room]]\nname = "loft"\nsensor = { topic = "l" }'))
    memory = memory_of(house)
    stands(house, memory, COLUMN, "den", "Ana", 5.0)
    assert set(memory.models) == {"loft"}
    memory.models["study"] = {"gain_kelvin": 1.0}
    stands(house, memory, COLUMN, "loft", "Ana", 5.0)
    assert set(memory.models) == {"study"}


def test_a_word_on_the_room_keeps_that_on_the_watts():
    """And the other way round."""
    memory = memory_of(placed=PlacedMemory(None, 1200.0, 600.0, "Bo", 1.0))
    stands(HOUSE, memory, COLUMN, "den", "Ana", 5.0)
    assert memory.heaters[COLUMN].placed == PlacedMemory("den", 1200.0, 600.0, "Ana", 5.0)
    stands(HOUSE, memory, COLUMN, "study", "Ana", 6.0)
    assert memory.heaters[COLUMN].placed == PlacedMemory(None, 1200.0, 600.0, "Ana", 6.0)
    memory = memory_of(placed=PlacedMemory("den", None, 600.0, "Bo", 1.0))
    set_to(HOUSE, memory, COLUMN, 800.0, "Ana", 5.0)
    assert memory.heaters[COLUMN].placed == PlacedMemory("den", 800.0, 600.0, "Ana", 5.0)
    set_to(HOUSE, memory, COLUMN, 600, "Ana", 6.0)
    assert memory.heaters[COLUMN].placed == PlacedMemory("den", None, 600.0, "Ana", 6.0)


@pytest.mark.parametrize(
    ("key", "name", "fault"),
    [
        ("attic/oil", "den", Fault("no-such-heater", {"name": "attic/oil"})),
        (None, "den", Fault("no-such-heater", {"name": "None"})),
        (PANEL, "den", Fault("stays-at-spot", {})),
        (COLUMN, "attic", Fault("no-such-room", {"name": "attic"})),
        (COLUMN, 5, Fault("no-such-room", {"name": "5"})),
    ],
)
def test_a_word_that_cannot_be_is_refused(key, name, fault):
    """And changes nothing."""
    memory = memory_of()
    assert stands(HOUSE, memory, key, name, "Ana", 5.0) == fault
    assert memory == memory_of()


def test_a_selector_that_was_turned_is_the_level_and_no_trouble():
    """The body is what it was; an opening is over; what was told of a level is accepted."""
    memory = memory_of(
        facts=HeaterFacts(level_watts=600.0),
        body=BodyMemory(full_watts=600.0, drew_watts=590.0, peak_watts=700.0, opened=True, fell_at=NOW, cool_share=0.3,
                        warmth=[5.0]),
        notes={naming.NOTES: {"usual": 600.0, "other": 1.0}},
    )  # fmt: skip
    heater = set_to(HOUSE, memory, COLUMN, 1200, "Ana", 5.0)
    kept = memory.heaters[COLUMN]
    assert (heater.name, kept.facts.level_watts) == ("column", 1200.0)
    assert (kept.body.full_watts, kept.body.drew_watts, kept.body.peak_watts) == (1200.0, 1200.0, 0.0)
    assert (kept.body.opened, kept.body.fell_at, kept.body.cool_share, kept.body.warmth) == (
        False,
        None,
        1.0,
        [5.0],
    )
    assert kept.notes[naming.NOTES]["usual"] == 1200.0
    assert kept.placed == PlacedMemory(None, 1200.0, 600.0, "Ana", 5.0)
    assert rooms_of(placed(HOUSE, memory))["study"] == [("column", 1200.0, COLUMN)]
    unknown = memory_of(notes={naming.NOTES: {"usual": None}})
    set_to(HOUSE, unknown, COLUMN, 1200, "Ana", 5.0)
    assert unknown.heaters[COLUMN].notes[naming.NOTES]["usual"] is None


def test_a_spots_selector_can_be_turned_too():
    """The house as it stands has it."""
    memory = memory_of()
    assert set_to(HOUSE, memory, PANEL, 450.0, "Ana", 5.0).name == "panel"
    found = placed(HOUSE, memory)
    assert (found.spots[0].heater.watts, found.spots[0].key) == (450.0, PANEL)
    assert rooms_of(found) == rooms_of(HOUSE)


@pytest.mark.parametrize("watts", [0.0, 0.99, -600.0, 4000.1, float("nan"), float("inf"), "600", None, True])
def test_what_is_no_power_of_a_heater_is_refused(watts):
    """From one watt to four thousand."""
    memory = memory_of()
    assert set_to(HOUSE, memory, COLUMN, watts, "Ana", 5.0) == Fault("not-watts", {})
    assert memory == memory_of()


@pytest.mark.parametrize("watts", [1.0, 4000.0])
def test_the_bounds_themselves_are_taken(watts):
    """Both of them."""
    assert set_to(HOUSE, memory_of(), COLUMN, watts, "Ana", 5.0).name == "column"


def test_a_selector_has_the_settings_that_the_file_lists():
    """And what the file says that it is set to."""
    house = house_of(study(heater="settings_watts = [1200, 800]"))
    memory = memory_of(house)
    refused = Fault("no-such-setting", {"settings": "600 W, 800 W, 1200 W"})
    assert set_to(house, memory, COLUMN, 700.0, "Ana", 5.0) == refused
    for watts in (800.0, 1200.0, 600.0):
        assert set_to(house, memory, COLUMN, watts, "Ana", 5.0).name == "column"
    assert set_to(house, memory, "attic/oil", 600.0, "Ana", 5.0) == Fault(
        "no-such-heater", {"name": "attic/oil"}
    )


@pytest.mark.parametrize(
    ("word", "left"),
    [
        (PlacedMemory(None, 1200.0, 500.0, "Ana", 5.0), None),
        (PlacedMemory("den", 1200.0, 500.0, "Ana", 5.0), PlacedMemory("den", None, 500.0, "Ana", 5.0)),
        (PlacedMemory("attic", None, 600.0, "Ana", 5.0), None),
        (PlacedMemory("attic", 1200.0, 600.0, "Ana", 5.0), PlacedMemory(None, 1200.0, 600.0, "Ana", 5.0)),
        (PlacedMemory("den", None, 500.0, "Ana", 5.0), PlacedMemory("den", None, 500.0, "Ana", 5.0)),
    ],
)
def test_a_file_that_says_something_else_since_takes_the_word_back(word, left):
    """Other watts there end a word on the watts; a room that is gone ends one on the room."""
    memory = memory_of(placed=word)
    placed(HOUSE, memory)
    assert memory.heaters[COLUMN].placed == left


def test_a_spots_heater_keeps_its_key():
    """As a room's does."""
    memory = memory_of()
    set_to(HOUSE, memory, PANEL, 450.0, "Ana", 5.0)
    assert placed(HOUSE, memory).spots[0].heater.kept_key == PANEL


def test_the_files_own_watts_are_no_word():
    """Said where nothing was said before."""
    memory = memory_of()
    set_to(HOUSE, memory, COLUMN, 600.0, "Ana", 5.0)
    assert memory.heaters[COLUMN].placed is None


@pytest.mark.parametrize("code", ["selector-moved", "element-out", "less-power"])
def test_what_was_told_of_a_level_is_over_once_the_owner_says_it(code):
    """The level is the one that was said."""
    memory = memory_of(
        notes={naming.NOTES: {"code": code, "evidence": "", "level": 800.0, "usual": 600.0}}
    )
    set_to(HOUSE, memory, COLUMN, 1200, "Ana", 5.0)
    assert memory.heaters[COLUMN].notes[naming.NOTES] == {"usual": 1200.0}
