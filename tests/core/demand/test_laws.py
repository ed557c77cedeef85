"""The two plain control laws, at the very edges of their bounds."""

import pytest

from tests.core.guard.cases import NOW
from tests.stories.teller import house_of, study
from thermostatd.core.demand import hysteresis, proportional
from thermostatd.core.demand.law import Case
from thermostatd.core.demand.saying import hours_to_target
from thermostatd.core.memory import AirMemory
from thermostatd.core.results import Target

RISING = [(NOW - 1200.0, 18.0), (NOW - 600.0, 18.5), (NOW, 19.0)]  # 3 K an hour


def case_of(
    celsius=20.0,
    target=20.0,
    *,
    notes=None,
    room="",
    heater="",
    seconds=10.0,
    was_on=False,
    model=None,
    trail=(),
    steady=NOW,
):
    """One room at one moment."""
    place = house_of(study(room=room, heater=heater)).rooms[0]
    return Case(
        place,
        celsius,
        Target(target, "usual", "usual"),
        steady,
        seconds,
        was_on,
        600.0,
        2.0,
        AirMemory(trail=list(trail)),
        {} if notes is None else notes,
        model,
    )


@pytest.mark.parametrize(
    ("celsius", "before", "on"),
    [
        (19.8, False, True),
        (19.81, False, False),
        (19.81, True, True),
        (20.19, True, True),
        (20.2, True, False),
        (20.2, None, False),
        (19.9, None, False),
    ],
)
def test_hysteresis_switches_at_half_its_differential(celsius, before, on):
    """0.2 K either way; between them what was is kept."""
    notes = {} if before is None else {"on": before}
    demand = hysteresis.decide(case_of(celsius, notes=notes))
    assert (demand.on, demand.share, demand.outlook) == (on, float(on), None)
    assert demand.reason.code == ("warming" if on else "warm-enough")
    assert notes == {"on": on}


def test_a_wide_differential_ends_half_a_kelvin_over():
    """Never over what overshoot allows."""
    wide = "differential = 2.0"
    assert hysteresis.decide(case_of(19.0, room=wide)).on
    assert not hysteresis.decide(case_of(19.01, room=wide)).on
    assert hysteresis.decide(case_of(20.49, room=wide, notes={"on": True})).on
    assert not hysteresis.decide(case_of(20.5, room=wide, notes={"on": True})).on


@pytest.mark.parametrize(
    ("celsius", "trail", "code"),
    [
        (20.61, (), "cooling-down"),
        (20.6, (), "warm-enough"),
        (20.3, RISING, "coasting"),
        (20.3, [(at, 20.0 + 0.15 * (at - NOW) / 3600) for at, _ in RISING], "warm-enough"),
    ],
)
def test_a_room_that_is_warm_says_how(celsius, trail, code):
    """Cooling down from 0.6 K over, coasting while it still rises."""
    demand = hysteresis.decide(case_of(celsius, trail=trail))
    assert demand.reason.code == code
    assert demand.reason.numbers == ({"target": 20.0} if code == "cooling-down" else {})


@pytest.mark.parametrize(
    ("celsius", "span"),
    [
        (19.0, "20 minutes"),
        (19.79, "5 minutes"),
        (16.0, "80 minutes"),
        (15.5, "1.5 hours"),
        (2.0, "6.0 hours"),
        (1.9, None),
    ],
)
def test_a_rise_tells_when_it_will_be_warm(celsius, span):
    """In steps of five minutes, within six hours."""
    eta = f" There in about {span}." if span else ""
    assert hysteresis.decide(case_of(celsius, trail=RISING)).reason.sentence == f"Warming towards 20.0°.{eta}"


@pytest.mark.parametrize(
    ("celsius", "slope", "hours"),
    [(19.96, 3.0, None), (19.94, 3.0, 0.02), (19.0, 0.14, None), (19.0, 0.2, 5.0), (19.0, None, None)],
)
def test_too_slow_a_pace_tells_nothing(celsius, slope, hours):
    """0.15 K an hour at least, and something missing."""
    trail = [] if slope is None else [(at, 18.0 + slope * (at - NOW) / 3600) for at, _ in RISING]
    found = hours_to_target(case_of(celsius, trail=trail))
    assert found == (None if hours is None else pytest.approx(hours))


