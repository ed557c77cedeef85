"""The worlds in which one contract is tried: a stranger's plug on a real broker, and the rehearsal's."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from tests.edge.listening.broker_world import HomieDevice
from tests.parts.http_plug import HttpRelay
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.steady import Steady
from thermostatd.core.house import Broker, HomiePlug, House, HttpPlug, MqttPlug, Plug, ProgramPlug
from thermostatd.core.values import PlugReport
from thermostatd.edge.plugs import PlugAdapter, make_plug
from thermostatd.rehearsal import SimulatedHouse

KEY = "study/column"
ROOT = Path(__file__).resolve().parents[3]


def house_with(plug: Plug, broker: Broker | None = None) -> House:
    """An invented house of one heater."""
    heater = {"name": "column", "watts": 600, "plug": plug.model_dump(mode="json", exclude_none=True)}
    room = {"name": "study", "sensor": {"topic": "study/air"}, "heater": [heater]}
    return House.model_validate({"room": [room], "broker": (broker or Broker()).model_dump()})


class World:
    """One plug, its adapter, and the means to let time pass. Nothing is connected before `begin`."""

    adapter: PlugAdapter
    last: PlugReport | None = None

    def begin(self) -> None:
        """Start the adapter and wait for its first report."""
        self.adapter.start()
        assert self.see(lambda report: report.on is False, 20.0)  # a program of its own has to start first

    def see(self, wanted: Callable[[PlugReport], bool], seconds: float = 6.0) -> bool:
        """Whether a report of that kind comes within some seconds; `last` is the newest report."""

        def look() -> bool:
            news = self.adapter.news()
            self.last = news or self.last
            return news is not None and wanted(news)

        return self.let(look, seconds)

    def let(self, done: Callable[[], bool], seconds: float) -> bool:
        """Let time pass until `done`, some seconds at most."""
        raise NotImplementedError

    def now(self) -> float:
        """The steady second."""
        raise NotImplementedError

    def contact(self) -> bool:
        """Whether the contact is closed in truth."""
        raise NotImplementedError

    def press(self) -> None:
        """The plug's own button."""
        raise NotImplementedError

    def end(self) -> None:
        """Put everything away."""


class MqttWorld(World):
    """A stranger's plug on a real mosquitto, in life's time."""

    def __init__(self, broker: Mosquitto) -> None:
        self._steady = Steady()
        self.plug = StrangersPlug(broker.port).online()
        described: MqttPlug = StrangersPlug.described()
        self.adapter = make_plug(KEY, described, house_with(described, broker.house_broker()), self._steady)

    def let(self, done: Callable[[], bool], seconds: float) -> bool:
        return wait_until(done, seconds)

    def now(self) -> float:
        return self._steady()

    def contact(self) -> bool:
        time.sleep(0.1)
        return self.plug.on

    def press(self) -> None:
        self.plug.press(not self.plug.on)

    def end(self) -> None:
        self.adapter.stop()
        self.plug.close()


class RehearsedWorld(World):
    """A plug of the simulated house, in virtual time."""

    def __init__(self) -> None:
        house = House.model_validate(
            {
                "room": [
                    {
                        "name": "study",
                        "sensor": {"topic": "study/air"},
                        "heater": [{"name": "column", "watts": 600, "plug": {"kind": "simulated"}}],
                    }
                ]
            }
        )
        self.house = SimulatedHouse(house, seed=1, start=datetime(2026, 1, 31, tzinfo=UTC))
        plug = house.rooms[0].heaters[0].plug
        self.adapter = make_plug(KEY, plug, house, self.now, self.house)

    def let(self, done: Callable[[], bool], seconds: float) -> bool:
        end = self.house.steady + 60 * seconds  # its meter reports once in a while, as real ones do
        while not done():
            if self.house.steady >= end:
                return False
            self.house.advance(0.5)
        return True

    def now(self) -> float:
        return self.house.steady

    def contact(self) -> bool:
        return self.house.plug(KEY).relay_on

    def press(self) -> None:
        self.house.press(KEY)


class HomieWorld(World):
    """A device of the Homie convention on a real mosquitto, with a timer of its own."""

    def __init__(self, broker: Mosquitto) -> None:
        self._steady = Steady()
        self.device = HomieDevice(broker.port)
        described = HomiePlug(
            device="plug-3",
            switch="relay/on",
            power="meter/power",
            volts="meter/voltage",
            timer="relay/off-after",
        )
        self.adapter = make_plug(KEY, described, house_with(described, broker.house_broker()), self._steady)

    def begin(self) -> None:
        """And until the first OFF is there: what the broker keeps of the contact may be heard before, and a press in
        between would be undone."""
        super().begin()
        assert self.let(lambda: self.device.orders > 0, 6.0)

    def let(self, done: Callable[[], bool], seconds: float) -> bool:
        return wait_until(done, seconds)

    def now(self) -> float:
        return self._steady()

    def contact(self) -> bool:
        time.sleep(0.1)
        return self.device.on

    def press(self) -> None:
        self.device.switch(not self.device.on)

    def end(self) -> None:
        self.adapter.stop()
        self.device.close()


class ErrandWorld(World):
    """A plug that is no client of the broker; `relay` has `until`, a second of the machine's clock."""

    def __init__(self, plug: Plug, until: Callable[[float | None], float]) -> None:
        self._steady, self._until = Steady(), until
        self.adapter = make_plug(KEY, plug, house_with(plug), self._steady)

    def let(self, done: Callable[[], bool], seconds: float) -> bool:
        return wait_until(done, seconds)

    def now(self) -> float:
        return self._steady()

    def contact(self) -> bool:
        time.sleep(0.1)
        return time.time() < self._until(None)

    def press(self) -> None:
        self._until(0.0 if time.time() < self._until(None) else time.time() + 3600.0)

    def end(self) -> None:
        self.adapter.stop()


def http_world() -> tuple[ErrandWorld, Callable[[], None]]:
    """A plug that takes HTTP requests, and what ends it."""
    relay = HttpRelay()

    def until(at: float | None) -> float:
        if at is not None:
            relay.until = at
        return relay.until

    return ErrandWorld(HttpPlug.model_validate(relay.described()), until), relay.close


def program_plug(file: Path, **more: object) -> ProgramPlug:
    """A plug that a program switches, as a house file describes it."""
    words = [sys.executable, str(ROOT / "tests/parts/relay_program.py"), str(file)]
    table: dict[str, object] = {
        "on": [*words, "on"], "off": [*words, "off"], "timer": [*words, "on", "{seconds}"], "state": [*words, "state"],
        "shows": {"pointer": "/on"}, "draws": {"pointer": "/watts"}, "volts": {"pointer": "/volts"}, "every": "0.2 s",
    }  # fmt: skip
    return ProgramPlug.model_validate(table | more)


def file_world(plug: Plug, file: Path, key: str | None) -> ErrandWorld:
    """A relay that is a file; its second stands alone or under a key."""

    def until(at: float | None) -> float:
        if at is not None:
            file.write_text(str(at) if key is None else json.dumps({key: at}))
        text = file.read_text() if file.exists() else ""
        while text == "":  # between truncation and writing
            time.sleep(0.01)
            text = file.read_text() if file.exists() else ""
        return float(text if key is None else json.loads(text)[key])

    file.write_text("0" if key is None else json.dumps({key: 0}))
    return ErrandWorld(plug, until)
