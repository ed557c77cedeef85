"""`python -m tests.bench.plant --house light --law predictive --days 12 --seed 1`: one run and its figures.

`python -m tests.bench.plant table [--extent quick|short|full] [--workers 2] [--kept] [--draw FOLDER]`: the goal
table; `--only robust` (or constant, swept, weekly, quiet; several with commas) runs and prints a part of it; `--kept`
runs nothing anew, `--draw` writes the frontier as SVG. Exits 1 where a goal is missed.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

import numpy as np

from tests.bench.plant import cost, goals, matrix, picture
from tests.bench.plant.houses import BUILDINGS
from tests.bench.plant.programme import PROGRAMMES, rises
from tests.bench.plant.run import Run, Spec, is_kept, run
from tests.bench.plant.score import Arrival, arrivals, excess, joules, switches_a_day

LEARNING_DAYS = 3


def main() -> int:
    """One run as asked, or the table."""
    if sys.argv[1:2] == ["table"]:
        return _table(_table_parser().parse_args(sys.argv[2:]))
    asked = _parser().parse_args()
    settings = tuple((key, json.loads(value)) for key, _, value in (one.partition("=") for one in asked.set))
    spec = Spec(
        asked.house,
        asked.weather,
        asked.programme,
        asked.law,
        asked.days,
        asked.seed,
        settings,
        asked.trouble,
    )
    done = run(spec, fresh=asked.fresh)
    print(told(spec, done, asked.from_day))
    if asked.rises:
        print(_each_rise(spec, done, asked.from_day))
    return 0


def _table(asked: argparse.Namespace) -> int:
    """The goal table of all runs, made or kept."""
    extent = matrix.EXTENTS[asked.extent]
    works = [one for one in asked.only.split(",") if one]
    specs = matrix.specs_of(extent, works) if works else list(dict.fromkeys(matrix.all_specs(extent)))
    if asked.kept:
        known = {one: run(one) for one in specs if is_kept(one)}
    else:
        known = matrix.prepare(specs, asked.workers, lambda words: print(words, file=sys.stderr, flush=True))
    found = goals.table(known, extent, works) + ([] if asked.kept or works else cost.measure())
    print(f"{len(known)} of {len(specs)} runs\n" + goals.lines(found))
    panels = {house: goals.frontier(known, extent, house) for house in extent.houses}
    panels = {
        house: points for house, points in panels.items() if len({one.kind for one in points}) > 1
    }  # one law alone compares with nothing
    print(picture.markdown(panels))
    if asked.draw:
        picture.publish(panels, Path(asked.draw))
    return 1 if any(goal.met is False for goal in found) else 0


def _table_parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.plant table")
    parser.add_argument(
        "--extent", choices=list(matrix.EXTENTS), default="quick", help="minutes, an hour, a night"
    )
    parser.add_argument("--kept", action="store_true", help="only from runs that are kept")
    parser.add_argument("--only", default="", help=", ".join(matrix.WORKS))
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--draw", metavar="FOLDER", help="write laws.svg there, and the tables of laws.md")
    return parser


def told(spec: Spec, done: Run, from_day: int) -> str:
    """The figures of one run, room by room; judged from a day on."""
    ideal = run(spec.like("ideal"))
    first = min(from_day, spec.days - 1) * 1440
    names = [cell.name for cell in BUILDINGS[spec.house].cells]
    off, clicks = excess(done.trace, ideal.trace, first), switches_a_day(done.trace, first)
    more = joules(done.trace, first) / joules(ideal.trace, first)
    lines = [f"{spec.house}, {spec.weather}, {spec.programme}, {spec.law} {dict(spec.settings)} {spec.trouble}, "
             f"seed {spec.seed}, days {first // 1440} to {spec.days}"]  # fmt: skip
    for at, name in enumerate(names):
        over = float((done.trace.air - np.maximum(done.trace.target, ideal.trace.air))[first:, at].max())
        lines.append(f"  {name:<12} excess {off[at]:.3f} K  {clicks[at]:5.1f} switches/day  most over {over:+.2f} K  "
                     f"energy {100 * (more[at] - 1):+.1f} % of the ideal's")  # fmt: skip
    lines.append(f"  mean         excess {off.mean():.3f} K  {clicks.mean():5.1f} switches/day")
    if spec.programme == "weekly":
        lines.append(_arrivals_told(spec, done, first))
    if done.notes:
        lines.append(f"  step, three rooms: median {1e6 * done.notes['step_seconds_median']:.0f} us, mean "
                     f"{1e6 * done.notes['step_seconds_mean']:.0f} us; fits "
                     f"{' '.join(f'{s:.2f}' for s in done.notes['fit_seconds'])} s")  # fmt: skip
        trips = {code: count for code, count in done.notes["told"].items() if "tripped" in code}
        lines.append("  " + "; ".join(f"{code} {count} min" for code, count in sorted(trips.items())))
    return "\n".join(lines)


def _arrivals_told(spec: Spec, done: Run, first: int) -> str:
    found = rises_of(spec, done, first)
    names = [cell.name for cell in BUILDINGS[spec.house].cells]
    lines = [arrivals_line("all rooms", found)]
    lines += [arrivals_line(name, [one for one in found if one.room == name]) for name in names]
    return "\n".join(lines)


def _each_rise(spec: Spec, done: Run, from_day: int) -> str:
    """Every rise: when, how late, how far over, and whether it is feasible."""
    found = rises_of(spec, done, from_day * 1440)
    return "\n".join(
        f"  {one.room:<12} day {one.at // 86400:2.0f} {one.at % 86400 / 3600:5.2f} h  {one.late_minutes:+5.0f} min  "
        f"over {one.over_kelvin:.2f} K  {'' if one.feasible else 'not feasible'}"
        for one in sorted(found, key=lambda one: (one.room, one.at))
    )


def rises_of(spec: Spec, done: Run, first: int) -> list[Arrival]:
    """The rises of a weekly run that are the heater's, from a minute on."""
    names = [cell.name for cell in BUILDINGS[spec.house].cells]
    every = [rises(steps, spec.days) for steps in PROGRAMMES[spec.programme]]
    return arrivals(
        done.trace, run(spec.like("ideal")).trace, run(spec.like("full")).trace, every, names, first
    )


