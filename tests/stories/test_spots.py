"""A spot: a person, a time, a place; its end always comes."""

import pytest

from tests.stories.teller import PANEL, SPOT, Story, house_of, study
from thermostatd.core.asking import Accepted, WarmMe
from thermostatd.core.house.cautions import cautions
from thermostatd.core.house.clashes import clashes

TOML = study(house='asleep = { from = "23:00", to = "06:30" }', more=SPOT)


def test_a_spot_counts_down_and_ends():
    """ON within a tick, the seconds that remain, who asked; OFF at its end."""
    story = Story(TOML, air=21.0).run(2)
    assert story.code(PANEL) == "spot-off"
    answer = story.warm_me(20)
    asked = story.steady
    assert answer.until.timestamp() - story.wall.timestamp() == pytest.approx(1200)
    story.step()
    spot = story.result.spots["sewing table"]
    assert (spot.on, spot.who, spot.remaining_seconds) == (True, "Bo", 1200)
    assert "20" in spot.reason.sentence
    story.run(10)
    assert 580 <= story.result.spots["sewing table"].remaining_seconds <= 610
    assert story.until(lambda s: not s.on(PANEL), hours=1) - asked == pytest.approx(1200, abs=10)
    assert story.happened("request-ended") == 1


def test_a_spot_is_asked_for_within_its_limits():
    """Longer than the owner allows, not at all, or no number: refused with the limit."""
    story = Story(TOML, air=21.0).run(2)
    assert (story.warm_me(91).code, story.warm_me(91).limit) == ("too-long", "90 minutes")
    for odd in (0, -5, float("nan"), True, "20", None, 10**400):
        assert story.warm_me(odd).code == "not-a-number"
    assert story.do(WarmMe("attic", 10)).code == "no-such-spot"


def test_a_spot_is_refused_while_it_could_not_run():
    """All off, and hours that may_run forbids, are said at once instead of an empty promise."""
    story = Story(TOML.replace('may_run = ["awake", "asleep", "away"]\nplug', 'may_run = ["awake"]\nplug'),
                  "2026-01-12 22:30", air=21.0).run(2)
    story.all_off()
    assert story.warm_me(10).code == "everything-off"
    story = Story(TOML.replace('watts = 900\nmay_run = ["awake", "asleep", "away"]', 'watts = 900'),
                  "2026-01-12 22:59", air=21.0).run(2)
    assert story.warm_me(10).code == "spot-not-now"


def test_a_second_request_replaces_the_first_and_cancel_ends_it():
    """The new end counts, what it replaced is told, and Cancel is OFF within a tick."""
    story = Story(TOML, air=21.0).run(2)
    story.warm_me(60)
    story.run(5)
    assert "Bo" in story.warm_me(10, "Ana").replaced
    story.step()
    assert story.result.spots["sewing table"].who == "Ana"
    assert isinstance(story.cancel("sewing table"), Accepted)
    story.step()
    assert not story.on(PANEL)
    assert story.cancel("sewing table").code == "nothing-to-cancel"


def test_a_spot_goes_on_after_a_short_stop_and_ends_on_time():
    """With the time down known, the end stays where it was; without, the spot ends."""
    story = Story(TOML, air=21.0).run(2)
    story.warm_me(60)
    asked = story.steady
    story.run(5).restart(down_seconds=60).run(2)
    assert story.on(PANEL)
    assert story.until(lambda s: not s.on(PANEL), hours=2) - asked == pytest.approx(3600, abs=10)
    story.warm_me(60)
    story.run(5).restart(elapsed_known=False).run(2)
    assert not story.on(PANEL)


def test_a_spot_may_be_asked_for_again_while_it_runs():
    """The new time counts from now, up to the longest, and the answer says what it takes the place of."""
    story = Story(TOML, air=21.0).run(2)
    story.warm_me(60)
    story.run(30)
    asked = story.steady
    answer = story.warm_me(90, "Ana")
    assert "90 minutes from now" in answer.sentence
    assert "in place of the 30" in answer.sentence
    assert story.warm_me(91).code == "too-long"
    assert story.until(lambda s: not s.on(PANEL), hours=3) - asked == pytest.approx(5400, abs=10)
    assert len(story.switchings(PANEL)) == 2


USUAL = 'usual = [{ days = "mon-fri", at = "08:30", minutes = 20 }]\n'


def timed(words, start="2026-01-12 08:00"):
    """The spot with words of its own, on a Monday morning."""
    return Story(study(more=SPOT.replace("[spot.heater]", words + "[spot.heater]")), start, air=21.0)


def test_a_spot_never_starts_unasked_unless_the_owner_says_so():
    """A usual time without the owner's word is a fault of the file; with it, the spot runs at that time alone."""
    house = house_of(study(more=SPOT.replace("[spot.heater]", USUAL + "[spot.heater]")))
    assert [clash.path for clash in clashes(house)] == [("spot", 0, "usual")]
    story = timed('unasked = "accepted"\n' + USUAL).run(hours=6)
    assert ("spot", 0, "unasked") in [caution.path for caution in cautions(story.house)]
    (on, off) = [at for at, _ in story.switchings(PANEL)]
    assert (on - 1000.0, off - on) == (pytest.approx(1800, abs=10), pytest.approx(1200, abs=10))
    assert story.happened("usual-spot") == 1
    assert not timed('unasked = "accepted"\n' + USUAL, "2026-01-17 08:00").run(hours=2).switchings(PANEL)


@pytest.mark.parametrize("why", ["all-off", "out", "clock", "late", "asked"])
def test_a_usual_time_starts_nothing_where_a_person_or_the_clock_says_otherwise(why):
    """Everything off, everyone out, a doubted clock, a daemon that was down, a person's own request: all come first."""
    story = timed('unasked = "accepted"\n' + USUAL).run(25)
    if why == "all-off":
        story.all_off()
    if why == "out":
        story.out()
    if why == "clock":
        story.jump_wall(0.07)
    if why == "late":
        story.restart(down_seconds=600)
    if why == "asked":
        story.warm_me(60)
    story.run(30)
    assert story.happened("usual-spot") == 0
    assert story.on(PANEL) == (why == "asked")


def test_a_spot_tells_how_much_warmer_it_feels():
    """Operative temperature by the published chain: 60 % of 900 W, 1.5 m off, on a small sphere at 18 °C."""
    story = Story(TOML, air=21.0).run(2)
    spot = story.result.spots["sewing table"]
    beam = 0.6 * 900 / (3.14159265 * 1.5**2)  # a panel on its axis: Q/(πd²), derived
    radiant = ((18 + 273.15) ** 4 + beam / (4 * 5.670374e-8)) ** 0.25 - 273.15
    assert spot.warmer_kelvin == pytest.approx((radiant - 18) / 2, abs=0.001)  # still air: the mean, ISO 7726
    assert "1.7° warmer 1.5 m in front" in spot.felt
    near = timed("metres = 0.75\n").run(2).result.spots["sewing table"]
    assert near.warmer_kelvin > 3.4 * spot.warmer_kelvin
    assert ("spot", 0, "metres") in [caution.path for caution in cautions(timed("metres = 0.75\n").house)]
