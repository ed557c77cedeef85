"""Which runs the table is made of, and the doing of them, several at a time.

Rules: peers are swept on the first seed of every house and weather, and the peer that goals compare with runs on
every seed; the predictive law runs on every seed at its usual `clicks`, on the first at the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass
from typing import Any

from tests.bench.plant.faults import TROUBLES
from tests.bench.plant.run import Run, Spec, run

DIFFERENTIALS = (0.1, 0.2, 0.3, 0.4, 0.6, 1.0)
COMPARED = 0.2
"""Hysteresis ±0.1 K, the peer that a goal names."""
DEFAULT = 0.4
"""A room's own differential, which heats it until there is a model."""
CYCLES = ("15 min", "20 min", "30 min", "45 min")
CLICKS = ("many", "some", "few", "very few")
USUAL_CLICKS = "some"


@dataclass(frozen=True)
class Extent:
    """How much is run: the houses, weathers, seeds, and days of each programme, judged from a day on."""

    houses: tuple[str, ...] = ("light", "solid")
    weathers: tuple[str, ...] = ("newark", "golden")
    seeds: tuple[int, ...] = (1, 2, 3)
    constant_days: int = 8
    weekly_days: int = 12
    trouble_days: int = 6
    from_day: int = 3
    troubles: tuple[str, ...] = tuple(TROUBLES)
    trouble_houses: tuple[str, ...] = ("light",)

    @property
    def places(self) -> list[tuple[str, str]]:
        """Every house in every weather."""
        return [(house, weather) for house in self.houses for weather in self.weathers]


QUICK = Extent(weathers=("newark",), seeds=(1,), constant_days=5, weekly_days=6, from_day=3, trouble_days=4,
               troubles=("no meter", "0.5 K steps"))  # fmt: skip
SHORT = Extent(constant_days=6, weekly_days=8, trouble_days=5)
FULL = Extent()
EXTENTS = {"quick": QUICK, "short": SHORT, "full": FULL}


def hysteresis(differential: float) -> tuple[str, tuple[tuple[str, Any], ...]]:
    """Law and settings."""
    return "hysteresis", (("differential", differential),)


def proportional(cycle: str) -> tuple[str, tuple[tuple[str, Any], ...]]:
    """Law and settings."""
    return "proportional", (("cycle", cycle),)


def predictive(clicks: str = USUAL_CLICKS) -> tuple[str, tuple[tuple[str, Any], ...]]:
    """Law and settings."""
    return "predictive", (("clicks", clicks),)


PEERS = [hysteresis(one) for one in DIFFERENTIALS] + [proportional(one) for one in CYCLES]


def spec(
    extent: Extent, place: tuple[str, str], programme: str, law: Any, seed: int, trouble: str = ""
) -> Spec:
    """One run of this extent."""
    name, settings = law if isinstance(law, tuple) else (law, ())
    days = extent.weekly_days if programme == "weekly" else extent.constant_days
    days = extent.trouble_days if trouble else days
    return Spec(*place, programme, name, days, seed, settings, trouble)


WORKS = ("constant", "swept", "weekly", "quiet", "robust")


def specs_of(extent: Extent, works: Iterable[str]) -> list[Spec]:
    """The runs of some works only, on every place and seed."""
    first, found = extent.seeds[0], []
    for work in works:
        if work == "robust":
            found += list(_robust(extent))
        for place in extent.places if work != "robust" else []:
            for seed in extent.seeds if work in ("constant", "weekly") else (first,):
                found += list(PARTS[work](extent, place, seed))
    return list(dict.fromkeys(found))


def all_specs(extent: Extent) -> Iterator[Spec]:
    """Every run of the table; what tells most comes first, so that a run that is cut short still tells."""
    first, weather = extent.seeds[0], extent.weathers[0]
    for place in [one for one in extent.places if one[1] == weather]:
        yield from _constant(extent, place, first)
        yield from _weekly(extent, place, first)
        yield from _swept(extent, place, first)
        yield from _quiet(extent, place, first)
    yield from _robust(extent)
    for part in (_constant, _weekly):
        for seed in extent.seeds:
            for place in extent.places:
                yield from part(extent, place, seed)
    for place in extent.places:
        yield from _swept(extent, place, first)
        yield from _quiet(extent, place, first)


def _constant(extent: Extent, place: tuple[str, str], seed: int) -> Iterator[Spec]:
    for law in ("ideal", predictive(), hysteresis(COMPARED), hysteresis(DEFAULT)):
        yield spec(extent, place, "constant", law, seed)


def _weekly(extent: Extent, place: tuple[str, str], seed: int) -> Iterator[Spec]:
    for law in ("ideal", "full", predictive(), hysteresis(COMPARED)):
        yield spec(extent, place, "weekly", law, seed)


def _swept(extent: Extent, place: tuple[str, str], seed: int) -> Iterator[Spec]:
    for law in ("radiant", *(predictive(one) for one in CLICKS), *PEERS):
        yield spec(extent, place, "constant", law, seed)


def _quiet(extent: Extent, place: tuple[str, str], seed: int) -> Iterator[Spec]:
    for law in ("ideal", predictive(), *(hysteresis(one) for one in DIFFERENTIALS)):
        yield spec(extent, place, "quiet", law, seed)


def _robust(extent: Extent) -> Iterator[Spec]:
    for house in extent.trouble_houses:
        for trouble in ("", *extent.troubles):
            place = (house, extent.weathers[0])
            yield spec(extent, place, "constant", predictive(), extent.seeds[0], trouble)


PARTS = {"constant": _constant, "weekly": _weekly, "swept": _swept, "quiet": _quiet}


def prepare(specs: Iterable[Spec], workers: int, say: Any = print) -> dict[Spec, Run]:
    """All runs, kept or made; each is a process of its own."""
    wanted = list(dict.fromkeys(specs))
    done: dict[Spec, Run] = {}
    with ThreadPoolExecutor(workers) as pool:
        waiting = {pool.submit(run, one): one for one in wanted}
        for finished in as_completed(waiting):
            done[waiting[finished]] = finished.result()
            one = waiting[finished]
            say(f"{len(done)}/{len(wanted)} {one.house} {one.weather} {one.programme} {one.law} "
                f"{dict(one.settings)} {one.trouble} seed {one.seed}")  # fmt: skip
    return done
