"""The replay of switches on bodies, step by step: every chance is reckoned anew here (derived, no outside source).

Rules: the body opens at 100 when free and its store is 5000; sixteen bodies are played side by side, so that a report
that all of them bear out leaves 98 in a hundred, and one that none does leaves two.
"""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest

from tests.core.body.bodies import ALL, MIDDLE, body_of, each
from thermostatd.core.body.brackets import openings
from thermostatd.core.body.state import BodyMemory
from thermostatd.core.body.store import CANDIDATES, SHARES, later
from thermostatd.core.meter.causes import COVERED, DIAL, FLOWS, FREE, NOTHING, OFF, ON, Chances, Switch
from thermostatd.core.meter.replay import BODIES, _away, _Bodies, chances

FULL, STORE, WATTS = 100.0, 5000.0, 800.0
LOW = Switch(0.4, 0.3)


def bodies(switch: Switch, warmth: float, watts: float = WATTS) -> _Bodies:
    """One cause, one size."""
    return _Bodies([(switch, FULL, STORE, warmth)], watts)


def fits(switch: Switch, warmth: float, *events: float, watts: float = WATTS) -> float:
    """The logarithm of the chance of what was reported."""
    return float(bodies(switch, warmth, watts).hear(list(events))[0])


def told(bears_out: float, anywhere: float) -> float:
    """What a report adds: the share of the bodies that bears it out, and a few that begin anew."""
    return pytest.approx(log(0.94 * (0.02 + 0.96 * bears_out) + 0.06 * anywhere), abs=2e-3)


def flows_share(switch: Switch, watts: float = WATTS) -> float:
    """The share of a cycle in which power flows: what is shed over what is drawn."""
    return min(1.0, switch.sheds * (50.0 * (switch.opens + switch.closes)) ** 1.3 / watts)


def test_the_switches_are_those_of_the_trade():
    """A dial low and narrow, a cover at about two thirds and sparing of heat, a free one where it stood."""
    assert [one.opens for one in DIAL] == [0.28, 0.32, 0.36, 0.40, 0.44, 0.48, 0.52, 0.56, 0.60]
    assert {round(one.opens - one.closes, 9) for one in DIAL} == {0.08}
    assert {one.sheds for one in DIAL + FREE} == {1.0}
    assert {one.opens for one in FREE} == {0.92, 1.0, 1.08}
    assert {round(one.closes / one.opens, 9) for one in FREE} == {0.68, 0.74, 0.80}
    assert {(one.opens, one.sheds) for one in COVERED} == {
        (opens, sheds) for opens in (0.60, 0.67, 0.74) for sheds in (0.3, 0.4, 0.55)
    }
    assert {round(one.closes / one.opens, 9) for one in COVERED} == {0.74}
    assert (len(DIAL), len(FREE), len(COVERED)) == (9, 9, 9)


def test_a_cause_is_sure_at_three_over_every_other_and_a_dial_at_five():
    """Logarithms: twenty to one, and 150 to one where nobody would take the cover away."""
    assert Chances(5.0, 0.0, -9.0, -9.0).is_dial
    for others in ((0.01, -9.0, -9.0), (-9.0, 0.01, -9.0), (-9.0, -9.0, 0.01)):
        assert not Chances(5.0, *others).is_dial
    assert Chances(0.0, 3.0, -9.0, -9.0).is_covered
    for dial, free, away in ((0.01, -9.0, -9.0), (-9.0, 0.01, -9.0), (-9.0, -9.0, 0.01)):
        assert not Chances(dial, 3.0, free, away).is_covered
    assert Chances(0.0, -9.0, 3.0, -9.0).is_free
    assert Chances(-9.0, 0.0, -9.0, 3.0).is_free
    assert not Chances(0.01, -9.0, 3.0, -9.0).is_free
    assert not Chances(-9.0, 0.01, -9.0, 3.0).is_free


def test_it_leans_to_what_is_likelier():
    """To a cover over the dial; to the dial where it is e times as likely as a cover, and over every other."""
    cover, either, dial = Chances(0.5, 0.51, 9.0, 9.0), Chances(0.5, 0.5, 9.0, 9.0), Chances(1.01, 0.0, -9.0, -9.0)
    assert (cover.leans_to_a_cover, cover.may_be_either, cover.leans_to_the_dial) == (True, False, False)
    assert (either.leans_to_a_cover, either.may_be_either, either.leans_to_the_dial) == (False, True, False)
    assert (dial.leans_to_a_cover, dial.may_be_either, dial.leans_to_the_dial) == (False, False, True)
    nearly = Chances(1.0, 0.0, -9.0, -9.0)
    assert nearly.may_be_either
    assert not nearly.leans_to_the_dial
    for others in ((-9.0, 1.0, -9.0), (-9.0, -9.0, 1.0)):
        assert not Chances(1.0, *others).leans_to_the_dial


