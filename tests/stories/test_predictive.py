"""Predictive control told as stories, in rooms whose constants are known."""

from datetime import timedelta

import numpy as np
import pytest

from tests.physics.thermal.rooms import KNOWN
from tests.stories.known_room import NIGHTS_17, KnownRooms, house_of
from thermostatd import Out, fit
from thermostatd.physics.thermal.model import Constants


@pytest.fixture(scope="module")
def peer():
    """A day of hysteresis of ±0.1 K."""
    return KnownRooms(house_of(control="hysteresis", room="differential = 0.2"), model=None).run(24)


def test_without_a_model_it_is_hysteresis_exactly():
    """Order for order, for half a day."""
    plain, mine = (
        KnownRooms(house_of(control=law), model=None).run(12) for law in ("hysteresis", "predictive")
    )
    assert plain.runs == mine.runs


def test_it_is_far_steadier_than_hysteresis(peer):
    """Less than half of its error at no more than twice its switchings."""
    mine = KnownRooms(house_of()).run(24)
    assert mine.off(480) < 0.45 * peer.off(480)
    assert mine.switches(480) <= 2 * peer.switches(480)


def test_fewer_clicks_are_had_for_a_wider_swing():
    """`clicks` trades switchings against evenness."""
    few, many = (KnownRooms(house_of(room=f'clicks = "{level}"')).run(15) for level in ("very few", "many"))
    assert few.switches(300) < 0.7 * many.switches(300)
    assert few.off(300) > 1.3 * many.off(300)


def test_a_day_of_hysteresis_teaches_enough():
    """After one day of record, through the public faces, it is steadier than on that day."""
    story = KnownRooms(house_of(), model=None).run(24)
    before = story.off(720)
    models = fit(story.house, story.history)
    assert models["study"]["thermal"]["loss_watts_per_kelvin"] > 0
    story.regulator.adopt(models)
    story.run(8)
    assert story.off(24 * 60 + 120) < 0.6 * before


def test_it_arrives_on_time():
    """The air is first within 0.2 K of a rise's target within ten minutes of the rise, and hardly over it."""
    story = KnownRooms(house_of(usual=NIGHTS_17), outdoor=2.0).run(56)
    for day in (1, 2):
        rise = day * 1440 + 390
        air = np.array(story.air["study"][rise - 300 : rise + 120])
        late = int(np.argmax(air >= 19.8)) - 300
        assert -10 <= late <= 10
        assert air.max() <= 20.4
    told = [story.result.rooms["study"].demand.outlook]
    assert told[0] is not None


@pytest.mark.parametrize(("control", "warm"), [("predictive", True), ("hysteresis", False)])
def test_it_is_warm_when_everyone_is_back(control, warm):
    """Out from noon until ten the next morning: the room cools by kelvins, and is warm then only by its model."""
    story = KnownRooms(house_of(control=control), outdoor=8.0, hour=11).run(1)
    back = story.moment().wall + timedelta(hours=22)
    assert story.regulator.do(story.moment(), Out(back, "Ana")).until == back
    story.run(22)
    air = np.array(story.air["study"])
    assert air.min() < 17.0
    assert bool(air[-1] >= 19.7) is warm
    assert air[-600:].max() < 20.4


def test_it_lets_the_air_fall_after_a_fall_in_target():
    """No heat until the lower target is near."""
    story = KnownRooms(house_of(usual=NIGHTS_17), outdoor=2.0, hour=17).run(6.5)
    fall = 5 * 60
    assert not any(story.runs["study"][fall + 2 :]) or story.air["study"][-1] < 17.6


@pytest.mark.parametrize("outdoor", [-8.0, 2.0])
def test_the_hours_before_a_fall_are_as_even_as_any(outdoor):
    """The room is neither heaped with heat nor let go early, because the target will fall soon."""
    story = KnownRooms(house_of(usual=NIGHTS_17), outdoor=outdoor, hour=12).run(10.0)
    before = np.array(story.air["study"][8 * 60 : 10 * 60 - 10])
    assert before.max() < 20.4
    assert before.min() > 19.6


