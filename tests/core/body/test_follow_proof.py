"""What a report proves of a followed body, and how a run begins."""

from __future__ import annotations

import pytest

from tests.core.body.followed import COLUMN_1500, STORE, at_middle, body_of, each, metered, same
from tests.core.guard.cases import NOW
from thermostatd.core.body.follow import follow
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, SHARES, later

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
    assert follow(metered(600.06, body_of(peak_watts=0.0))).full_watts == 600.1


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
    [(504.0, 60.0, True), (504.0, 59.0, False), (504.0, 250.0, True), (503.0, 60.0, False),
     (0.0, 299.0, False), (0.0, 300.0, True)],
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


@pytest.mark.parametrize(("share", "period", "cools_to"), [(0.8, 10.0, 0.6), (0.4, 10.0, 0.3), (0.8, 300.0, 0.1),
                                                            (0.13, 300.0, 0.1)])  # fmt: skip
def test_still_open_at_switch_on_it_rests_until_it_is_cooler(share, period, cools_to):
    """Three quarters as warm; where reports are slow, nearly cold."""
    body = follow(metered(100.0, still_open(share, lessons=[Lesson(0.0, each(100.0), each(101.0))]),
                          meter_period=period))  # fmt: skip
    assert body.opened
    assert body.fell_at == NOW
    assert body.cool_share == pytest.approx(cools_to)
    assert body.proven_watts == 100.0


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


@pytest.mark.parametrize(
    ("watts", "volts", "fell"), [(1260.0, 212.0, False), (1100.0, 212.0, True), (1260.0, 230.0, True)]
)
def test_a_bad_contact_takes_power_and_volts_which_is_no_fall(watts, volts, fell):
    """A slow meter's watts are held against its level at the volts that came with them."""
    body = body_of(watts=1450.0, full_watts=1500.0, drew_watts=1450.0, proven_watts=None, peak_watts=0.0)
    case = metered(watts, body, toml=COLUMN_1500, meter_period=300.0, volts=volts)
    assert (follow(case).fell_at is not None) is fell
