"""The goals, and what was measured for each: from kept runs only, so that a table costs nothing once they are there.

Rules: a figure is the mean over rooms of a run, then over weathers and seeds, with the least and the most run beside
it; a goal without its runs is "not run", never met; a goal missed says so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tests.bench.plant import matrix
from tests.bench.plant.faults import NOT_SOUND
from tests.bench.plant.houses import BUILDINGS
from tests.bench.plant.matrix import (
    CLICKS,
    COMPARED,
    DEFAULT,
    Extent,
    hysteresis,
    predictive,
    proportional,
    spec,
)
from tests.bench.plant.programme import PROGRAMMES, rises
from tests.bench.plant.run import Run, Spec
from tests.bench.plant.score import Arrival, arrivals, excess, joules, switches_a_day
from tests.bench.plant.trace import Trace

Known = dict[Spec, Run]
SPARE_SHARE, SPARE_MINUTES, STRONG_MINUTES = 0.85, 360, 180.0
SLOW_CLIMB, QUICK_CLIMB = 0.5, 1.2  # K/h as it arrives
MOST_CLICKS = {"light": (57.0, 35.0), "solid": (70.0, 42.0)}
MOST_EXCESS = {"light": (0.10, 0.18), "solid": (0.10, 0.20)}


@dataclass(frozen=True, slots=True)
class Goal:
    """One line of the table; `met` is None where the runs are not there."""

    work: str
    goal: str
    measured: str
    met: bool | None


@dataclass
class Point:
    """One law and setting in one house: (excess K, switches a day) of each run."""

    label: str
    kind: str
    runs: list[tuple[float, float]] = field(default_factory=list)
    spare: list[float] = field(default_factory=list)
    """Excess of each run where the ideal needed under 85 % of the heater for six hours, K."""

    @property
    def excess(self) -> float:
        """Mean over runs, K."""
        return float(np.mean([one[0] for one in self.runs]))

    @property
    def clicks(self) -> float:
        """Mean over runs, switches a day."""
        return float(np.mean([one[1] for one in self.runs]))

    @property
    def strong(self) -> float:
        """The same where the heater had power to spare, K."""
        return float(np.nanmean(self.spare)) if self.spare else self.excess

    @property
    def told(self) -> str:
        """In words, with the spread where there is one."""
        if not self.runs:
            return "not run"
        spread = ""
        if len(self.runs) > 1:
            lows, highs = np.min(self.runs, axis=0), np.max(self.runs, axis=0)
            spread = f" ({lows[0]:.3f}–{highs[0]:.3f} @ {lows[1]:.0f}–{highs[1]:.0f}, {len(self.runs)} runs)"
        spare = f", {np.nanmean(self.spare):.3f} with power to spare" if self.spare else ""
        return f"{self.excess:.3f} @ {self.clicks:.0f}{spread}{spare}"


def point(
    known: Known, extent: Extent, house: str, law: Any, label: str, kind: str, seeds: Iterable[int]
) -> Point:
    """A law in a house, over the weathers and seeds that were run."""
    found = Point(label, kind)
    for weather in extent.weathers:
        for seed in seeds:
            one = spec(extent, (house, weather), "constant", law, seed)
            ideal = known.get(spec(extent, (house, weather), "constant", "ideal", seed))
            run = known.get(one)
            if run is not None and ideal is not None:
                first = extent.from_day * 1440
                off, clicks = excess(run.trace, ideal.trace, first), switches_a_day(run.trace, first)
                found.runs.append((float(off.mean()), float(clicks.mean())))
                found.spare.append(_with_spare(run.trace, ideal.trace, house, first))
    return found


def _with_spare(run: Trace, ideal: Trace, house: str, first: int) -> float:
    """Excess where the heater was strong enough: after `SPARE_MINUTES` of an ideal under its limit."""
    most = SPARE_SHARE * np.array([cell.watts for cell in BUILDINGS[house].cells])
    strained = (ideal.watts > most).astype(float)
    count = np.cumsum(np.vstack([np.zeros((1, strained.shape[1])), strained]), axis=0)
    before = count[1:] - count[np.maximum(0, np.arange(1, len(strained) + 1) - SPARE_MINUTES)]
    fine = (before == 0)[first:]
    off = np.where(fine, (run.air - ideal.air)[first:] ** 2, np.nan)
    return float(np.nanmean(np.sqrt(np.nanmean(off, axis=0))))


def frontier(known: Known, extent: Extent, house: str) -> list[Point]:
    """Every law and setting of a house on the first seed, for the picture and its table; those that were run."""
    first = extent.seeds[:1]
    points = [
        point(known, extent, house, hysteresis(one), f"±{one / 2:g} K", "hysteresis", first)
        for one in matrix.DIFFERENTIALS
    ]
    points += [
        point(known, extent, house, proportional(one), one, "proportional", first) for one in matrix.CYCLES
    ]
    points += [point(known, extent, house, predictive(one), one, "predictive", first) for one in CLICKS]
    return [one for one in points if one.runs]


def constant(known: Known, extent: Extent) -> list[Goal]:
    """Excess against switches, in each house."""
    goals = []
    for house in extent.houses:
        points = frontier(known, extent, house)
        ours = [one for one in points if one.kind == "predictive"]
        for most_clicks, most_excess in zip(
            MOST_CLICKS.get(house, ()), MOST_EXCESS.get(house, ()), strict=True
        ):
            goals.append(_within(house, ours, most_clicks, most_excess))
        usual = point(known, extent, house, predictive(), "usual", "predictive", extent.seeds)
        peer = point(known, extent, house, hysteresis(COMPARED), "±0.1", "hysteresis", extent.seeds)
        goals.append(_against(house, usual, peer))
        goals.append(_undominated(house, ours, [one for one in points if one.kind != "predictive"]))
        floor = point(known, extent, house, "radiant", "radiant", "radiant", extent.seeds[:1])
        about = "(told only) the ideal itself, by a heater that radiates: what no control can mend"
        goals.append(Goal(f"constant, {house}", about, floor.told, None))
    return goals


def _within(house: str, ours: list[Point], most_clicks: float, most_excess: float) -> Goal:
    fitting = [one for one in ours if one.clicks <= most_clicks] or ours
    best = min(fitting, key=lambda one: one.excess, default=None)
    met = None if best is None else best.excess <= most_excess and best.clicks <= most_clicks
    if met is False and len(ours) < len(CLICKS):
        met = None  # another setting of `clicks`, not run, may do
    told = "not run" if best is None else f'clicks "{best.label}": {best.told}'
    return Goal(
        f"constant, {house}", f"≤ {most_excess:.2f} K at ≤ {most_clicks:.0f} switches a day", told, met
    )


def _against(house: str, usual: Point, peer: Point) -> Goal:
    goal = "excess ≤ 0.4 of hysteresis ±0.1 K, switches ≤ 2 times its own"
    if not usual.runs or not peer.runs:
        return Goal(f"constant, {house}", goal, "not run", None)
    ratio, clicks = usual.excess / peer.excess, usual.clicks / peer.clicks
    told = f"{ratio:.2f} of it at {clicks:.2f} times: {usual.told} against {peer.told}"
    return Goal(f"constant, {house}", goal, told, ratio <= 0.4 and clicks <= 2.0)


def _undominated(house: str, ours: list[Point], peers: list[Point]) -> Goal:
    goal = "no hysteresis or PI setting better on both axes"
    if not ours or not peers:
        return Goal(f"constant, {house}", goal, "not run", None)
    beaten = [
        f'"{mine.label}" by {peer.kind} {peer.label} ({peer.told})'
        for mine in ours
        for peer in peers
        if peer.excess < mine.excess and peer.clicks < mine.clicks
    ]
    return Goal(f"constant, {house}", goal, "; ".join(beaten) or f"none of {len(peers)} is", not beaten)


def weekly(known: Known, extent: Extent) -> list[Goal]:
    """Arrivals, pooled over all runs, and energy."""
    ours, energy, shares = _arrivals(known, extent, predictive())
    peers, unheated, _ = _arrivals(known, extent, hysteresis(COMPARED))
    if not ours:
        return [Goal("arrivals", "≥ 400 feasible rises", "not run", None)]
    late, over = np.array([one.late_minutes for one in ours]), np.array([one.over_kelvin for one in ours])
    within, middle, high = (
        float(np.mean(np.abs(late) <= 10)),
        float(np.median(late)),
        float(np.quantile(over, 0.9)),
    )
    low, far = float(np.quantile(late, 0.1)), float(np.quantile(late, 0.9))
    peer = "hysteresis ±0.1 K not run"
    if peers:
        peer_late = np.array([one.late_minutes for one in peers])
        on_time = np.mean(np.abs(peer_late) <= 10)
        peer = f"hysteresis ±0.1 K: {on_time:.2f}, median {np.median(peer_late):+.0f} min"
    spread = f"runs {min(shares):.2f}–{max(shares):.2f}"
    return [
        Goal("arrivals", "≥ 400 feasible rises", f"{len(ours)} rises in {len(shares)} runs", len(ours) >= 400),
        Goal("arrivals", "≥ 95 % within ±10 min", f"{100 * within:.1f} % ({spread}){_strong(ours)}; {peer}",
             within >= 0.95),
        Goal("arrivals", "median within ±2 min", f"{middle:+.1f} (p10 {low:+.0f}, p90 {far:+.0f})", abs(middle) <= 2),
        Goal("arrivals", "overshoot p90 ≤ 0.3 K", f"{high:.2f} K", high <= 0.3),
        _more_energy(energy, unheated),
    ]  # fmt: skip


def _strong(ours: list[Arrival]) -> str:
    """Rises for which the heater has power to spare."""
    groups = {
        f"that full power meets in {STRONG_MINUTES / 60.0:.0f} h": [
            one for one in ours if one.full_minutes <= STRONG_MINUTES
        ],
        f"still climbing {QUICK_CLIMB} K/h on full power": [
            one for one in ours if one.climb_kelvin_per_hour >= QUICK_CLIMB
        ],
        f"climbing less than {SLOW_CLIMB} K/h": [one for one in ours if one.climb_kelvin_per_hour < SLOW_CLIMB],
    }
    return "".join(
        f", of {len(ones)} {which} {100 * np.mean([abs(one.late_minutes) <= 10 for one in ones]):.1f} %"
        for which, ones in groups.items()
        if ones
    )


def _more_energy(energy: list[float], without: list[float]) -> Goal:
    """Against the same heaters switched by hysteresis without preheating, each over the ideal of its own run."""
    goal = "≤ 5 % more energy than no preheat (hysteresis ±0.1 K)"
    over = f"{100 * (np.mean(energy) - 1):+.1f} % over the ideal, whose heat is all in the air at once"
    if len(without) != len(energy):
        return Goal("arrivals", goal, f"hysteresis not run; {over}", None)
    more = np.array(energy) / np.array(without)
    spread = f"{100 * (more.min() - 1):+.1f} to {100 * (more.max() - 1):+.1f}"
    told = f"{100 * (more.mean() - 1):+.1f} % ({spread}); {over}"
    return Goal("arrivals", goal, told, bool(more.mean() <= 1.05))


def _arrivals(known: Known, extent: Extent, law: Any) -> tuple[list[Arrival], list[float], list[float]]:
    """Feasible rises of all runs; energy over the ideal's of each run; the share on time of each run."""
    found: list[Arrival] = []
    energy, shares = [], []
    first = extent.from_day * 1440
    for place in extent.places:
        every = [rises(steps, extent.weekly_days) for steps in PROGRAMMES["weekly"]]
        names = [cell.name for cell in BUILDINGS[place[0]].cells]
        for seed in extent.seeds:
            run, ideal, full = (
                known.get(spec(extent, place, "weekly", one, seed)) for one in (law, "ideal", "full")
            )
            if run is None or ideal is None or full is None:
                continue
            mine = [
                a for a in arrivals(run.trace, ideal.trace, full.trace, every, names, first) if a.feasible
            ]
            found += mine
            energy.append(float(joules(run.trace, first).sum() / joules(ideal.trace, first).sum()))
            shares.append(float(np.mean([abs(a.late_minutes) <= 10 for a in mine])))
    return found, energy, shares