def test_a_quiet_night_keeps_its_allowance_and_its_warmth():
    """Four switchings between 22:30 and 06:30, and steadier than hysteresis under the same allowance."""
    quiet = 'quiet = [{ from = "22:30", to = "06:30", switches = 4 }]'
    night = slice(270, 750)
    mine = KnownRooms(house_of(room=quiet), outdoor=3.0, hour=18).run(13)
    assert mine.switches(night.start - 1, night.stop) <= 4
    errors = []
    for width in (1.0, 3.0):
        room = f"{quiet}\ndifferential = {width}"
        other = KnownRooms(house_of(control="hysteresis", room=room), model=None, outdoor=3.0, hour=18).run(
            13
        )
        errors.append(np.sqrt(np.mean((np.array(other.air["study"][night]) - 20.0) ** 2)))
    assert np.sqrt(np.mean((np.array(mine.air["study"][night]) - 20.0) ** 2)) < 0.95 * min(errors)


def test_the_same_memory_gives_the_same_orders():
    """A Regulator rebuilt from its memory at any moment goes on to the same orders."""
    straight, broken = KnownRooms(house_of()), KnownRooms(house_of())
    straight.run(4)
    for _ in range(6):
        broken.run(2 / 3)
        broken.restart()
    assert straight.runs == broken.runs


def test_memory_stays_small():
    """All that a room keeps, with its model, is under 4 kB."""
    import json

    story = KnownRooms(house_of(usual=NIGHTS_17)).run(7)
    assert len(json.dumps(story.regulator.memory)) < 4096


def _stuck_off(story):
    story.run(2)
    story.stuck["study"] = False
    story.run(4)
    story.stuck.clear()
    story.run(4)


def _open_window(story):
    story.run(2)
    story.leak = 60.0
    story.run(1)
    story.leak = 0.0
    story.run(4)


def _nothing(story):
    story.run(9)


@pytest.mark.parametrize(("happens", "every"), [(_stuck_off, 1), (_open_window, 1), (_nothing, 5)])
def test_nothing_makes_it_run_away(happens, every):
    """A contact stuck open, a window, a sensor each five minutes in half-kelvin steps: never 1.5 K over by heating."""
    story = KnownRooms(house_of(), every=every, step=0.5 if every > 1 else 0.1)
    happens(story)
    assert not story.ran_away()


@pytest.mark.parametrize("wrong", [0.5, 1.5])
def test_a_model_that_is_half_wrong_still_holds_the_room(wrong):
    """Heater and air half off: worse, but no worse than a wide hysteresis, and nothing runs away."""
    told = Constants.of(
        {**KNOWN.plain(), "heater_seconds": 1000.0 * wrong, "air_joules_per_kelvin": 2e5 * wrong}
    )
    story = KnownRooms(house_of(), model=told).run(12)
    assert story.off(480) < 0.3
    assert not story.ran_away()


def test_a_sensor_that_contradicts_the_model_ends_in_hysteresis():
    """Air that moves as no model of this room allows: the model is let go of until forecasts hold again."""
    story = KnownRooms(house_of()).run(4)
    plain = story.observation
    shift = {"kelvin": 0.0}

    def jumpy():
        seen = plain()
        shift["kelvin"] = 1.5 if story.minute // 20 % 2 else -1.5
        air = {name: type(r)(r.celsius + shift["kelvin"]) for name, r in seen.air.items()}
        return type(seen)(air=air, outdoor=seen.outdoor, plugs=seen.plugs)

    story.observation = jumpy
    story.run(3)
    assert story.result.rooms["study"].demand.outlook is None
    story.observation = plain
    story.run(5)
    assert story.result.rooms["study"].demand.outlook is not None
