"""Properties that need two houses, or a long time."""

import json
from datetime import UTC, datetime

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.core import worlds
from tests.stories.teller import COLUMN, SPOT, Plant, Story, study
from thermostatd.core.asking import Ask, Out, WarmMe
from thermostatd.core.regulator import Regulator
from thermostatd.core.values import Moment, Observation, PlugReport, Reading

START = datetime(2026, 1, 12, 18, 0, tzinfo=UTC).timestamp()
WEEK = 7 * 86400
QUICK = settings(max_examples=60, suppress_health_check=list(HealthCheck), derandomize=True)

happenings = st.lists(st.tuples(
    st.sampled_from((10, 10, 60, 300, 3600)), st.integers(60, 92), st.booleans(), st.booleans(),
    st.sampled_from(("", "", "", "ask", "out", "warm", "jump")),
), min_size=5, max_size=60)


def told(house, script, steady_shift, weeks):
    """What a script of happenings led to, with every time in it shifted."""
    regulator, steady, jumped, on, trail = Regulator(house), 1000, 0, {}, []
    for seconds, quarters, sensed, faithful, asked in script:
        steady += seconds
        jumped += 7200 if asked == "jump" else 0
        now = steady + steady_shift
        moment = Moment(datetime.fromtimestamp(START + steady + jumped + weeks * WEEK, UTC), float(now))
        if asked == "ask":
            regulator.do(moment, Ask("room 0", 21.0, datetime.fromtimestamp(moment.wall.timestamp() + 3600, UTC)))
        if asked == "out":
            regulator.do(moment, Out(datetime.fromtimestamp(moment.wall.timestamp() + 1800, UTC)))
        if asked == "warm" and house.spots:
            regulator.do(moment, WarmMe("corner", 20))
        air = {room.name: Reading(quarters / 4.0, at=now - 5.0) for room in house.rooms} if sensed else {}
        plugs = {key: PlugReport(on=on.get(key, False) if faithful else True, watts=100.0 * faithful,
                                 on_at=float(now), watts_at=float(now)) for key, _, _ in house.heaters()}
        forecast = (quarters / 4.0 - 12.0, quarters / 4.0 - 20.0, 0.0) if sensed else ()
        result = regulator.step(moment, Observation(air=air, plugs=plugs, forecast=forecast))
        on = {key: order.on for key, order in result.orders.items()}
        trail.append([(key, order.on, order.reason.sentence, order.lapses - now, order.retell)
                      for key, order in result.orders.items()])
        trail.append([(event.code, event.about, event.sentence) for event in result.events])
        trail.append([trouble.id for trouble in result.troubles])
        trail.append(result.house.forecast)
    return trail


@QUICK
@given(worlds.houses(zone="UTC"), happenings, st.integers(-900, 1_000_000), st.integers(0, 40))
def test_shifting_all_times_shifts_nothing_else(house, script, shift, weeks):
    """Another steady origin and another week give the same orders, sentences, troubles and lapses."""
    assert told(house, script, shift, weeks) == told(house, script, 0, 0)


def test_memory_stays_under_four_kilobytes_a_room_over_a_long_life():
    """Days of heat, faults, presses, requests and restarts leave a memory that does not grow."""
    story = Story(study(room='control = "proportional"', heater='by_hand = "allow for 2 h"', more=SPOT), tick=30.0)
    story.air["study"] = Plant(celsius=17.0, dead=600.0, step=0.1)
    sizes = []
    for day in range(4):
        story.ask(21.0, who="A" * 100)
        story.warm_me(60, "B" * 100)
        story.run(hours=5).press(not story.on()).run(hours=1)
        story.plugs[COLUMN].online = False
        story.run(hours=1)
        story.plugs[COLUMN].online = True
        story.plugs[COLUMN].welded = day % 2 == 0
        story.plugs[COLUMN].warm = 80.0 if day % 2 else 30.0
        story.run(hours=5).restart(down_seconds=600)
        for code in ("drawing-while-off", "warm-plug", "no-answer", "drawing-nothing"):
            story.seen(code)
        story.plugs[COLUMN].welded = False
        story.run(hours=2)
        sizes.append(len(json.dumps(story.regulator.memory)))
    assert max(sizes) < 2 * 4096, "one room and one spot"
    assert sizes[-1] < sizes[0] + 600
