"""A heater's body followed from step to step, branch by branch; `store` and `brackets` are held elsewhere.

Rules: the study's column, 600 W of an invented house, at one moment; all candidates are alike unless a test says so.
"""

from __future__ import annotations

import pytest

from tests.core.guard.cases import NOON, NOW, case_of, now_at
from tests.stories.teller import study
from thermostatd.core.body import follow as module
from thermostatd.core.body.follow import expected_watts, follow, is_on, is_slow, room_share
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, later, warmth_of, watts_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.memory import HeaterMemory
from thermostatd.core.values import Missing
from thermostatd.physics.heater_kinds import heater_design

STORE, USUAL, MIDDLE = 5000.0, 140.0, CANDIDATES // 2
COLUMN_1500 = study(heater="settings_watts = [588, 912, 1500]").replace("watts = 600", "watts = 1500")
WALL = NOON.timestamp()
ON = {"told_on": True, "shown_on": True, "on_since": NOW - 900.0, "meter_period": 10.0}
OFF = {"told_on": False, "shown_on": False, "off_since": NOW - 900.0, "meter_period": 10.0}


def each(value: float) -> list[float]:
    """One value for each candidate."""
    return [value] * CANDIDATES


def body_of(**changed) -> BodyMemory:
    """A body at 50, last looked at now, that stood 20 and last proved 40 a minute ago, on 600 W."""
    fields = {
        "store_joules": STORE, "usual_opens": USUAL, "at": NOW, "watts": 600.0, "warmth": each(50.0),
        "proven": each(40.0), "proven_at": NOW - 60.0, "proven_watts": 600.0, "peak_watts": 600.0,
        "most": each(20.0), "begun": 0.0,
    }  # fmt: skip
    return BodyMemory(**fields | changed)


def running(body: BodyMemory | None = None, **more):
    """The column, on since a quarter of an hour."""
    return case_of(**{"body": body or body_of()} | ON | more)


def resting(body: BodyMemory | None = None, **more):
    """The column, off since a quarter of an hour."""
    return case_of(**{"body": body or body_of(watts=0.0)} | OFF | more)


def metered(watts: float, body: BodyMemory | None = None, at: float = NOW, **more):
    """The column running, with a report."""
    return running(body, watts=watts, watts_at=at, **more)


def after(warmth: float, watts: float, seconds: float, n: int = MIDDLE) -> float:
    """One candidate's warmth later."""
    return pytest.approx(later(warmth, watts, seconds, STORE * SHARES[n]), abs=2e-3)


def same(found: list[float], warmth: float, watts: float, seconds: float) -> bool:
    """Whether every candidate has gone on from one warmth so."""
    return found == pytest.approx(
        [later(warmth, watts, seconds, STORE * share) for share in SHARES], abs=2e-3
    )


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
    body = follow(resting(body_of(warmth=each(50.0123)), meter_period=300.0, off_since=NOW))
    assert body.ended == each(50.0)
    assert follow(resting(body, meter_period=300.0)).ended == each(50.0)


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


# What a report proves.


def test_a_report_of_its_level_proves_it_closed():
    """As warm as it was then, drawing this, and nothing open."""
    body = body_of(opened=False, cool_share=0.5, fell_at=NOW - 30.0, peak_watts=600.0)
    body = follow(metered(594.4, body, at=NOW - 20.0))
    assert body.proven == pytest.approx(
        [later(50.0, 594.4, -20.0, STORE * share) for share in SHARES], abs=2e-3
    )
    assert (body.proven_at, body.proven_watts, body.fell_at) == (NOW - 20.0, 594.4, None)
    assert (body.opened, body.cool_share, body.judged_at) == (False, 1.0, NOW - 20.0)
    assert (body.full_watts, body.drew_watts) == (600.0, 594.4)


def test_a_report_is_judged_once():
    """And one that proves nothing yet not at all."""
    body = follow(metered(594.0, body_of(judged_at=NOW)))
    assert (body.proven_at, body.proven_watts) == (NOW - 60.0, 600.0)
    body = follow(metered(594.0, on_since=NOW - 59.0))
    assert (body.proven_at, body.judged_at) == (NOW - 60.0, None)


