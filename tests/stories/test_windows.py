"""Stories of an opened window, seen by nothing but the air."""

from __future__ import annotations

import math

import pytest

from tests.stories.teller import COLUMN, Story, study

AIRED = "2026-01-12 09:00"


class Aired:
    """A room that is held at 20 °C, until a window opens: then it falls towards `cold` within minutes.

    The course of the air under 60 W/K at 20 K of difference is that of a simulated room, as its sensor tells it.
    """

    def __init__(self, celsius: float = 19.7, cold: float = 15.0, seconds: float = 900.0) -> None:
        self.warm = self.celsius = celsius
        self.cold, self.seconds = cold, seconds
        self.opened: float | None = None
        self.closed: float | None = None
        self._at: float | None = None

    def __call__(self, story: Story) -> float:
        gone = 0.0 if self._at is None else story.steady - self._at
        self._at = story.steady
        goal = self.cold if self.opened is not None and self.closed is None else self.warm
        self.celsius += (goal - self.celsius) * (1.0 - math.exp(-gone / self.seconds))
        return round(self.celsius, 1)


def aired(room: str = "", **air: float) -> tuple[Story, Aired]:
    """A story in which the heater has run for half an hour in a room that stays a little under its target."""
    window = Aired(**air)
    return Story(study(room=room), AIRED, air=window).run(35), window


def open_it(story: Story, window: Aired) -> float:
    """Open the window and wait until heating pauses: minutes."""
    window.opened = story.steady
    return (story.until(lambda s: s.code() == "window-open", hours=1.0) - window.opened) / 60.0


def test_heating_pauses_and_says_so() -> None:
    """Ten minutes after a fall that heat does not explain the heater is off; the page says why and until when."""
    story, window = aired()
    assert story.on()
    assert open_it(story, window) <= 10.0
    assert not story.on()
    reason = story.result.rooms["study"].reason
    assert "window" in reason.sentence
    assert "10:" in reason.sentence


def test_it_ends_when_the_air_recovers() -> None:
    """The window is closed, the walls warm the air again, and heating goes on long before half an hour has gone."""
    story, window = aired()
    open_it(story, window)
    began = story.steady
    story.run(5)
    window.closed = story.steady
    story.until(lambda s: s.code() != "window-open", hours=1.0)
    assert story.steady - began < 1500.0
    story.run(6)
    assert story.on()


def test_it_ends_after_half_an_hour_at_the_latest() -> None:
    """A window that is left open does not keep the room unheated."""
    story, window = aired()
    open_it(story, window)
    began = story.steady
    story.until(lambda s: s.on(), hours=1.0)
    assert story.steady - began == pytest.approx(1800.0, abs=30.0)


def test_a_room_that_is_left_open_and_gets_too_cold_is_heated_and_told() -> None:
    """Half an hour under its cold limit, with the window named; over once it is closed and the air is back."""
    story, window = aired(cold=8.0)
    open_it(story, window)
    story.run(90)
    assert story.on(), "heated against the window, since it is too cold"
    assert list(story.troubles()) == ["study/cold-room"]
    assert "window" in story.result.troubles[0].evidence
    window.closed = story.steady
    story.run(60)
    assert not story.troubles()


def test_a_setback_is_no_window() -> None:
    """A heater that is switched off, and a room that then cools as it always does, is no window."""
    usual = 'usual = [{ at = "06:00", celsius = 20 }, { at = "10:00", celsius = 16 }]'
    toml = study().replace('usual = [{ days = "daily", at = "00:00", celsius = 20 }]', usual)
    window = Aired(celsius=19.7, cold=16.0, seconds=9000.0)
    story = Story(toml, AIRED, air=window).run(35)
    window.opened = story.steady
    for _ in range(6 * 60 * 3):
        story.step()
        assert "since" not in story.regulator.memory["rooms"]["study"]["window"]


def test_a_cold_room_is_heated_all_the_same() -> None:
    """Under the room's cold limit nothing is held back for a window."""
    story, window = aired(room="cold_celsius = 18.5")
    open_it(story, window)
    story.until(lambda s: s.on(), hours=0.5)
    assert window.celsius < 18.6


def test_a_press_on_the_button_beats_it() -> None:
    """Whoever presses the plug's button, where the owner allows that, wants heat now."""
    window = Aired()
    story = Story(study(heater='by_hand = "allow for 1 h"'), AIRED, air=window).run(35)
    open_it(story, window)
    story.run(5).press(True).run(1)
    assert story.code() == "by-hand"
    assert story.on()


def test_a_coarse_sensor_is_no_window() -> None:
    """One step down of a sensor that speaks in half degrees is no fall."""
    story, window = aired(celsius=19.5, cold=18.5, seconds=3000.0)
    coarse = Story(study(), AIRED, air=lambda s: round(2.0 * window(s)) / 2.0).run(35)
    window.opened = coarse.steady
    for _ in range(6 * 60):
        coarse.step()
        assert coarse.code() != "window-open"
    assert story is not coarse


def test_a_pause_is_remembered_over_a_restart() -> None:
    """A daemon that starts anew during a pause goes on with it, and ends it in time."""
    story, window = aired()
    open_it(story, window)
    began = story.steady
    story.restart().run(1)
    assert story.code(COLUMN) in ("window-open", "starting")
    story.until(lambda s: s.on(), hours=1.0)
    assert story.steady - began <= 1800.0 + 60.0


def test_a_sensor_that_is_moved_is_no_window() -> None:
    """Three kelvins from one reading to the next is more than air can fall: heat goes on."""
    story, window = aired()
    story.run(10, study=17.0)
    assert story.on()
    assert window.opened is None
