"""Tells one plug ON for two seconds and then OFF, to find it and to prove its orders.

Rules: only called after the owner said yes; the connection's last will is OFF; OFF is told first, and told at the
end whatever happens, until it shows; nothing stays on for longer than a few seconds.
"""

from __future__ import annotations

import os
import threading
import time
from dataclasses import dataclass

from thermostatd.core.house import Broker
from thermostatd.edge.broker import Link, Will, client_id_of
from thermostatd.edge.broker_payload import word_from

BLINK_SECONDS = 2.0
ANSWER_SECONDS = 3.0
REACH_SECONDS = 30.0
"""A broker that knows no MQTT 5 may say nothing to it for two keepalives."""
TIMER_SECONDS = 3
CAUTION = (
    "Whatever hangs on the plug gets power for a few seconds. Pull the heater out of the plug first,\n"
    "or switch it off at its own switch. Stay where you can see it."
)


@dataclass(frozen=True, slots=True)
class Target:
    """What to tell and where the answer comes."""

    tell: str
    on: str
    off: str
    state_topic: str
    state_pointer: str
    shown_on: str
    shown_off: str
    timer: str | None = None
    timer_topic: str | None = None
    """Where the seconds are told before the ON; left out: `timer` is itself the ON."""


@dataclass(frozen=True, slots=True)
class Blinked:
    """What the plug showed. `timer` is None where no timed ON was tried."""

    reached: bool
    showed_on: bool
    showed_off: bool
    timer: bool | None = None

    @property
    def proven(self) -> bool:
        """Whether it obeyed both orders."""
        return self.showed_on and self.showed_off


class _Watch:
    """The last state that the plug told since it was asked."""

    def __init__(self, target: Target) -> None:
        self._target, self._changed = target, threading.Condition()
        self._word: object = None

    def take(self, topic: str, payload: bytes, retained: bool) -> None:
        if topic == self._target.state_topic:
            with self._changed:
                self._word = word_from(payload, self._target.state_pointer)
                self._changed.notify_all()

    def forget(self) -> None:
        with self._changed:
            self._word = None

    def says(self, word: str, seconds: float) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self._word == word, seconds)


def blink(broker: Broker, target: Target, seconds: float = BLINK_SECONDS) -> Blinked:
    """ON for some seconds, OFF, and what it showed. Ends in OFF, also on an exception or a signal."""
    watch, up = _Watch(target), threading.Event()
    link = Link(
        broker,
        client_id_of("listen", target.tell, str(os.getpid())),
        will=Will(target.tell, target.off, retain=False, qos=1),
        on_message=watch.take,
        on_up=up.set,
    )
    link.subscribe(target.state_topic)
    link.start()
    try:
        if not up.wait(REACH_SECONDS):
            return Blinked(False, False, False)
        return _obeys(link, target, watch, seconds)
    finally:
        link.stop(link.publish(target.tell, target.off, qos=1))


def _obeys(link: Link, target: Target, watch: _Watch, seconds: float) -> Blinked:
    link.publish(target.tell, target.off, qos=1)
    watch.says(target.shown_off, 1.0)
    watch.forget()
    timer = None
    if target.timer is not None:
        timer = _ends_by_itself(link, target, watch)
        _off(link, target, watch)
        watch.forget()
    link.publish(target.tell, target.on, qos=1, expires_after=5)
    began = time.monotonic()
    showed_on = watch.says(target.shown_on, ANSWER_SECONDS)
    if showed_on:
        time.sleep(max(0.0, seconds - (time.monotonic() - began)))
    return Blinked(True, showed_on, _off(link, target, watch), timer)


def _ends_by_itself(link: Link, target: Target, watch: _Watch) -> bool:
    """A timed ON of three seconds, and nothing more said: whether it shows on, and off about when it should."""
    assert target.timer is not None
    timed = target.timer.replace("{seconds}", str(TIMER_SECONDS))
    link.publish(target.timer_topic or target.tell, timed, qos=1, expires_after=5)
    if target.timer_topic is not None:
        link.publish(target.tell, target.on, qos=1, expires_after=5)
    began = time.monotonic()
    if not watch.says(target.shown_on, ANSWER_SECONDS):
        return False
    ended = watch.says(target.shown_off, TIMER_SECONDS + 3.0)
    return ended and time.monotonic() - began >= TIMER_SECONDS - 1.0


def _off(link: Link, target: Target, watch: _Watch) -> bool:
    """OFF until it shows, five times at most."""
    for _ in range(5):
        link.publish(target.tell, target.off, qos=1)
        if watch.says(target.shown_off, 1.0):
            return True
    return False
