"""Two heaters in one room: the oil-filled one carries the base, the convector trims. All invented."""

from itertools import pairwise

import pytest

from tests.stories.teller import Plant, Story, study
from thermostatd.core.demand import several

SECOND = """
[[room.heater]]
name = "quick"
kind = "convector"
watts = 700
may_run = ["awake", "asleep", "away"]
plug = { kind = "simulated" }
"""
COLUMN, QUICK = "study/column", "study/quick"


class Parlour(Plant):
    """A first-order room with an oil-filled heater's store: every watt counts alike."""

    def live(self, now, seconds, share):
        """The share of both heaters together."""
        super().live(now, seconds, sum(plug.draws() for plug in self.story.plugs.values()) / 1300.0)


def two(outdoor=6.0, control="hysteresis", tick=30.0):
    """A room that needs more than the column and less than both where it is 6 °C outside."""
    story = Story(study(room=f'control = "{control}"', more=SECOND), tick=tick)
    story.air["study"] = Parlour(18.0, outdoor, 22.0, 14400.0, 240.0, step=0.05)
    story.air["study"].story = story
    return story


def clicks(story, key, since=0.0):
    """Switchings ordered of a heater after a steady second."""
    return [at for at, _ in story.switchings(key) if at >= since]


@pytest.mark.parametrize("control", ["hysteresis", "proportional"])
def test_the_steady_heater_carries_and_the_quick_one_trims(control, monkeypatch):
    """The column hardly clicks, the room holds its target, and both together clicked half as much again, or more."""
    story = two(control=control).run(hours=6)
    began, off = story.steady, []
    while story.steady < began + 7 * 3600:
        story.step()
        off.append(story.air["study"].celsius - 20.0)
    assert len(clicks(story, COLUMN, began)) <= 4
    assert abs(sum(off) / len(off)) < 0.3
    assert "base-on" in {orders[COLUMN].reason.code for _, orders in story.steps}
    for key in (COLUMN, QUICK):
        assert min(b - a for a, b in pairwise(clicks(story, key))) >= 300
    total = sum(len(clicks(story, key, began)) for key in (COLUMN, QUICK))
    monkeypatch.setattr(several, "parts", lambda *a: None)
    together = two(control=control).run(hours=6)
    began = together.steady
    together.run(hours=7)
    assert sum(len(clicks(together, key, began)) for key in (COLUMN, QUICK)) > 1.5 * total


def test_far_under_the_target_all_heaters_work():
    """A cold start, or a rise in the target, is met with everything there is."""
    story = two().run(10)
    assert story.on(COLUMN)
    assert story.on(QUICK)
    story.run(hours=8)
    story.ask(22.0)
    story.run(2)
    assert story.on(COLUMN)
    assert story.on(QUICK)


def test_a_rest_that_asks_after_one_heater_holds_no_other_off():
    """While `no-answer` rests the column, the quick one heats as the law wants; its own change voids the rest."""
    story = two().run(10)
    notes = story.regulator._memory.heaters[COLUMN].notes["no-answer"]
    resting = {"rest_celsius": 18.0, "rest_slope": 0.0, "bound": 0.3, "lift": 0.0, "lit_watts": 600.0}
    notes.update(resting, resting_since=story.steady, others=[True])
    story.step()
    assert not story.on(COLUMN)
    assert story.on(QUICK)
    story.plugs[QUICK].online = False
    story.regulator._memory.heaters[QUICK].told_on = False
    story.step()
    assert "resting_since" not in notes
    assert not notes.get("failed")


def test_a_fall_in_the_target_ends_the_base_too():
    """Nothing is carried on that is not wanted."""
    story = two().run(hours=8)
    story.ask(16.0)
    story.run(7)
    assert not story.on(COLUMN)
    assert not story.on(QUICK)


@pytest.mark.parametrize("fails", [COLUMN, QUICK])
def test_a_failed_heaters_load_moves_over(fails):
    """One that draws nothing is not counted on: within the hour the other gives what it can, and the room holds."""
    story = two(outdoor=11.0).run(hours=8)
    other = ({COLUMN, QUICK} - {fails}).pop()
    story.plugs[fails].watts = 0.0
    story.run(hours=2)
    warm = []
    for _ in range(12):
        story.run(30)
        warm.append(story.air["study"].celsius)
    assert min(warm) > 19.2
    assert len(clicks(story, other, story.steady - 6 * 3600)) > 3
    assert f"{fails}/drawing-nothing" in story.troubles()


def test_a_heater_away_or_not_allowed_is_not_counted_on():
    """The law then has the other one alone, and says so through its reason."""
    story = two().run(hours=8)
    story.plugs[COLUMN].online = False
    story.run(5)
    assert story.regulator.memory["rooms"]["study"]["demand"]["several"] == {}
    story.plugs[COLUMN].online = True
    story.run(hours=4)
    assert story.regulator.memory["rooms"]["study"]["demand"]["several"]["known"] > 0


def test_a_fault_in_sharing_out_a_rooms_heat_ends_in_off(monkeypatch):
    """What fails there is said as a failed law, and the room stays off."""

    def broken(*_):
        raise OSError("broken")

    story = two().run(5)
    monkeypatch.setattr(several, "parts", broken)
    story.run(6)
    assert story.code(COLUMN) == story.code(QUICK) == "demand-failed"
