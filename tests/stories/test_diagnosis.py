"""What a heater's meter says is wrong: each fault by its right name, with its evidence, and never an endless retry.

The heater is the rehearsal's physics behind a plug: an invented column heater on three settings.
"""

from dataclasses import dataclass, field

import pytest

from tests.stories.teller import COLUMN, Plug, Story, study
from thermostatd.core.remembering import from_plain
from thermostatd.physics.heater_kinds import heater_design
from thermostatd.physics.heaters import HeaterBody

SETTINGS = (600.0, 800.0, 1400.0)


@dataclass
class Column(Plug):
    """A plug with a real body on it: watts are what its elements draw."""

    heater: HeaterBody = field(
        default_factory=lambda: HeaterBody(heater_design("oil-filled", 1400, 230, SETTINGS), 2)
    )
    ohms: float = 0.0

    def live(self, now):
        """Its body warms and cools."""
        super().live(now)
        flow = self.heater.step(10.0, 230.0, self.on or self.welded, 18.0, self.ohms)
        self.watts = flow.drawn if self.on or self.welded else 0.0
        self.volts = 230.0 - self.ohms * self.watts / 230.0

    def draws(self):
        """What flows now, W."""
        return self.watts if self.on or self.welded else 0.0


def column(watts=1400, **plug):
    """A study with such a heater, on one of its settings; its air goes up and down a little by itself."""
    heater = HeaterBody(heater_design("oil-filled", watts, 230, SETTINGS), SETTINGS.index(watts))
    told = study(heater=f"settings_watts = {list(SETTINGS)}").replace("watts = 600", f"watts = {watts}")
    story = Story(told, air=lambda s: 18.0 + 0.1 * (s.steady // 1200 % 2))
    story.plugs[COLUMN] = Column(heater=heater, **plug)
    return story


def runs(story, count, minutes=6, rest=25):
    """So many runs of a few minutes with rests in which the body cools."""
    for _ in range(count):
        story.run(minutes, study=18.0).run(rest, study=20.6)
    return story


def codes(story):
    """The codes of the troubles that are told now."""
    return {trouble.code for trouble in story.troubles().values()}


def test_an_ordinary_opening_is_told_with_its_numbers_and_learned_from():
    """On full power the cut-out opens after some ten minutes and leaves the low element (common practice)."""
    story = column()
    story.until(lambda s: s.happened("cut-out-opened"), hours=1)
    facts = from_plain(story.regulator.memory).heaters[COLUMN].facts
    assert facts.trip_count == 1
    assert 400 < facts.trips[0].run_seconds < 900
    assert facts.trips[0].after_watts == pytest.approx(600, rel=0.03)
    story.run(1)
    trouble = story.troubles()[f"{COLUMN}/cut-out"]
    assert not trouble.loud
    assert "1400 W" in trouble.evidence
    assert "lower" in trouble.what_to_do


def test_low_power_at_switch_on_is_still_open_and_no_second_opening():
    """Switched on again while its body is hot, the heater draws its low element; that teaches nothing."""
    story = column()
    story.until(lambda s: s.happened("cut-out-opened"), hours=1)
    story.run(6, study=20.6).run(8, study=18.0)
    assert story.regulator._memory.heaters[COLUMN].facts.trip_count == 1


def test_an_opening_far_earlier_than_ever_is_called_covered_loudly_and_not_retried_for_ever():
    """Off at once, loud; retried after 30, 60 and 120 minutes; then it waits for the owner."""
    story = runs(column(), 5, minutes=8, rest=30)
    assert "covered" not in codes(story)
    story.plugs[COLUMN].heater.covered = True
    story.air["study"] = 18.0
    at = story.steady
    story.until(lambda s: "covered" in codes(s), hours=1)
    assert story.steady - at < 600
    assert not story.on()
    trouble = story.troubles()[f"{COLUMN}/covered"]
    assert trouble.loud
    assert "%" in trouble.evidence
    story.air["study"] = lambda s: 17.0 + 0.2 * (s.steady // 1200 % 2)
    story.run(hours=9)
    assert story.troubles()[f"{COLUMN}/covered"].latched
    assert len([on for _, on in story.switchings()[-8:] if on]) <= 4
    story.plugs[COLUMN].heater.covered = False
    story.seen("covered")
    story.run(20)
    assert "covered" not in codes(story)


def test_a_cover_thrown_over_a_hot_heater_is_no_selector():
    """Its cut-out opens while it is off and leaves the low element; when even that goes out, it is covered, loudly."""
    story = runs(column(), 4, minutes=8, rest=30)
    story.run(9, study=18.0).run(1, study=20.6)
    story.plugs[COLUMN].heater.covered = True
    story.run(7, study=20.6)
    assert story.plugs[COLUMN].heater.cutout_open
    told = set()
    for _ in range(90):
        story.run(1, study=17.5)
        told |= codes(story)
    assert "covered" in told
    assert not told & {"selector-moved", "less-power"}


@pytest.mark.parametrize(
    ("before", "after", "code"), [(600, 1400, "selector-moved"), (1400, 600, "selector-moved")]
)
def test_another_setting_between_two_runs_is_the_selector(before, after, code):
    """Found on another of its settings at switch-on, someone turned it; heat goes on; turned back, it is over."""
    story = runs(column(before), 3)
    story.plugs[COLUMN].heater.selection = SETTINGS.index(after)
    runs(story, 2)
    assert code in codes(story)
    assert f"{after} W" in story.troubles()[f"{COLUMN}/{code}"].evidence
    assert story.run(5, study=18.0).on()
    story.run(25, study=20.6)
    story.plugs[COLUMN].heater.selection = SETTINGS.index(before)
    runs(story, 1)
    assert code not in codes(story)


def test_what_the_owner_accepts_is_the_new_usual():
    """After Seen the new level is right, and the old one would be the news."""
    story = runs(column(600), 3)
    story.plugs[COLUMN].heater.selection = 1
    runs(story, 1)
    story.seen("selector-moved")
    runs(story, 2)
    assert "selector-moved" not in codes(story)


def test_an_element_that_burns_in_a_run_onto_a_setting_may_be_the_selector_and_says_so():
    """600 W is a setting too: the meter cannot know, and tells a person where to look; nothing is learned from it."""
    story = runs(column(), 3)
    story.run(3, study=18.0)
    story.plugs[COLUMN].heater.burnt = frozenset({1})
    story.run(3).run(70, study=20.6)
    runs(story, 1)
    assert "less-power" in codes(story)
    assert "selector" in story.troubles()[f"{COLUMN}/less-power"].what_to_do
    assert story.regulator._memory.heaters[COLUMN].facts.trip_count == 0


def test_a_level_that_is_no_setting_is_an_element():
    """Less than before, on a cold body too, and none of its settings."""
    story = runs(column(), 3)
    story.plugs[COLUMN].heater.design = heater_design("oil-filled", 1000, 230, (1000.0,))
    story.plugs[COLUMN].heater.selection = 0
    runs(story, 2)
    assert "element-out" in codes(story)


def test_a_dial_turned_down_cycles_early_and_soon():
    """To nothing and back at a fraction of the warmth it has stood: the dial, and heat is not taken away."""
    story = column(600)
    story.run(hours=1.5)
    story.plugs[COLUMN].heater.dial_celsius = 42.0
    story.run(hours=1.5, study=lambda s: 17.5 + 0.1 * (s.steady // 900 % 2))
    assert "dial-down" in codes(story)
    assert "drawing-nothing" not in codes(story)
    assert story.on()
    assert story.happened("went-off") >= 2
    assert story.happened("cut-out-opened") == 0, "the report would count them, and advise a lower setting"


def test_a_bad_contact_is_loud_and_ends_in_off():
    """Volts that fall only under load, more than is usual: leave the socket alone, call an electrician."""
    story = runs(column(), 3)
    assert not codes(story) - {"cut-out"}
    story.plugs[COLUMN].ohms = 1.5
    runs(story, 5)
    trouble = story.troubles()[f"{COLUMN}/bad-socket"]
    assert (trouble.loud, trouble.latched) == (True, True)
    assert "electrician" in trouble.what_to_do
    assert not story.run(20, study=18.0).on()


def test_a_weld_that_a_meter_tells_only_once_latches():
    """A meter that speaks on change alone says 600 W once after OFF, and then nothing: that word stands."""
    story = Story(air=18.0)
    story.plugs[COLUMN].only_changes = True
    story.run(20)
    story.plugs[COLUMN].welded = True
    story.run(25, study=20.6)
    assert story.troubles()[f"{COLUMN}/drawing-while-off"].latched


def test_a_frozen_sensor_is_not_called_an_absent_heater():
    """Messages come and the value has not moved by one step in two hours of heat: the sensor, and nothing latches."""
    story = Story(air=18.0)
    story.run(hours=3)
    assert "reading-missing" in codes(story)
    assert "no-answer" not in codes(story)
    story.run(30, study=19.0)
    assert not codes(story)
