"""`python -m tests.bench.pacing`: pacing on heaters of known build, and what advice saves. About six minutes.

`--period 300` does so with a meter that reports every five minutes; `--days 120` lets three of them live a whole
winter in rooms of their own (twenty minutes and more). Prints true openings, the share of the best that the minimum
times allow, and how far the learned body is from the true one.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from itertools import product
from random import Random
from statistics import median

from tests.core.body.plant import Bench, ColdRoom, best_watts, design
from thermostatd.rehearsal.plugs import MeterTraits

SHARES = (0.7, 1.0, 1.3)
ROOM_CELSIUS = 17.0
LEARNING_HOURS, QUICK_SECONDS = (2.0, 9.0), 61.0  # where openings are seen late, it is learned by steps


@dataclass(frozen=True, slots=True)
class Line:
    """One heater's outcome. Errors are shares of the truth."""

    capacity: float
    output: float
    seed: int
    learning: int
    later: int
    delivered: float
    tau_error: float
    opens_error: float
    clicks_a_day: float

    def text(self) -> str:
        """As printed."""
        return (
            f"{self.capacity:5.2f} {self.output:5.2f} {self.seed:4d} {self.learning:9d} {self.later:6d} "
            f"{self.delivered:9.3f} {self.tau_error:+8.1%} {self.opens_error:+8.1%} {self.clicks_a_day:8.0f}"
        )


def measure(capacity: float, output: float, seed: int, hours: float = 12.0, period: float = 10.0) -> Line:
    """A heater whose room always asks for more than it has."""
    built = design(capacity, output)
    meter = MeterTraits(period_seconds=period, step_watts=1.0, lag_seconds=3.0 + 9.0 * Random(seed).random())
    bench = Bench(built, seed=seed, air=ROOM_CELSIUS, meter=meter).run(LEARNING_HOURS[period > QUICK_SECONDS])
    learning, before = bench.trips, len(bench.starts)
    carried = bench.delivered_watts(hours)
    most = best_watts(built, 1500.0 * bench.mains_share(hours), 300.0, 300.0, ROOM_CELSIUS)
    facts = bench.facts
    tau, opens = built.tau_seconds(), built.sustained_watts()
    return Line(
        capacity,
        output,
        seed,
        learning,
        bench.trips - learning,
        carried / most,
        (facts.body_tau_seconds or 0.0) / tau - 1.0,
        (facts.opens_watts or 0.0) / opens - 1.0,
        2.0 * (len(bench.starts) - before) / hours * 24.0,
    )


def winter(
    days: float, capacity: float, output: float, loss: float, seed: int, period: float = 10.0
) -> Bench:
    """A heater in a room of its own through a cold spell of `days`, by the room's own hysteresis."""
    meter = MeterTraits(period_seconds=period, step_watts=1.0, lag_seconds=6.0)
    return Bench(design(capacity, output), seed=seed, air=ColdRoom(loss, seed), meter=meter).run(24.0 * days)


def clicks(days: float, watts: float, loss: float, seed: int) -> tuple[float, int, float]:
    """Switchings a day, openings and the room's mean of a heater on one of its settings."""
    bench = Bench(design(), watts=watts, seed=seed, air=ColdRoom(loss, seed, mean_celsius=2.0))
    warm, count = 0.0, 0
    for _ in range(int(days * 24)):
        bench.run(1.0)
        warm, count = warm + bench.celsius(), count + 1
    return 2.0 * len(bench.starts) / days, bench.trips, warm / count


def main() -> int:
    """Print everything; 1 if a heater opened after it was learned or carried under 90 %."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--days", type=float, default=0.0)
    parser.add_argument("--hours", type=float, default=12.0)
    parser.add_argument("--random", type=int, default=6)
    parser.add_argument("--period", type=float, default=10.0)
    given = parser.parse_args()
    if given.days:
        return _winters(given.days, given.period)
    rng = Random(7)
    heaters = [(c, o, 1 + n) for n, (c, o) in enumerate(product(SHARES, SHARES))]
    heaters += [(rng.uniform(0.7, 1.3), rng.uniform(0.7, 1.3), 20 + n) for n in range(given.random)]
    print("store output seed  openings  later  of best  tau err  level err clicks/d")
    lines = []
    for heater in heaters:
        lines.append(measure(*heater, hours=given.hours, period=given.period))
        print(lines[-1].text(), flush=True)
    shares = [line.delivered for line in lines]
    print(f"share of the best: least {min(shares):.3f}, median {median(shares):.3f}")
    for name in ("tau_error", "opens_error"):
        errors = [abs(getattr(line, name)) for line in lines]
        print(f"{name}: median {median(errors):.1%}, most {max(errors):.1%}")
    _advice_lines()
    return 0 if min(shares) >= 0.9 and all(line.learning <= 2 and not line.later for line in lines) else 1


def _advice_lines() -> None:
    high, low = clicks(5.0, 1500.0, 24.0, 3), clicks(5.0, 588.0, 24.0, 3)
    print(f"on 1500 W: {high[0]:.0f} clicks a day, {high[1]} openings, room {high[2]:.1f} °C")
    print(f"on 588 W, as advised: {low[0]:.0f} clicks a day, {low[1]} openings, room {low[2]:.1f} °C")


def _winters(days: float, period: float) -> int:
    worst = 0
    for capacity, output, loss, seed in ((1.0, 1.0, 30.0, 1), (0.7, 1.3, 40.0, 2), (1.3, 0.7, 18.0, 3)):
        bench = winter(days, capacity, output, loss, seed, period)
        at = ", ".join(f"day {1 + (at - 1000.0) / 86400.0:.2f}" for at in bench.trip_times)
        print(
            f"store {capacity} output {output}: {bench.trips} openings in {days:g} days ({at}); "
            f"{2 * len(bench.starts) / days:.0f} clicks a day",
            flush=True,
        )
        worst = max(worst, bench.trips)
    return 0 if worst <= 2 else 1


if __name__ == "__main__":
    raise SystemExit(main())
