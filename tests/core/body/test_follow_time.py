"""How a followed body begins, how time goes by, and how it is switched; `store` and `brackets` are held elsewhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.core.body.followed import (
    COLUMN_1500,
    MIDDLE,
    STORE,
    after,
    body_of,
    each,
    metered,
    resting,
    running,
    same,
)
from tests.core.guard.cases import NOW
from tests.stories.teller import study
from thermostatd.core.body.expected import expected_watts, is_on, is_slow, room_share
from thermostatd.core.body.follow import follow
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import SHARES, later, warmth_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.values import Missing
from thermostatd.physics.heater_kinds import heater_design

# What is expected of it.


def test_the_plugs_own_word_on_whether_it_is_on_comes_first():
    """Without one, what it was told."""
    for shown, told, on in (
        (True, False, True),
        (False, True, False),
        (None, True, True),
        (None, False, False),
    ):
        assert is_on(HeaterMemory(shown_on=shown, told_on=told)) is on


def test_reports_a_minute_apart_are_not_slow():
    """Past that they are."""
    assert not is_slow(HeaterMemory(meter_period=61.0))
    assert is_slow(HeaterMemory(meter_period=61.1))


def test_what_it_will_draw_is_its_level_at_the_mains_of_now():
    """As the square of the volts (a resistance); the label's watts where no level is known."""
    assert expected_watts(running(volts=None)) == 600.0
    assert expected_watts(running(volts=115.0)) == 150.0
    assert expected_watts(running(facts=HeaterFacts(level_watts=580.0))) == 580.0


def test_an_open_cut_out_is_expected_to_close_on_the_level_before():
    """Not on what it draws while it is open."""
    facts = HeaterFacts(level_watts=588.0)
    assert expected_watts(running(body_of(opened=True, full_watts=1400.0), facts=facts)) == 1400.0
    assert expected_watts(running(body_of(opened=False, full_watts=1400.0), facts=facts)) == 588.0
    assert expected_watts(running(body_of(opened=True, full_watts=None), facts=facts)) == 600.0


def test_of_a_slow_meter_what_it_drew_last_is_expected():
    """As metered: the volts may be those of a rest. Not while open, nor before it was seen to draw."""
    slow = {"meter_period": 300.0, "volts": 115.0}
    assert expected_watts(running(body_of(drew_watts=570.0), **slow)) == 570.0
    assert expected_watts(running(body_of(drew_watts=570.0), volts=115.0)) == 150.0
    assert expected_watts(running(body_of(drew_watts=570.0, opened=True), **slow)) == 150.0
    assert expected_watts(running(body_of(), **slow)) == 150.0


def test_a_warm_room_leaves_less_rise_until_the_cut_out_opens():
    """Of 82 °C, over the 62 K of a room of 20 °C; a tenth at the least; a room without a reading is usual."""
    assert room_share(running(air=20.0)) == 1.0
    assert room_share(running(air=35.5)) == pytest.approx(0.75)
    assert room_share(running(air=5.0)) == pytest.approx(77.0 / 62.0)
    assert room_share(running(air=81.0)) == 0.1
    assert room_share(running(air=Missing("silent"))) == 1.0


# How it begins.


def test_a_new_body_is_as_its_label_says_and_cold():
    """Its store and where it opens are those of such a heater."""
    case = resting(BodyMemory())
    body, design = follow(case), heater_design("oil-filled", 600.0, 230.0, (), None)
    store = design.body_joules_per_kelvin * design.watts_per_kelvin_n ** (-1.0 / design.exponent)
    assert body.store_joules == pytest.approx(store, abs=1e-3)
    assert body.usual_opens == pytest.approx(warmth_of(design.sustained_watts()), abs=1e-5)
    assert (body.begun, body.at) == (NOW, NOW)
    assert body.warmth == body.proven == body.most == each(0.0)
    assert body.doubtful_until == 0.0


@pytest.mark.parametrize("told", ["settings_watts = [500, 900]", "sustained_watts = 400"])
@pytest.mark.parametrize("body", [BodyMemory(), body_of(watts=0.0, usual_opens=None)])
def test_its_label_is_all_that_the_owner_wrote(told, body):
    """Its settings, and what it sustains."""
    heater = resting(toml=study(heater=told)).heater
    design = heater_design("oil-filled", 600.0, 230.0, heater.settings_watts, heater.sustained_watts)
    found = follow(resting(replace(body), toml=study(heater=told)))
    assert found.usual_opens == pytest.approx(warmth_of(design.sustained_watts()), abs=1e-5)
    if body.store_joules is None:
        store = design.body_joules_per_kelvin * design.watts_per_kelvin_n ** (-1.0 / design.exponent)
        assert found.store_joules == pytest.approx(store, abs=1e-3)


