"""Two rooms whose plugs were exchanged: neither is cooked while it is found out; and a sunny room beside a cold one
that is slow to warm names nothing."""

import math
import random

import pytest

from tests.stories.teller import COLUMN, Plant, Story
from tests.stories.test_interlocks_air import TWO

DEN = "den/panel"
SUNNY = TWO.replace(
    'usual = [{ days = "daily", at = "00:00", celsius = 20 }]',
    'usual = [{ days = "daily", at = "11:00", celsius = 20 }, { days = "daily", at = "20:00", celsius = 15 }]', 1,
).replace('sensor = { topic = "den/air" }', 'sensor = { topic = "den/air" }\nceiling_celsius = 22')  # fmt: skip


@pytest.mark.parametrize("outdoor", [-5.0, 5.0])
@pytest.mark.parametrize("study", [15.0, 19.0])
def test_no_room_is_heated_far_past_its_ceiling(study, outdoor):
    """Light rooms, that a heater warms by ten kelvins an hour: before, one of them came to 30.5 °C."""
    story = Story(TWO, tick=60.0)
    rooms = [Plant(study, outdoor, 40.0, 14400.0, 900.0, key=key, step=0.1) for key in (DEN, COLUMN)]
    rooms[1].celsius = 19.5
    story.air["study"], story.air["den"] = rooms
    warmest = 0.0
    for _ in range(14 * 60):
        story.step()
        warmest = max(warmest, *(room.celsius for room in rooms))
    assert warmest < 27.5


@pytest.mark.parametrize("tau", [36000.0, 200000.0])
def test_the_sun_names_nothing(tau):
    """Sun and clouds lift the den past its ceiling while the study's heater warms a cold, slow room."""
    chance, story = random.Random(1), Story(SUNNY, tick=60.0)
    story.air["study"] = Plant(15.0, 2.0, 60.0, tau, 1500.0, key=COLUMN, step=0.1)
    den, sun = Plant(19.0, 2.0, 30.0, 30000.0, 600.0, key=DEN), [0.0, 1.0, 0.0]  # K, share, until

    def live() -> None:
        den.live(story.steady, 60.0, story.plugs[DEN].draws() / 600.0)
        hour = story.local().hour + story.local().minute / 60.0
        if story.steady > sun[2]:
            sun[1:] = [chance.choice([0.0, 0.2, 1.0, 1.0]), story.steady + chance.uniform(600.0, 3600.0)]
        shines = max(0.0, math.sin((hour - 9.0) / 8.0 * math.pi)) * sun[1] if 9.0 < hour < 17.0 else 0.0
        sun[0] += (shines * 14.0 - sun[0]) * 60.0 / 5400.0

    story.air["den"] = lambda _: round(den.celsius + sun[0], 1)
    named: set[str] = set()
    warmest = 0.0
    for _ in range(3 * 1440):
        story.step()
        live()
        warmest = max(warmest, den.celsius + sun[0])
        named |= {name for name in story.troubles() if name.endswith("no-answer")}
    assert warmest > 22.0
    assert named == set()