def arrivals_line(name: str, found: list[Arrival]) -> str:
    """Rises in words."""
    ones = [one for one in found if one.feasible]
    if not ones:
        return f"  {name:<12} no feasible rise of {len(found)}"
    late = np.array([one.late_minutes for one in ones])
    over = np.array([one.over_kelvin for one in ones])
    return (
        f"  {name:<12} rises {len(ones)} feasible of {len(found)}: within 10 min {np.mean(np.abs(late) <= 10):.2f}, "
        f"median {np.median(late):+.0f}, p10 {np.quantile(late, 0.1):+.0f}, p90 {np.quantile(late, 0.9):+.0f} min; "
        f"overshoot p90 {np.quantile(over, 0.9):.2f} K"
    )


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.plant", description=__doc__)
    parser.add_argument("--house", choices=list(BUILDINGS), default="light")
    parser.add_argument("--weather", default="newark", help="part of a weather file's name, or a path")
    parser.add_argument("--programme", choices=list(PROGRAMMES), default="constant")
    parser.add_argument(
        "--law", default="predictive", help="hysteresis, proportional, predictive, ideal, full"
    )
    parser.add_argument("--days", type=int, default=12)
    parser.add_argument("--from-day", type=int, default=LEARNING_DAYS, help="judged from this day on")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--set", action="append", default=[], metavar="KEY=JSON", help="a key of every room")
    parser.add_argument("--trouble", default="", help="a robustness run by name")
    parser.add_argument("--rises", action="store_true", help="list every rise of a weekly run")
    parser.add_argument("--fresh", action="store_true", help="do not use a kept run")
    return parser


if __name__ == "__main__":
    sys.exit(main())
