"""The demo: a simulated house, the embedded broker, the real daemon talking to it over MQTT, and the page."""

from __future__ import annotations

import asyncio
import socket
import tempfile
import tomllib
from collections.abc import Callable
from contextlib import AbstractContextManager
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from thermostatd.core.house import House
from thermostatd.daemon.demo_days import live
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.running import run
from thermostatd.edge.clock import Clock
from thermostatd.edge.house_file import load_house
from thermostatd.rehearsal.house import INNER_SECONDS, SimulatedHouse
from thermostatd.rehearsal.mqtt_face import MqttHouse
from thermostatd.rehearsal.trial import STEP_SECONDS

SEED = 8420
START_CELSIUS = 18.5
STARTS_AT = time(16, 10)
MOST_SPEED = 600.0
Say = Callable[[str], None]
Bar = Callable[[str], AbstractContextManager[Callable[[float], None] | None]]
PASSPHRASE = "nothing is real"
"""The owner's of the invented house: it opens the owner's pages, and is no secret."""


def shared_folder(name: str) -> Path:
    """Where `web` or `config` lies: inside the installed package, or beside it in a source tree."""
    package = Path(__file__).resolve().parents[1]
    installed = package / "_shared" / name
    return installed if installed.is_dir() else package.parent / name


def demo(speed: float, port: int | None, say: Say, bar: Bar) -> None:
    """Run the demo until it is interrupted. `port` is the page's (left out: the file's, or a free one).

    `bar` shows how far it is with what takes a while.
    """
    with tempfile.TemporaryDirectory(prefix="thermostatd-demo-") as folder:
        path = own_copy(Path(folder), port)
        house = load_house(path)
        start = _afternoon(house)
        simulated, clock = _lived(house, Path(folder), start, speed, say, bar)
        parts = Parts(house, Path(folder), clock, path=path)
        devices = MqttHouse(simulated, house.broker.host, house.broker.port, speed)
        say(f"It has {', '.join(room.name for room in house.rooms)}. Nothing here is a real heater.")
        say(f"Open  http://{house.pages.listen}/  and ask a room to be warmer.")
        say(
            f"It is {start.astimezone(ZoneInfo(house.house.timezone)):%A %H:%M} there"
            + (
                f", and time runs {speed:g} times as fast as life."
                if speed != 1
                else "; --speed 60 makes an hour a minute."
            )
        )
        say(f"The owner's pages open with the passphrase  {PASSPHRASE}")
        say(f"Its house file is {path}: what you change there holds within seconds.")
        say("Ctrl-C ends it, with every plug told OFF.")
        devices.start()
        try:
            asyncio.run(run(parts))
        finally:
            devices.stop()


def _lived(
    house: House, folder: Path, start: datetime, speed: float, say: Say, bar: Bar
) -> tuple[SimulatedHouse, Clock]:
    """The house at `start`, after a day and a night of its own, and the clock that goes on from there."""
    say("First an invented house lives through a day and a night, to know its rooms. It takes some seconds.")
    zone = ZoneInfo(house.house.timezone)
    first = datetime.combine(start.astimezone(zone).date() - timedelta(days=1), time(0), zone).astimezone(UTC)
    simulated = SimulatedHouse(
        house, seed=SEED, start=first, start_celsius=START_CELSIUS, inner_seconds=STEP_SECONDS
    )
    lived_seconds = (start - first).total_seconds()
    then = Clock(start_wall=start, base_steady=lived_seconds)
    with bar("A day and a night") as progress:
        live(house, simulated, folder, then, lived_seconds, progress)
    simulated.go_finer(INNER_SECONDS)
    return simulated, Clock(speed, start_wall=start, base_steady=lived_seconds)


def _afternoon(house: House) -> datetime:
    """A winter weekday's afternoon, when people are in and rooms are to be warm."""
    zone = ZoneInfo(house.house.timezone)
    day = datetime.now(zone).date()
    while day.weekday() > 4:
        day += timedelta(days=1)
    return datetime.combine(day, STARTS_AT, tzinfo=zone).astimezone(UTC)


def own_copy(folder: Path, port: int | None) -> Path:
    """The demo's house file in a folder of this run, with ports that are free and the owner's passphrase."""
    text = (shared_folder("config") / "demo.toml").read_text("utf-8")
    house = House.model_validate(tomllib.loads(text))
    host, _, own = house.pages.listen.rpartition(":")
    listen = f"{host}:{port if port is not None else _free(host, int(own))}"
    (folder / "passphrase").touch(0o600)
    (folder / "passphrase").write_text(PASSPHRASE + "\n", "utf-8")
    for old, new in (
        (f"port = {house.broker.port}", f"port = {_free(house.broker.host, house.broker.port)}"),
        (f'listen = "{house.pages.listen}"', f'listen = "{listen}"\nowner_passphrase_file = "passphrase"'),
    ):
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (folder / "house.toml").write_text(text, "utf-8")
    return folder / "house.toml"


def _free(host: str, wished: int) -> int:
    for candidate in (wished, 0):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OSError(f"no port is free at {host}")