@pytest.mark.parametrize(
    "model",
    [
        None,
        {},
        {"gain_kelvin": 30.0, "tau_seconds": 14400.0},
        {"gain_kelvin": 0.0, "tau_seconds": 1.0, "dead_seconds": 1.0},
        {"gain_kelvin": 9.0, "tau_seconds": float("nan"), "dead_seconds": 1.0},
        {"gain_kelvin": True, "tau_seconds": 9.0, "dead_seconds": 1.0},
    ],
)
def test_a_model_that_is_not_whole_leaves_the_safe_tuning(model):
    """30 K, 14 400 s, 600 s: 0.40 per K, 4800 s (SIMC, derived)."""
    assert proportional.tuning(model) == pytest.approx((0.40, 4800.0))


def test_a_whole_model_tunes():
    """k 20 K, τ 3600 s, θ 300 s: Kc = 3600/(20·600) = 0.3, τI = min(3600, 8·300) (SIMC, derived)."""
    assert proportional.tuning(
        {"gain_kelvin": 20.0, "tau_seconds": 3600.0, "dead_seconds": 300.0}
    ) == pytest.approx((0.3, 2400.0))
    small = {"gain_kelvin": 0.5, "tau_seconds": 3600.0, "dead_seconds": 300.0}
    assert proportional.tuning(small) == pytest.approx((12.0, 2400.0))


CYCLE = {"integral": 0.0, "started": NOW - 100.0, "wanted": 0.0, "due": 0.0, "delivered": 0.0, "carry": 0.0}


def decided(celsius=19.0, notes=None, **how):
    """A decision within a cycle of 20 minutes; and the notes it left."""
    kept = CYCLE | (notes or {})
    return proportional.decide(case_of(celsius, notes=kept, **how)), kept


def test_a_first_cycle_begins_at_once():
    """1 K missing: 0.4 of the time, eight of twenty minutes; the integral takes its step."""
    notes = {}
    demand = proportional.decide(case_of(19.0, notes=notes))
    assert (demand.on, demand.share, demand.reason.code) == (True, pytest.approx(0.4), "portion")
    assert demand.reason.numbers == {"percent": pytest.approx(40.0), "target": 20.0}
    assert notes == {
        "integral": pytest.approx(10.0 * 0.4 / 4800.0),
        "started": NOW,
        "wanted": pytest.approx(480.0),
        "due": pytest.approx(480.0),
        "delivered": 0.0,
        "carry": 0.0,
    }


@pytest.mark.parametrize(
    ("celsius", "integral", "share"),
    [
        (16.0, 0.0, 1.0),
        (20.0, 0.3, 0.3),
        (20.49, 0.9, 0.704),
        (20.5, 0.9, 0.0),
        (19.0, -0.5, 0.0),
        (19.0, 0.1, 0.5),
    ],
)
def test_the_share_is_gain_times_error_and_the_integral(celsius, integral, share):
    """Between nothing and all; nothing half a kelvin over."""
    demand, _ = decided(celsius, {"integral": integral, "started": None})
    assert demand.share == pytest.approx(share)


@pytest.mark.parametrize(
    ("celsius", "integral", "seconds", "after"),
    [
        (19.0, 0.0, 10.0, 10.0 * 0.4 / 4800),
        (19.0, 0.0, 3600.0, 120.0 * 0.4 / 4800),
        (16.0, 0.0, 10.0, 10.0 * (1.6 - 6.0) / 4800),
        (21.0, 0.5, 10.0, 0.5 + 10.0 * (-0.4 - 1.0) / 4800),
        (10.0, 1.5, 120.0, 0.4),
        (24.0, -0.5, 120.0, -0.5 + 120.0 * (-1.6 + 21.0) / 4800),
        (24.0, 1.0, 120.0, 1.0),
        (14.0, -0.5, 120.0, -0.5),
        (19.0, 1.0, 10.0, None),
    ],
)
def test_back_calculation_keeps_the_integral_from_winding_up(celsius, integral, seconds, after):
    """Ten times as fast as the integral; two minutes a step at most; within -0.5 and 1."""
    _, notes = decided(celsius, {"integral": integral, "started": None}, seconds=seconds)
    raw = 0.4 * (20.0 - celsius) + integral
    share = min(1.0, max(0.0, raw)) if celsius < 20.5 else 0.0
    step = min(seconds, 120.0) * (0.4 * (20.0 - celsius) + (share - raw) / 0.1) / 4800.0
    assert notes["integral"] == pytest.approx(min(1.0, max(-0.5, integral + step)))
    if after is not None:
        assert notes["integral"] == pytest.approx(after, abs=0.9 if celsius == 10.0 else 1e-6)