@pytest.mark.parametrize(
    ("watts", "volts", "closed"),
    [(504.0, None, True), (503.0, None, False), (540.1, 230.0, True), (539.9, 230.0, False),
     (540.1 * 0.81, 207.0, True), (539.9 * 0.81, 207.0, False)],
)  # fmt: skip
def test_on_its_level_is_nine_tenths_of_the_most_or_less_without_volts(watts, volts, closed):
    """The mains' drift is in the watts where volts are not told; where they are, it is taken out."""
    body = follow(metered(watts, volts=volts))
    assert body.opened is not closed
    assert (body.proven_at == NOW) is closed
    assert (body.fell_at == NOW) is not closed


def test_the_level_is_taken_to_the_nominal_volts():
    """The most of this run; as metered, besides."""
    body = follow(metered(600.0 * 0.81, body_of(peak_watts=0.0), volts=207.0))
    assert (body.peak_watts, body.full_watts) == (pytest.approx(600.0), 600.0)
    assert body.drew_watts == 600.0 * 0.81


def test_after_an_opening_full_power_is_nine_tenths_without_volts_too():
    """As low as a low setting's share no mains drifts."""
    body = body_of(opened=True, full_watts=600.0, peak_watts=600.0, fell_at=NOW - 30.0, tail=[1.0])
    assert follow(metered(530.0, body)).opened
    body = body_of(opened=True, full_watts=600.0, peak_watts=600.0, fell_at=NOW - 30.0, tail=[1.0])
    assert not follow(metered(541.0, body)).opened


@pytest.mark.parametrize(
    ("watts", "doubtful", "log", "stood"),
    [(600.0, 0.0, None, True), (504.0, 0.0, None, True), (503.9, 0.0, None, False), (600.0, NOW, None, True),
     (600.0, NOW + 0.1, None, False), (600.0, 0.0, {"at": 0.0}, False)],
)  # fmt: skip
def test_what_it_stood_is_what_it_proved_on_full_power(watts, doubtful, log, stood):
    """In a room of 20 °C; not while its warmth is in doubt, and not on less power."""
    notes = {"cut-out": {"log": log}} if log else {}
    body = body_of(doubtful_until=doubtful, peak_watts=watts)
    body = follow(metered(watts, body, notes=notes, air=35.5))
    assert body.proven_at == NOW
    assert body.most == (each(66.67) if stood else each(20.0))


def test_with_volts_full_power_is_nine_tenths():
    """Of what its level draws on the mains of now."""
    for watts, stood in ((540.0 * 0.81 + 0.1, True), (540.0 * 0.81 - 0.1, False)):
        body = follow(metered(watts, body_of(peak_watts=0.0), volts=207.0))
        assert (body.most == each(50.0)) is stood


def test_what_it_stood_never_falls():
    """The most of each candidate."""
    body = follow(metered(600.0, body_of(most=[30.0] * 5 + [70.0] * 6)))
    assert body.most == [50.0] * 5 + [70.0] * 6


def test_where_an_opening_is_presumed_what_was_stood_is_told():
    """Weights and openings move with it."""
    body = body_of(watts=1500.0, wide=True, weights=[0.1] * CANDIDATES, opens=each(10.0), warmth=each(120.0),
                   proven_watts=1500.0, peak_watts=1500.0, usual_opens=100.0)  # fmt: skip
    case = metered(1500.0, body, toml=COLUMN_1500, meter_period=300.0)
    body = follow(case)
    assert min(body.opens) == 120.0
    assert case.kept.facts.opens_watts is None


# What a slow meter proves.


@pytest.mark.parametrize(
    ("watts", "since", "proven"),
    [(504.0, 60.0, True), (504.0, 59.0, False), (503.0, 60.0, False), (0.0, 299.0, False), (0.0, 300.0, True)],
)  # fmt: skip
def test_of_a_slow_meter_full_power_proves_at_once_and_less_after_a_period(watts, since, proven):
    """A mean over the period may hold some of the rest before."""
    case = metered(watts, meter_period=300.0, on_since=NOW - since)
    assert (follow(case).judged_at == NOW) is proven


@pytest.mark.parametrize(
    ("watts", "since", "no_means"),
    [(504.0, 210.0, True), (504.0, 210.1, False), (503.9, 100.0, False), (1.3 * 504.0, 100.0, True),
     (1.3 * 504.0 + 0.1, 100.0, False), (600.0, 60.0, True)],
)  # fmt: skip
def test_full_power_early_in_a_period_is_no_mean(watts, since, no_means):
    """By seven tenths of it; much more may be the mean of another level."""
    case = metered(watts, meter_period=300.0, on_since=NOW - since)
    assert follow(case).no_means is no_means


