"""What people are told of the coming hours, in a room that 600 W warm by 0.1 K a minute."""

import numpy as np
import pytest

from tests.core.demand.round_rooms import LEAKY, WATTS, case, plans, target, thermal, tracked
from tests.core.guard.cases import NOW
from tests.physics.thermal.rooms import KNOWN, values
from thermostatd.core.demand.predictive.rising import Rise
from thermostatd.core.demand.predictive.telling import limit_outdoor, tell, told
from thermostatd.core.results import Outlook
from thermostatd.physics.thermal.model import rates

PLANS = plans()
NEAR = 20.0 + 0.01 * PLANS.near.minutes
RISE = Rise(True, 20.0, True)


def outlook(
    air=20.0, wish=None, *, rise=None, full=WATTS, course=NEAR, notes=None, room=None, made=PLANS, **other
):
    """The note after one telling."""
    notes = {"want": True} if notes is None else notes
    one = case(air, wish, notes=notes, **other)
    tell(one, made, room or tracked(air), rise or Rise(), full, course)
    return notes["outlook"]


def test_the_course_is_told_at_eight_points():
    """Of two hours, the first and the last sample and six between; to a thousandth, with each one's spread."""
    course = outlook()["course"]
    minutes = [4, 20, 36, 52, 72, 88, 104, 120]
    assert [at for at, _, _ in course] == [NOW + 60.0 * minute for minute in minutes]
    assert [celsius for _, celsius, _ in course] == [round(20.0 + 0.01 * minute, 3) for minute in minutes]


def test_no_more_than_three_hours_are_told():
    """However far the plans look."""
    long = np.full(87, 20.12345)
    course = outlook(course=long)["course"]
    assert len(course) == 8
    assert course[-1][:2] == [NOW + 60.0 * 180.0, 20.123]


@pytest.mark.parametrize(
    ("model", "spreads"),
    [
        ({"thermal": thermal()}, [0.1, 0.125, 0.16, 0.187, 0.22, 0.247, 0.273, 0.3]),
        ({"thermal": thermal(rms_kelvin=[])}, [0.1, 0.125, 0.16, 0.187, 0.22, 0.247, 0.273, 0.3]),
        (None, [0.1, 0.125, 0.16, 0.187, 0.22, 0.247, 0.273, 0.3]),
        ({"thermal": thermal(rms_kelvin=[0.2, 0.4])}, [0.2, 0.3, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4]),
        (
            {"thermal": thermal(rms_kelvin=[0.2, 0.4, 0.4, 0.4, 9.0])},
            [0.2, 0.3, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4],
        ),
    ],
)
def test_a_spread_grows_as_forecasts_were_off(model, spreads):
    """At 10, 30, 90 and 240 minutes ahead as the model was fitted, or as is usual; straight between."""
    assert [spread for _, _, spread in outlook(model=model)["course"]] == spreads


@pytest.mark.parametrize(
    ("air", "wish", "full", "minutes"),
    [
        (19.0, 20.0, WATTS, 8.0),
        (19.7, 20.0, WATTS, 1.0),
        (19.85, 20.0, WATTS, None),
        (19.0, 20.0, 0.0, None),
        (21.0, 20.0, WATTS, None),
    ],
)
def test_it_is_told_when_it_is_warm(air, wish, full, minutes):
    """When full power brings the air within 0.2 K; nothing where it is there or never gets there."""
    warm_at = outlook(air, wish, full=full)["warm_at"]
    assert warm_at == (None if minutes is None else pytest.approx(NOW + 60.0 * minutes, abs=1.0))


def test_air_at_two_tenths_below_counts_as_there():
    """The edge itself is there."""
    assert outlook(20.0 - 0.2, 20.0)["warm_at"] is None


def test_the_wish_is_the_rises_once_it_is_heated_for():
    """With the time by which it is wanted; before, it is the present target, with none."""
    coming = target(17.0, 20.0, 30.0)
    found = outlook(17.0, coming, rise=RISE)
    assert (found["wanted"], found["by"], found["decided"]) == (
        20.0,
        NOW + 1800.0,
        [True, 20.0, NOW + 1800.0],
    )
    assert found["warm_at"] == pytest.approx(NOW + 1680.0, abs=1.0)
    found = outlook(17.0, coming)
    assert (found["wanted"], found["by"], found["decided"]) == (17.0, None, [True, 17.0, None])
    assert outlook(notes={"want": 0})["decided"] == [False, 20.0, None]


