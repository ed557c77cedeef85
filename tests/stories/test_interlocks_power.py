"""Interlocks that watch plugs and power: trips when, then, clears."""

import pytest

from tests.stories.teller import COLUMN, SECOND, Story, study
from thermostatd.core.remembering import from_plain


def noted(story, code):
    """What an interlock keeps of the column heater."""
    return from_plain(story.regulator.memory).heaters[COLUMN].notes[code]


def test_power_after_off_in_two_reports_is_a_weld():
    """Over max(15 W, 3 %) in two reports newer than OFF: OFF again and again, loud, latched."""
    story = Story(air=18.0).run(20)
    story.plugs[COLUMN].welded = True
    off_at = story.until(lambda s: s.air.update(study=20.5) or not s.on())
    found = story.until(lambda s: s.tripped("drawing-while-off"), hours=0.5)
    assert 10 < found - off_at <= 120
    trouble = story.troubles()["study/column/drawing-while-off"]
    assert (trouble.loud, trouble.latched) == (True, True)
    assert "Pull" in trouble.what_to_do
    assert story.code() == "drawing-while-off"
    assert not story.run(hours=2, study=18.0).on()


@pytest.mark.parametrize(("watts", "trips"), [(17.0, False), (19.0, True)])
def test_a_trickle_is_no_weld(watts, trips):
    """Up to 15 W, or 3 % of the heater (18 W of 600 W), is a meter's error."""
    story = Story(air=18.0).run(20)
    plug = story.plugs[COLUMN]
    story.run(1, study=20.5)
    plug.welded, plug.watts = True, watts
    assert story.run(20).tripped("drawing-while-off") is trips


@pytest.mark.parametrize("delay", [0.0, 15.0, 40.0, 70.0])
@pytest.mark.parametrize("period", [1.0, 10.0, 60.0])
def test_a_slow_plug_is_no_weld(delay, period):
    """A plug that takes a minute to obey OFF, with a fast meter, is not called welded."""
    story = Story(air=18.0, tick=10.0)
    story.plugs[COLUMN].delay, story.plugs[COLUMN].period = delay, period
    story.run(60).run(10, study=20.5)
    assert not story.plugs[COLUMN].on
    assert not story.troubles()


def test_a_lagging_meter_is_no_weld():
    """A meter that smooths over twelve seconds and reports every ten does not look like a weld."""
    story = Story(air=18.0)
    plug = story.plugs[COLUMN]
    shown = {"watts": 0.0}

    def lagging():
        true = plug.watts if plug.on else 0.0
        shown["watts"] += (true - shown["watts"]) * (1 - 2.718281828 ** (-10.0 / 12.0))
        return shown["watts"]

    plug.draws = lagging
    story.run(60).run(10, study=20.5)
    assert "study/column/drawing-while-off" not in story.troubles()


def test_a_plug_found_on_at_the_start_is_no_weld():
    """A daemon that starts beside a running heater tells OFF and gives it time to obey."""
    for delay in (0.0, 25.0):
        story = Story(air=20.5)
        plug = story.plugs[COLUMN]
        plug.period, plug.delay = 1.0, delay
        plug.turn(story.steady, True)
        story.run(30)
        assert not plug.on
        assert not story.troubles()


def test_a_plug_that_ignores_off_is_told_again_and_then_told_of():
    """OFF unanswered for two minutes trips; it is retold all the while; past its lapse it is loud."""
    story = Story(air=18.0).run(10)
    plug = story.plugs[COLUMN]
    plug.obeys, plug.off_at = False, float("inf")
    story.run(1, study=20.5)
    assert not story.tripped("silent-plug")
    story.run(4)
    assert story.tripped("silent-plug")
    assert sum(orders[COLUMN].retell for _, orders in story.steps[-24:]) >= 6
    plug.watts = 0.0
    story.run(25)
    assert story.troubles()["study/column/silent-plug"].loud
    plug.obeys = True
    story.run(2)
    assert not plug.on
    assert "study/column/silent-plug" not in story.troubles()