def test_a_meter_that_tells_no_means_proves_less_after_a_minute():
    """And not sooner."""
    for since, proven in ((60.0, True), (59.0, False)):
        case = metered(100.0, body_of(no_means=True), meter_period=300.0, on_since=NOW - since)
        assert (follow(case).judged_at == NOW) is proven


# How a run begins.


def test_the_first_proof_of_a_run_holds_from_its_beginning():
    """It drew this since it was switched on, not what was expected."""
    body = follow(metered(570.0, body_of(proven_watts=None)))
    assert same(body.warmth, 40.0, 570.0, 60.0)
    assert body.proven_watts == 570.0


def test_low_at_the_first_report_of_a_slow_meter_it_opened_meanwhile():
    """On what was expected until then; its fall may be a lesson."""
    body = follow(metered(100.0, body_of(proven_watts=None, peak_watts=0.0), meter_period=300.0))
    assert body.proven_watts == 600.0
    assert (body.opened, body.fell_at, body.tail) == (True, NOW, [100.0])
    assert body.fall is not None


def test_low_at_the_first_report_of_a_quick_meter_is_another_level():
    """If it was not open before."""
    body = follow(metered(100.0, body_of(proven_watts=None, peak_watts=0.0)))
    assert (body.opened, body.fell_at, body.full_watts) == (False, None, 100.0)


def still_open(share: float, **more) -> BodyMemory:
    """One that opened in the run before, switched on again at that share of its opening warmth, a minute ago."""
    fields = {
        "opened": True, "full_watts": 600.0, "proven_watts": None, "peak_watts": 0.0, "cool_share": 1.0,
        "proven": each(100.0 * share), "opens": each(100.0), "weights": at_middle(),
    }  # fmt: skip
    return body_of(**fields | more)


def at_middle() -> list[float]:
    """All weight on the middle candidate."""
    return [float(n == MIDDLE) for n in range(CANDIDATES)]


@pytest.mark.parametrize(("share", "period", "cools_to"), [(0.8, 10.0, 0.6), (0.4, 10.0, 0.3), (0.8, 300.0, 0.1),
                                                            (0.13, 300.0, 0.1)])  # fmt: skip
def test_still_open_at_switch_on_it_rests_until_it_is_cooler(share, period, cools_to):
    """Three quarters as warm; where reports are slow, nearly cold."""
    body = follow(metered(100.0, still_open(share, lessons=[Lesson(0.0, each(100.0), each(101.0))]),
                          meter_period=period))  # fmt: skip
    assert body.opened
    assert body.fell_at == NOW
    assert body.cool_share == pytest.approx(cools_to)


@pytest.mark.parametrize(("share", "period"), [(0.39, 10.0), (0.12, 300.0)])
def test_low_on_a_body_that_has_surely_closed_is_another_level(share, period):
    """It draws that, and nothing is open."""
    body = follow(metered(100.0, still_open(share, lessons=[Lesson(0.0, each(100.0), each(101.0))]),
                          meter_period=period))  # fmt: skip
    assert (body.opened, body.fell_at, body.full_watts) == (False, None, 100.0)


def test_the_share_is_that_of_the_rooms_air():
    """In a warm room as much rise is more of it."""
    lessons = [Lesson(0.0, each(100.0), each(101.0))]
    body = follow(metered(100.0, still_open(0.36, lessons=lessons), air=35.5))
    assert body.cool_share == pytest.approx(0.75 * 0.36 / 0.75)


def test_without_any_opening_known_low_at_switch_on_is_another_level():
    """There is nothing that it could be compared with."""
    body = follow(metered(100.0, still_open(0.8, weights=[], opens=[])))
    assert (body.opened, body.full_watts) == (False, 100.0)


def test_what_was_open_since_switch_on_stays_so():
    """Until full power is back."""
    lessons = [Lesson(0.0, each(100.0), each(101.0))]
    body = still_open(0.8, proven_watts=100.0, fell_at=NOW - 30.0, cool_share=0.6, lessons=lessons)
    body = follow(metered(100.0, body))
    assert (body.opened, body.fell_at, body.cool_share, body.peak_watts) == (True, NOW - 30.0, 0.6, 0.0)
    body.proven_watts, body.judged_at = 100.0, None
    body = follow(metered(600.0, body))
    assert (body.opened, body.fell_at, body.cool_share, body.peak_watts) == (False, None, 1.0, 600.0)


