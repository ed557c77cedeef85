"""A contact that the broker's last word opened: a switching as any other, which pace counts."""

from tests.stories.teller import COLUMN, Story, study
from thermostatd.core.values import PlugReport

QUIET = 'quiet = [{ from = "22:00", to = "06:00", switches = 4 }]'


def open_contact(story: Story) -> float:
    """The way to the plug was lost, and is there again; gives the second of that."""
    plug, at = story.plugs[COLUMN], story.steady
    plug.turn(at, False)
    plug.report = lambda now: PlugReport(on=False, watts=0.0, back_at=at, opened_at=at)
    story.step()
    del plug.report
    return at


def test_it_rests_after_an_opening():
    """OFF in the regulator's mind, with its reason; ON again only after min_off, and nobody pressed a button."""
    story = Story(study(heater='min_off = "15 min"'), air=18.0).run(10)
    assert story.on()
    before = story.regulator.operations()[COLUMN]
    at = open_contact(story)
    assert not story.on()
    assert story.code() == "rest"
    assert story.regulator.operations()[COLUMN] == before + 1
    assert [event.sentence for event in story.result.events if event.code == "switched-off"] == [
        "OFF: The way to the plug was lost, and the broker told it OFF."
    ]
    assert story.until(lambda s: s.on(), hours=1) - at >= 900
    assert not story.happened("pressed-off")


def test_ten_openings_are_no_twenty_switchings():
    """A way that is lost every four minutes costs one ON for each rest, never one for each loss."""
    story = Story(study(heater='min_off = "15 min"'), air=17.0).run(5)
    for _ in range(10):
        open_contact(story)
        story.run(4)
    ons = sum(on for _, on in story.switchings())
    assert ons <= 4


def test_quiet_hours_count_it():
    """Four switchings a night are four, whoever made them."""
    story = Story(study(room=QUIET, heater='min_off = "1 min"'), start="2026-01-12 22:05", air=18.5).run(5)
    for _ in range(6):
        if story.on():
            open_contact(story)
        story.run(10)
    counted = [on for at, on in story.switchings() if at > 1000]
    assert sum(counted) <= 2
    assert story.code() == "quiet"


def test_an_opening_of_before_the_last_on_changes_nothing():
    """What the report goes on to say of an earlier loss is no loss anew."""
    story = Story(study(heater='min_off = "1 min"'), air=18.0).run(10)
    at = open_contact(story)
    story.until(lambda s: s.on(), hours=1)
    story.plugs[COLUMN].report = lambda now: PlugReport(on=True, watts=600.0, on_at=now, opened_at=at)
    story.run(5)
    assert story.on()
