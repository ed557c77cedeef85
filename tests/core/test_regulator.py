"""The Regulator's own faces: what it takes over, what it tells, and what it says first. The house is invented."""

from datetime import timedelta

import pytest

from tests.core.guard.cases import NOON
from tests.stories.teller import COLUMN, PANEL, SPOT, house_of, study
from thermostatd.core.asking import Ask, Out, UsualWeek
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.following import plug_mark, room_mark
from thermostatd.core.memory import HeaterMemory, Memory, RequestMemory, RoomMemory
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import from_plain, to_plain
from thermostatd.core.usual_week import usual_step
from thermostatd.core.values import Moment, Observation, PlugReport

ALWAYS = 'usual = [{ days = "daily", at = "00:00", celsius = 20 }]'
DAY = (
    'usual = [{ days = "daily", at = "07:00", celsius = 20 }, { days = "daily", at = "22:00", celsius = 16 }]'
)
HOUSE = house_of(study(more=SPOT).replace(ALWAYS, DAY))


def moment(seconds=0.0, off=0.0):
    """Some seconds after noon; the wall clock off by so many more."""
    return Moment(NOON + timedelta(seconds=seconds + off), 1000.0 + seconds)


def test_a_memory_is_fitted_to_the_house():
    """A place for what is there, none for what has gone."""
    request = RequestMemory("Ana", "", 0.0, 9e9, None)
    memory = Memory(
        rooms={"study": RoomMemory(quiet_used=3), "attic": RoomMemory()},
        spots={"sewing table": request, "bench": request},
        heaters={COLUMN: HeaterMemory(operations=7), "attic/oil": HeaterMemory()},
        models={"study": {"gain_kelvin": 30.0}, "attic": {}},
    )
    found = from_plain(Regulator(HOUSE, to_plain(memory)).memory)
    for key, heater, _ in HOUSE.heaters():  # under what setting the levels to come will be seen
        assert found.heaters[key].facts == HeaterFacts(set_watts=heater.watts)
        found.heaters[key].facts.set_watts = None
        assert found.heaters[key].mark == plug_mark(heater.plug)  # by which it is found again
        found.heaters[key].mark = ""
    assert found.rooms["study"].mark == room_mark(HOUSE.rooms[0])
    found.rooms["study"].mark = ""
    assert found == Memory(
        rooms={"study": RoomMemory(quiet_used=3)},
        spots={"sewing table": request},
        heaters={COLUMN: HeaterMemory(operations=7), PANEL: HeaterMemory()},
        models={"study": {"gain_kelvin": 30.0}},
    )
    assert Regulator(HOUSE, to_plain(memory)).operations() == {COLUMN: 7, PANEL: 0}


def test_a_memory_that_cannot_be_read_is_refused():
    """By a ValueError."""
    with pytest.raises(ValueError, match="newer thermostatd"):
        Regulator(HOUSE, {"version": 9})


def test_a_learned_model_is_taken_for_rooms_that_are_there():
    """Others keep theirs; what was handed in is not held on to."""
    regulator, model = Regulator(HOUSE), {"gain_kelvin": 30.0}
    regulator.adopt({"study": model, "attic": {}})
    model["gain_kelvin"] = 1.0
    assert regulator.memory["models"] == {"study": {"gain_kelvin": 30.0}}
    regulator.adopt({"attic": {}})
    assert regulator.memory["models"] == {"study": {"gain_kelvin": 30.0}}


def test_whether_the_air_answers_is_asked_anew_but_not_of_what_latched():
    """A rest that was begun is forgotten, of that heater alone; what a person is to look at stays."""
    notes = {
        COLUMN: {"no-answer": {"resting_since": 5.0}, "pacing": {"since": 1.0}},
        PANEL: {"no-answer": {"latched": True, "evidence": "cold"}},
    }
    memory = Memory(heaters={key: HeaterMemory(notes=kept) for key, kept in notes.items()})
    regulator = Regulator(HOUSE, to_plain(memory))
    for _ in range(2):  # nothing to forget is no fault
        for key in notes:
            regulator.ask_anew(key)
    found = from_plain(regulator.memory).heaters
    assert found[COLUMN].notes == {"pacing": {"since": 1.0}}
    assert found[PANEL].notes == notes[PANEL]