def quiet(known: Known, extent: Extent) -> list[Goal]:
    """Nights with four switches."""
    ratios, told, most = [], [], 0
    for place in extent.places:
        seed = extent.seeds[0]
        ideal, ours = (known.get(spec(extent, place, "quiet", one, seed)) for one in ("ideal", predictive()))
        peers = {
            one: run
            for one in matrix.DIFFERENTIALS
            if (run := known.get(spec(extent, place, "quiet", hysteresis(one), seed))) is not None
        }
        if ideal is None or ours is None or not peers:
            continue
        mine = _nightly(ours, ideal, extent)
        best = min(_nightly(run, ideal, extent) for run in peers.values())
        most = max(most, _most_night_switches(ours, extent))
        ratios.append(mine / best)
        told.append(f"{place[0]}/{place[1]} {mine:.2f} against {best:.2f} K")
    if not ratios:
        return [Goal("quiet night", "excess ≤ 0.6 of the best hysteresis", "not run", None)]
    return [
        Goal("quiet night", "never more than 4 switches", f"at most {most} in a night", most <= 4),
        Goal("quiet night", "excess ≤ 0.6 of the best hysteresis under the same allowance",
             f"{np.mean(ratios):.2f}: {'; '.join(told)}", bool(np.mean(ratios) <= 0.6)),
    ]  # fmt: skip