def test_one_that_runs_when_it_is_first_seen_may_be_hot():
    """For an hour nobody knows."""
    assert follow(running(BodyMemory())).doubtful_until == NOW + 3600.0


def test_a_body_of_another_number_of_candidates_begins_cold():
    """As of another version; since when it is followed stays."""
    body = follow(resting(body_of(watts=0.0, warmth=[50.0, 60.0], begun=7.0, usual_opens=3.0)))
    assert body.warmth == body.proven == body.most == each(0.0)
    assert body.begun == 7.0
    assert body.usual_opens != 3.0


def test_where_it_usually_opens_is_filled_in():
    """Of a memory that does not have it; the warmth stays."""
    body = follow(resting(body_of(watts=0.0, usual_opens=None)))
    design = heater_design("oil-filled", 600.0, 230.0, (), None)
    assert body.usual_opens == pytest.approx(warmth_of(design.sustained_watts()), abs=1e-5)
    assert (body.store_joules, body.warmth) == (STORE, each(50.0))


def test_what_the_owner_wrote_is_where_it_opens_until_it_is_seen():
    """At every candidate; an opening knows better."""
    toml = study(heater="sustained_watts = 500")
    assert follow(resting(toml=toml)).opens == each(warmth_of(500.0))
    lessons = [Lesson(0.0, each(90.0), each(91.0))]
    body = body_of(watts=0.0, lessons=lessons, opens=each(90.0), weights=each(0.1))
    assert follow(resting(body, toml=toml)).opens == each(90.0)


def test_on_more_than_such_bodies_shed_and_by_a_slow_meter_an_opening_is_presumed():
    """Not by a quick one, nor before it has told anything, nor on what it sheds."""
    told = {"meter_period": 300.0, "watts": 0.0, "watts_at": NOW - 5000.0}
    assert follow(resting(BodyMemory(), toml=COLUMN_1500, **told)).wide
    assert not follow(resting(BodyMemory(), toml=COLUMN_1500, **told | {"meter_period": 60.0})).wide
    assert not follow(resting(BodyMemory(), toml=COLUMN_1500, **told | {"watts_at": None})).wide
    assert not follow(resting(BodyMemory(), **told)).wide
    plain = study().replace("watts = 600", "watts = 1500")
    assert follow(resting(BodyMemory(), toml=plain, **told)).wide
    sure = COLUMN_1500.replace("settings_watts", "sustained_watts = 600\nsettings_watts")
    assert not follow(resting(BodyMemory(), toml=sure, **told)).wide


def test_more_is_a_seventh_over_what_it_usually_sheds_or_its_lowest_setting():
    """Whichever is more, 15 % over it."""
    told = {"meter_period": 300.0, "watts": 0.0, "watts_at": NOW - 5000.0}
    for shed, wide in ((1499.0 / 1.15, True), (1501.0 / 1.15, False)):
        body = body_of(watts=0.0, usual_opens=warmth_of(shed))
        assert follow(resting(body, toml=COLUMN_1500, **told)).wide is wide
    for lowest, wide in ((1300, True), (1310, False)):
        toml = COLUMN_1500.replace("588, 912", f"{lowest}, 1400")
        assert follow(resting(body_of(watts=0.0, usual_opens=10.0), toml=toml, **told)).wide is wide


def test_what_is_presumed_gives_way_to_an_opening_that_was_seen():
    """Lessons are not presumed away."""
    body = body_of(watts=0.0, wide=True, lessons=[Lesson(0.0, each(90.0), each(95.0))], weights=each(0.1),
                   opens=each(90.0))  # fmt: skip
    assert follow(resting(body)).wide
    body = body_of(watts=0.0, wide=True, weights=each(0.1), opens=each(90.0))
    assert not follow(resting(body)).wide


# How time goes by.


@pytest.mark.parametrize("seconds", [1.0, 10.0, 180.0])
def test_between_steps_it_draws_what_it_drew(seconds):
    """Every candidate warms by its own store."""
    body = follow(running(body_of(at=NOW - seconds)))
    assert body.at == NOW
    assert same(body.warmth, 50.0, 600.0, seconds)
    assert body.doubtful_until == 0.0
    assert body.proven_at == NOW - 60.0


