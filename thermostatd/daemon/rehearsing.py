"""The owner's own house through some cold days under each control law, in processes side by side.

Rules: nothing goes to a broker or a plug; every law meets the same house, weather, people and sensors, made from one
seed; how warm the rooms would be at the owner's is not known, since the house file does not say how large and leaky
they are: they are invented so that their heaters can hold 20 °C at −20 to −34 °C outdoors, so that most setbacks can be
made up for in a cold week.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from datetime import date, datetime
from datetime import time as midnight
from multiprocessing.sharedctypes import SynchronizedArray
from multiprocessing.synchronize import Event
from threading import Thread
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.rehearsal.judging import LATEST_MINUTES
from thermostatd.rehearsal.nature import Weather
from thermostatd.rehearsal.trial import LAWS, Outcome, Trial

MONDAY = date(2026, 1, 12)  # a winter week like any other; the built-in weather has no date
LOOK_SECONDS = 0.2
ABANDONED = 3
"""How a process ends in the midst of its week, once nobody waits for it."""
UNSHIFTED = "predictive, prices not minded"


class RehearsalError(Exception):
    """A rehearsal that could not be finished, and why."""


@dataclass
class Rehearsal:
    """What came of it. `wall_seconds` is what it took here."""

    outcomes: list[Outcome]
    days: float
    warm_days: int
    seed: int
    weather: str
    wall_seconds: float = 0.0
    unshifted: Outcome | None = None
    rooms: list[str] = field(default_factory=list)

    @property
    def times_life(self) -> float:
        """Time lived, of all laws together, over the time it took."""
        lived = sum(outcome.lived_seconds for outcome in [*self.outcomes, *filter(None, [self.unshifted])])
        return lived / max(self.wall_seconds, 1e-9)

    @property
    def within_reach(self) -> set[tuple[str, float]]:
        """Rises (room, due) that at least one law came to within three hours: the others no law could help."""
        return {
            (name, due)
            for one in self.outcomes
            for name, room in one.rooms.items()
            for due, minutes in room.arrivals
            if minutes < LATEST_MINUTES
        }

    @property
    def rises(self) -> int:
        """Rises that any law had to meet."""
        return len(
            {(n, due) for one in self.outcomes for n, room in one.rooms.items() for due, _ in room.arrivals}
        )

    @property
    def saved(self) -> float | None:
        """What minding the prices saved, in money, against the same law that does not; None without prices."""
        ours = next((one for one in self.outcomes if one.law == "predictive"), None)
        return None if self.unshifted is None or ours is None else self.unshifted.cost - ours.cost


@dataclass(frozen=True)
class _Job:
    house: dict[str, Any]
    label: str
    law: str
    seed: int
    start: datetime
    days: float
    warm_days: int
    weather: Weather | None
    place: int


_shares: SynchronizedArray[float] | None = None


def rehearse(
    house: House,
    *,
    days: float = 7.0,
    warm_days: int = 3,
    seed: int = 1,
    start: datetime | None = None,
    weather: Weather | None = None,
    told: str = "a built-in cold spell",
    laws: Sequence[str] = LAWS,
    progress: Callable[[float], None] | None = None,
    processes: int | None = None,
) -> Rehearsal:
    """Live through it. `weather` counts seconds from `warm_days` before `start`; `progress` is told the share done."""
    first = start or datetime.combine(MONDAY, midnight.min, ZoneInfo(house.house.timezone))
    plain = house.model_dump(mode="json", by_alias=True)
    calm = house.model_copy(update={"rooms": tuple(r.model_copy(update={"band": 0.0}) for r in house.rooms)})
    jobs = [_Job(plain, law, law, seed, first, days, warm_days, weather, n) for n, law in enumerate(laws)]
    if house.tariff and house.tariff.prices and "predictive" in laws and calm != house:
        unminded = calm.model_dump(mode="json", by_alias=True)
        jobs.append(_Job(unminded, UNSHIFTED, "predictive", seed, first, days, warm_days, weather, len(jobs)))
    began = time.monotonic()
    jobs_first = sorted(jobs, key=lambda job: job.law != "predictive")  # the longest begin first
    outcomes = _all(jobs_first, progress, processes or min(len(jobs), os.cpu_count() or 1))
    found = Rehearsal([outcomes[law] for law in laws], days, warm_days, seed, told)
    found.unshifted = outcomes.get(UNSHIFTED)
    found.wall_seconds = time.monotonic() - began
    found.rooms = [room.name for room in house.rooms]
    return found


def _all(jobs: list[_Job], progress: Callable[[float], None] | None, processes: int) -> dict[str, Outcome]:
    context = multiprocessing.get_context("spawn")
    shares, stop = context.Array("d", len(jobs)), context.Event()
    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    with ProcessPoolExecutor(processes, context, initializer=_begin, initargs=(shares, stop)) as pool:
        try:
            waiting = {job.label: pool.submit(_live, job) for job in jobs}
            while not all(future.done() for future in waiting.values()):
                if progress is not None:
                    progress(sum(shares[:]) / len(jobs))
                _raise_failed(waiting.values())
                time.sleep(LOOK_SECONDS)
            return {label: future.result() for label, future in waiting.items()}
        except (BrokenProcessPool, MemoryError) as fault:
            raise RehearsalError(f"a process ended before its week did ({fault}): is there memory enough?") from fault
        finally:  # Ctrl-C among them: whoever waits for a pool to end waits for its weeks
            stop.set()
            pool.shutdown(wait=False, cancel_futures=True)


def _raise_failed(futures: Iterable[Future[Outcome]]) -> None:
    """One that failed ends the others too."""
    for one in futures:
        if one.done():
            one.result()


def _begin(shares: SynchronizedArray[float], stop: Event) -> None:
    global _shares
    _shares = shares
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # a terminal's Ctrl-C goes to all: who asked for the week ends it
    Thread(target=_end_with, args=(stop,), daemon=True).start()


def _end_with(stop: Event) -> None:
    """End this process once nobody waits for its week any more."""
    parent = multiprocessing.parent_process()
    while not stop.wait(LOOK_SECONDS):
        if parent is not None and not parent.is_alive():
            break
    os._exit(ABANDONED)


def _live(job: _Job) -> Outcome:
    """One law's days, in a process of its own."""

    def progress(share: float) -> None:
        if _shares is not None:
            _shares[job.place] = share

    trial = Trial(
        House.model_validate(job.house),
        job.law,
        seed=job.seed,
        start=job.start,
        days=job.days,
        warm_days=job.warm_days,
        weather=job.weather,
    )
    outcome = trial.run(progress)
    outcome.law = job.label
    return outcome
