"""Prints the confusion matrices; exits 1 where a recall is under 95 % or a sound house brings an alarm."""

from __future__ import annotations

import argparse
import time

from tests.bench.diagnosis.house import METERS, Meter
from tests.bench.diagnosis.trial import NONE, WINDOWS_HOURS, Tally, faulted, sound

GOAL = 0.95


def merged(tallies: list[Tally]) -> Tally:
    """Several seeds as one."""
    whole = Tally()
    for one in tallies:
        whole.named += one.named
        whole.withdrawn += one.withdrawn
        whole.false += one.false
        whole.unshown += one.unshown
        whole.heater_days += one.heater_days
        whole.log += one.log
    return whole


def matrix(tally: Tally) -> str:
    """Rows: the fault ordered; columns: what it was called."""
    kinds = list(WINDOWS_HOURS)
    columns = [*kinds, "either", NONE]
    lines = [f"{'ordered':<11}" + "".join(f"{name[:9]:>10}" for name in columns) + f"{'recall':>9}"]
    for kind in kinds:
        recall = tally.recall(kind)
        counts = "".join(f"{tally.named[(kind, name)] or '·':>10}" for name in columns)
        lines.append(f"{kind:<11}{counts}{'-' if recall is None else f'{100 * recall:.0f} %':>9}")
    return "\n".join(lines)


def short(meter: Meter, tally: Tally) -> list[str]:
    """The faults whose recall misses the goal."""
    judged = [kind for kind in WINDOWS_HOURS if meter.volts or kind != "bad socket"]
    return [kind for kind in judged if (recall := tally.recall(kind)) is not None and recall < GOAL]


def main() -> int:
    """Every meter asked for."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.diagnosis")
    asked.add_argument("--days", type=int, default=45, help="days with faults, for each seed")
    asked.add_argument("--sound-days", type=int, default=30, help="days without, for each seed")
    asked.add_argument("--seeds", type=int, default=2)
    asked.add_argument("--trace", action="store_true", help="print every fault and what it was called")
    asked.add_argument("meters", nargs="*", type=int, help=f"0 to {len(METERS) - 1}; none: all")
    how, failed = asked.parse_args(), False
    for number in how.meters or range(len(METERS)):
        meter, begun = METERS[number], time.monotonic()
        tally = merged([faulted(meter, seed, how.days) for seed in range(how.seeds)])
        print(f"\n== meter {number}: {meter.name}\n{matrix(tally)}")
        if how.trace:
            print("\n".join(tally.log))
        print(f"never acted in two days: {dict(tally.unshown) or 'none'}")
        print(f"first words withdrawn: {dict(tally.withdrawn) or 'none'}")
        print(f"told between faults: {dict(tally.false) or 'none'} in {tally.heater_days:.0f} heater-days")
        alarms = [sound(meter, seed, how.sound_days) for seed in range(how.seeds)] if how.sound_days else []
        print(
            f"sound house: {[dict(one) for one in alarms]} in {how.sound_days} days; "
            f"took {time.monotonic() - begun:.0f} s"
        )
        failed = failed or bool(short(meter, tally)) or any(alarms)
        if short(meter, tally):
            print(f"SHORT: {', '.join(short(meter, tally))}")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
