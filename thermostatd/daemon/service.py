"""The running house: one loop of ticks, the pages beside it, and an end with every plug off.

Rules: a tick that decided pings the watchdog, nothing else does; a tick that failed tells every plug OFF;
ticks go by the steady clock; a request is decided upon at once.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import replace

from thermostatd.core.asking import Answer, Refused, Request
from thermostatd.core.following import Followed, places
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken
from thermostatd.core.results import Result, Trouble
from thermostatd.core.values import Moment, Observation
from thermostatd.daemon.aftermath import Aftermath
from thermostatd.daemon.asks import BrokerAsks
from thermostatd.daemon.hearing import Ear
from thermostatd.daemon.learning import KeptHistory, Models
from thermostatd.daemon.notify import notify
from thermostatd.daemon.observed import rounded, rounded_moment
from thermostatd.daemon.own_troubles import OwnTroubles
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.recorded import Recorded
from thermostatd.daemon.recording import request_row
from thermostatd.daemon.reloading import Reloading
from thermostatd.daemon.resuming import left_on, resumed
from thermostatd.daemon.telling import TROUBLES
from thermostatd.edge.store import StoreError

log = logging.getLogger(__name__)
NOT_KEPT = " But it could not be written down: after a restart it would be forgotten."


class Service:
    """Runs one house on its parts until `stop` is called."""

    def __init__(self, parts: Parts) -> None:
        self.parts, self.clock, self.house = parts, parts.clock, parts.house
        self.regulator = resumed(parts)
        found = self.regulator.followed
        self.learning = KeptHistory(self.house, parts.store, found.names)
        self.result: Result | None = None
        self.decided_at: Moment | None = None
        self.failed_ticks = 0
        self.deciding = False
        """Whether the last tick decided."""
        self.changes = 0
        self._changed = asyncio.Event()
        self._wake = asyncio.Event()
        self._stopping = asyncio.Event()
        self._ear = Ear()
        self._own_troubles = OwnTroubles(left_on(parts))
        self._aftermath = Aftermath(parts, self.house, self._publish)
        self._follow(found)
        self.recorded = Recorded(self.house, parts.store)
        self._asks = BrokerAsks(self.house, self.do, self._publish, self.clock.now)
        self.reloading = Reloading(self, parts.path, parts.seen) if parts.path else None
        self._new_house: House | None = None

    async def run(self) -> None:
        """Until `stop`: listen, tick, and end with every plug told OFF."""
        feed = self.parts.feed
        feed.on_up = self._aftermath.came_up
        for topic in (*self._asks.topics, TROUBLES + "#"):
            feed.want(topic)
        try:
            self.parts.start()
            if self.reloading is not None:
                asyncio.get_running_loop().run_in_executor(None, self.reloading.keep)
            await self._ticks()
        finally:
            notify("STOPPING=1")
            await self._end()

    def stop(self) -> None:
        """Ask the loop to end; from the loop's own thread."""
        self._stopping.set()
        self._wake.set()

    async def do(self, request: Request) -> Answer:
        """Through the one door; what was accepted is on disk when this returns, and decided upon at once."""
        moment = rounded_moment(self.clock.moment())
        answer = self.regulator.do(moment, request)
        self.recorded.asked(moment, request)
        self._wake.set()
        row = request_row(self.regulator.likeliest(moment), request, answer)
        try:
            await asyncio.to_thread(
                self.parts.store.commit_request, row, self.regulator.memory, self.clock.stamp()
            )
        except StoreError as fault:
            log.error("a request could not be stored: %s", fault)
            return answer if isinstance(answer, Refused) else replace(answer, sentence=answer.sentence + NOT_KEPT)
        return answer

    async def changed(self, since: int) -> int:
        """Wait until something changed after `since`; gives the new count, or -1: nothing will change any more."""
        while self.changes <= since and not self._stopping.is_set():
            await self._changed.wait()
        return -1 if self._stopping.is_set() else self.changes

    async def _ticks(self) -> None:
        while not self._stopping.is_set():
            self._ear.hear(self.parts, self._aftermath, self._asks)
            self._tick()
            if self._taken_in():
                continue
            await self._pause(self.clock.now() + self.house.house.tick)

    def take_house(self, house: House) -> None:
        """A sound house file was read: it is put in force between two ticks, at once."""
        self._new_house = house
        self._wake.set()

    def _taken_in(self) -> bool:
        """Whether a new house was put in force just now."""
        new, self._new_house = self._new_house, None
        if new is None or self.reloading is None:
            return False
        try:
            self.reloading.take(new)
        except Exception:
            log.exception("the changed house could not be put in force: the last good one holds")
            return False
        return True

    def rehouse(self, house: House, regulator: Regulator, found: Followed) -> None:
        """From now on another house, with what was remembered of this one; `found` bears another name there."""
        self._keep(self.recorded.end)
        self.house, self.regulator = house, regulator
        regulator.tell(found)
        self._own_troubles.follow(found.heaters)
        self._aftermath.follow(house)
        self.recorded = Recorded(house, self.parts.store)
        self._keep(lambda: self.learning.follow(house, found.names))
        self._follow(found)
        for topic in self._asks.topics:
            self.parts.feed.drop(topic)
        self._asks = BrokerAsks(house, self.do, self._publish, self.clock.now)
        for topic in self._asks.topics:
            self.parts.feed.want(topic)

    def _follow(self, found: Followed) -> None:
        """The record, what learning goes by and what the broker keeps go by the names that hold now."""
        self._aftermath.left((*found.gone, *found.names))
        names = places(found, self.house)
        if not names:
            return
        for old, new in names.items():
            log.info("house file: %s is the same as %s was: what is known of it follows", new, old)
        self.parts.store.soon.rename(names, self.regulator.memory, self.clock.stamp()).add_done_callback(_renamed)
        self._keep(lambda: self.learning.keep(self.clock.moment()))

    async def _pause(self, due: float) -> None:
        """Sleep to the next tick, or until someone asks."""
        self._wake.clear()
        sleeping = asyncio.ensure_future(self.clock.sleep_until(due))
        waking = asyncio.ensure_future(self._wake.wait())
        await asyncio.wait({sleeping, waking}, return_when=asyncio.FIRST_COMPLETED)
        for task in (sleeping, waking):
            task.cancel()

    def _tick(self) -> None:
        """Decide once. Whatever fails here ends in OFF, and leaves the watchdog without its ping."""
        moment = rounded_moment(self.clock.moment())
        try:
            result = self._decide(moment)
        except Exception:
            self.failed_ticks += 1
            self.deciding = False
            log.exception("a tick failed: every plug is told OFF")
            self.parts.all_off()
            self.recorded.broken()
            self._distrust()
            return
        result = replace(result, troubles=self._troubles(moment, result))
        first, self.result, self.decided_at = self.result is None, result, moment
        self.deciding = True
        notify(*(["READY=1"] if first else []), "WATCHDOG=1")
        self._aftermath.take(moment, result, self.regulator)
        self.count_change()

    def _troubles(self, moment: Moment, result: Result) -> tuple[Trouble, ...]:
        faults = self.reloading.faults if self.reloading is not None else ()
        fault = str(faults[0]) if faults else None
        return self._own_troubles.beside(moment.wall, result, self.house, self.parts, fault)

    def _distrust(self) -> None:
        """Plugs were told OFF behind the regulator's back: it goes on as after a start, or takes it for a press."""
        try:
            self.regulator = Regulator(self.house, awaken(self.regulator.memory))
        except Exception:
            log.exception("the regulator's memory cannot be used: it goes on as it is")

    def _decide(self, moment: Moment) -> Result:
        moment, observation = rounded(moment, self.parts.observe(stopping=self._stopping.is_set()))
        self._keep(lambda: self.recorded.begin(moment, self.regulator))
        result = self.regulator.step(moment, observation)
        for key, order in result.orders.items():
            if order.retell:
                self.parts.plugs[key].tell(order.on, order.lapses - moment.steady)
        self._keep(lambda: self.recorded.step(moment, observation, result))
        self._keep(lambda: self._learn_from(moment, observation, result))
        return result

    def _learn_from(self, moment: Moment, observation: Observation, result: Result) -> None:
        self.learning.history.add(moment, observation, result)
        if self.learning.due(moment):
            self.learning.keep(moment)

    def adopt(self, models: Models) -> None:
        """What was learned is used from the next step on; from the loop's own thread."""
        self.regulator.adopt(models)
        self.learning.history.models.update(models)
        self._keep(lambda: self.recorded.adopted(models))

    def _keep(self, part: Callable[[], None]) -> None:
        """What only keeps a step must not undo it."""
        try:
            part()
        except Exception:
            log.exception("a step could not be kept for replay or learning; it holds all the same")

    def joules(self) -> dict[str, float]:
        """Energy of each heater since the start, J."""
        return self._aftermath.joules

    def count_change(self) -> None:
        """Something to be seen on the pages changed."""
        self.changes += 1
        self._changed.set()
        self._changed = asyncio.Event()

    def _publish(self, topic: str, payload: str, retain: bool) -> bool:
        return self.parts.feed.publish(topic, payload, retain)

    async def _end(self) -> None:
        """The last tick decides OFF for all; then everything is closed."""
        self._stopping.set()
        self._tick()
        self._keep(self.recorded.end)
        self._keep(lambda: self.learning.keep(self.clock.moment()))
        self.count_change()
        await self._ear.end()
        await asyncio.to_thread(self.parts.close)


def _renamed(done: Future[None]) -> None:
    if (fault := done.exception()) is not None:
        log.error("the record goes by the old names yet: %s", fault)
