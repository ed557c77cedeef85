"""Someone at the plug's own button."""

from tests.stories.teller import COLUMN, PANEL, SECOND, SPOT, Story, study
from thermostatd.core.asking import Accepted

ALLOWED = study(heater='by_hand = "allow for 2 h"')


def warm_room(toml=None, **how):
    """A room that wants nothing, its plug long since heard."""
    return Story(toml, air=20.3, **how).run(10)


def test_a_press_to_on_is_undone_where_by_hand_is_off():
    """With by_hand "off", ON by the button is noticed and ended within a tick or two."""
    story = warm_room()
    story.press(True).run(1)
    assert story.happened("pressed-on") == 1
    assert not story.plugs[COLUMN].on
    assert "study/column/drawing-while-off" not in story.troubles()


def test_a_press_to_on_holds_for_its_time_where_the_owner_allows_it():
    """With "allow for 2 h" the heater stays ON for two hours, is told so with a lapse, then goes OFF."""
    story = warm_room(ALLOWED)
    story.air["study"] = lambda told: 19.95 + 0.5 * (told.steady % 3000) / 3000
    pressed = story.steady
    story.press(True).run(1)
    assert story.on()
    assert story.code() == "by-hand"
    ends = story.until(lambda s: not s.on(), hours=3)
    assert 7190 <= ends - pressed <= 7230
    assert not story.run(1).plugs[COLUMN].on


def test_a_press_to_on_is_kept_even_within_the_rest_time():
    """A press the owner allows is not undone by the minimum rest: the contact has moved already."""
    story = Story(ALLOWED, air=18.0).run(10).run(0.5, study=20.3)
    assert not story.on()
    story.run(1).press(True).run(2, study=20.2)
    assert story.on()
    assert [on for _, on in story.plugs[COLUMN].switchings][-1] is True


def test_interlocks_watch_a_heater_that_was_pressed_on():
    """By hand or not, an overshoot ends it."""
    story = warm_room(ALLOWED).run(0, study=20.0)
    story.press(True).run(5)
    assert story.on()
    story.run(2, study=20.7)
    assert not story.on()
    assert story.code() == "overshoot"


def test_a_press_to_off_holds_no_longer_once_the_room_is_cold():
    """Under `cold_celsius`, 12 where the file says nothing: a forgotten press freezes no room."""
    story = Story(air=13.0).run(10).press(False).run(5)
    assert story.code() == "by-hand"
    story.run(5, study=12.0)
    assert not story.on()
    story.run(5, study=11.9)
    assert story.on()


def test_sockets_whose_power_blinks_are_no_hand():
    """Both plugs come back OFF at once, as most do: they are told ON again, and nobody is said to have pressed."""
    story = Story(study(more=SECOND.format(name="second", watts=500)), air=17.0).run(15)
    assert story.on()
    for key in (COLUMN, "study/second"):
        story.plugs[key].turn(story.steady, False)
    story.run(1)
    assert not story.happened("pressed-off")
    story.run(3)
    assert story.plugs[COLUMN].on
    assert story.plugs["study/second"].on


def test_a_press_to_off_holds_for_two_hours():
    """OFF by the button keeps the heater off for two hours, whatever the room wants."""
    story = Story(air=18.0).run(10)
    pressed = story.steady
    story.press(False).run(1)
    assert story.happened("pressed-off") == 1
    assert story.code() == "by-hand"
    back = story.until(lambda s: s.on(), hours=3)
    assert 7190 <= back - pressed <= 7230


def test_a_press_to_on_after_one_to_off_ends_the_hold():
    """Who pressed OFF and presses ON again has the room's own control back, after the rest."""
    story = Story(air=18.0).run(10)
    story.press(False).run(10).press(True).run(1)
    assert story.happened("pressed-on") == 1
    assert story.run(1).on()


def test_a_press_is_noticed_from_a_plug_that_reports_changes_alone():
    """A plug that speaks only when something changes still has its next press noticed."""
    story = Story(ALLOWED, air=18.0)
    story.plugs[COLUMN].only_changes = True
    story.run(10).press(False).run(20).press(True).run(1)
    assert (story.happened("pressed-off"), story.happened("pressed-on")) == (1, 1)
    assert story.on()


def test_a_request_from_a_phone_ends_what_the_button_held():
    """A person who asks after a press has the last word: the heater comes back without a restart."""
    story = Story(air=18.0).run(10)
    story.press(False).run(10)
    assert isinstance(story.ask(21.0), Accepted)
    assert story.run(1).on()


def test_a_spot_asked_for_after_a_press_to_off_runs():
    """WarmMe that is accepted is honoured, whatever the button said before."""
    story = Story(study(more=SPOT), air=21.0).run(10)
    story.warm_me(30)
    story.run(5).press(False, PANEL).run(5)
    assert not story.on(PANEL)
    assert isinstance(story.warm_me(30), Accepted)
    assert story.run(1).on(PANEL)


def test_the_button_of_a_spot_holds_no_longer_than_the_spot_may():
    """A spot pressed ON ends at its own longest, where by_hand would allow more."""
    spot = SPOT.replace("watts = 900", 'watts = 900\nby_hand = "allow for 6 h"')
    story = Story(study(more=spot), air=21.0).run(10)
    pressed = story.steady
    story.press(True, PANEL).run(1)
    assert story.on(PANEL)
    assert story.until(lambda s: not s.on(PANEL), hours=3) - pressed <= 5430


def test_a_plug_that_reboots_into_on_is_told_off():
    """ON after having been away is no press: it is told OFF again, and nothing is thought to be welded."""
    for quiet_return in (False, True):
        story = warm_room(ALLOWED)
        plug = story.plugs[COLUMN]
        plug.online = False
        story.run(2)
        plug.turn(story.steady, True)
        plug.online, plug.shows = True, not quiet_return
        story.step()
        plug.shows = True
        story.run(3)
        assert story.happened("pressed-on") == 0
        assert not plug.on
        assert not story.troubles()


def test_an_off_that_a_lapse_made_is_no_press():
    """A plug whose ON ran out, because the program slept, is told ON again; nobody pressed anything."""
    story = Story(air=18.0).run(10)
    plug = story.plugs[COLUMN]
    story.steady = plug.off_at + 1.0
    plug.live(story.steady)
    assert not plug.on
    story.run(2)
    assert story.happened("pressed-off") == 0
    assert story.on()
    assert plug.on