# How power falls.


def test_a_fall_lies_between_the_last_proof_and_its_report():
    """By a quick meter in the middle; the body cools since on what is left."""
    body = follow(metered(100.0))
    opened = later(40.0, 600.0, 30.0, STORE)
    assert (body.fell_at, body.opened, body.tail) == (NOW, True, [100.0])
    assert body.warmth[MIDDLE] == after(opened, 100.0, 30.0)
    assert body.fall.before == each(40.0)
    assert body.fall.after == pytest.approx(
        [later(40.0, 600.0, 60.0, STORE * share) for share in SHARES], abs=6e-3
    )
    assert body.fall.ran_seconds == 900.0
    assert body.fall.at_wall == WALL


def test_the_warmth_of_a_fall_is_told_for_a_room_of_twenty_degrees():
    """In hundredths; of a run whose beginning is not known, no seconds."""
    body = follow(metered(100.0, air=35.5, on_since=None, settled_at=NOW - 300.0))
    assert body.fall.before == each(round(40.0 / 0.75, 2))
    assert body.fall.ran_seconds == 0.0


def test_where_openings_lie_far_apart_it_is_taken_to_have_opened_late():
    """To be taken for too warm is the safe side."""
    lessons = [Lesson(0.0, each(100.0), each(101.0))]
    body = body_of(wide=True, lessons=lessons, weights=at_middle(), opens=each(100.0))
    body = follow(metered(100.0, body))
    assert body.warmth[MIDDLE] == after(40.0, 600.0, 60.0)


def test_a_fall_is_no_lesson_while_its_warmth_is_in_doubt():
    """To the second; of a slow meter, in the first hour besides."""
    for doubtful, period, begun, lesson in (
        (NOW, 10.0, NOW, True), (NOW + 0.1, 10.0, 0.0, False), (0.0, 300.0, NOW - 3600.0, True),
        (0.0, 300.0, NOW - 3599.0, False), (0.0, 300.0, None, True),
    ):  # fmt: skip
        body = follow(metered(100.0, body_of(doubtful_until=doubtful, begun=begun), meter_period=period))
        assert (body.fall is not None) is lesson
        assert body.opened


def test_three_reports_may_tell_when_it_fell():
    """A reading in between, then its end twice: a mean of this period, so it fell seven tenths of it before."""
    body = follow(metered(250.0, at=NOW - 20.0, body=body_of(at=NOW - 20.0, proven_at=NOW - 80.0)))
    assert (body.fell_at, body.tail) == (NOW - 20.0, [250.0])
    for at in (NOW - 10.0, NOW):
        body = follow(metered(100.0, body, at=at))
    assert body.tail == [250.0, 100.0, 100.0]
    until = 60.0 - 0.5 * (0.7 * 10.0 + 1.0)  # to the middle of what it may be: 0 … 8 s
    opened = later(40.0, 600.0, until, STORE)
    assert body.warmth[MIDDLE] == after(opened, 100.0, 80.0 - until)
    assert body.fall.before[MIDDLE] == pytest.approx(later(40.0, 600.0, 52.0, STORE), abs=6e-3)
    assert body.fall.after[MIDDLE] == pytest.approx(later(40.0, 600.0, 60.0, STORE), abs=6e-3)
    body.warmth = each(50.0)
    assert follow(metered(100.0, body, at=NOW + 10.0)).tail == [250.0, 100.0, 100.0]
    assert body.warmth == each(50.0)


def test_one_reading_of_a_slow_meter_without_means_tells_when_it_fell():
    """At its end it fell some seconds ago; in between it fell just now."""
    fields = {"no_means": True, "watts": 1500.0, "proven_watts": 1500.0, "peak_watts": 1500.0,
              "full_watts": 1500.0, "proven_at": NOW - 300.0}  # fmt: skip
    for watts, least, most in ((588.0, 9.657, 300.0), (1000.0, 0.0, 1.0 + 12.0 * 0.7947)):
        case = metered(watts, body_of(**fields), toml=COLUMN_1500, meter_period=300.0)
        body = follow(case)
        before, later_on = (later(40.0, 1500.0, 300.0 - one, STORE) for one in (most, least))
        assert body.fall.before[MIDDLE] == pytest.approx(before, abs=0.02)
        assert body.fall.after[MIDDLE] == pytest.approx(later_on, abs=0.02)
    fields["no_means"] = False
    body = follow(metered(588.0, body_of(**fields), toml=COLUMN_1500, meter_period=300.0))
    assert (body.fall.before[MIDDLE], body.fall.after[MIDDLE]) == (
        40.0, pytest.approx(later(40.0, 1500.0, 300.0, STORE), abs=0.02)
    )  # fmt: skip


