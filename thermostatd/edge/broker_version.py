"""Which version of MQTT is spoken with a broker: MQTT 5 first, 3.1.1 where it wants no 5, or the other way round.

Rules: what one link found out, the others and each later connection begin with; only a prompt answer tells: one that
came late may be a broker that was stopped for a while, and speaks more. Seconds here are the network's.
"""

from __future__ import annotations

import time

from thermostatd.core.house import Broker

PROMPT_SECONDS = 2.0
ANSWER_SECONDS = 5.0
"""For so long a broker may be silent to MQTT 5: some that speak only 3.1.1 are for ever."""
MOST_HANGUPS = 2
_five: dict[tuple[str, int], bool] = {}


class Version:
    """What one link speaks: MQTT 5 where `five`, else 3.1.1."""

    def __init__(self, broker: Broker, likes_five: bool) -> None:
        """`likes_five` says what is tried first while nobody knows what the broker speaks."""
        self._broker, self._likes_five = broker, likes_five
        self.five = likes_five
        self.answered = False
        """Whether the broker said anything on this connection."""
        self._refused, self._hangups = False, 0
        self._began = 0.0

    def begin(self) -> None:
        """The first connection speaks what the broker is known to speak."""
        known = _spoken(self._broker)
        self.five = self.five if known is None else known

    def connecting(self) -> None:
        """Another connection is tried."""
        self.answered = False

    def took_connection(self) -> None:
        """The broker took the connection: from now on an answer is due."""
        self._began = time.monotonic()

    @property
    def is_silent(self) -> bool:
        """Whether the broker took this connection and is silent to MQTT 5."""
        return self.five and not self.answered and time.monotonic() - self._began > ANSWER_SECONDS

    def said_something(self) -> None:
        """It let us in, or refused us."""
        self.answered, self._hangups = True, 0

    def let_in(self) -> None:
        """It speaks this version, if it said so promptly."""
        if time.monotonic() - self._began <= PROMPT_SECONDS:
            _five[self._broker.host, self._broker.port] = self.five

    def refused(self) -> None:
        """It does not speak this version."""
        self._refused = True

    def said_nothing(self) -> None:
        """The connection ended before it had said anything."""
        self._hangups += 1

    def choose(self, greeted: bool) -> bool:
        """Whether to try the other version at once: the broker refused this one, or twice said nothing to it.

        Else the next connection begins with what the broker is known to speak. Who likes 3.1.1 better tries them in
        turn until that is known; `greeted`: unless the last one stood.
        """
        known = _spoken(self._broker)
        other = not self._broker.serve and (self._refused or self._hangups >= MOST_HANGUPS)
        if other:
            self.five, self._hangups = not self.five, 0
        elif known is not None and self._hangups == 0:
            self.five = known
        elif known is None:
            self.five = self._likes_five or not (self.five or greeted)
        self._refused = False
        return other and not self.five


def _spoken(broker: Broker) -> bool | None:
    """Whether it speaks MQTT 5, or 3.1.1; None where nobody knows yet. The embedded one speaks 3.1.1."""
    return False if broker.serve else _five.get((broker.host, broker.port))