def test_the_week_is_told_ahead():
    """Two days unless said otherwise."""
    regulator = Regulator(HOUSE)
    assert regulator.week_ahead("study", moment())[0] == ((NOON + timedelta(hours=10)).timestamp(), 16.0)
    assert (
        len(regulator.week_ahead("study", moment())),
        len(regulator.week_ahead("study", moment(), 1)),
    ) == (4, 2)


def test_the_week_in_force_is_told_with_who_put_it_there():
    """The file's by nobody; and another Regulator goes on with it."""
    regulator = Regulator(HOUSE)
    assert regulator.usual_week("study") == (HOUSE.rooms[0].usual, None)
    new = (usual_step(range(7), 480, 21.0),)
    regulator.do(moment(), UsualWeek("study", new, "Ana"))
    steps, kept = regulator.usual_week("study")
    assert (steps, kept.who) == (new, "Ana")
    other = Regulator(HOUSE, regulator.memory)
    assert other.usual_week("study")[0] == new
    assert other.week_ahead("study", moment(), 1) == [((NOON + timedelta(hours=20)).timestamp(), 21.0)]


def test_what_people_asked_comes_first_in_the_next_step():
    """Once; then the clock, the readings, what ended, the switchings."""
    regulator = Regulator(HOUSE)
    regulator.step(moment(), Observation(air={"study": 19.0}, plugs={COLUMN: PlugReport(on=False)}))
    regulator.do(moment(1.0), Ask("study", 21.0, NOON + timedelta(seconds=5), "Ana"))
    result = regulator.step(moment(10.0), Observation(air={"study": 99.0}, battery_percent={"study": 5.0}))
    codes = [event.code for event in result.events]
    assert codes[:4] == ["asked", "reading-refused", "battery-low", "request-ended"]
    assert codes.count("asked") == 1
    assert "asked" not in [event.code for event in regulator.step(moment(20.0), Observation()).events]


def test_a_clock_that_jumps_is_told_once_and_so_is_its_return():
    """With the minutes, whether a step or a request met it."""
    regulator = Regulator(HOUSE)
    regulator.step(moment(), Observation())
    regulator.do(moment(1.0, 3600.0), Out(who="Ana"))
    events = regulator.step(moment(10.0, 3600.0), Observation()).events
    assert [(event.code, event.about) for event in events][:2] == [
        ("clock-doubted", "house"),
        ("out", "house"),
    ]
    assert events[0].sentence == "The wall clock jumped by 60 minutes; the usual week stands still."
    assert regulator.step(moment(20.0, 3600.0), Observation()).events == ()
    back = regulator.step(moment(30.0), Observation()).events
    assert [(event.code, event.about, event.sentence) for event in back] == [
        ("clock-believed", "house", "The wall clock is believed again.")
    ]


def test_a_request_between_steps_takes_no_seconds_from_the_step():
    """Both steps of ten seconds are counted whole."""
    regulator = Regulator(HOUSE)
    seen = Observation(air={"study": 15.0}, plugs={COLUMN: PlugReport(on=False)})
    regulator.step(moment(), seen)
    assert regulator.step(moment(10.0), seen).orders[COLUMN].on
    regulator.do(moment(15.0), Ask("study", 21.0))
    regulator.step(moment(20.0), seen)
    assert regulator.memory["heaters"][COLUMN]["on_seconds"] == pytest.approx(20.0)


def test_going_down_is_told_to_every_interlock():
    """Every plug is off."""
    regulator = Regulator(HOUSE)
    regulator.step(moment(), Observation(air={"study": 15.0}, plugs={COLUMN: PlugReport(on=False)}))
    result = regulator.step(moment(10.0), Observation(stopping=True))
    assert {order.reason.code for order in result.orders.values()} == {"stopping"}
    assert regulator.house is regulator.house


def test_the_houses_own_clock_rules():
    """Ten in the evening in Oslo is nine elsewhere: for the week ahead, the target, and what is said."""
    house = house_of(study(zone="Europe/Oslo").replace(ALWAYS, DAY))
    regulator = Regulator(house)
    ten = (NOON + timedelta(hours=9)).timestamp()
    assert regulator.week_ahead("study", moment())[0] == (ten, 16.0)
    result = regulator.step(moment(), Observation(air={"study": 19.0}))
    assert result.rooms["study"].target.until.timestamp() == ten
    answer = regulator.do(moment(1.0), Ask("study", 21.0, who="Ana"))
    assert answer.sentence == "Ana asked for 21.0° until 22:00."