def test_what_a_run_finds_open_may_have_opened_at_the_end_of_the_one_before():
    """If it has not cooled so far that it would have closed: under six tenths of that."""
    for proven, kept in ((60.0, True), (59.9, False)):
        body = body_of(proven_watts=None, peak_watts=0.0, proven=each(proven), ended=each(100.0))
        body = follow(metered(100.0, body, meter_period=300.0, air=35.5))
        found = later(proven, 600.0, 60.0, STORE) / 0.75
        expected = max(found, round(100.0 / 0.75, 2)) if kept else found
        assert body.fall.after[MIDDLE] == pytest.approx(expected, abs=6e-3)
    body = body_of(proven_watts=None, peak_watts=0.0, proven=each(60.0), ended=[])
    assert follow(metered(100.0, body, meter_period=300.0)).fall.after[MIDDLE] == pytest.approx(
        later(60.0, 600.0, 60.0, STORE), abs=6e-3
    )


# What an opening teaches.

FALL = {"at_wall": WALL - 600.0, "before": each(100.0), "after": each(101.0), "ran_seconds": 700.0}


def opened(fall: dict | None = None, *, tail=(588.0, 588.0, 588.0), count=1, period=10.0, facts=None, notes=None,
           on=True, **changed):  # fmt: skip
    """A case whose fall was recognised as an opening by the meter's watch."""
    fields = {"opened": True, "fell_at": NOW - 300.0, "full_watts": 1500.0, "tail": list(tail), "judged_at": NOW,
              "fall": Lesson(**FALL | (fall or {})), "watts": 588.0, "peak_watts": 1500.0}  # fmt: skip
    facts = facts or HeaterFacts(trip_count=count, level_watts=1500.0)
    make = running if on else resting
    return make(body_of(**fields | changed), toml=COLUMN_1500, facts=facts, notes=notes or {}, watts=588.0,
                watts_at=NOW, meter_period=period)  # fmt: skip


def test_an_opening_that_was_recognised_is_taken_in_once():
    """It is told, and the trial is over."""
    case = opened(trial=True)
    body = follow(case)
    assert (len(body.lessons), body.fall, body.trips_taken, body.trial) == (1, None, 1, False)
    assert not body.wide
    assert case.kept.facts.opens_watts == pytest.approx(watts_of(100.35), rel=0.01)
    assert (case.kept.facts.trips, case.kept.facts.trip_count) == ([], 1)
    follow(case)
    assert len(body.lessons) == 1


def test_an_opening_waits_for_three_reports_or_the_end_of_the_run():
    """Then its moment is as well known as it will be."""
    assert follow(opened(tail=(588.0, 588.0))).trips_taken == 0
    assert follow(opened(tail=(588.0, 588.0), on=False)).trips_taken == 1
    assert follow(opened(count=0)).lessons == []


def test_a_fall_of_long_ago_is_not_what_was_recognised():
    """Four hours, to the second."""
    assert len(follow(opened({"at_wall": WALL - 14_399.0})).lessons) == 1
    body = follow(opened({"at_wall": WALL - 14_400.0}))
    assert (body.lessons, body.trips_taken) == ([], 1)
    assert body.fall is not None


def test_power_that_someone_turned_down_was_no_opening():
    """What fell is forgotten."""
    body = follow(opened(notes={"meter": {"code": "selector-moved", "level": 912.0, "usual": 1500.0}}))
    assert (body.fall, body.lessons, body.trips_taken) == (None, [], 1)


def test_an_opening_by_a_slow_meter_is_wide():
    """It lies between reports far apart."""
    body = follow(opened({"before": each(60.0), "after": each(130.0)}, period=300.0))
    assert body.wide
    assert len(body.lessons) == 1


def test_an_opening_far_under_what_it_stood_is_a_cover():
    """Under 85 % by a slow meter: told as such, and teaches nothing."""
    for share, taught in ((0.86, True), (0.84, False)):
        fall = {"before": each(20.0), "after": each(100.0 * share)}
        case = opened(fall, period=300.0, most=each(100.0), weights=at_middle(), opens=each(100.0))
        body = follow(case)
        assert len(body.lessons) == taught
        assert (case.kept.notes.get("covered", {}).get("tries") == 1) is not taught
        assert body.trips_taken == 1


