"""A breaker's continuous share: what counts against it, and what nobody may start beside."""

from itertools import pairwise

import pytest

from tests.stories.shared import BLIND, METERED, SHOWN, Watch, breaker_house
from tests.stories.teller import PANEL, SPOT, Plant, Story
from thermostatd.core.asking import NO_END
from thermostatd.core.facts import LevelFact

A, B = "den/oil", "hall/oil"


def unwanted(rooms):
    """Rooms of 19 °C in which nobody wants more."""
    story = Story(breaker_house(rooms, amps=6), air=19.0)
    for room in rooms:
        story.ask(16.0, NO_END, room=room)
    return story


def exchange(story):
    """The den has had enough, and the hall wants warmth, in one breath."""
    story.ask(16.0, room="den")
    story.ask(21.0, room="hall")


@pytest.mark.parametrize(("plug", "longest"), [(METERED, 420.0), (BLIND, 1210.0)])
def test_a_heater_told_off_whose_contact_is_not_shown_counts_until_it_is_known_off(plug, longest):
    """In the step that tells it OFF nobody starts in its place; then its meter, or its last lapse, tells."""
    story = unwanted({"den": {"plug": plug}, "hall": {}})
    story.plugs[A].shows = False
    if plug is BLIND:
        story.plugs[A].report = lambda now: None
    story.run(35).ask(21.0, room="den")
    story.run(20)
    assert story.on(A)
    story.until(lambda s: s.regulator._memory.heaters[A].lapses - s.steady > 1180)
    lapses = story.regulator._memory.heaters[A].lapses
    exchange(story)
    told_off = story.until(lambda s: not s.on(A))
    assert not story.on(B)
    started = story.until(lambda s: s.on(B))
    assert 60 <= started - told_off <= longest
    if plug is BLIND:
        assert started == pytest.approx(lapses, abs=story.tick)


def test_a_heater_that_shows_its_contact_gives_its_share_once_it_is_shown_off():
    """ON for the next one comes after the plug has shown OFF, not in the same breath."""
    story = unwanted({"den": {"plug": SHOWN}, "hall": {}})
    story.ask(21.0, room="den")
    story.run(10).plugs[A].delay = 35.0
    exchange(story)
    told_off = story.until(lambda s: not s.on(A))
    assert 35 <= story.until(lambda s: s.on(B)) - told_off <= 50


def test_a_plug_that_cannot_be_heard_is_unknown_from_a_start_until_no_old_on_can_hold():
    """Whoever ran before may have told it ON: its share is kept half an hour, and then it is free."""
    story = Story(breaker_house({"den": {"plug": BLIND}, "hall": {}}, amps=6), air=21.0)
    story.plugs[A].report = lambda now: None
    started = story.steady
    story.air["hall"] = 18.0
    assert story.until(lambda s: s.on(B)) - started == pytest.approx(1800, abs=story.tick)


def three_cold_rooms(outdoor):
    """One breaker that carries one heater at a time; a light, a leaky and a solid room. Invented."""
    story = Story(breaker_house({"den": {}, "hall": {}, "loft": {}}, amps=6), tick=30.0)
    for room, celsius, rise, hours in (("den", 17.0, 32.0, 4.0), ("hall", 18.5, 36.0, 3.0), ("loft", 16.0, 30.0, 10.0)):
        story.air[room] = Plant(celsius, outdoor, rise, 3600.0 * hours, 300.0, f"{room}/oil")
    return story


def test_three_cold_rooms_on_one_breaker_each_get_their_turn():
    """Too cold for one heater's worth of heat: all fall short alike, each waits about two turns of the others."""
    story = three_cold_rooms(outdoor=8.0)
    Watch().over(story, 8)
    watch = Watch().over(story, 8)
    short = {room: sum(below) / len(below) for room, below in watch.below.items()}
    assert max(short.values()) - min(short.values()) < 1.2
    assert 1.0 < sum(short.values()) / 3 < 2.0
    for room in short:
        waits = watch.waits[f"{room}/oil"]
        assert max(waits) <= 30 * 60
        assert len(waits) > 8
        changes = [at for at, _ in story.switchings(f"{room}/oil")]
        assert min(b - a for a, b in pairwise(changes)) >= 300
    assert watch.most_amps <= 4.8