@pytest.mark.parametrize(
    ("gone", "due", "celsius", "anew"),
    [
        (1199.0, 0.0, 19.0, False),
        (1200.0, 0.0, 19.0, True),
        (100.0, 500.0, 20.6, True),
        (100.0, 50.0, 20.6, False),
        (100.0, 100.0, 20.6, False),
        (100.0, 0.0, 17.0, True),
        (100.0, 0.0, 17.6, False),
        (100.0, 500.0, 17.0, False),
    ],
)
def test_a_cycle_ends_with_its_time_or_where_all_or_nothing_is_wanted(gone, due, celsius, anew):
    """At twenty minutes; at once while it heats for nothing, or rests while all is wanted."""
    _, notes = decided(celsius, {"started": NOW - gone, "due": due, "wanted": due})
    assert (notes["started"] == NOW) is anew


@pytest.mark.parametrize(
    ("was_on", "seconds", "delivered"), [(True, 10.0, 60.0), (False, 10.0, 50.0), (True, 500.0, 170.0)]
)
def test_what_was_delivered_is_counted_by_the_step(was_on, seconds, delivered):
    """While it was on; two minutes a step at most."""
    _, notes = decided(19.0, {"delivered": 50.0}, was_on=was_on, seconds=seconds)
    assert notes["delivered"] == delivered


@pytest.mark.parametrize(
    ("carry", "wanted", "delivered", "gone", "after"),
    [
        (0.0, 480.0, 400.0, 1200.0, 80.0),
        (50.0, 480.0, 600.0, 1200.0, -70.0),
        (0.0, 480.0, 0.0, 1200.0, 300.0),
        (0.0, 0.0, 900.0, 1200.0, -300.0),
        (0.0, 480.0, 400.0, 9000.0, 80.0),
    ],
)
def test_what_was_not_delivered_is_owed_to_the_next_cycle(carry, wanted, delivered, gone, after):
    """Within one minimum time, and for one cycle at most."""
    _, notes = decided(
        19.0, {"started": NOW - gone, "carry": carry, "wanted": wanted, "delivered": delivered}
    )
    assert (notes["carry"], notes["delivered"]) == (pytest.approx(after), 0.0)
    assert notes["due"] == pytest.approx(480.0 + after if 480.0 + after >= 300.0 else 0.0)


def test_a_cycle_cut_short_owes_its_part():
    """Half gone, half wanted."""
    _, notes = decided(17.0, {"started": NOW - 600.0, "wanted": 400.0, "due": 300.0, "delivered": 150.0})
    assert notes["carry"] == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("celsius", "due"),
    [(19.376, 0.0), (19.374, 300.5), (18.13, 897.6), (18.124, 1200.0), (20.0, 0.0), (17.0, 1200.0)],
)
def test_a_cycles_heat_honours_the_minimum_times(celsius, due):
    """Under five minutes none; with a rest under five minutes all."""
    _, notes = decided(celsius, {"started": None})
    assert notes["due"] == pytest.approx(due, abs=0.1)


@pytest.mark.parametrize(
    ("heater", "length"), [("", 1200.0), ('min_on = "30 min"', 1800.0), ('min_off = "40 min"', 2400.0)]
)
def test_a_cycle_is_as_long_as_the_longest_minimum_time(heater, length):
    """Or longer."""
    _, notes = decided(18.0, {"started": None}, heater=heater)
    assert notes["wanted"] == pytest.approx(0.8 * length)


