"""A breaker's continuous share: what counts against it, and what nobody may start beside."""

import pytest

from tests.stories.shared import BLIND, METERED, SHOWN, breaker_house
from tests.stories.teller import Story

A, B = "den/oil", "hall/oil"


@pytest.mark.parametrize(("plug", "longest"), [(METERED, 420.0), (BLIND, 1210.0)])
def test_a_heater_told_off_whose_contact_is_not_shown_counts_until_it_is_known_off(plug, longest):
    """In the step that tells it OFF nobody starts in its place; then its meter, or its last lapse, tells."""
    story = Story(breaker_house({"den": {"plug": plug}, "hall": {}}, amps=6), air=21.0)
    story.plugs[A].shows = False
    if plug is BLIND:
        story.plugs[A].report = lambda now: None
    story.run(35).run(20, den=18.0)
    assert story.on(A)
    story.until(lambda s: s.regulator._memory.heaters[A].lapses - s.steady > 1180)
    lapses = story.regulator._memory.heaters[A].lapses
    story.air.update(den=20.4, hall=18.0)
    told_off = story.until(lambda s: not s.on(A))
    assert not story.on(B)
    started = story.until(lambda s: s.on(B))
    assert 60 <= started - told_off <= longest
    if plug is BLIND:
        assert started == pytest.approx(lapses, abs=story.tick)


def test_a_heater_that_shows_its_contact_gives_its_share_once_it_is_shown_off():
    """ON for the next one comes after the plug has shown OFF, not in the same breath."""
    story = Story(breaker_house({"den": {"plug": SHOWN}, "hall": {}}, amps=6), air=21.0).run(10, den=18.0)
    story.plugs[A].delay = 35.0
    story.air.update(den=20.4, hall=18.0)
    told_off = story.until(lambda s: not s.on(A))
    assert 35 <= story.until(lambda s: s.on(B)) - told_off <= 50


def test_a_plug_that_cannot_be_heard_is_unknown_from_a_start_until_no_old_on_can_hold():
    """Whoever ran before may have told it ON: its share is kept half an hour, and then it is free."""
    story = Story(breaker_house({"den": {"plug": BLIND}, "hall": {}}, amps=6), air=21.0)
    story.plugs[A].report = lambda now: None
    started = story.steady
    story.air["hall"] = 18.0
    assert story.until(lambda s: s.on(B)) - started == pytest.approx(1800, abs=story.tick)
