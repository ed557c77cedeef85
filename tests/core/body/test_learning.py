"""What is learned of a body from its openings, against heaters of known build."""

from __future__ import annotations

import json
import math

import pytest

from tests.core.body.plant import KEY, Bench, design
from tests.core.guard.cases import NOW, case_of
from thermostatd.core.body.follow import follow
from thermostatd.core.body.lessons import forget_since, fraction, take, tell, weigh
from thermostatd.core.body.state import BodyMemory, Lesson
from thermostatd.core.body.store import CANDIDATES, stores, warmth_of
from thermostatd.core.facts import HeaterFacts
from thermostatd.core.remembering import from_plain, to_plain
from thermostatd.rehearsal.plugs import MeterTraits

LEAST = (0.7, 0.7)


@pytest.mark.parametrize(("capacity", "output"), [(0.7, 1.3), (1.0, 1.0), (1.3, 0.7)])
def test_two_openings_tell_the_time_constant_and_the_level(capacity, output):
    """Two openings give the time constant within 10 %, the level within 6 %, and both spreads are honest."""
    built = design(capacity, output)
    bench = Bench(built, seed=3).run(1.3)
    tau, opens = built.tau_seconds(), built.sustained_watts()
    assert bench.facts.body_tau_seconds == pytest.approx(tau, rel=0.10)
    assert bench.facts.opens_watts == pytest.approx(opens, rel=0.06)
    assert bench.facts.sustained_watts == bench.facts.opens_watts
    assert abs(bench.facts.body_tau_seconds - tau) < 2.0 * bench.facts.body_tau_spread_seconds
    assert abs(bench.facts.opens_watts - opens) < 2.0 * bench.facts.opens_spread_watts


@pytest.mark.parametrize(("capacity", "output", "seed", "period"), [(1.02, 0.92, 22, 30.0), (0.894, 0.7905, 20, 60.0)])
def test_a_meter_of_half_a_minute_or_a_whole_one_opens_it_no_more_after_two(capacity, output, seed, period):
    """Where an opening in the last seconds of a run would never be told."""
    meter = MeterTraits(period_seconds=period, step_watts=1.0, lag_seconds=11.15)
    assert Bench(design(capacity, output), seed=seed, meter=meter).run(5.0).trips == 2


def test_nothing_is_claimed_before_an_opening():
    """Without an opening neither the body nor what it sustains is known."""
    bench = Bench(design(), watts=588.0).run(1.5)
    assert bench.facts.body_tau_seconds is None
    assert bench.facts.sustained_watts is None
    assert bench.trips == 0


def test_one_opening_alone_is_unsure_of_the_time_constant():
    """From one opening the time constant is only the prior's, and its spread says so."""
    bench = Bench(design()).run(0.3)
    assert bench.trips == 1
    assert bench.facts.body_tau_spread_seconds > 0.25 * bench.facts.body_tau_seconds


def test_low_power_at_switch_on_is_no_lesson():
    """A body whose cut-out is still open at switch-on teaches nothing new, and rests for longer."""
    bench = Bench(design(1.3, 0.7)).run(1.5)
    body = bench.regulator._memory.heaters[KEY].body
    assert bench.trips == len(body.lessons) == 2


def lesson(warmth: float, wide: float = 0.01) -> Lesson:
    """An opening that every candidate saw at one warmth."""
    return Lesson(0.0, [warmth] * CANDIDATES, [warmth * (1 + wide)] * CANDIDATES)


def test_an_opening_far_below_is_odd_until_seen_three_times():
    """A covered heater's early openings do not move the level; three alike do."""
    body = BodyMemory(store_joules=5000.0, warmth=[0.0] * CANDIDATES, most=[0.0] * CANDIDATES)
    take(body, lesson(140.0))
    take(body, lesson(140.0))
    for _ in range(2):
        take(body, lesson(90.0))
        assert fraction(body, [140.0] * CANDIDATES) == pytest.approx(1.0, abs=0.02)
    take(body, lesson(90.0))
    assert fraction(body, [90.0] * CANDIDATES) == pytest.approx(1.0, abs=0.02)


def test_a_run_without_an_opening_counts_against_small_stores():
    """A candidate that claims to have been far warmer without opening weighs nothing."""
    body = BodyMemory(store_joules=5000.0, warmth=[0.0] * CANDIDATES, most=[0.0] * CANDIDATES)
    take(body, lesson(140.0))
    before = body.weights[0]
    body.most = [180.0 if n < 4 else 100.0 for n in range(CANDIDATES)]
    weigh(body)
    assert before > 0.01
    assert sum(body.weights[:4]) < 0.05