def test_a_step_back_or_none_changes_nothing():
    """And is where it goes on from."""
    for at in (NOW, NOW + 5.0, None):
        body = follow(running(body_of(at=at)))
        assert (body.at, body.warmth) == (NOW, each(50.0))


def test_a_body_that_rests_cools():
    """And a cold one stays cold."""
    assert same(follow(resting(body_of(watts=0.0, at=NOW - 100.0))).warmth, 50.0, 0.0, 100.0)
    assert follow(resting(body_of(watts=0.0, at=NOW - 100.0, warmth=each(0.0)))).warmth == each(0.0)
    assert follow(running(body_of(at=NOW - 100.0, warmth=each(0.0)))).warmth[MIDDLE] == after(
        0.0, 600.0, 100.0
    )


@pytest.mark.parametrize(("gap", "on"), [(181.0, 181.0), (1200.0, 1200.0), (3000.0, 1200.0)])
def test_in_a_gap_an_order_may_have_held_for_twenty_minutes(gap, on):
    """Then it cooled; how warm it is nobody knows for two hours, and nothing is proven any more."""
    body = follow(resting(body_of(at=NOW - gap, fell_at=NOW - gap)))
    expected = [
        later(later(50.0, 600.0, on, STORE * share), 0.0, gap - on, STORE * share) for share in SHARES
    ]
    assert body.warmth == pytest.approx(expected, abs=3e-3)
    assert body.doubtful_until == NOW + 7200.0
    assert (body.watts, body.proven_at, body.fell_at) == (0.0, None, None)


def test_a_gap_of_one_that_rested_is_a_rest():
    """Nothing is in doubt."""
    body = follow(resting(body_of(watts=0.0, at=NOW - 3000.0)))
    assert same(body.warmth, 50.0, 0.0, 3000.0)
    assert body.doubtful_until == 0.0


# How it is switched.


@pytest.mark.parametrize(("since", "ran"), [(4.0, 4.0), (25.0, 10.0), (-3.0, 0.0), (None, 0.0)])
def test_it_is_on_since_the_order_and_not_since_this_step(since, ran):
    """No longer than the step lasted."""
    on_since = None if since is None else NOW - since
    body = follow(running(body_of(watts=0.0, fell_at=NOW - 9.0), on_since=on_since))
    assert body.proven == each(50.0)
    assert body.proven_at == NOW - ran
    assert (body.proven_watts, body.peak_watts, body.fell_at) == (None, 0.0, None)
    assert same(body.warmth, 50.0, 600.0, ran)
    assert body.watts == 600.0


@pytest.mark.parametrize(("since", "rested"), [(4.0, 4.0), (25.0, 10.0), (None, 0.0)])
def test_it_is_off_since_the_order_and_not_since_this_step(since, rested):
    """What it was taken to have drawn since is taken back."""
    off_since = None if since is None else NOW - since
    body = follow(resting(body_of(at=NOW - 10.0), off_since=off_since))
    warm = later(50.0, 600.0, 10.0, STORE)
    assert body.warmth[MIDDLE] == after(warm, 600.0, -rested)
    assert body.watts == 0.0
    assert body.ended == []


def test_where_reports_are_slow_the_warmth_at_the_end_of_a_run_is_kept():
    """In tenths."""
    body = follow(resting(body_of(warmth=each(50.06)), meter_period=300.0, off_since=NOW))
    assert body.ended == each(50.1)
    assert follow(resting(body, meter_period=300.0)).ended == each(50.1)


def test_power_while_it_is_off_is_heat_that_nobody_gave():
    """Past the floor of a meter's noise: 18 W of 600; what fell then may be that contact."""
    for watts, stuck in ((18.0, False), (18.1, True), (None, False)):
        body = body_of(watts=0.0, fall=Lesson(0.0, each(1.0), each(2.0)))
        body = follow(resting(body, watts=watts, watts_at=NOW))
        assert body.doubtful_until == (NOW + 7200.0 if stuck else 0.0)
        assert (body.fall is None) is stuck
    body = follow(metered(600.0, body_of(fall=Lesson(0.0, each(1.0), each(2.0)))))
    assert body.doubtful_until == 0.0


def test_it_draws_what_was_proven_last_or_else_what_is_expected():
    """And never nothing while it is on."""
    assert follow(metered(590.0)).watts == 590.0
    assert follow(metered(0.0)).watts == 1.0
    assert follow(running(body_of(proven_watts=570.0))).watts == 570.0
    assert follow(running(body_of(proven_watts=None, proven_at=None))).watts == 600.0
    assert follow(running(body_of(proven_watts=0.5))).watts == 1.0