def test_power_that_was_gone_for_a_while_shows_no_flow_before_it_is_back_for_good():
    """A hundredth, and another one for each report of power before the last of none."""
    assert _away([]) == pytest.approx(log(0.01))
    assert _away([1, FLOWS, 2, FLOWS]) == pytest.approx(log(0.01))
    assert _away([1, NOTHING, 2, NOTHING, 3, FLOWS, 4, FLOWS]) == pytest.approx(log(0.01))
    assert _away([1, FLOWS, 2, NOTHING, 3, FLOWS]) == pytest.approx(2 * log(0.01))
    assert _away([1, FLOWS, 2, OFF, 3, ON, 4, FLOWS, 5, NOTHING]) == pytest.approx(3 * log(0.01))


def test_a_cold_body_draws_until_it_is_as_warm_as_it_opens():
    """From cold to 40 in about 290 s: before that all bear out power that flows, after it all bear out nothing."""
    warms = next(s for s in range(0, 900, 5) if later(0.0, WATTS, s, STORE) >= 40.0)
    assert 250 < warms < 330
    flows = flows_share(LOW)
    assert fits(LOW, 0.0, 0.75 * warms, FLOWS) == told(1.0, flows)
    assert fits(LOW, 0.0, 1.2 * warms, FLOWS) == told(0.0, flows)
    both = fits(LOW, 0.0, 0.75 * warms, FLOWS, 1.2 * warms, NOTHING) - fits(LOW, 0.0, 0.75 * warms, FLOWS)
    assert both > log(0.9)


def test_the_mains_and_a_draught_let_the_bodies_come_apart():
    """Close to where it opens some have opened and some not: the report counts by their share."""
    warms = next(s for s in range(0, 900, 5) if later(0.0, WATTS, s, STORE) >= 40.0)
    found = fits(LOW, 0.0, warms, FLOWS)
    assert fits(LOW, 0.0, 1.2 * warms, FLOWS) + 0.5 < found < fits(LOW, 0.0, 0.75 * warms, FLOWS) - 0.1


def test_it_closes_again_as_cooled_and_later_under_a_cover():
    """From 80 to 60, by what is shed of its output."""
    for sheds in (1.0, 0.4):
        switch = Switch(0.8, 0.6, sheds)
        cools = (60.0**-0.3 - 80.0**-0.3) * STORE / sheds / 0.3  # from w' = -w^1.3 (derived)
        begins = fits(switch, 80.0, 1.0, NOTHING)
        assert begins == pytest.approx(log(0.98))
        still = fits(switch, 80.0, 1.0, NOTHING, 0.85 * cools, NOTHING) - begins
        assert still == told(1.0, 1.0 - flows_share(switch))
        back = fits(switch, 80.0, 1.0, NOTHING, 1.1 * cools, FLOWS) - begins
        assert back > fits(switch, 80.0, 1.0, NOTHING, 0.85 * cools, FLOWS) - begins + 1.0


def test_while_the_relay_is_off_it_cools_and_does_not_open():
    """Off for long it is cold; on again it draws until it is warm."""
    cold = fits(LOW, 39.0, 0.0, OFF, 7200.0, ON, 7380.0, FLOWS)
    assert cold == told(1.0, flows_share(LOW))
    open_then = fits(LOW, 40.0, 0.0, OFF, 7200.0, ON, 7260.0, FLOWS)
    assert open_then == told(1.0, flows_share(LOW))
    soon = fits(LOW, 40.0, 0.0, OFF, 30.0, ON, 60.0, NOTHING)
    assert soon == pytest.approx(log(0.98))


def test_the_first_report_of_nothing_tells_less():
    """How warm it was is not sure: it has opened at some time within the five minutes before."""
    found = bodies(LOW, 0.0)
    assert float(found.hear([60.0, NOTHING])[0]) == pytest.approx(log(0.3))
    assert found.open.all()
    cooled = later(40.0, 0.0, 60.0, STORE)
    assert found.warmth.max() <= 40.0
    assert found.warmth.min() >= cooled - 0.2
    assert len({round(float(one), 6) for one in found.warmth[0]}) == BODIES
    long_ago = bodies(Switch(0.4, 0.1), 0.0)
    long_ago.hear([3600.0, NOTHING])
    known = bodies(Switch(0.9, 0.1), 0.0)
    known.hear([900.0, NOTHING])
    assert known.warmth.min() >= later(90.0, 0.0, 305.0, STORE) - 1.0


