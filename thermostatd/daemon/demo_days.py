"""The days that the demo's invented house has lived before anybody looks: what it learned of its rooms, and a record.

Rules: lived by the same regulator, history and record as a real house, a step a minute and much faster than life;
rooms are learned on each night, as in life; what is left on disk is what a daemon that was just ended leaves.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.core.learning import History, fit
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result
from thermostatd.core.values import Moment, Observation
from thermostatd.daemon.recorded import packed
from thermostatd.daemon.recording import Recording
from thermostatd.edge.clock import Clock
from thermostatd.edge.store import Store
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.run import ResultLike, run
from thermostatd.rehearsal.trial import LEARN_AT_SECONDS, STEP_SECONDS, at_the_trials_pace

PROGRESS_SECONDS = 600.0
BATCH_SECONDS = 4 * 3600.0  # a store holds only so many rows that wait


def live(
    house: House,
    simulated: SimulatedHouse,
    state: Path,
    clock: Clock,
    until: float,
    progress: Callable[[float], None] | None = None,
) -> None:
    """Let the house live up to `until`, steady seconds, and leave its record, history and memory in the state folder.

    `clock` must stand at that moment; `progress` is told the share that is done. StoreError where nothing can be kept.
    """
    store = Store.open(state, Clock().now)
    try:
        days = _Days(house, store, until, progress)
        run(days.house, days.regulator, simulated, until / 3600.0, STEP_SECONDS, days.take)
        days.leave(clock)
    finally:
        store.close()


class _Days:
    """What a house keeps of its days, as the daemon would."""

    def __init__(self, house: House, store: Store, until: float, progress: Callable[[float], None] | None) -> None:
        self.house = at_the_trials_pace(house)
        self.regulator, self._history = Regulator(self.house), History(self.house)
        self._recording, self._store = Recording(self.house, store), store
        self._zone = ZoneInfo(house.house.timezone)
        self._until, self._progress = until, progress

    def take(self, moment: Moment, seen: Observation, result: ResultLike, _: SimulatedHouse) -> None:
        """One decided minute."""
        assert isinstance(result, Result)
        self._history.add(moment, seen, result)
        self._recording.take(moment, result)
        if _is_night(moment.wall.astimezone(self._zone)):
            models = fit(self.house, self._history)
            self.regulator.adopt(models)
            self._history.models.update(models)
        if moment.steady % BATCH_SECONDS < STEP_SECONDS:
            self._store.flush()
        if self._progress is not None and moment.steady % PROGRESS_SECONDS < STEP_SECONDS:
            self._progress(moment.steady / self._until)

    def leave(self, clock: Clock) -> None:
        """As a daemon that ends now."""
        self._store.keep_learning(clock.moment().wall, packed(self._history.to_plain()))
        self._store.save_memory(self.regulator.memory, clock.stamp(), at_once=True)
        self._store.flush()


def _is_night(local: datetime) -> bool:
    """The minute of each night at which a house learns."""
    return local.hour * 60 + local.minute == int(LEARN_AT_SECONDS // 60)