def _night(minutes: int) -> np.ndarray:
    hour = (np.arange(minutes) % 1440) / 60.0
    return (hour >= 22.5) | (hour < 6.5)


def _nightly(run: Run, ideal: Run, extent: Extent) -> float:
    """Excess within the nights after the learning days, K."""
    night = _night(len(run.trace.air))
    night[: extent.from_day * 1440] = False
    off = (run.trace.air - ideal.trace.air)[night]
    return float(np.sqrt(np.mean(off**2, axis=0)).mean())


def _most_night_switches(run: Run, extent: Extent) -> int:
    on = run.trace.on.astype(int)
    moved = np.abs(np.diff(on, axis=0, prepend=on[:1]))
    most = 0
    for day in range(extent.constant_days - 1):
        begin = day * 1440 + 1350
        most = max(most, int(moved[begin : begin + 480].sum(axis=0).max()))
    return most


def young(known: Known, extent: Extent) -> list[Goal]:
    """The first days, against hysteresis as the room's own differential has it, which heats it until the first fit."""
    ratios: dict[int, list[float]] = {0: [], 1: []}
    for place in extent.places:
        for seed in extent.seeds:
            ideal, ours, peer = (
                known.get(spec(extent, place, "constant", one, seed))
                for one in ("ideal", predictive(), hysteresis(DEFAULT))
            )
            if ideal is None or ours is None or peer is None:
                continue
            for day, kept in ratios.items():
                span = (day * 1440, day * 1440 + 1440)
                kept.append(
                    float(
                        excess(ours.trace, ideal.trace, *span).mean()
                        / excess(peer.trace, ideal.trace, *span).mean()
                    )
                )
    words = (
        ("first day", "no worse than hysteresis (excess ratio ≤ 1)", 1.0),
        ("second day", "useful: under 0.8 of it", 0.8),
    )
    return [
        Goal(
            name,
            goal,
            _ratio_told(ratios[day]),
            bool(np.mean(ratios[day]) <= most + 0.005) if ratios[day] else None,
        )
        for day, (name, goal, most) in enumerate(words)
    ]