def test_a_plug_that_ignores_on_is_given_up_for_longer_each_time_and_comes_back():
    """ON unanswered is given up for 10, 30, 60 minutes, and the heater comes back when the plug answers."""
    story = Story(air=18.0).run(1, study=20.5)
    story.plugs[COLUMN].obeys = False
    story.run(hours=4, study=18.0)
    offs = [at for at, on in story.switchings() if not on]
    ons = [at for at, on in story.switchings() if on]
    gaps = [on - off for off, on in zip(offs, ons[1:], strict=False)]
    assert gaps[:3] == pytest.approx([600, 1800, 3600], abs=20)
    assert story.happened("trouble") == 1, "one fault is told once"
    story.plugs[COLUMN].obeys = True
    story.until(lambda s: s.plugs[COLUMN].on, hours=1.1)
    story.run(5)
    assert not story.troubles()


def test_a_plug_that_is_away_is_off_and_told_of_after_three_minutes():
    """Away: off, then a trouble; last known ON and past its lapse by two minutes: loud; back: over."""
    story = Story(air=18.0).run(10)
    story.plugs[COLUMN].online = False
    story.run(1)
    assert not story.on()
    assert story.code() == "silent-plug"
    story.run(4)
    assert not story.troubles()["study/column/silent-plug"].loud
    story.run(20)
    assert story.troubles()["study/column/silent-plug"].loud
    story.plugs[COLUMN].turn(story.steady, False)
    story.plugs[COLUMN].online = True
    assert story.run(10).on()
    assert not story.troubles()


def test_on_without_power_pauses_longer_each_time_then_latches():
    """Pauses of 10, 30, 60 minutes, then off and waiting for the owner; one fault is told once."""
    story = Story(air=18.0)
    story.plugs[COLUMN].watts = 0.0
    story.run(hours=5)
    offs = [at for at, on in story.switchings() if not on]
    ons = [at for at, on in story.switchings() if on]
    assert [on - off for off, on in zip(offs, ons[1:], strict=False)] == pytest.approx([600, 1800, 3600], abs=20)
    assert len(offs) == 4
    assert story.troubles()["study/column/drawing-nothing"].latched
    assert story.happened("trouble") == 1


def test_power_on_a_retry_clears_it():
    """Set upright again, the heater draws on the next retry and all is forgotten."""
    story = Story(air=18.0)
    story.plugs[COLUMN].watts = 0.0
    story.until(lambda s: s.tripped("drawing-nothing"))
    story.plugs[COLUMN].watts = 600.0
    story.run(40)
    assert story.on()
    assert not story.troubles()
    assert noted(story, "drawing-nothing")["tries"] == 0


def test_a_cut_out_is_logged_and_never_looks_like_drawing_nothing():
    """Power that falls to nothing for ten minutes and comes back is the heater's own cut-out."""
    story = Story(air=18.0).run(60)
    story.plugs[COLUMN].watts = 0.0
    story.run(10, study=18.4)
    assert story.happened("cut-out-opened") == 0, "it may be knocked over as well, until power is back"
    story.plugs[COLUMN].watts = 590.0
    story.run(20)
    assert noted(story, "cut-out")["openings"] == 1
    assert "study/column/drawing-nothing" not in story.troubles()
    assert (story.happened("cut-out-opened"), story.happened("cut-out-closed")) == (1, 1)


def test_a_cut_out_to_the_low_element_is_recognised():
    """A 1500 W heater that falls to 588 W and stays there (common practice, no published source)."""
    story = Story(study(heater="").replace("watts = 600", "watts = 1500"), air=18.0).run(20)
    story.plugs[COLUMN].watts = 588.0
    story.run(5, study=18.4)
    assert story.happened("cut-out-opened") == 1
    assert "study/column/drawing-nothing" not in story.troubles()


def test_mains_voltage_that_sags_is_no_cut_out():
    """Power that falls with the square of the voltage is the mains, not the heater."""
    story = Story(air=18.0).run(20)
    plug = story.plugs[COLUMN]
    plug.volts, plug.watts = 195.0, 600.0 * (195.0 / 230.0) ** 2
    story.run(10, study=18.4)
    assert story.happened("cut-out-opened") == 0


