"""A plug that is no client of the broker: each order and each question is an errand of the plug's own thread.

Rules: telling never blocks; the latest order wins and an ON that could not be delivered is dropped; OFF is tried
until it is delivered; an ON that nobody renewed ends here too; while nothing gets through the plug is not reachable.
"""

from __future__ import annotations

import logging
import math
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Protocol

from thermostatd.core.values import PlugReport

log = logging.getLogger(__name__)
AGAIN_SECONDS = 10.0
STOP_AGAIN_SECONDS = 0.5


class ErrandError(Exception):
    """An errand failed; the text says how, for the log."""


class Switch(Protocol):
    """What the thread drives. Each call may take its time and raise ErrandError (or anything)."""

    def on(self, seconds: int) -> None:
        """ON, to end by itself after some seconds where the plug can do that."""

    def off(self) -> None:
        """OFF."""

    def state(self) -> PlugReport | None:
        """What the plug tells now; None where it cannot be asked."""


class ErrandPlug:
    """The plug of the heater `key`. `now` gives steady seconds; `every` and `patience` are seconds of life."""

    def __init__(
        self,
        key: str,
        switch: Switch,
        now: Callable[[], float],
        *,
        every: float = 30.0,
        patience: float = 10.0,
    ) -> None:
        self.key, self._switch, self._now = key, switch, now
        self._every, self._patience = every, patience
        self._changed = threading.Condition()
        self._on, self._lapses, self._owed = False, 0.0, True
        self._report, self._news = PlugReport(), False
        self._told_off = self._stopping = False
        self._ends_at = 0.0
        self._busy_since: float | None = None
        self._asked_at = self._again_at = 0.0
        self._why: str | None = None
        self._thread: threading.Thread | None = None

    @property
    def connected(self) -> bool:
        """Whether OFF was delivered since the start."""
        return self._told_off

    def start(self) -> None:
        """Begin; OFF is the first errand."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._run, name=f"plug {self.key}", daemon=True)
            self._thread.start()

    def tell(self, on: bool, seconds: float) -> None:
        """Order ON, to lapse after some seconds, or OFF. Returns at once."""
        with self._changed:
            whole = int(seconds + 1e-6)
            self._on, self._lapses, self._owed = on and whole >= 1, self._now() + whole, True
            self._again_at = 0.0
            self._changed.notify_all()

    def news(self) -> PlugReport | None:
        """Everything known, where something was learned since the last call."""
        with self._changed:
            busy = self._busy_since
            if busy is not None and time.monotonic() - busy > self._patience and self._report.reachable:
                self._report, self._news = replace(self._report, reachable=False), True
            news, self._news = self._news, False
            return self._report if news else None

    def stop(self) -> bool:
        """OFF, and a few seconds for it to be delivered, in as many tries as it takes."""
        wait = min(10.0, self._patience + 2.0)
        with self._changed:
            self._on, self._owed, self._again_at, self._stopping = False, True, 0.0, True
            self._told_off, self._ends_at = False, time.monotonic() + wait
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(wait)
            self._thread = None
        if not self._told_off:
            log.error("The plug of %s may not have been told OFF: %s", self.key, self._why or "it does not answer")
        return self._told_off

    def _run(self) -> None:
        while True:
            self._rest()
            with self._changed:
                owed, on, seconds = self._next_order()
                stopping = self._stopping
            if owed:
                self._deliver(on, seconds)
            if stopping:
                if self._told_off or time.monotonic() + STOP_AGAIN_SECONDS >= self._ends_at:
                    return
                time.sleep(STOP_AGAIN_SECONDS)
                continue
            if owed or time.monotonic() - self._asked_at >= self._every:
                self._ask()

    def _rest(self) -> None:
        """Until an order is owed, an ON has lapsed, or the plug is to be asked."""
        with self._changed:
            while not self._stopping:
                wall = time.monotonic()
                due = self._asked_at + self._every - wall
                if self._on and self._now() >= self._lapses:
                    return
                if (self._owed and wall >= self._again_at) or due <= 0:
                    return
                wait = min(
                    due, max(0.0, self._again_at - wall) if self._owed else due, 1.0 if self._on else due
                )
                self._changed.wait(max(0.02, min(wait, 1.0)))

    def _next_order(self) -> tuple[bool, bool, int]:
        """Whether one is owed now, and which: (owed, on, seconds). An ON that lapsed is an OFF that is owed."""
        seconds = math.ceil(self._lapses - self._now() - 1e-6)  # less than a second late at most
        if self._on and seconds < 1:
            self._on, self._owed = False, True
        owed = self._owed and (time.monotonic() >= self._again_at or self._stopping)
        if owed:
            self._owed = False
        return owed, self._on, seconds

    def _deliver(self, on: bool, seconds: int) -> None:
        failed = self._errand(lambda: self._switch.on(seconds) if on else self._switch.off())
        with self._changed:
            if not on and not failed:
                self._told_off = True
            if (
                failed and not self._owed and not self._on
            ):  # an ON is not tried again: the next tick decides anew
                self._owed, self._again_at = True, time.monotonic() + AGAIN_SECONDS

    def _ask(self) -> None:
        asked_at, self._asked_at = self._now(), time.monotonic()
        found: list[PlugReport | None] = []
        if self._errand(lambda: found.append(self._switch.state())) or not found or found[0] is None:
            return
        told = found[0]
        with self._changed:
            self._report = replace(
                told,
                on_at=asked_at if told.on is not None else None,
                watts_at=asked_at if told.watts is not None else None,
                warm_at=asked_at if told.warm_celsius is not None else None,
                reachable=True,
                back_at=self._report.back_at,
            )
            self._news = True

    def _errand(self, do: Callable[[], object]) -> bool:
        """Run one; True where it failed. Reachable follows from it."""
        self._busy_since = time.monotonic()
        try:
            do()
            why = None
        except Exception as fault:
            why = str(fault) or type(fault).__name__
        self._busy_since = None
        self._note(why)
        return why is not None

    def _note(self, why: str | None) -> None:
        if why is not None and self._why is None:
            log.warning("The plug of %s cannot be reached: %s", self.key, why)
        elif why is None and self._why is not None:
            log.info("The plug of %s is reached again", self.key)
        with self._changed:
            if (why is None) != self._report.reachable:
                back = self._now() if why is None else self._report.back_at
                self._report = replace(self._report, reachable=why is None, back_at=back)
                self._news = True
        self._why = why
