"""Plugs that left the house and were not surely told OFF when they did: they are told until they were.

Rules: they are on the disk before anything is told, so that a crash forgets none (left_plugs.py); one that left the
file between two runs is told as well. Each has a connection of its own meanwhile. What the broker has, the plug may not
have heard: one on the broker is told every half minute until it shows OFF, or for ten minutes where it shows nothing.
One with a timer is given up once its last ON must have lapsed, one without after a week. One that comes back into the
house is its new adapter's, which tells OFF at its start.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from threading import Lock, Thread

from thermostatd.core import house as described
from thermostatd.core.house import House
from thermostatd.core.order import LAPSE_SECONDS
from thermostatd.daemon.left_plugs import LeftPlug, keep_left, kept_left
from thermostatd.edge.plugs import MqttPlug, PlugAdapter, make_plug

log = logging.getLogger(__name__)
OWN = "leaving"
AGAIN_SECONDS, UNSHOWN_SECONDS = 30.0, 600.0
WEEK_SECONDS = 7 * 86400.0


@dataclass(eq=False, slots=True)
class _One:
    adapter: PlugAdapter
    target: object
    until: float
    """Steady second at which its own timer has ended its last ON, or it is given up."""
    on_broker: bool
    shows: bool
    left: LeftPlug
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
    """`now` gives steady seconds. `look` is called by each tick; `expect` and `add` come from a thread."""

    def __init__(self, now: Callable[[], float], state: Path) -> None:
        self._now, self._lock, self._state = now, Lock(), state
        self._plugs: list[_One] = []
        self._expected: list[LeftPlug] = []

    def resume(self, before: House | None, ended: float, staying: Sequence[object]) -> None:
        """At a start: what an earlier run had not told, and what left since the house file that was in force as that
        run `ended`, at a steady second; timers that have ended all since need no telling."""
        found, down = kept_left(self._state), max(0.0, self._now() - ended)
        if before is not None:
            plugs = {key: heater.plug for key, heater, _ in before.heaters()}
            found += [replace(one, until=one.until - down) for one in self._leaving(plugs, before, staying)]
        for left in found:
            if left.until > self._now():
                self._begin(left, staying)
        self._keep()

    def expect(self, plugs: Mapping[str, described.Plug], house: House, staying: Sequence[object]) -> None:
        """These are about to leave, and to be told OFF by those that have them: `keep`, and then `add` or `settled`,
        follow."""
        with self._lock:
            self._expected = self._leaving(plugs, house, staying)

    def keep(self) -> None:
        """Put them on the disk, before anything is told."""
        self._keep()

    def settled(self) -> None:
        """Those that were expected to leave were told OFF, or were added."""
        with self._lock:
            self._expected = []
        self._keep()

    def _leaving(
        self, plugs: Mapping[str, described.Plug], house: House, staying: Sequence[object]
    ) -> list[LeftPlug]:
        return [
            self._left(key, plug, house)
            for key, plug in plugs.items()
            if not isinstance(plug, described.SimulatedPlug) and target_of(plug, house) not in staying
        ]

    def _left(self, key: str, plug: described.Plug, house: House) -> LeftPlug:
        lapse = LAPSE_SECONDS + 2.0 * house.house.tick if plug.switches_itself_off else WEEK_SECONDS
        return LeftPlug(key, plug, house, self._now() + lapse)

    def _keep(self) -> None:
        with self._lock:
            keep_left(self._state, [*(one.left for one in self._plugs), *self._expected])

    @property
    def keys(self) -> list[str]:
        """The heaters whose plugs are still to be told."""
        with self._lock:
            return [one.adapter.key for one in self._plugs]

    @property
    def untold(self) -> dict[str, float]:
        """The heaters without a timer that cannot be told for now, or were not yet, with for how long that is, s."""
        with self._lock:
            gone = {one.key: 0.0 for one in self._expected if not one.plug.switches_itself_off}
            for one in self._plugs:
                if isinstance(one.adapter, MqttPlug) and not one.left.plug.switches_itself_off:
                    gone |= {} if one.adapter.connected else {one.adapter.key: one.adapter.away_seconds}
            return gone

    def add(self, key: str, plug: described.Plug, house: House, staying: Iterable[object]) -> None:
        """A plug that was not told, unless one of the targets that stay in the house is the same."""
        for left in self._leaving({key: plug}, house, list(staying)):
            log.warning("the plug of %s left the house file: it is told OFF until it surely was", key)
            self._begin(left, staying)

    def _begin(self, left: LeftPlug, staying: Iterable[object]) -> None:
        plug, target = left.plug, target_of(left.plug, left.house)
        with self._lock:
            known = [*staying, *(one.target for one in self._plugs)]
        if target in known:
            return
        try:
            adapter = make_plug(left.key, plug, left.house, self._now, own=OWN)
        except Exception:  # such as one of another package that is gone: the house must start all the same
            log.exception("the plug of %s, which left the house file, cannot be told OFF", left.key)
            return
        with self._lock:
            self._plugs.append(_One(adapter, target, left.until, plug.on_broker, plug.tells_contact, left))
        adapter.start()

    def look(self) -> None:
        """Tell again, and let go of those that were told, or whose time is over."""
        now = self._now()
        for one in self._taken(lambda one: one.done(now)):
            Thread(target=self._end, args=(one,), name=f"leaving {one.adapter.key}", daemon=True).start()

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

    def _end(self, one: _One) -> None:
        if one.adapter.stop():
            log.info("the plug of %s, which left the house file, was told OFF", one.adapter.key)
        self._keep()


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