def test_by_a_quick_meter_the_watch_says_what_is_early():
    """It is taken in as it is."""
    fall = {"before": each(20.0), "after": each(50.0)}
    case = opened(fall, most=each(100.0), weights=at_middle(), opens=each(100.0))
    assert len(follow(case).lessons) == 1
    assert "covered" not in case.kept.notes


def test_to_nothing_far_under_what_it_stood_is_no_opening_and_no_cover():
    """Its dial may be: the watch tells."""
    fall = {"before": each(20.0), "after": each(50.0)}
    case = opened(fall, tail=(18.0, 0.0, 45.0), period=300.0, most=each(100.0), weights=at_middle(),
                  opens=each(100.0))  # fmt: skip
    assert follow(case).lessons == []
    assert "covered" not in case.kept.notes


def test_what_a_cover_or_a_dial_did_says_nothing_of_the_body():
    """While either is suspected."""
    for notes in ({"covered": {"tries": 1}}, {"meter": {"code": "dial-down"}}):
        body = follow(opened(notes=notes))
        assert (body.lessons, body.fall, body.trips_taken) == ([], None, 1)


def test_to_nothing_from_a_setting_that_keeps_its_lowest_is_no_opening():
    """A cut-out would have left 588 W; 45 W is nothing of 1500, 46 W is not."""
    assert follow(opened(tail=(0.0, 0.0, 45.0))).lessons == []
    assert len(follow(opened(tail=(0.0, 0.0, 46.0))).lessons) == 1
    middle = HeaterFacts(trip_count=1, level_watts=1150.0)
    assert len(follow(opened(tail=(0.0, 0.0, 0.0), full_watts=1150.0)).lessons) == 1
    assert len(follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None, facts=middle)).lessons) == 1
    assert follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None)).lessons == []
    unknown = HeaterFacts(trip_count=1)
    assert follow(opened(tail=(0.0, 0.0, 0.0), full_watts=None, facts=unknown)).lessons == []


def test_an_opening_that_only_the_next_run_shows_is_told_and_counted():
    """Full power on a cooled body: what fell before was the cut-out."""
    body = body_of(opened=True, full_watts=1500.0, tail=[700.0, 588.04], fall=Lesson(**FALL), proven_watts=None,
                   watts=1500.0, peak_watts=0.0, trips_taken=3)  # fmt: skip
    facts = HeaterFacts(trip_count=3, level_watts=1500.0)
    case = metered(1500.0, body, toml=COLUMN_1500, facts=facts)
    body = follow(case)
    assert (len(body.lessons), body.fall, body.trips_taken, body.opened) == (1, None, 4, False)
    assert case.kept.facts.trip_count == 4
    trip = case.kept.facts.trips[0]
    assert (trip.at_wall, trip.run_seconds, trip.before_watts, trip.after_watts) == (
        WALL - 600.0, 700.0, 1500.0, 588.0
    )  # fmt: skip
    assert case.kept.notes["cut-out"]["tripped_at"] == NOW


def test_twelve_openings_are_kept():
    """The latest."""
    body = body_of(opened=True, tail=[588.0], fall=Lesson(**FALL), proven_watts=None, watts=1500.0,
                   peak_watts=0.0, trips_taken=12)  # fmt: skip
    old = [module.TripFact(float(n), 1.0, 1500.0, 588.0) for n in range(12)]
    case = metered(1500.0, body, toml=COLUMN_1500,
                   facts=HeaterFacts(trip_count=12, level_watts=1500.0, trips=old))  # fmt: skip
    follow(case)
    assert [trip.at_wall for trip in case.kept.facts.trips] == [*range(1, 12), WALL - 600.0]
    assert case.kept.facts.trips[-1].before_watts == 1500.0


def test_a_slice_of_a_step_is_none():
    """No seconds leave it as it is, of its own."""
    body = body_of()
    kept = module._all(body, body.warmth, 600.0, 0.0)
    assert kept == body.warmth
    assert kept is not body.warmth


def test_a_moment_is_that_of_the_best_clock():
    """Rounded to the second."""
    wall = NOON.replace(microsecond=600_000)
    body = follow(metered(100.0, now=now_at(wall=wall)))
    assert body.fall.at_wall == WALL + 1.0