def test_three_rooms_that_one_heater_at_a_time_can_hold_are_held():
    """Where the power is enough in all, taking turns keeps every room within half a kelvin in the mean."""
    story = three_cold_rooms(outdoor=11.0)
    Watch().over(story, 8)
    watch = Watch().over(story, 8)
    for room, below in watch.below.items():
        assert abs(sum(below) / len(below)) < 0.5, room
        assert max(below) < 1.2


def test_the_colder_room_goes_first():
    """Who waits is decided by how far each is under its target."""
    story = Story(breaker_house({"den": {}, "hall": {}}, amps=6), air=19.0)
    story.air["hall"] = 16.0
    story.run(5)
    assert (story.on(A), story.on(B), story.code(A)) == (False, True, "circuit")


def test_heaters_are_switched_on_one_after_the_other():
    """Two that fit start half a minute apart, so that inrush and meter can be seen."""
    story = Story(breaker_house({"den": {}, "hall": {}}, amps=16), air=18.0).run(5)
    first, second = sorted(story.switchings(key)[0][0] for key in (A, B))
    assert 30 <= second - first <= 60
    assert "turn-next" in {orders[key].reason.code for _, orders in story.steps for key in (A, B)}


def test_a_heater_counts_as_its_meter_has_proven():
    """Set to 1500 W by the file and never seen over 620 W: two of them fit where two of 1500 W would not."""
    toml = breaker_house({"den": {"watts": 1500}, "hall": {"watts": 1500}}, amps=10)
    story = Story(toml, air=18.0).run(5)
    assert story.on(A) + story.on(B) == 1
    story = Story(toml, air=18.0)
    for key in (A, B):
        story.plugs[key].watts = 620.0
        story.regulator._memory.heaters[key].facts.levels = [LevelFact(620.0, 8.0, 5)]
    story.run(5)
    assert story.on(A)
    assert story.on(B)


def test_a_selector_turned_up_is_seen_and_shed():
    """What it draws now counts where that is more than was known of it."""
    story = Story(breaker_house({"den": {"watts": 600}, "hall": {"watts": 600}}, amps=10), air=18.0).run(10)
    assert story.on(A)
    assert story.on(B)
    story.plugs[A].watts, turned = 1500.0, story.steady
    shed = story.until(lambda s: not (s.on(A) and s.on(B)), hours=0.1)
    assert any(story.tripped("circuit", key) and story.said("circuit", key).safety for key in (A, B))
    assert shed - turned <= 2 * story.tick


def test_a_heater_larger_than_its_circuit_is_told_so():
    """It never starts; the sentence has both currents and the mend."""
    story = Story(breaker_house({"den": {"watts": 2500}, "hall": {}}, amps=10), air=18.0).run(5)
    assert story.code(A) == "turn-never"
    assert "12.0 A" in story.result.orders[A].reason.sentence
    assert story.on(B)


@pytest.mark.parametrize(("turn", "who_runs"), [("first", PANEL), ("last", A)])
def test_a_spot_comes_first_or_last_on_its_circuit_as_the_owner_says(turn, who_runs):
    """A person who waits before it, or a comfort for when the rooms leave something over."""
    spot = SPOT.replace("watts = 900", 'watts = 900\ncircuit = "north"')
    spot = spot.replace("[spot.heater]", f'turn = "{turn}"\n[spot.heater]')
    story = Story(breaker_house({"den": {}}, amps=6, more=spot), air=18.0).run(6)
    assert story.on(A)
    story.warm_me(30)
    story.run(2)
    assert story.on(who_runs)
    assert not story.on({PANEL, A}.difference([who_runs]).pop())
    story.ask(16.0, room="den")
    story.run(7)
    assert story.on(PANEL)
    if turn == "last":
        story.ask(21.0, room="den")
        story.run(8)
        assert not story.on(PANEL)
