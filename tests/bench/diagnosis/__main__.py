"""Prints the confusion matrices and, at the end, one table of all meters; exits 1 where a goal is missed.

The goals: a recall of 95 %, and in a sound house under one false alarm for each heater and winter of 120 days.
"""

from __future__ import annotations

import argparse
import time

from tests.bench.diagnosis.house import METERS, WATTS, Meter
from tests.bench.diagnosis.trial import KINDS, NONE, WINDOWS_HOURS, Tally, faulted, sound

GOAL = 0.95
WINTER_DAYS = 120.0
HEATERS = len(WATTS)


def merged(tallies: list[Tally]) -> Tally:
    """Several seeds as one."""
    whole = Tally(right=tallies[0].right)
    for one in tallies:
        whole.named += one.named
        whole.withdrawn += one.withdrawn
        whole.false += one.false
        whole.unshown += one.unshown
        whole.heater_days += one.heater_days
        whole.most_bytes = max(whole.most_bytes, one.most_bytes)
        whole.log += one.log
        whole.beside += one.beside
    return whole


def matrix(tally: Tally) -> str:
    """Rows: the fault ordered; columns: what it was called."""
    kinds = list(WINDOWS_HOURS)
    columns = [*kinds, "either", "early", NONE]
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


def summary(done: dict[int, tuple[Tally, float]]) -> str:
    """One table: right of ordered for each fault and meter; then alarms without a fault, per heater and winter.

    `done` gives each meter's tally, and the false alarms of a heater's winter in a sound house.
    """
    lines = [f"{'':<16}" + "".join(f"{f'meter {one}':>10}" for one in done)]
    for kind in WINDOWS_HOURS:
        cells = [tally.counts(kind) for tally, _ in done.values()]
        lines.append(
            f"{kind:<16}" + "".join(f"{f'{right}/{all_}' if all_ else '-':>10}" for right, all_ in cells)
        )
    between = [
        WINTER_DAYS * tally.false.total() / tally.heater_days if tally.heater_days else 0.0
        for tally, _ in done.values()
    ]
    lines.append(f"{'between faults':<16}" + "".join(f"{one:>10.1f}" for one in between))
    lines.append(f"{'in a sound house':<16}" + "".join(f"{one:>10.2f}" for _, one in done.values()))
    return "\n".join(lines)


def only_of(fault: str | None) -> dict[str, tuple[str, ...]] | None:
    """That fault on the heaters that may have it, a plug pulled out on the others; None: every fault."""
    if fault is None:
        return None
    return {f"{name}/h": (fault,) if fault in kinds else ("nothing",) for name, kinds in KINDS.items()}


def main() -> int:
    """Every meter asked for."""
    asked = argparse.ArgumentParser(prog="python -m tests.bench.diagnosis")
    asked.add_argument("--days", type=int, default=45, help="days with faults, for each seed")
    asked.add_argument("--sound-days", type=int, default=30, help="days without, for each seed")
    asked.add_argument("--seeds", type=int, default=2)
    asked.add_argument("--first-seed", type=int, default=0, help="the seeds are this one and those after it")
    asked.add_argument("--trace", action="store_true", help="print every fault and what it was called")
    asked.add_argument("--quick", action="store_true", help="the house of a panel, a convector and a radiant heater")
    asked.add_argument("--fault", choices=sorted(WINDOWS_HOURS), help="only this one, on every heater that may have it")
    asked.add_argument("meters", nargs="*", type=int, help=f"0 to {len(METERS) - 1}; none: all")
    how, failed, done = asked.parse_args(), False, {}
    for number in how.meters or range(len(METERS)):
        meter, begun = METERS[number], time.monotonic()
        seeds = range(how.first_seed, how.first_seed + how.seeds)
        tally = merged([faulted(meter, seed, how.days, only_of(how.fault), how.quick) for seed in seeds])
        print(f"\n== meter {number}: {meter.name}\n{matrix(tally)}")
        if how.trace:
            print("\n".join(tally.log))
        print(f"never acted in two days: {dict(tally.unshown) or 'none'}")
        print(f"first words withdrawn: {dict(tally.withdrawn) or 'none'}")
        print(f"wrong names beside the right one: {dict(tally.beside) or 'none'}")
        print(f"largest memory: {tally.most_bytes:.0f} bytes a room")
        print(f"told between faults: {dict(tally.false) or 'none'} in {tally.heater_days:.0f} heater-days")
        alarms = [sound(meter, seed, how.sound_days, how.quick) for seed in seeds] if how.sound_days else []
        print(
            f"sound house: {[dict(one) for one in alarms]} in {how.sound_days} days; "
            f"took {time.monotonic() - begun:.0f} s"
        )
        winters = how.seeds * how.sound_days * HEATERS / WINTER_DAYS
        done[number] = (tally, sum(one.total() for one in alarms) / winters if winters else 0.0)
        failed = failed or bool(short(meter, tally)) or done[number][1] >= 1.0
        if short(meter, tally):
            print(f"SHORT: {', '.join(short(meter, tally))}")
    print("\nright of ordered; false alarms per heater and winter of 120 days\n" + summary(done))
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
