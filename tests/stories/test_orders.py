"""What each plug is told: lapses, renewals, what is told again, and that every step says everything."""

import pytest

from tests.stories.teller import COLUMN, PANEL, SPOT, Plant, Story, study
from thermostatd.core import guard
from thermostatd.core.guard import CODES
from thermostatd.core.results import Verdict


def test_every_on_lapses_a_quarter_of_an_hour_ahead_or_more():
    """At every step of a day, whatever the tick."""
    for tick in (1.0, 10.0, 60.0):
        story = Story(study(house=f'tick = "{tick:g} s"'), tick=tick)
        story.air["study"] = Plant(celsius=17.0)
        story.run(hours=1 if tick < 5 else 6)
        for at, orders in story.steps:
            order = orders[COLUMN]
            assert not order.on or 900 <= order.lapses - at <= 1800


def test_an_on_is_renewed_before_the_plug_ends_it():
    """The plug never lapses under a program that decides, and is not told at each tick."""
    story = Story()
    story.air["study"] = Plant(celsius=5.0, rise=30.0)
    story.run(hours=2)
    plug = story.plugs[COLUMN]
    assert plug.on
    assert len(plug.switchings) == 1
    told = sum(orders[COLUMN].retell for _, orders in story.steps)
    assert told < 2 * 3600 / 200


def test_a_program_that_stops_deciding_ends_in_off():
    """Nobody renews: the plug's own timer ends it within half an hour."""
    story = Story(air=18.0).run(10)
    plug = story.plugs[COLUMN]
    assert plug.on
    assert 840 <= plug.off_at - story.steady <= 1800


def test_off_is_told_again_every_half_minute_until_it_is_shown():
    """A deaf plug hears OFF again and again; one that obeyed is left alone."""
    story = Story(air=18.0).run(10)
    plug = story.plugs[COLUMN]
    plug.obeys, plug.off_at = False, float("inf")
    story.run(1.1, study=20.3)
    count = len(story.steps)
    story.run(10)
    assert sum(orders[COLUMN].retell for _, orders in story.steps[count:]) == pytest.approx(20, abs=2)
    plug.obeys = True
    story.run(2)
    count = len(story.steps)
    story.run(10)
    assert sum(orders[COLUMN].retell for _, orders in story.steps[count:]) == 0


def test_a_plug_that_shows_nothing_is_told_off_every_ten_minutes():
    """Where no contact state is told, OFF is repeated slowly."""
    story = Story(air=20.4)
    story.plugs[COLUMN].shows = False
    story.run(60)
    assert sum(orders[COLUMN].retell for _, orders in story.steps) == pytest.approx(6, abs=1)


def test_each_step_says_everything_even_when_off():
    """Demand, pace, and a verdict of each interlock stand in every result, whatever tripped."""
    story = Story(study(more=SPOT), air=18.0)
    for scene in (lambda: None, lambda: story.air.update(study=None), story.all_off, story.out,
                  lambda: story.jump_wall(30), lambda: setattr(story, "stopping", True)):
        scene()
        story.run(45)
        room = story.result.rooms["study"]
        heater = room.heaters[COLUMN]
        assert [verdict.code for verdict in heater.verdicts if verdict.code in CODES] == list(CODES)
        assert isinstance(heater.wanted, bool)
        assert isinstance(heater.paced, bool)
        assert room.demand.reason.sentence
        assert room.reason.sentence
        assert story.result.spots["sewing table"].heater.verdicts
    assert story.result.orders[PANEL].reason.sentence


def _raises(case):
    raise RuntimeError("broken")


BROKEN = {
    "raises": _raises,
    "none": lambda case: None,
    "another's verdict": lambda case: Verdict("all-off", tripped=False),
    "no bool": lambda case: Verdict(case_code, tripped=0),  # type: ignore[arg-type]
    "nan": lambda case: Verdict(case_code, tripped=float("nan")),  # type: ignore[arg-type]
}
case_code = ""


@pytest.mark.parametrize("how", BROKEN)
@pytest.mark.parametrize("interlock", guard.INTERLOCKS, ids=lambda module: module.CODE)
def test_an_interlock_that_fails_counts_as_tripped(monkeypatch, interlock, how):
    """Raising, no verdict, another's verdict or no yes-or-no: OFF, with a loud trouble, and back when it works."""
    global case_code
    case_code = interlock.CODE
    story = Story(air=18.0).run(2)
    assert story.on()
    if how == "another's verdict" and interlock.CODE == "all-off":
        pytest.skip("it is its own")
    with monkeypatch.context() as patch:
        patch.setattr(interlock, "judge", BROKEN[how])
        story.step()
        assert not story.on()
        assert story.code() == interlock.CODE
        assert any(trouble.loud for trouble in story.result.troubles)
    story.run(6)
    assert story.on()


@pytest.mark.parametrize("how", [_raises, lambda *a: None, lambda *a: {}, lambda *a: {COLUMN: None}])
def test_a_circuit_check_that_fails_counts_as_tripped(monkeypatch, how):
    """The one interlock that judges all heaters at once fails safe too."""
    story = Story(air=18.0).run(2)
    monkeypatch.setattr(guard.circuit, "judge_all", lambda *a: how(*a[:1]) if how is _raises else how(*a))
    story.step()
    assert not story.on()
    assert story.code() == "circuit"


def test_an_interlock_that_does_not_run_counts_as_tripped(monkeypatch):
    """A check missing from the row leaves nothing proven."""
    story = Story(air=18.0).run(2)
    monkeypatch.setattr(guard, "INTERLOCKS", guard.INTERLOCKS[1:])
    monkeypatch.setattr("tests.stories.teller.hold", lambda *a: None)
    story.step()
    assert not story.on()
    assert story.code() == guard.CODES[0]


def test_adopting_a_broken_model_leaves_the_safe_tuning():
    """A model that is not whole and finite counts for nothing: the room goes on being heated."""
    story = Story(study(room='control = "proportional"'), air=18.0)
    story.regulator.adopt({"study": {"gain_kelvin": 0.0, "tau_seconds": float("nan")}, "attic": {}})
    assert story.run(5).on()
