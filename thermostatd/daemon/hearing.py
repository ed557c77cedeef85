"""Takes in what the broker's thread left in the inbox: readings, retained troubles of an earlier life, and requests.

Rules: one bad message keeps nothing else back; a request is answered by a task of its own, since the disk may keep it
waiting.
"""

from __future__ import annotations

import asyncio
import logging

from thermostatd.daemon.aftermath import Aftermath
from thermostatd.daemon.asks import BrokerAsks
from thermostatd.daemon.parts import Parts
from thermostatd.edge.broker import Heard

log = logging.getLogger(__name__)
END_SECONDS = 2.0


class Ear:
    """The requests that are being answered."""

    def __init__(self) -> None:
        self._answering: set[asyncio.Task[None]] = set()

    def hear(self, parts: Parts, aftermath: Aftermath, asks: BrokerAsks) -> None:
        """All that was heard since the last call; from the loop's own thread."""
        for heard in parts.feed.drain():
            try:
                parts.sensing.take(heard)
                aftermath.found_retained(heard)
                if heard.topic in asks.topics:
                    self._answer(asks, heard)
            except Exception:  # must not end the daemon: a retained message would end each next one too
                log.exception("a message on %.100r could not be taken in", heard.topic)

    async def end(self) -> None:
        """Wait two seconds at most for the last answers."""
        if self._answering:
            await asyncio.wait(self._answering, timeout=END_SECONDS)

    def _answer(self, asks: BrokerAsks, heard: Heard) -> None:
        task = asyncio.create_task(asks.take(heard.topic, heard.payload, heard.retained))
        self._answering.add(task)
        task.add_done_callback(self._answered)

    def _answered(self, task: asyncio.Task[None]) -> None:
        self._answering.discard(task)
        if not task.cancelled() and (fault := task.exception()) is not None:
            log.error("a request from the broker could not be answered", exc_info=fault)
