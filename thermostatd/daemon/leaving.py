"""Plugs that left the house and could not be told OFF when they did: they are told until they were.

Rules: each has a connection of its own meanwhile. What the broker has, the plug may not have heard: one on the broker
is told every half minute until it shows OFF, or for ten minutes where it shows nothing. One with a timer is given up
once its last ON must have lapsed, one without is not. One that comes back into the house is its new adapter's, which
tells OFF at its start.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from threading import Lock, Thread

from thermostatd.core import house as described
from thermostatd.core.house import House
from thermostatd.core.order import LAPSE_SECONDS
from thermostatd.edge.plugs import PlugAdapter, make_plug

log = logging.getLogger(__name__)
OWN = "leaving"
AGAIN_SECONDS, UNSHOWN_SECONDS = 30.0, 600.0


@dataclass(eq=False, slots=True)
class _One:
    adapter: PlugAdapter
    target: object
    until: float
    """Steady second at which its own timer has ended its last ON; infinite where it has none."""
    on_broker: bool
    shows: bool
    first_told: float | None = None
    told: float = 0.0

    def done(self, now: float) -> bool:
        """Whether nothing more has to be told; tells again where that is due."""
        if not self.adapter.connected:
            return now >= self.until
        if not self.on_broker or now >= self.until:
            return True
        report = self.adapter.news()
        if self.first_told is None or now - self.told >= AGAIN_SECONDS:
            self.first_told, self.told = self.first_told or now, now
            self.adapter.tell(False, 0.0)
        if self.shows:
            return report is not None and report.on is False and (report.on_at or 0.0) >= self.first_told
        return now - self.first_told >= UNSHOWN_SECONDS


class Leaving:
    """`now` gives steady seconds. `look` is called by each tick; `add` comes from a thread."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._now, self._lock = now, Lock()
        self._plugs: list[_One] = []

    @property
    def keys(self) -> list[str]:
        """The heaters whose plugs are still to be told."""
        with self._lock:
            return [one.adapter.key for one in self._plugs]

    def add(self, key: str, plug: described.Plug, house: House, staying: Iterable[object]) -> None:
        """A plug that was not told, unless one of the targets that stay in the house is the same."""
        target = target_of(plug, house)
        if isinstance(plug, described.SimulatedPlug) or target in list(staying):
            return
        lapse = LAPSE_SECONDS + 2.0 * house.house.tick
        until = self._now() + lapse if plug.switches_itself_off else float("inf")
        on_broker = isinstance(plug, (described.MqttPlug, described.HomiePlug))
        adapter = make_plug(key, plug, house, self._now, own=OWN)
        log.error("the plug of %s left the house file and could not be told OFF: it is told until it was", key)
        with self._lock:
            self._plugs.append(_One(adapter, target, until, on_broker, plug.tells_contact))
        adapter.start()

    def look(self) -> None:
        """Tell again, and let go of those that were told, or whose time is over."""
        now = self._now()
        for one in self._taken(lambda one: one.done(now)):
            Thread(target=_end, args=(one,), name=f"leaving {one.adapter.key}", daemon=True).start()

    def take_back(self, targets: Iterable[object]) -> list[PlugAdapter]:
        """The adapters of plugs that are in the house again: the caller stops them before their followers start."""
        back = list(targets)
        return [one.adapter for one in self._taken(lambda one: one.target in back)]

    def rest(self) -> list[PlugAdapter]:
        """All that are left, at the end."""
        return [one.adapter for one in self._taken(lambda _: True)]

    def _taken(self, which: Callable[[_One], bool]) -> list[_One]:
        with self._lock:
            taken = [one for one in self._plugs if which(one)]
            self._plugs = [one for one in self._plugs if one not in taken]  # by identity
        return taken


def _end(one: _One) -> None:
    if one.adapter.stop():
        log.info("the plug of %s, which left the house file, was told OFF", one.adapter.key)


def target_of(plug: described.Plug, house: House) -> object:
    """What an OFF goes to: two plugs with the same target are one thing on the wall."""
    broker = (house.broker.host, house.broker.port)
    if isinstance(plug, described.MqttPlug):
        return (broker, plug.tell)
    if isinstance(plug, described.HomiePlug):
        return (broker, f"{plug.topic(plug.switch)}/set")
    if isinstance(plug, (described.HttpPlug, described.ProgramPlug)):
        return plug.off
    return plug
