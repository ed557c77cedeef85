"""Random houses with real delays, meters and plugs on one breaker: what is truly drawn stays within its share."""

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.stories.shared import BLIND, METERED, SHOWN, breaker_house
from tests.stories.teller import Plant, Story

FEW = settings(max_examples=5, derandomize=True, suppress_health_check=list(HealthCheck))


@st.composite
def worlds(draw):
    """Two to four cold rooms, each with its own heater, plug, meter and delay, on a breaker too small for all."""
    rooms, traits = {}, {}
    for n in range(draw(st.integers(2, 4))):
        plug = draw(st.sampled_from((SHOWN, SHOWN, METERED, BLIND)))
        times = f'min_on = "{draw(st.sampled_from((1, 5, 20)))} min"\nmin_off = "{draw(st.sampled_from((1, 5)))} min"'
        rooms[f"r{n}"] = {"watts": draw(st.sampled_from((400, 900, 1500))), "plug": plug, "heater": times}
        traits[f"r{n}/oil"] = (plug, draw(st.sampled_from((0.0, 25.0, 70.0))), draw(st.sampled_from((10.0, 120.0))))
    amps = draw(st.sampled_from((8.0, 10.0, 13.0)))
    return rooms, traits, amps, draw(st.floats(-5, 12)), draw(st.floats(14, 19))


@FEW
@given(worlds())
def test_what_is_truly_drawn_never_passes_the_share(world):
    """Amperes truly carried, at high mains, at every tick of three hours; and every room has had heat by then."""
    rooms, traits, amps, outdoor, start = world
    story = Story(breaker_house(rooms, amps=amps), tick=20.0)
    for key, (plug, delay, period) in traits.items():
        room, face = key.partition("/")[0], story.plugs[key]
        story.air[room] = Plant(start, outdoor, 30.0, 14400.0, 300.0, key)
        face.delay, face.period, face.shows = delay, period, plug is SHOWN
        if plug is BLIND:
            face.report = lambda now: None
    share = 0.8 * amps
    while story.steady < 1000.0 + 3 * 3600:
        story.step()
        drawn = sum(plug.draws() for plug in story.plugs.values()) / 230.0 * 1.1
        assert drawn <= share + 1e-6, f"{drawn:.1f} A of {share:.1f} A at {story.steady:.0f} s"
    hearable = [key for key, (plug, *_) in traits.items() if plug is not BLIND]
    if len(hearable) == len(traits):
        assert all(story.switchings(key) for key in hearable)
