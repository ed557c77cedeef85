"""The broker is away: one trouble for the house, and a louder one for what may stay on meanwhile.

Rules: a plug that has no timer and was last known or told ON is named within seconds; what only follows from the
broker's absence (plugs on it, sensors) is not told besides, until some minutes after its return. Time here is the
network's: a rehearsal's house lives faster.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime

from thermostatd.core.house import HomiePlug, House, MqttPlug
from thermostatd.core.results import Trouble
from thermostatd.edge.broker import Feed
from thermostatd.edge.plugs import MqttPlug as Adapter
from thermostatd.edge.plugs import PlugAdapter

TELL_AFTER_SECONDS = 120.0
"""A broker's machine that starts anew is back sooner."""
MAY_STAY_ON_AFTER_SECONDS = 15.0
AFTERWARDS_SECONDS = 300.0
FOLLOWS = frozenset({"silent-plug", "reading-missing"})


class BrokerAway:
    """Since when, and what follows from it. `now` gives seconds of the network."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self._now = now
        self._since: datetime | None = None
        self._seen_at = 0.0

    def found(
        self, wall: datetime, house: House, feed: Feed, plugs: Mapping[str, PlugAdapter]
    ) -> dict[str, str]:
        """The codes of its troubles, with what shows them."""
        if feed.away_seconds > 0.0:
            self._since, self._seen_at = self._since or wall, self._now()
        elif self._now() - self._seen_at > AFTERWARDS_SECONDS:
            self._since = None
        told = {}
        if feed.away_seconds > TELL_AFTER_SECONDS and feed.breaks is None:
            told["broker-away"] = f"{house.broker.host}:{house.broker.port}"
        left = [key for key, plug in untimed(house) if _may_stay_on(plugs.get(key))]
        return told | ({"may-stay-on": ", ".join(left)} if left else {})

    def without_what_follows(self, house: House, troubles: Iterable[Trouble]) -> tuple[Trouble, ...]:
        """The troubles that are not the broker's alone."""
        since, on_it = self._since, {key for key, _ in on_broker(house)}
        return tuple(one for one in troubles if since is None or not _follows(one, since, on_it))


def on_broker(house: House) -> list[tuple[str, MqttPlug | HomiePlug]]:
    """The heaters whose plugs are told by way of the broker."""
    return [
        (key, heater.plug) for key, heater, _ in house.heaters() if isinstance(heater.plug, MqttPlug | HomiePlug)
    ]


def untimed(house: House) -> list[tuple[str, MqttPlug | HomiePlug]]:
    """Those of them that stay as they are while nobody tells them anything."""
    return [(key, plug) for key, plug in on_broker(house) if not plug.switches_itself_off]


def _may_stay_on(plug: PlugAdapter | None) -> bool:
    return isinstance(plug, Adapter) and plug.away_seconds > MAY_STAY_ON_AFTER_SECONDS and plug.may_be_on


def _follows(trouble: Trouble, since: datetime, on_it: set[str]) -> bool:
    """Nothing that was there before, and no plug that may be on past its timer."""
    if trouble.code not in FOLLOWS or trouble.since < since:
        return False
    place = trouble.id.rpartition("/")[0]
    return trouble.code == "reading-missing" or (place in on_it and not trouble.loud)