def _ratio_told(ratios: list[float]) -> str:
    return (
        f"{np.mean(ratios):.2f} ({min(ratios):.2f}–{max(ratios):.2f}, {len(ratios)} runs)"
        if ratios
        else "not run"
    )


RUNAWAY_KELVIN, RUNAWAY_MINUTES, HEATED_MINUTES = 1.5, 30, 60


def runaways(run: Run) -> int:
    """Minutes in runaways: half an hour or more over target + 1.5 K, with heat ordered then or the hour before."""
    found = 0
    over = run.trace.air > run.trace.target + RUNAWAY_KELVIN
    for column in range(over.shape[1]):
        begun = None
        for minute, hot in enumerate([*over[:, column], False]):
            if hot and begun is None:
                begun = minute
            if not hot and begun is not None:
                heated = run.trace.on[max(0, begun - HEATED_MINUTES) : minute, column].any()
                found += (minute - begun) if minute - begun >= RUNAWAY_MINUTES and heated else 0
                begun = None
    return found


def robust(known: Known, extent: Extent) -> list[Goal]:
    """Every trouble, and every other predictive run."""
    goals = []
    for house in extent.trouble_houses:
        place = (house, extent.weathers[0])
        for trouble in extent.troubles:
            run = known.get(spec(extent, place, "constant", predictive(), extent.seeds[0], trouble))
            told, met = "not run", None
            if run is not None:
                minutes, most = runaways(run), float((run.trace.air - run.trace.target).max())
                rested, sound = rests(run), trouble not in NOT_SOUND
                told = f"{minutes} min; most over {most:+.2f} K; no-answer {rested} min"
                met = minutes == 0 and (rested == 0 or not sound)
            goals.append(
                Goal(
                    f"robust, {house}: {trouble}", "no runaway by heating; no rests of a sound one", told, met
                )
            )
    others = [
        run
        for one, run in known.items()
        if one.law == "predictive" and one.programme != "weekly" and not one.trouble
    ]
    if others:
        minutes, rested = sum(runaways(run) for run in others), sum(rests(run) for run in others)
        work, told = f"robust: the other {len(others)} runs", f"{minutes} min; no-answer {rested} min in all"
        goals.append(Goal(work, "no runaway by heating; no rests", told, minutes == 0 and rested == 0))
    return goals


def rests(run: Run) -> int:
    """Minutes in which `no-answer` kept a heater off, all rooms."""
    told = run.notes.get("told", {})
    return sum(count for code, count in told.items() if code.endswith("tripped no-answer"))


Part = Callable[[Known, Extent], list[Goal]]
TABLES: tuple[Part, ...] = (constant, weekly, quiet, young, robust)
OF_WORK: dict[str, tuple[Part, ...]] = {
    "constant": (constant, young), "swept": (constant,), "weekly": (weekly,), "quiet": (quiet,), "robust": (robust,),
}  # fmt: skip


def table(known: Known, extent: Extent, works: Iterable[str] = ()) -> list[Goal]:
    """Every goal, or those of some works."""
    parts = dict.fromkeys(part for work in works for part in OF_WORK[work]) or TABLES
    return [goal for part in parts for goal in part(known, extent)]


def lines(goals: list[Goal]) -> str:
    """The table as printed."""
    words = {True: "met", False: "MISSED", None: "not run"}
    wide = max(len(goal.work) for goal in goals)
    return "\n".join(
        f"{words[g.met]:<8} {g.work:<{wide}}  {g.goal}\n{'':<9}{'':<{wide}}  -> {g.measured}" for g in goals
    )