def test_later_reports_copy_the_bodies_that_bear_them_out():
    """Those that do not give way, save a few that begin anew somewhere in the cycle."""
    found = bodies(LOW, 0.0)
    found.hear([60.0, FLOWS])
    assert not found.open.any()
    warm = float(np.median(found.warmth))
    contradicted = bodies(LOW, 0.0)
    contradicted.hear([60.0, FLOWS, 61.0, NOTHING, 62.0, NOTHING])
    assert warm < 12.0
    assert contradicted.open.mean() > 0.9
    assert contradicted.warmth[contradicted.open].min() >= 29.0
    assert contradicted.warmth.max() <= 40.0


def test_what_sheds_more_than_it_draws_never_opens():
    """100 W hold no body at 90."""
    high = Switch(0.9, 0.1)
    assert fits(high, 50.0, 36000.0, FLOWS, watts=100.0) == told(1.0, flows_share(high, 100.0))


def test_in_a_beat_as_long_as_the_time_between_reports_nothing_may_be_shown_for_an_hour():
    """Of a dial that is likely; under a cover, which is as long open as between four reports, it is not."""
    dial = Switch(0.45, 0.37)
    shed = 41.0**1.3
    beat = 8.0 * STORE / shed + 8.0 * STORE / (WATTS - shed)
    events = [each for n in range(1, 13) for each in (n * beat, NOTHING)]
    cover = Switch(0.67, 0.50, 0.4)
    assert fits(dial, 45.0, *events) > log(0.98) + 11 * log(0.85)
    assert fits(cover, 67.0, *events) < fits(dial, 45.0, *events)


def over(switches, body, warmth, events, share=1.0, watts=WATTS):
    """The logarithm of the mean chance of a cause: over its switches, and over the sizes by their weight."""
    taught = body.weights or [1.0] * CANDIDATES
    weights = [
        exp(-0.5 * (log(SHARES[n]) / 0.25) ** 2) * (0.5 * taught[n] / sum(taught) + 0.5 / CANDIDATES)
        for n in ALL
    ]
    likely = [n for n in ALL if weights[n] >= 0.06 * max(weights)]
    opens, store, total = openings(body), body.store_joules or 1.0, 0.0
    for n in likely:
        rows = [(one, opens[n] * share, store * SHARES[n], warmth[n]) for one in switches]
        total += weights[n] * float(np.exp(_Bodies(rows, watts).hear(events)).mean())
    return log(total / sum(weights[n] for n in likely))


@pytest.mark.parametrize("weights", [[], [0.1] * CANDIDATES, [0.02, 0.3] + [0.1] * (CANDIDATES - 2)])
def test_each_likely_size_counts_by_its_weight(weights):
    """Half by what openings taught, half by how usual it is (25 % of logarithms); under 6 % of the most it is not."""
    body, events = body_of(weights=weights), [500.0, NOTHING, 900.0, FLOWS]
    warmth = [float(10 + n) for n in ALL]
    found = chances(body, warmth, events, WATTS, 1.0)
    assert found.dial == pytest.approx(over(DIAL, body, warmth, events))
    assert found.covered == pytest.approx(over(COVERED, body, warmth, events))
    assert found.free == pytest.approx(over(FREE, body, warmth, events))
    assert found.away == _away(events)


def test_what_openings_taught_may_be_wrong_by_half():
    """A size that they speak against is heard all the same: one of them may have come under a cover."""
    one = body_of(weights=[float(n == MIDDLE) for n in ALL])
    events = [500.0, NOTHING, 900.0, FLOWS, 1300.0, NOTHING]
    alone = over(DIAL, one, each(0.0), events)
    assert chances(one, each(0.0), events, WATTS, 1.0).dial == pytest.approx(alone)
    rows = [(switch, openings(one)[MIDDLE], STORE, 0.0) for switch in DIAL]
    only = log(float(np.exp(_Bodies(rows, WATTS).hear(events)).mean()))
    assert alone != pytest.approx(only, abs=1e-3)


def test_a_warm_room_opens_it_sooner():
    """By the share of its rise that is left."""
    body, events = body_of(), [600.0, NOTHING, 900.0, FLOWS]
    found = chances(body, each(0.0), events, WATTS, 0.7)
    assert found.free == pytest.approx(over(FREE, body, each(0.0), events, share=0.7))


def test_a_body_without_a_store_yet_does_not_fail():
    """It is taken as one."""
    body = BodyMemory(usual_opens=100.0, most=each(1.0), weights=[float(n == MIDDLE) for n in ALL], wide=True)
    events = [1.0, FLOWS]
    found = chances(body, each(0.0), events, 5.0, 1.0)
    assert found.free == pytest.approx(over(FREE, body, each(0.0), events, watts=5.0))
