"""Minimum times, quiet hours and their reserves."""

from itertools import pairwise

import pytest

from tests.stories.teller import COLUMN, SECOND, Plant, Story, study

QUIET = 'quiet = [{ from = "22:00", to = "06:00", switches = 4 }]'


def test_a_heater_rests_for_its_minimum_off_time():
    """After OFF, ON waits for min_off, says how long, and comes."""
    story = Story(study(heater='min_off = "15 min"'), air=18.0).run(10).run(2, study=20.3)
    off = story.switchings()[-1][0]
    story.run(1.1, study=18.0)
    assert story.code() == "rest"
    assert "12 min" in story.result.orders[COLUMN].reason.sentence
    assert story.until(lambda s: s.on(), hours=1) - off == pytest.approx(900, abs=10)


def test_a_heater_finishes_its_minimum_run():
    """Within min_on the heater stays on although the room is warm enough."""
    story = Story(study(heater='min_on = "15 min"'), air=19.0).run(2).run(1.1, study=20.3)
    assert story.on()
    assert story.code() == "spell"
    off = story.until(lambda s: not s.on(), hours=1)
    assert off - 1000 == pytest.approx(900, abs=10)


def test_a_law_that_fails_is_not_held_by_a_minimum_run(monkeypatch):
    """A control law that raises ends in OFF at once, with its reason."""
    from thermostatd.core.demand import LAWS

    story = Story(study(heater='min_on = "30 min"'), air=19.0).run(2)
    assert story.on()

    def broken(case):
        raise ZeroDivisionError

    monkeypatch.setitem(LAWS, "hysteresis", broken)
    story.step()
    assert not story.on()
    assert story.code() == "demand-failed"


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_a_law_that_gives_no_finite_share_ends_in_off(monkeypatch, value):
    """A NaN share is no demand."""
    from thermostatd.core.demand import LAWS
    from thermostatd.core.reasons import reason
    from thermostatd.core.results import Demand

    story = Story(air=19.0).run(2)
    monkeypatch.setitem(LAWS, "hysteresis", lambda case: Demand(True, value, reason("warm-enough")))
    story.step()
    assert not story.on()


def switched_within(story, begin, end):
    """Switchings between two steady seconds."""
    return [on for at, on in story.switchings() if begin <= at < end]


@pytest.mark.parametrize("air_at_ten", [19.0, 20.5])
def test_quiet_hours_allow_so_many_switchings_and_end_off(air_at_ten):
    """A heater on or off at their start, the count with every OFF stays within the allowance."""
    story = Story(study(room=QUIET), "2026-01-12 21:50", air=air_at_ten).run(10)
    start = story.steady
    story.air["study"] = lambda s: 19.0 if s.steady // 1200 % 2 else 20.4
    story.run(hours=7.9)
    moves = switched_within(story, start, story.steady)
    assert 0 < len(moves) <= 4
    assert moves[-1] is False
    assert story.code() in ("quiet", "warm-enough", "coasting")


def test_a_heater_that_runs_at_the_start_of_quiet_hours_has_its_off_in_reserve():
    """With two switchings allowed and one heater on, only its OFF is left: no other ON follows."""
    story = Story(study(room=QUIET.replace("4", "2")), "2026-01-12 21:50", air=19.0).run(11)
    assert story.on()
    start = story.steady
    story.run(10, study=20.4).run(60, study=19.0)
    assert switched_within(story, start, story.steady) == [False]
    assert story.code() == "quiet"


def test_quiet_hours_never_hold_a_heater_on():
    """With the count used up by interlocks, OFF still comes at once."""
    story = Story(study(room=QUIET.replace("4", "0")), "2026-01-12 21:50", air=19.0).run(15)
    assert story.on()
    story.run(2, study=20.4)
    assert not story.on()


def test_two_heaters_of_a_room_share_its_quiet_switchings():
    """Each ON of either heater reserves its OFF out of the room's one count."""
    toml = study(room=QUIET, more=SECOND.format(name="panel", watts=400))
    story = Story(toml, "2026-01-12 21:50", air=20.4).run(12)
    start = story.steady
    story.air["study"] = lambda s: 19.0 if s.steady // 1200 % 2 else 20.4
    story.run(hours=7)
    moves = 0
    before = dict.fromkeys(story.result.orders, False)
    for at, orders in story.steps:
        for key, order in orders.items():
            moves += at >= start and order.on != before[key]
            before[key] = order.on
    assert 0 < moves <= 4
    assert not any(before.values())


def test_a_cold_room_opens_quiet_hours():
    """Under cold_celsius the count no longer holds the heater back."""
    story = Story(study(room=QUIET.replace("4", "0")), "2026-01-12 21:50", air=20.4).run(15).run(30, study=19.0)
    assert story.code() == "quiet"
    story.run(10, study=11.9)
    assert story.on()


def test_each_night_begins_its_own_count():
    """What one night used up does not carry into the next."""
    story = Story(study(room=QUIET.replace("4", "2")), "2026-01-12 21:50", air=20.4, tick=60.0)
    story.air["study"] = lambda s: 19.0 if s.steady // 3600 % 2 else 20.4
    story.run(hours=55)
    nights = [event[0] for event in story.events if event[1] == "switched-on"]
    hours = {((at - 1000) / 3600 + 21 + 50 / 60) // 24 for at in nights
             if not 6 <= ((at - 1000) / 3600 + 21 + 50 / 60) % 24 < 22}
    assert len(hours) >= 3


def test_a_proportional_room_keeps_its_minimum_times_through_a_day():
    """Every run and rest of a time-proportional day is as long as the heater asks."""
    story = Story(study(room='control = "proportional"', heater='min_on = "4 min"\nmin_off = "6 min"'), tick=20.0)
    story.air["study"] = Plant(celsius=17.0, dead=600.0)
    story.run(hours=24)
    moves = story.switchings()
    for (at, on), (then, _) in pairwise(moves):
        assert then - at >= (240 if on else 360), (at, on)
    assert abs(story.air["study"].celsius - 20.0) < 0.5
