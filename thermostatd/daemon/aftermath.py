"""What follows from a decision: the memory is saved, troubles are noticed, the step is recorded, the broker is told.

Rules: none of it may undo the decision, and what fails keeps nothing else back; no kill may forget what waits for a
person; after a reconnection the broker is told all of it anew.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import datetime

from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result, Trouble
from thermostatd.core.values import Moment
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.recording import Recording
from thermostatd.daemon.telling import Telling
from thermostatd.edge.broker import Heard

log = logging.getLogger(__name__)


class Aftermath:
    """Of every decision that is made on these parts."""

    def __init__(self, parts: Parts, house: House, publish: Callable[[str, str, bool], bool]) -> None:
        self._parts = parts
        self._telling = Telling(publish)
        self._recording = Recording(house, parts.store)
        self._latched: set[tuple[str, datetime]] = set()
        self._reconnected = False

    @property
    def joules(self) -> dict[str, float]:
        """Energy of each heater since the start, J."""
        return dict(self._recording.joules)

    def follow(self, house: House) -> None:
        """From now on another house."""
        self._recording.follow(house)

    def left(self, names: Iterable[str]) -> None:
        """These names hold no more: what the broker keeps of them goes."""
        self._telling.left(names)

    def found_retained(self, heard: Heard) -> None:
        """What the broker kept of an earlier life is emptied once it no longer holds."""
        self._telling.found_retained(heard.topic, heard.payload if heard.retained else b"")

    def came_up(self) -> None:
        """There is a connection to the broker again; from the link's thread."""
        self._reconnected = True

    def take(self, moment: Moment, result: Result, regulator: Regulator) -> None:
        """One decision, and the regulator that made it."""
        for part in (self._remember, self._notify, self._record, self._tell_broker):
            try:
                part(moment, result, regulator)
            except Exception:
                log.exception("a decision could not be told or kept; it holds all the same")

    def _remember(self, _: Moment, result: Result, regulator: Regulator) -> None:
        """In batches, save what waits for a person from now on: no kill may forget that."""
        latched = {(trouble.id, trouble.since) for trouble in result.troubles if trouble.latched}
        at_once = bool(latched - self._latched)
        self._parts.store.save_memory(regulator.memory, self._parts.clock.stamp(), at_once=at_once)
        self._latched = latched

    def _notify(self, _: Moment, result: Result, __: Regulator) -> None:
        self._parts.notices.tell([_placed(trouble) for trouble in result.troubles])

    def _record(self, moment: Moment, result: Result, regulator: Regulator) -> None:
        self._recording.take(regulator.likeliest(moment), result)

    def _tell_broker(self, moment: Moment, result: Result, _: Regulator) -> None:
        if self._reconnected:
            self._reconnected = False
            self._telling.forget()
        self._telling.tell(moment, result)


def _placed(trouble: Trouble) -> Trouble:
    """For who reads a notice far from the house: it says where."""
    place = trouble.id.rpartition("/")[0] or "house"
    return replace(trouble, what=f"{place}: {trouble.what}")
