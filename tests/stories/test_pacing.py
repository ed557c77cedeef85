"""The interlock `pacing`: a heater set above what its body sheds opens its cut-out twice, and never again."""

from __future__ import annotations

import pytest

from tests.core.body.plant import Bench, ColdRoom, best_watts, design
from thermostatd.core.guard.pacing import LIMIT_SHARE
from thermostatd.rehearsal.plugs import MeterTraits


@pytest.mark.parametrize(("capacity", "output", "seed"), [(0.7, 0.7, 5), (1.0, 1.3, 6), (1.3, 1.0, 3)])
def test_two_openings_and_none_after(capacity, output, seed):
    """Always asked for more than it has, it opens twice while it is learned, then carries 90 % of the most it can."""
    built = design(capacity, output)
    bench = Bench(built, seed=seed).run(1.0)
    learned = bench.trips
    carried = bench.delivered_watts(3.0)
    most = best_watts(built, 1500.0 * bench.mains_share(3.0), 300.0, 300.0, 17.0)
    assert learned <= 2
    assert bench.trips == learned
    assert carried >= 0.9 * most
    assert min(bench.ran) >= 300.0


def test_the_low_setting_is_never_held():
    """On a setting that the body sheds for hours nothing is paced and nothing opens."""
    bench = Bench(design(), watts=588.0, air=ColdRoom(45.0)).run(0.9)
    assert bench.trips == 0
    assert bench.ran == []
    assert bench.plug.relay_on


def test_the_owners_word_stands_in_for_openings():
    """Where the owner wrote what the heater sustains, it is paced from the start and never opens."""
    bench = Bench(design(), heater="sustained_watts = 560").run(1.0)
    assert bench.delivered_watts(1.0) > 250.0
    assert bench.trips == 0


def test_a_selector_turned_down_is_let_run():
    """Turned down to what it sheds, it runs on without a rest."""
    bench = Bench(design(), air=ColdRoom(60.0)).run(0.8)
    bench.plug.heater.selection = 0
    bench.run(1.2)
    before = len(bench.ran)
    bench.run(1.2)
    assert len(bench.ran) == before
    assert bench.trips == 2


def test_a_warm_room_leaves_less_to_shed():
    """Warmer air leaves the body less rise: the same heater is paced lower, and still does not open."""
    cold = Bench(design(), air=14.0).run(1.0)
    in_cold = cold.delivered_watts(1.5)
    cold.air = 21.0
    in_warm = cold.delivered_watts(1.5)
    assert cold.trips == 2
    assert in_warm < in_cold


def test_a_restart_forgets_nothing():
    """After a restart what was learned holds: no third opening, and no second learning."""
    bench = Bench(design(1.2, 0.8)).run(1.0)
    for seconds in (20.0, 400.0, 5000.0):
        bench.restart(seconds).run(0.6)
    assert bench.trips == 2


def test_a_room_that_asks_now_and_then_is_safe_too():
    """Runs of every length, as a room asks for them, open nothing once two openings are known."""
    bench = Bench(design(), air=ColdRoom(loss=22.0)).run(3.0)
    assert bench.trips <= 2


@pytest.mark.parametrize(
    ("capacity", "output", "seed"), [(1.0, 0.7, 4), pytest.param(1.0, 1.3, 6, marks=pytest.mark.night)]
)
def test_a_slow_meter_is_learned_by_steps(capacity, output, seed):
    """With a report every five minutes it opens twice at most, and carries 85 % of the most it can when learned."""
    built = design(capacity, output)
    meter = MeterTraits(period_seconds=300.0, step_watts=10.0, lag_seconds=6.0)
    bench = Bench(built, seed=seed, meter=meter).run(9.0)
    learned = bench.trips
    carried = bench.delivered_watts(3.0)
    assert 1 <= learned <= 2
    assert bench.trips == learned
    assert carried >= 0.85 * best_watts(built, 1500.0 * bench.mains_share(3.0), 300.0, 300.0, 17.0)


def test_a_slow_meter_brings_no_cold_start():
    """Before an opening is seen, what such a heater usually sheds is dared from the start, never a token of it."""
    built = design(1.0, 1.0)
    meter = MeterTraits(period_seconds=300.0, step_watts=10.0, lag_seconds=6.0)
    bench = Bench(built, seed=2, meter=meter).run(1.0)
    carried = bench.delivered_watts(1.5)
    assert carried >= 0.5 * best_watts(built, 1500.0 * bench.mains_share(1.5), 300.0, 300.0, 17.0)


def test_the_limit_is_under_the_opening():
    """The limit leaves a margin for drifting mains."""
    assert LIMIT_SHARE**1.3 < 0.98