def test_the_candidates_span_the_known_variety():
    """The candidates reach from half to double of the usual store, evenly by ratio."""
    ratios = [b / a for a, b in zip(stores(1.0), stores(1.0)[1:], strict=False)]
    assert min(stores(1.0)) <= 0.55
    assert max(stores(1.0)) >= 1.86
    assert max(ratios) == pytest.approx(min(ratios))


def test_the_memory_of_a_body_is_small_and_survives_json():
    """All that is kept of a body after a day is under 1.5 kB and comes back the same."""
    bench = Bench(design(*LEAST)).run(1.0)
    plain = bench.regulator.memory
    assert len(json.dumps(plain["heaters"][KEY]["body"])) < 1500
    assert to_plain(from_plain(json.loads(json.dumps(plain)))) == plain


def test_after_a_gap_the_body_has_cooled():
    """After an hour without the daemon the body is believed nearly as cold as it is."""
    bench = Bench(design()).run(0.8).restart(3600.0)
    bench.run(0.02)
    body = bench.regulator._memory.heaters[KEY].body
    rise = bench.plug.heater.body_celsius - bench.celsius()
    truth = warmth_of(design().watts_per_kelvin_n * rise**1.3)
    assert body.warmth[5] == pytest.approx(truth, abs=20.0)
    assert math.isfinite(bench.facts.body_tau_seconds)


def seen(wall: float, at: float) -> Lesson:
    """One closely seen opening at a warmth, by every candidate."""
    return Lesson(wall, [0.99 * at] * CANDIDATES, [at] * CANDIDATES)


def test_what_a_cover_taught_is_forgotten_and_what_was_known_stays():
    """Openings since then go, however warm; without any left, nothing is known or told."""
    body, facts = BodyMemory(store_joules=5000.0, usual_opens=140.0, most=[0.0] * CANDIDATES), HeaterFacts()
    take(body, seen(100.0, 140.0))
    take(body, seen(5000.0, 138.0))
    forget_since(body, 4000.0, 0.95)
    assert [one.at_wall for one in body.lessons] == [100.0]
    tell(body, facts)
    assert facts.sustained_watts is not None
    forget_since(body, 0.0)
    tell(body, facts)
    assert (body.weights, facts.sustained_watts, facts.body_tau_seconds) == ([], None, None)


def test_where_nothing_else_is_known_what_opened_as_warm_as_the_warmest_stays():
    """A first cover is no reason to forget all: only what lies under that share of the warmest goes."""
    body = BodyMemory(store_joules=5000.0, usual_opens=140.0, most=[0.0] * CANDIDATES)
    take(body, seen(5000.0, 140.0))
    take(body, seen(6000.0, 130.0))
    forget_since(body, 4000.0, 0.95)
    assert [one.at_wall for one in body.lessons] == [5000.0]


@pytest.mark.parametrize("notes", [{"covered": {"tries": 1}}, {"meter": {"code": "dial-down"}}])
def test_how_warm_a_body_is_nobody_knows_for_two_hours_after_a_cover_is_gone(notes):
    """A cover kept it hotter than it is believed to be: until it has surely cooled, no opening teaches."""
    case = case_of(notes=notes)
    body, now = follow(case), case.now.steady
    assert body.doubtful_until == 0.0
    case.kept.notes = {}
    follow(case)
    assert body.doubtful_until == now + 7200.0
    body.doubtful_until = 0.0
    follow(case)
    assert body.doubtful_until == 0.0


def test_a_contact_that_stuck_makes_what_just_opened_teach_nothing():
    """It was heated while told OFF: how warm it was at the fall before, nobody knows."""
    case = case_of(told_on=False, watts=600.0, watts_at=0.0)
    body = follow(case)
    body.fall = seen(0.0, 100.0)
    case.kept.watts_at = case.now.steady
    follow(case)
    assert (body.fall, body.doubtful_until) == (None, case.now.steady + 7200.0)


@pytest.mark.parametrize(("log", "most"), [(None, 50.0), ({"at": 0.0}, 20.0)])
def test_what_was_stood_counts_only_while_nothing_interrupts_it(log, most):
    """Between slow reports of power a dial may have been open: what it stood by then is not known."""
    notes = {"cut-out": {"log": log}} if log else {}
    case = case_of(told_on=True, on_since=NOW - 900.0, watts=1500.0, watts_at=NOW, notes=notes)
    case.kept.body = BodyMemory(
        store_joules=5000.0, usual_opens=140.0, at=NOW, watts=1500.0, warmth=[50.0] * CANDIDATES,
        proven=[40.0] * CANDIDATES, proven_at=NOW - 60.0, proven_watts=1500.0, most=[20.0] * CANDIDATES,
    )  # fmt: skip
    follow(case)
    assert case.kept.body.most[5] == pytest.approx(most, abs=1.5)