@pytest.mark.parametrize(
    ("air", "full", "minutes", "reach"),
    [
        (17.0, 60.0, 100.0, 18.0),
        (17.0, 60.0, 95.0, 18.0),
        (17.0, 60.0, 90.0, 17.9),
        (17.0, 60.0, 101.0, 18.1),
        (17.0, 61.26, 100.0, 18.02),
        (17.0, 60.0, 5.0, 17.1),
        (17.0, 60.0, 1.0, 17.1),
        (17.0, 60.0, 275.0, None),
        (17.0, 60.0, 255.0, 19.6),
        (17.0, -60.0, 100.0, 17.0),
    ],
)
def test_it_is_told_what_full_power_cannot_do_by_then(air, full, minutes, reach):
    """What it can at the next ten minutes; nothing where that is within 0.3 K of the wish."""
    found = outlook(air, target(17.0, 20.0, minutes), rise=RISE, full=full)["reach"]
    assert found == (None if reach is None else pytest.approx(reach, abs=0.011))
    assert found is None or found == round(found, 2)


@pytest.mark.parametrize(
    ("air", "full", "reach"),
    [(17.0, 4.0, 17.4), (17.0, 26.0, 19.6), (17.0, 28.0, None), (19.65, 0.0, 19.65), (19.75, 0.0, None)],
)
def test_without_a_time_it_is_told_what_ten_hours_can(air, full, reach):
    """Nothing where the air is within 0.3 K of the wish, or gets there."""
    assert outlook(air, 20.0, full=full)["reach"] == (
        None if reach is None else pytest.approx(reach, abs=0.011)
    )


def test_air_close_to_a_wish_that_fades_is_not_told_of():
    """Air that is within 0.3 K now is warm enough, even where full power will not hold it."""
    fading = tracked(19.7, free=-600.0)
    assert outlook(19.7, 20.0, full=0.0, room=fading)["reach"] is None
    gone = tracked(19.6, free=-600.0)
    assert outlook(19.6, 20.0, full=0.0, room=gone)["reach"] == 19.6


def test_the_edge_of_what_is_warm_enough_counts_as_warm():
    """0.3 K under the wish."""
    exact = tracked(20.0 - 0.3, free=-600.0)
    assert outlook(19.7, 20.0, full=0.0, room=exact)["reach"] is None


@pytest.mark.parametrize(
    ("later", "want", "wish", "again"),
    [
        (0.0, True, 20.0, False),
        (60.0, True, 20.0, False),
        (174.9, True, 20.0, False),
        (175.0, True, 20.0, True),
        (-1.0, True, 20.0, True),
        (60.0, False, 20.0, True),
        (60.0, True, 20.5, True),
    ],
)
def test_it_is_worked_out_anew_every_three_minutes_or_with_another_decision(later, want, wish, again):
    """Else what was told stands."""
    notes = {"want": True}
    before = outlook(notes=notes)
    notes["want"] = want
    found = outlook(notes=notes, wish=wish, steady=NOW + later)
    assert (found is not before) is again
    assert found["at"] == (NOW + later if again else NOW)
    del notes["outlook"]["decided"]
    assert outlook(notes=notes, steady=NOW + 1.0)["at"] == NOW + 1.0


def test_what_was_noted_is_told_in_plain_numbers():
    """Nothing before the first decision."""
    assert told({}) is None
    notes = {"want": True}
    kept = outlook(19.0, notes=notes)
    points = tuple((at, celsius, spread) for at, celsius, spread in kept["course"])
    assert told(notes) == Outlook(points, kept["warm_at"], 20.0, None, None, kept["limit"])
    notes = {"want": True}
    kept = outlook(17.0, target(17.0, 20.0, 60.0), rise=RISE, full=60.0, notes=notes)
    assert told(notes) == Outlook(
        points,
        kept["warm_at"],
        20.0,
        NOW + 3600.0,
        kept["reach"],
        kept["limit"],
    )
    assert kept["reach"] is not None


def test_the_limit_outdoors_is_told_to_a_tenth():
    """600 W over half of 20 W/K, with the neighbours at the wish, are 60 K."""
    made = plans(LEAKY)
    assert limit_outdoor(made, tracked(), 20.0, WATTS) == pytest.approx(-40.0, abs=1e-3)
    assert outlook(made=made, full=601.3)["limit"] == -40.1
    assert (
        outlook(
            19.0,
            target(17.0, 22.0, 10.0),
            rise=Rise(True, 22.0, True),
            made=made,
            room=tracked(19.0, neighbours=22.0),
        )["limit"]
        == -38.0
    )


@pytest.mark.parametrize(
    ("drift", "free", "neighbours", "full"),
    [(0.0, 0.0, 20.0, 650.0), (50.0, 0.0, 20.0, 650.0), (0.0, -80.0, 20.0, 650.0), (30.0, 40.0, 15.0, 500.0)],
)
def test_at_the_limit_outdoors_full_power_just_holds_the_wish(drift, free, neighbours, full):
    """The steady state of the five differential equations, solved for the air, is the wish (derived)."""
    limit = limit_outdoor(plans(KNOWN), tracked(drift=drift, neighbours=neighbours, free=free), 20.5, full)
    a, b = rates(values()[:8])
    heat = b @ np.array([full, limit, neighbours, free]) + a[:, 4] * drift
    steady = np.linalg.solve(a[:4, :4], -heat[:4])
    assert steady[1] == pytest.approx(20.5, abs=1e-6)