@pytest.mark.parametrize(("reports", "trips"), [
    ([71.0], True), ([25.0, 46.0], True), ([25.0, 44.0], False), (list(range(30, 69)), False),
])
def test_a_plug_that_is_hot_or_warms_fast_latches(reports, trips):
    """70 °C, or 20 K within ten minutes to over 45 °C: off, loud, feel the socket."""
    story = Story(air=18.0).run(10)
    for celsius in reports:
        story.plugs[COLUMN].warm = celsius
        story.run(1)
        story.air["study"] += 0.02
    assert story.tripped("warm-plug") is trips
    assert story.on() is not trips
    if trips:
        assert story.troubles()["study/column/warm-plug"].loud


TWO = study(room="", more=SECOND.format(name="panel", watts=2500))


def test_a_circuit_carries_one_at_a_time():
    """The sum at high mains stays under the breaker's share: the second waits, and takes over when it is free."""
    story = Story(TWO, air=18.0).run(5)
    on = [key for key in story.result.orders if story.on(key)]
    assert len(on) == 1
    other = ({COLUMN, "study/panel"} - set(on)).pop()
    assert story.code(other) == "circuit"
    assert not story.said("circuit", other).safety


def test_a_plug_that_is_away_while_on_counts_on_its_circuit():
    """Unknown counts as ON: nobody else starts on that share."""
    story = Story(TWO.replace("watts = 600", "watts = 2500"), air=18.0).run(10)
    running = next(key for key in story.result.orders if story.on(key))
    other = ({COLUMN, "study/panel"} - {running}).pop()
    story.plugs[running].online = False
    story.run(60)
    assert not story.on(running)
    assert not story.on(other)
    assert story.code(other) == "circuit"


def test_an_on_sent_to_a_plug_that_then_went_away_counts_until_it_lapses():
    """An ON that nobody saw taken may have been: its share is kept until its lapse, then given away."""
    story = Story(TWO.replace("watts = 600", "watts = 2500"), air=21.0).run(10)
    story.air["study"] = 18.0
    story.until(lambda s: any(order.on for order in s.result.orders.values()))
    running = next(key for key in story.result.orders if story.on(key))
    other = ({COLUMN, "study/panel"} - {running}).pop()
    story.plugs[running].turn(story.steady, False)
    story.plugs[running].online = False
    story.run(15)
    assert not story.on(other)
    assert story.run(10).on(other)


def test_a_heater_pressed_on_sheds_the_one_that_runs_when_both_are_too_much():
    """An overload is shed at once, minimum time or not."""
    toml = TWO.replace("watts = 600", "watts = 2500").replace('circuit = "north"\nmay_run',
                                                             'circuit = "north"\nby_hand = "allow for 2 h"\nmay_run')
    story = Story(toml, air=18.0).run(2)
    running = next(key for key in story.result.orders if story.on(key))
    other = ({COLUMN, "study/panel"} - {running}).pop()
    story.press(True, other).run(0.5)
    assert sum(order.on for order in story.result.orders.values()) <= 1
    assert story.until(lambda s: sum(plug.on for plug in s.plugs.values()) <= 1, hours=0.05)


def test_a_heater_that_draws_after_off_counts_where_only_its_meter_speaks():
    """Metered power after OFF takes its share even if the plug tells no contact."""
    toml = TWO.replace("watts = 600", "watts = 2500").replace(
        'plug = { kind = "simulated" }',
        'plug = { kind = "mqtt", tell = "a/set", draws = { topic = "a" }, timer = { payload = "1 {seconds}" } }', 1)
    story = Story(toml, air=18.0)
    story.plugs[COLUMN].shows = False
    story.run(15)
    assert story.on()
    story.plugs[COLUMN].obeys, story.plugs[COLUMN].off_at = False, float("inf")
    story.run(20, study=20.5)
    assert story.result.house.circuit_watts["north"] >= 2500
    story.seen("drawing-while-off")
    story.run(0.5, study=18.0)
    assert not story.on("study/panel")
