"""The broker is away: one trouble for the house, and a louder one for each heater that may stay on meanwhile.

Rules: a plug that has no timer and was last known or told ON is named within seconds, and until the broker has an OFF
for it: neither a restart nor a changed house file makes it unknown. What only follows from the broker's absence (plugs
on it, sensors) is not told besides, until some minutes after its return; an absence of some seconds hides nothing. Time
here is the network's: a rehearsal's house lives faster.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime

from thermostatd.core.house import House
from thermostatd.core.results import Trouble
from thermostatd.edge.broker import Feed
from thermostatd.edge.plugs import MqttPlug as Adapter
from thermostatd.edge.plugs import PlugAdapter

TELL_AFTER_SECONDS = 120.0
"""A broker's machine that starts anew is back sooner."""
MAY_STAY_ON_AFTER_SECONDS = 15.0
HIDES_AFTER_SECONDS = 20.0
"""Nothing follows from less; else each blink would hide anew what is silent by itself."""
AFTERWARDS_SECONDS = 300.0
FOLLOWS = frozenset({"silent-plug", "reading-missing"})


class BrokerAway:
    """Since when, and what follows from it. `now` gives seconds of the network; `left_on` are the heaters that the run
    before may have left on."""

    def __init__(self, now: Callable[[], float] = time.monotonic, left_on: Iterable[str] = ()) -> None:
        self._now = now
        self._began: datetime | None = None
        self._since: datetime | None = None
        self._seen_at = 0.0
        self._on, self._named = set(left_on), set[str]()

    def found(
        self,
        wall: datetime,
        house: House,
        feed: Feed,
        plugs: Mapping[str, PlugAdapter],
        untold: Mapping[str, float] | None = None,
    ) -> dict[str, str]:
        """The codes of its troubles, after a heater's key where it is about one, with what shows them. `untold` are
        heaters whose plugs left the house and were not told OFF yet, with for how long they cannot be, s."""
        self._watch(wall, feed.away_seconds)
        told = {f"{key}/may-stay-on": key for key in self._left_on(house, plugs, untold or {})}
        if feed.away_seconds > TELL_AFTER_SECONDS and feed.breaks is None:
            told["broker-away"] = f"{house.broker.host}:{house.broker.port}"
        return told

    def follow(self, names: Mapping[str, str]) -> None:
        """Heaters bear other names now."""
        self._on = {names.get(key, key) for key in self._on}
        self._named = {names.get(key, key) for key in self._named}

    def without_what_follows(self, house: House, troubles: Iterable[Trouble]) -> tuple[Trouble, ...]:
        """The troubles that are not the broker's alone."""
        since, on_it = self._since, {key for key, heater, _ in house.heaters() if heater.plug.on_broker}
        return tuple(one for one in troubles if since is None or not _follows(one, since, on_it))

    def _watch(self, wall: datetime, away: float) -> None:
        """What began before the latest absence is told, however often there is another."""
        self._began = (self._began or wall) if away > 0.0 else None
        if away > HIDES_AFTER_SECONDS:
            self._since, self._seen_at = self._began, self._now()
        elif self._now() - self._seen_at > AFTERWARDS_SECONDS:
            self._since = None

    def _left_on(
        self, house: House, plugs: Mapping[str, PlugAdapter], untold: Mapping[str, float]
    ) -> list[str]:
        away, staying = dict(untold), untimed(house)
        for key in sorted(staying):
            plug = plugs.get(key)
            if not isinstance(plug, Adapter):
                continue
            if plug.may_be_on:
                self._on.add(key)
            elif plug.was_told_off and key not in untold:
                self._on.discard(key)
            if not plug.connected:
                away[key] = max(plug.away_seconds, away.get(key, 0.0))
        self._on &= staying | untold.keys()
        found = [key for key in away if key in self._on]
        self._named = {key for key in found if key in self._named or away[key] > MAY_STAY_ON_AFTER_SECONDS}
        return [key for key in found if key in self._named]


def untimed(house: House) -> set[str]:
    """The heaters on the broker whose plugs stay as they are while nobody tells them anything."""
    return {
        key for key, heater, _ in house.heaters() if heater.plug.on_broker and not heater.plug.switches_itself_off
    }


def _follows(trouble: Trouble, since: datetime, on_it: set[str]) -> bool:
    """Nothing that was there before, and no plug that may be on past its timer."""
    if trouble.code not in FOLLOWS or trouble.since < since:
        return False
    place = trouble.id.rpartition("/")[0]
    return trouble.code == "reading-missing" or (place in on_it and not trouble.loud)
