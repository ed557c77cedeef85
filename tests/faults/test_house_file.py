"""Fault 13: a house file that is half written, deleted, or wrong, under the running daemon and at its start."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from tests.daemon.home import Home, command
from tests.faults.bounds import CHAIN
from tests.faults.conftest import Measure, room, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.daemon.kept_house import NAME


def _half(home: Home, text: str) -> None:
    home.file.write_text(text[: len(text) * 2 // 3])


def _gone(home: Home, text: str) -> None:
    home.file.unlink()


def _wrong(home: Home, text: str) -> None:
    home.file.write_text(text.replace("watts = 600", 'watts = "warm"'))


def _rubbish(home: Home, text: str) -> None:
    home.file.write_bytes(b"\xff\x00\xfe" * 4000)


def _folder(home: Home, text: str) -> None:
    home.file.unlink()
    home.file.mkdir()


WAYS = {
    "half written": (_half, "line"), "deleted": (_gone, "does not exist"), "a wrong value": (_wrong, "watts"),
    "rubbish": (_rubbish, "UTF-8"), "a folder in its place": (_folder, "folder"),
}  # fmt: skip


MORE = [
    pytest.param(way, marks=pytest.mark.night)
    for way in ("deleted", "a wrong value", "rubbish", "a folder in its place")
]


@pytest.mark.parametrize("way", ["half written", *MORE])
def test_broken_while_running(
    broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure, way: str
) -> None:
    """The last good house stays in force, heats and ends in OFF; log and page name the fault; mended, it is taken."""
    breaking, said = WAYS[way]
    warm_up(broker, plug)
    text = home.file.read_text()
    breaking(home, text)
    measure(13, f"house file {way}: the log says what and where", 4.0, lambda: said in home.log)
    page = home.call("GET", "/")[1]
    assert "The house file was changed and has a fault" in page
    assert said in page
    broker.publish("study/air", "23.0")
    measure(13, f"house file {way}: a warm reading ends in OFF", 4.0, lambda: not plug.on)
    assert home.ask(22.0)[0] == 200
    broker.publish("study/air", "17.0")
    measure(13, f"house file {way}: a cold one heats", 5.0, lambda: plug.on)
    assert home.health()["ok"] is True
    if home.file.is_dir():
        home.file.rmdir()
    home.file.write_text(text.replace("highest = 23", "highest = 21"))
    measure(13, f"house file {way}, mended: in force", 4.0, lambda: room(home)["highest"] == 21.0)
    assert wait_until(lambda: "has a fault" not in home.call("GET", "/")[1], 4)
    assert "Traceback" not in home.log


@pytest.mark.night
def test_wrong_at_a_restart(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure
) -> None:
    """Killed and started with a wrong file it names the line and goes on with the last good one; where none was kept
    it heats nothing. The plug was told OFF by the broker."""
    warm_up(broker, plug)
    good = home.file.read_text()
    _wrong(home, good)
    assert home.process
    os.kill(home.process.pid, signal.SIGKILL)
    home.process.wait(5)
    home.process = None
    bound = CHAIN["the house file is wrong at a start"]
    measure(13, "house file wrong, daemon killed: OFF by the broker", bound, lambda: not plug.on)
    home.start()
    broker.publish("study/air", "17.0")
    measure(13, "house file wrong at a start: heats by the last good one", 6.0, lambda: plug.on)
    home.kill()
    assert wait_until(lambda: not plug.on, 3)
    (home.state / NAME).unlink()
    told = len(plug.orders)
    ended = command("run", str(home.file), "--state", str(home.state))
    assert ended.returncode == 1
    line = good[: good.index("watts = 600")].count("\n") + 1
    assert f":{line}: " in ended.stderr
    assert "Traceback" not in ended.stderr
    assert not plug.on
    assert all(order.payload == "false" for order in plug.orders[told:])
    home.file.write_text(good)
    home.start()
    broker.publish("study/air", "17.0")
    measure(13, "house file mended: started again, heats", 6.0, lambda: plug.on)