@pytest.mark.parametrize(
    ("celsius", "planned", "gone", "due"),
    [
        (19.0, 600.0, 100.0, 480.0),
        (18.0, 600.0, 100.0, 600.0),
        (19.0, 600.0, 650.0, 600.0),
        (19.5, 600.0, 100.0, 600.0),
        (19.0, 480.0, 100.0, 480.0),
        (19.0, 600.0, 600.0, 600.0),
        (18.25, 600.0, 100.0, 600.0),
        (18.0, 1000.0, 100.0, 1000.0),
    ],
)
def test_a_cycles_heat_is_shortened_where_less_is_wanted_by_now(celsius, planned, gone, due):
    """While it heats, and only to what the minimum times allow."""
    _, notes = decided(celsius, {"started": NOW - gone, "due": planned, "wanted": planned})
    assert notes["due"] == pytest.approx(due)
    assert notes["wanted"] == pytest.approx(due)


@pytest.mark.parametrize(
    ("celsius", "notes", "on", "code"),
    [
        (19.0, {"due": 480.0, "wanted": 480.0}, True, "portion"),
        (19.0, {"due": 100.0, "wanted": 100.0}, False, "portion-rest"),
        (20.6, {}, False, "warm-enough"),
        (17.0, {"due": 1200.0, "wanted": 1200.0}, True, "warming"),
        (17.513, {"due": 1200.0, "wanted": 1200.0}, True, "portion"),
        (17.512, {"due": 1200.0, "wanted": 1200.0}, True, "warming"),
    ],
)
def test_what_is_said_of_a_share(celsius, notes, on, code):
    """A portion, its rest, all of it, or warm enough."""
    demand, _ = decided(celsius, notes)
    assert (demand.on, demand.reason.code) == (on, code)
    assert demand.share == (1.0 if code == "warming" else pytest.approx(max(0.0, 0.4 * (20.0 - celsius))))


@pytest.mark.parametrize(
    ("integral", "planned", "carry", "due", "wanted"),
    [
        (0.25, 600.0, 0.0, 300.0, 300.0), (0.75, 1000.0, 0.0, 900.0, 900.0), (0.5, 700.0, 50.0, 650.0, 600.0),
        (0.5, 600.0, -50.0, 600.0, 600.0),
    ],
)  # fmt: skip
def test_what_a_cycle_is_shortened_to_may_be_the_minimum_times_themselves(
    integral, planned, carry, due, wanted
):
    """With what is owed; and where the same is wanted as was planned, nothing changes."""
    notes = {"integral": integral, "due": planned, "wanted": planned, "carry": carry}
    _, kept = decided(20.0, notes)
    assert (kept["due"], kept["wanted"]) == (due, wanted)


@pytest.mark.parametrize(("integral", "due"), [(0.25, 300.0), (0.75, 900.0)])
def test_a_cycle_may_heat_or_rest_for_the_shortest_time_itself(integral, due):
    """Five minutes of either are allowed."""
    assert decided(20.0, {"integral": integral, "started": None})[1]["due"] == due


def test_what_is_owed_is_not_heated_where_nothing_is_wanted():
    """Though it would be enough for a shortest run."""
    _, notes = decided(20.0, {"started": NOW - 1200.0, "wanted": 480.0})
    assert (notes["carry"], notes["due"]) == (300.0, 0.0)


def test_a_learned_model_makes_the_share():
    """A tenth of the gain, ten times the share (SIMC, derived)."""
    model = {"gain_kelvin": 300.0, "tau_seconds": 14400.0, "dead_seconds": 600.0}
    assert decided(19.0, {"started": None}, model=model)[0].share == pytest.approx(0.04)


def test_nearly_all_is_said_as_all_and_half_a_second_of_heat_is_heat():
    """From 0.995 of it."""
    cycle = {"integral": 0.995, "due": 1200.0, "wanted": 1194.0}
    assert decided(20.0, cycle)[0].reason.code == "warming"
    assert decided(19.0, {"due": 100.5, "wanted": 100.5})[0].on


def test_a_twentieth_of_a_kelvin_is_no_gap_to_forecast():
    """To the digit."""
    rising = [(NOW - 1200.0, 0.0), (NOW - 600.0, 0.5), (NOW, 1.0)]
    assert hours_to_target(case_of(0.0, 0.05, trail=rising)) is None
    assert hours_to_target(case_of(0.0, 0.06, trail=rising)) == pytest.approx(0.02)
