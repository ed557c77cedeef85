"""The real parts of one running house, made from its file: the only place that knows concrete adapters.

Rules: starting returns at once with the broker down; closing tells every plug OFF, all at the same time.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Thread
from zoneinfo import ZoneInfo

from thermostatd.core.house import House, SimulatedPlug
from thermostatd.core.values import Observation, PlugReport
from thermostatd.daemon.kept_house import kept_house
from thermostatd.daemon.leaving import Leaving, target_of
from thermostatd.edge.broker import Feed, client_id_of
from thermostatd.edge.clock import Clock
from thermostatd.edge.embedded_broker import EmbeddedBroker
from thermostatd.edge.house_file import Inspection
from thermostatd.edge.notices import Notices
from thermostatd.edge.plugs import MqttPlug, PlugAdapter, Rehearsal, make_plug
from thermostatd.edge.sensing import Sensing
from thermostatd.edge.store import Store

log = logging.getLogger(__name__)


class Parts:
    """A house's store, clock, broker, sensing, plugs and notices.

    Without a `clock` of its own the steady clock goes on from what the store remembers. `rehearsal` is needed by
    simulated plugs only.
    """

    def __init__(
        self,
        house: House,
        state: Path,
        clock: Clock | None = None,
        rehearsal: Rehearsal | None = None,
        *,
        path: Path | None = None,
        seen: Inspection | None = None,
    ) -> None:
        """StoreError if the state folder cannot be used. `path` is the house file's, for the owner to look at; `seen`
        is how it was found at the start: with faults, where the house is the last good one."""
        self.house, self.state, self.path, self.seen = house, state, path, seen
        self.store = Store.open(state, Clock().now)
        self.remembered = self.store.load_memory()
        clock = clock or Clock.resume(self.remembered[1] if self.remembered else None)
        self.clock = clock
        self._rehearsal = rehearsal
        self._closing: list[Thread] = []
        self.leaving = Leaving(clock.now, state)
        self._before = kept_house(state, path) if path is not None else None
        self.embedded = EmbeddedBroker(house.broker.host, house.broker.port) if house.broker.serve else None
        self.feed = Feed(house.broker, client_id_of(house.house.name, "feed"), clock.now)
        self.sensing = Sensing(house, clock.now, lambda: clock.moment().wall)
        zone = ZoneInfo(house.house.timezone)
        self.notices = Notices(
            house, now=clock.now, local=lambda: clock.moment().wall.astimezone(zone),
            kept=self.store.load_told(), keep=self.store.keep_told,
        )  # fmt: skip
        self.plugs: dict[str, PlugAdapter] = {
            key: make_plug(key, heater.plug, house, clock.now, rehearsal)
            for key, heater, _ in house.heaters()
        }
        for topic in self.sensing.topics():
            self.feed.want(topic)

    def start(self) -> None:
        """Begin connecting. EmbeddedBrokerError if the embedded broker cannot have its port."""
        if self.embedded is not None:
            self.embedded.start()
        self.feed.start()
        for plug in self.plugs.values():
            plug.start()
        ended = self.remembered[1].steady if self.remembered else self.clock.now()
        self.leaving.resume(self._before, ended, self._targets())

    def renewed(self, house: House) -> set[str]:
        """The heaters of another house whose plugs would be told anew."""
        old = self.house
        elsewhere = house.broker != old.broker or house.house.name != old.house.name
        before = {key: heater.plug for key, heater, _ in old.heaters()}
        return {key for key, heater, _ in house.heaters() if elsewhere or before.get(key) != heater.plug}

    def rehouse(self, house: House) -> None:
        """Change to another house while running.

        Plugs that left or changed are told OFF and closed; only then their followers start. Raises before anything
        is changed where a plug cannot be made.
        """
        renewed, old = self.renewed(house), self.house
        keys = {key for key, _, _ in house.heaters()}
        fresh = {
            key: make_plug(key, heater.plug, house, self.clock.now, self._rehearsal)
            for key, heater, _ in house.heaters()
            if key in renewed
        }
        self.house = house
        gone = {key: self.plugs.pop(key) for key in list(self.plugs) if key in renewed or key not in keys}
        self.plugs |= fresh
        self._exchange(old, gone, fresh)
        self._hear_anew(old, house)
        if house.notices != old.notices:
            self.notices = self.notices.follow(house)

    def _exchange(self, old: House, gone: dict[str, PlugAdapter], fresh: dict[str, PlugAdapter]) -> None:
        """All that leave are told OFF before any that is new may be told ON: two may share a topic."""
        before = {key: heater.plug for key, heater, _ in old.heaters()}
        back = self.leaving.take_back(self._targets())
        self.leaving.expect({key: before[key] for key in gone}, old, self._targets())

        def work() -> None:
            self.leaving.keep()
            stopped = _stop_all([*gone.values(), *back])
            for plug in fresh.values():
                plug.start()
            for key, plug in gone.items():
                if plug not in stopped or not before[key].switches_itself_off:
                    self.leaving.add(key, before[key], old, self._targets())
            self.leaving.settled()

        self._closing = [thread for thread in self._closing if thread.is_alive()]
        self._closing.append(Thread(target=work, name="exchange of plugs", daemon=True))
        self._closing[-1].start()

    def _targets(self) -> list[object]:
        return [target_of(heater.plug, self.house) for _, heater, _ in self.house.heaters()]

    def _hear_anew(self, old: House, house: House) -> None:
        """The sensors of the new house; on another broker by a connection of its own."""
        before, self.sensing = self.sensing, Sensing(house, self.clock.now, lambda: self.clock.moment().wall)
        if house.broker != old.broker or house.house.name != old.house.name:
            gone, wanted = self.feed, self.feed.topics
            self.feed = Feed(house.broker, client_id_of(house.house.name, "feed"), self.clock.now)
            self.feed.on_up = gone.on_up
            for topic in (set(wanted) - set(before.topics())) | set(self.sensing.topics()):
                self.feed.want(topic)
            self._closing.append(Thread(target=_one_after_the_other, args=(gone, self.feed), daemon=True))
            self._closing[-1].start()
            return
        for topic in set(before.topics()) - set(self.sensing.topics()):
            self.feed.drop(topic)
        for topic in self.sensing.topics():
            self.feed.want(topic, again=True)

    @property
    def broker_up(self) -> bool:
        """Whether the broker is reached, as far as is known."""
        return self.feed.connected

    def breaks(self) -> dict[str, str]:
        """The codes of troubles with connections that break again and again, and what each is about."""
        about: dict[str, list[str]] = {}
        for name, link in (("", self.feed), *self.plugs.items()):
            if isinstance(link, (Feed, MqttPlug)) and link.breaks is not None:
                about.setdefault(link.breaks, []).extend([name] if name else [])
        place = f"{self.house.broker.host}:{self.house.broker.port}"
        return {code: ", ".join([place, *names]) for code, names in about.items()}

    def observe(self, *, stopping: bool = False) -> Observation:
        """Everything heard since the last call. The feed must have been drained into `sensing` before."""
        self.leaving.look()
        collected = self.sensing.collect()
        for note in collected.notes:
            log.warning("%s", note)
        plugs = {key: news for key, plug in self.plugs.items() if (news := self._news(key, plug)) is not None}
        return Observation(
            collected.air,
            collected.outdoor,
            plugs,
            collected.humidity_percent,
            collected.battery_percent,
            stopping,
            collected.forecast,
        )

    def _news(self, key: str, plug: PlugAdapter) -> PlugReport | None:
        try:
            return plug.news()
        except Exception:
            log.exception("the plug of %s could not be heard", key)
            return None

    def all_off(self) -> None:
        """Tell every plug OFF now."""
        for key, plug in self.plugs.items():
            try:
                plug.tell(False, 0.0)
            except Exception:
                log.exception("the plug of %s could not be told OFF", key)

    def close(self) -> None:
        """Every plug is told OFF and closed, all at once; then the broker, the notices and the store."""
        for thread in self._closing:
            thread.join(5.0)
        _stop_all([*self.plugs.values(), *self.leaving.rest()])
        self.feed.stop()
        self.notices.close()
        if self.embedded is not None:
            self.embedded.stop()
        self.store.close()


def _one_after_the_other(gone: Feed, follower: Feed) -> None:
    gone.stop()
    follower.start()


def _stop_all(plugs: Sequence[PlugAdapter]) -> list[PlugAdapter]:
    """Stop all at once; gives those that were told OFF."""
    if not plugs:
        return []
    told = []
    with ThreadPoolExecutor(max_workers=min(32, len(plugs))) as pool:
        for plug, done in [(plug, pool.submit(plug.stop)) for plug in plugs]:
            if (fault := done.exception()) is not None:
                log.error("the plug of %s could not be closed: %s", plug.key, fault)
            elif done.result():
                told.append(plug)
    return told


def needs_rehearsal(house: House) -> bool:
    """Whether any plug of the house is simulated."""
    return any(isinstance(heater.plug, SimulatedPlug) for _, heater, _ in house.heaters())
