"""A smart plug on the broker, with a connection of its own whose last will is this plug's OFF.

Rules: an order is never retained and never kept while there is no connection; the first connection is told what
holds, each later one OFF: the broker's last word was OFF, and an ON that held waits until the regulator, who hears of
that by the report's `opened_at`, orders it anew. An ON names its seconds to a plug with a timer, and expires in the
broker no later than it lapses; a broker of MQTT 3.1.1 cannot, so there it goes at QoS 0, which no broker keeps for a
plug that is away.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable

from paho.mqtt.client import MQTTMessageInfo

from thermostatd.core.house import House
from thermostatd.core.house import MqttPlug as Description
from thermostatd.core.values import PlugReport
from thermostatd.edge.broker import Link, Will, client_id_of, heard
from thermostatd.edge.broker_breaks import Breaks
from thermostatd.edge.broker_link import KEEPALIVE_SECONDS
from thermostatd.edge.plugs.hearing import Hearing

log = logging.getLogger(__name__)
ASK_AGAIN_SECONDS = 10.0
STOP_SECONDS = 2.0
WAY_LOST_SECONDS = 30.0
"""A broker that is started anew is back sooner; after that the plug counts as away."""
OFF_KEPT_SECONDS = 600  # a plug away for hours is not met by one OFF for each tick; the will's OFF stays


class MqttPlug:
    """The plug of the heater `key`, as the house file describes it. `now` gives steady seconds."""

    def __init__(
        self,
        key: str,
        plug: Description,
        house: House,
        now: Callable[[], float],
        *,
        keepalive_seconds: int = KEEPALIVE_SECONDS,
        hearing: Hearing | None = None,
        breaks: Breaks | None = None,
        own: str = "",
    ) -> None:
        self.key, self._plug, self._now = key, plug, now
        self._hearing = hearing or Hearing(key, plug)
        self._lock = threading.Lock()  # keeps what is wanted and what is sent in the same order
        self._on, self._lapses = False, 0.0
        self._was_up = self._opened_untold = self._sent_on = False
        self._sent_off: MQTTMessageInfo | None = None
        self._told_at: float | None = None
        self._asked_at: float | None = None
        self._link = Link(
            house.broker,
            client_id_of(house.house.name, key, *([own] if own else [])),
            will=Will(plug.tell, plug.off, retain=False, qos=1),
            on_message=self._heard,
            on_up=self._came_up,
            on_beat=self._end_what_lapsed,
            keepalive_seconds=keepalive_seconds,
            breaks=breaks,
        )
        for topic in self._hearing.topics():
            self._link.subscribe(topic)

    @property
    def connected(self) -> bool:
        """Whether the broker is reached, as far as is known."""
        return self._link.connected

    @property
    def trouble(self) -> str | None:
        """Why the broker is not reached, as a sentence."""
        return self._link.trouble

    @property
    def away_seconds(self) -> float:
        """For how long the broker has not been reached, s of the network."""
        return self._link.away_seconds

    @property
    def may_be_on(self) -> bool:
        """Whether the last order that left was ON, or it last showed ON. An OFF has left once the broker has it: what
        was told to one that had frozen is lost with the connection."""
        return (self._sent_on and not self.was_told_off) or self._hearing.showed_on

    @property
    def was_told_off(self) -> bool:
        """Whether the broker has an OFF from here, and no ON since."""
        return _has_left(self._sent_off)

    @property
    def breaks(self) -> str | None:
        """The trouble's code, where its connection breaks again and again."""
        return self._link.breaks.code

    def start(self) -> None:
        """Begin connecting; OFF is told as soon as the broker lets us in."""
        self._link.start()

    def tell(self, on: bool, seconds: float) -> None:
        """Order ON, to lapse after some seconds, or OFF. While the broker is away nothing is sent."""
        with self._lock:
            now = self._now()
            # Who orders ON now has not heard yet that the contact was opened: nothing is told but OFF.
            self._on, self._lapses = on and not self._opened_untold, now + seconds
            self._send(now)
        self._ask_if_silent()

    def news(self) -> PlugReport | None:
        """All that is known of the plug, if something was heard since the last call."""
        self._ask_if_silent()
        with self._lock:  # an opening and its report are one; and a way is never lost after it came back
            if self._link.away_seconds > WAY_LOST_SECONDS:
                self._hearing.lost_the_way()
            self._opened_untold = False
            return self._hearing.news()

    def stop(self) -> bool:
        """Tell OFF, wait up to 2 s for a connection and 2 s more until the broker has it, and disconnect."""
        self._link.wait_until_up(STOP_SECONDS)
        with self._lock:
            self._on = False
            last = self._send(self._now())
        self._link.stop(last, STOP_SECONDS)
        told = _has_left(last)
        if not told:
            log.error("The plug of %s may not have been told OFF: the broker does not have it", self.key)
        return told

    def _send(self, now: float) -> MQTTMessageInfo | None:
        """Tell what holds now, under the lock."""
        self._told_at = now
        seconds = int(self._lapses - now + 1e-6)
        if not self._on or seconds < 1:
            self._on = False
            last = self._link.publish(self._plug.tell, self._plug.off, qos=1, expires_after=OFF_KEPT_SECONDS)
            if last is not None and not self.was_told_off:  # one that has left is enough
                self._sent_off = last
            return last
        qos = 1 if self._link.speaks_five else 0
        last = None
        for topic, payload in self._on_messages(seconds):
            last = self._link.publish(topic, payload, qos=qos, expires_after=seconds)
            if last is not None:
                self._sent_on, self._sent_off = True, None
        return last

    def _on_messages(self, seconds: int) -> list[tuple[str, str]]:
        """The topics and payloads of an ON, in order."""
        timer = self._plug.timer
        if timer is None:
            return [(self._plug.tell, self._plug.on)]
        timed = (timer.topic or self._plug.tell, timer.payload.replace("{seconds}", str(seconds)))
        return [timed, (self._plug.tell, self._plug.on)] if timer.then_on else [timed]

    def _came_up(self) -> None:
        with self._lock:
            now = self._now()
            self._opened_untold = self._opened_untold or (self._was_up and self._on)
            self._hearing.came_back(now, opened=self._was_up and self._on, first=not self._was_up)
            self._on, self._was_up = self._on and not self._was_up, True
            self._send(now)
        self._asked_at = None
        self._ask_if_silent(at_once=True)

    def _end_what_lapsed(self) -> None:
        """An ON that nobody renewed ends here too, even if the daemon's tick hangs."""
        if self._on and self._now() >= self._lapses:
            with self._lock:
                now = self._now()
                if self._on and now >= self._lapses:
                    self._send(now)

    def _heard(self, topic: str, payload: bytes, retained: bool) -> None:
        self._hearing.take(heard(topic, payload, retained, self._now()))

    def _ask_if_silent(self, at_once: bool = False) -> None:
        """Where the plug can be asked for its state: on connecting, and while an order has no answer."""
        ask = self._plug.ask_state
        if ask is None or not self._link.connected:
            return
        now, answered = self._now(), self._hearing.contact_heard_at
        silent = self._told_at is not None and (answered is None or answered < self._told_at)
        rested = self._asked_at is None or now - self._asked_at >= ASK_AGAIN_SECONDS
        if at_once or (silent and rested):
            self._asked_at = now
            self._link.publish(ask.topic, ask.payload)


def _has_left(order: MQTTMessageInfo | None) -> bool:
    """Whether the broker has it. Asking of one that could not even be queued raises."""
    try:
        return order is not None and order.is_published()
    except (ValueError, RuntimeError):
        return False
