"""A heater or room that bears another name after a start goes on as what it was; what waits for a look waits on."""

import json

import pytest

from tests.stories.teller import COLUMN, Story, house_of, study
from thermostatd.core.asking import Accepted, Stands
from thermostatd.core.regulator import Regulator
from thermostatd.core.rehousing import taken_over
from thermostatd.core.remembering import awaken, from_plain

PLUG = 'plug = { kind = "mqtt", tell = "plug/%d/set", timer = { payload = "on {seconds}" } }'
SIMULATED = 'plug = { kind = "simulated" }'
LOFT = """
[[room]]
name = "loft"
sensor = { topic = "loft/air" }
[[room.heater]]
name = "panel"
watts = 400
may_run = ["awake", "asleep", "away"]
"""
BEFORE = study(more=LOFT + PLUG % 8).replace(SIMULATED, PLUG % 7, 1)
OFFICE = BEFORE.replace('"study"', '"office"').replace('"column"', '"radiator"')
GONE = BEFORE.partition("[[room.heater]]")[0] + LOFT + PLUG % 8
CODE = "warm-plug"


def latched() -> Story:
    """The column's plug was hot."""
    story = Story(BEFORE).run(20)
    story.plugs[COLUMN].warm = 75.0
    return story.run(1)


def started(story: Story, toml: str) -> Story:
    """Another process on its memory, with another file."""
    memory = json.loads(json.dumps(story.regulator.memory))
    after = Story(toml, memory=awaken(memory))
    after.steady, after.offset = story.steady + 20.0, story.offset
    return after.run(1)


def about(story: Story) -> set[str]:
    """What troubles are there."""
    return set(story.troubles())


def test_a_latch_follows_its_plug():
    """Room and heater were renamed: the latch, its trouble and what was learned go along; the look still opens it."""
    story = latched()
    watts = from_plain(story.regulator.memory).heaters[COLUMN].operations
    story = started(story, OFFICE)
    assert f"office/radiator/{CODE}" in about(story)
    assert story.troubles()[f"office/radiator/{CODE}"].latched
    story.run(60, office=15.0)
    assert not story.on("office/radiator")
    assert story.events.count((story.steps[0][0], "follows", "office/radiator")) == 1
    assert from_plain(story.regulator.memory).heaters["office/radiator"].operations >= watts
    assert isinstance(story.seen(CODE, "office/radiator"), Accepted)
    assert story.run(10, office=15.0).on("office/radiator")


def test_a_room_follows_its_sensors():
    """What was asked and learned of it goes along."""
    story = Story(BEFORE).run(5)
    story.ask(21.5)
    story.regulator.adopt({"study": {"gain_kelvin": 20.0}})
    story = started(story, OFFICE)
    assert story.result.rooms["office"].target.celsius == 21.5
    assert from_plain(story.regulator.memory).models == {"office": {"gain_kelvin": 20.0}}
    assert story.happened("trouble-over") == 0


def test_names_that_are_exchanged_follow_their_plugs():
    """Each heater took the other's name."""
    story = latched()
    toml = study(more=LOFT + PLUG % 7).replace(SIMULATED, PLUG % 8, 1)
    story = started(story, toml)
    assert f"loft/panel/{CODE}" in about(story)
    assert f"{COLUMN}/{CODE}" not in about(story)


def test_a_name_that_stays_keeps_its_latch_with_a_plug_that_nobody_knows():
    """The old plug went to another place: nobody can tell which is meant, so the name rules."""
    story = latched()
    toml = study(more=LOFT + PLUG % 7).replace(SIMULATED, PLUG % 9, 1)
    assert f"{COLUMN}/{CODE}" in about(started(story, toml))


@pytest.mark.parametrize(("toml", "loud"), [(OFFICE.replace("plug/7", "plug/9"), True), (GONE, False)])
def test_what_cannot_be_told_is_said(toml, loud):
    """A latched heater is gone: loud where another came that nobody knows; once looked at, it is over."""
    story = started(latched(), toml)
    name = f"{COLUMN}/left-waiting"
    assert story.troubles()[name].loud is loud
    assert (story.steps[0][0], "left-file", COLUMN) in story.events
    assert started(story, toml).troubles()[name].loud is loud
    assert isinstance(story.seen("left-waiting"), Accepted)
    assert name not in about(story.run(1))


def test_a_heater_that_comes_back_waits_again():
    """Taken out, a restart, and put back: its latch is on it; without a look meanwhile nothing has opened it."""
    story = started(started(latched(), GONE), OFFICE)
    assert story.troubles()[f"office/radiator/{CODE}"].latched
    assert f"{COLUMN}/left-waiting" not in about(story)
    seen = started(latched(), GONE)
    seen.seen("left-waiting")
    assert about(started(seen.run(1), BEFORE)) == set()


def test_a_changed_file_while_running_follows_as_well():
    """And what left is told of, though it is kept aside."""
    story = latched()
    aside = {}
    plain, found = taken_over(story.regulator.memory, house_of(OFFICE), {"office/radiator"}, aside)
    assert found.names == {"study": "office", COLUMN: "office/radiator"}
    assert from_plain(plain).heaters["office/radiator"].notes[CODE]["latched"]
    assert aside == {"rooms": {}, "heaters": {}, "models": {}}
    plain, found = taken_over(story.regulator.memory, house_of(GONE), (), aside)
    assert (found.gone, set(aside["heaters"])) == ((COLUMN,), {COLUMN})
    plain, _ = taken_over(plain, house_of(BEFORE), (), aside)
    regulator = Regulator(house_of(BEFORE), plain)
    assert from_plain(regulator.memory).heaters[COLUMN].notes[CODE]["latched"]
    assert from_plain(regulator.memory).left == {}


def test_a_heater_that_stands_elsewhere_follows_a_renamed_room():
    """The owner's word names the room as it is called now."""
    story = Story(BEFORE).run(5)
    assert isinstance(story.do(Stands("loft/panel", "study", "owner")), Accepted)
    story = started(story.run(1), OFFICE)
    assert "loft/panel" in story.result.rooms["office"].heaters
