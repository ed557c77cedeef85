"""The service in this process, twenty times as fast as life, on a real broker: watchdog, failed ticks, the button."""

from __future__ import annotations

import asyncio
import socket
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path

import pytest

from tests.daemon.home import house_text
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.core.asking import Accepted, Ask
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.running import _night
from thermostatd.daemon.service import Service
from thermostatd.edge.clock import Clock, Machine
from thermostatd.edge.house_file import load_house
from thermostatd.edge.store import EventRow


@contextmanager
def serving(
    folder: Path, port: int, speed: float = 20.0, machine: Machine | None = None
) -> Iterator[tuple[Service, asyncio.AbstractEventLoop]]:
    """A service with its loop on a thread of its own; with a `machine`, at life's pace on its clocks."""
    file = folder / "house.toml"
    file.write_text(house_text(port, 8420))
    loop = asyncio.new_event_loop()
    made: list[Service] = []

    async def run() -> None:
        clock = Clock(speed) if machine is None else None
        with pytest.MonkeyPatch.context() as patch:
            if machine is not None:
                patch.setattr(Clock, "resume", partial(Clock.resume, machine=machine))
            made.append(Service(Parts(load_house(file), folder / "state", clock)))
        await made[0].run()

    thread = threading.Thread(target=loop.run_until_complete, args=(run(),))
    thread.start()
    try:
        assert wait_until(lambda: made and made[0].parts.broker_up, 10)
        yield made[0], loop
    finally:
        if made:
            loop.call_soon_threadsafe(made[0].stop)
        thread.join(15)
        assert not thread.is_alive()
        loop.close()


@pytest.fixture
def manager(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[list[str]]:
    """A service manager's socket (sd_notify(3)) and the datagrams it got."""
    got: list[str] = []
    path = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listener:
        listener.bind(str(path))
        monkeypatch.setenv("NOTIFY_SOCKET", str(path))

        def listen() -> None:
            while (words := listener.recv(4096).decode()) != "END":
                got.append(words)

        thread = threading.Thread(target=listen)
        thread.start()
        yield got
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ender:
            ender.sendto(b"END", str(path))
        thread.join(5)


def test_watchdog(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, manager: list[str]) -> None:
    """READY=1 comes once, with the first tick that decided, WATCHDOG=1 with each, STOPPING=1 last (sd_notify(3))."""
    with serving(tmp_path, broker.port):
        assert wait_until(lambda: len(manager) >= 4)
    words = [word.split("\n") for word in manager]
    assert words[0] == ["READY=1", "WATCHDOG=1"]
    assert ["STOPPING=1"] in words
    assert sum("READY=1" in word for word in words) == 1
    assert words[1:4] == [["WATCHDOG=1"]] * 3


def test_failed_tick(
    tmp_path: Path,
    broker: Mosquitto,
    plug: StrangersPlug,
    manager: list[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A tick that fails tells OFF and pings nothing; when ticks decide again heating goes on and nobody is blamed."""
    with serving(tmp_path, broker.port) as (service, _):
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        broken = pytest.MonkeyPatch()
        broken.setattr(service.parts, "observe", lambda **_: 1 / 0)
        assert wait_until(lambda: not plug.on)
        assert plug.orders[-1].payload == "false"
        pings = len(manager)
        failed = service.failed_ticks
        assert wait_until(lambda: service.failed_ticks > failed + 40, 10)  # past 30 s of the house's time
        assert len(manager) == pings
        assert not plug.on
        broken.undo()
        assert wait_until(lambda: len(manager) > pings)
        broker.publish("study/air", "18")  # as after a start, the sensor must be heard
        assert wait_until(lambda: plug.on, 15), service.result
        assert service.result is not None
        assert not service.result.rooms["study"].heaters["study/column"].by_hand


def test_poison_message(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A message that cannot be taken in ends nothing: the next tick decides all the same."""
    with serving(tmp_path, broker.port) as (service, _):
        whole = service.parts.sensing.take
        broken = pytest.MonkeyPatch()
        broken.setattr(
            service.parts.sensing, "take", lambda heard: 1 / 0 if heard.payload == b"5" else whole(heard)
        )
        broker.publish("study/air", "5")
        changes = service.changes
        assert wait_until(lambda: service.changes > changes + 2)
        broken.undo()
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)


def test_pressed(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A plug switched on by its own button is told OFF again, and the record says so."""
    with serving(tmp_path, broker.port) as (service, _):
        broker.publish("study/air", "21.5")
        assert wait_until(
            lambda: service.result and service.result.rooms["study"].heaters["study/column"].shown_on is False
        )
        start = service.clock.now()
        assert wait_until(lambda: service.clock.now() > start + 35)
        plug.press(True)
        assert wait_until(lambda: not plug.on, 10)
        assert plug.orders[-1].payload == "false"
    with closing(sqlite3.connect(next((tmp_path / "state").glob("*.db")))) as record:
        tables = [name for (name,) in record.execute("select name from sqlite_master where type='table'")]
        assert "event" in tables
        assert any("pressed-on" in row for row in record.execute("select * from event")), list(
            record.execute("select * from event")
        )


def test_do_is_durable(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A request decided upon is in the stored memory when its answer is given."""
    with serving(tmp_path, broker.port) as (service, loop):
        asked = asyncio.run_coroutine_threadsafe(service.do(Ask("study", 22.0, who="Ana")), loop)
        assert isinstance(asked.result(5), Accepted)
        memory, _ = service.parts.store.load_memory()
        assert memory["rooms"]["study"]["request"]["celsius"] == 22.0


def test_night(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """The night's upkeep learns, thins and leaves a backup that is a whole database, while ticks go on."""
    with serving(tmp_path, broker.port) as (service, loop):
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        for _ in range(2):  # the second night's backup may find one of the same name
            asyncio.run_coroutine_threadsafe(_night(service, tmp_path / "state"), loop).result(20)
        changes = service.changes
        assert wait_until(lambda: service.changes > changes + 1)
    (backup,) = (tmp_path / "state" / "backups").glob("*.db")
    with closing(sqlite3.connect(backup)) as kept:
        assert kept.execute("pragma integrity_check").fetchone() == ("ok",)


def test_a_clock_that_leapt_throws_nothing_away(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug
) -> None:
    """Started anew with a clock a year and a half ahead, the night keeps what is old; before that it did not."""
    old = datetime.now(UTC) - timedelta(days=500)
    for boot, ahead, left in (("a", 0, 0), ("b", 550, 1)):

        def wall(ahead: int = ahead) -> datetime:
            return datetime.now(UTC) + timedelta(days=ahead)

        machine = Machine(boot_id=lambda boot=boot: boot, wall=wall)
        with serving(tmp_path, broker.port, machine=machine) as (service, loop):
            service.parts.store.add_events([EventRow(old, "seen", "study", "invented")])
            service.parts.store.flush()
            assert wait_until(lambda: service.result is not None)
            asyncio.run_coroutine_threadsafe(_night(service, tmp_path / "state"), loop).result(20)
            found = service.parts.store.events(old - timedelta(days=1), 1000)
            assert sum(row.sentence == "invented" for row in found) == left


def test_quiet_start(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A start tells nobody of a trouble: a sensor has ten minutes to be heard."""
    with serving(tmp_path, broker.port) as (service, _):
        changes = service.changes
        assert wait_until(lambda: service.changes > changes + 3)
        assert service.result is not None
        assert service.result.troubles == ()
