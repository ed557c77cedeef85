"""A terminal that is closed ends the daemon as a stop does: its plugs, which no broker speaks for, are told OFF."""

from __future__ import annotations

import json
import os
import signal
import subprocess
from pathlib import Path

import pytest

from tests.daemon.home import COMMAND, PLUG, ROOT, Home
from tests.parts.http_plug import HttpRelay
from tests.parts.mosquitto import Mosquitto, wait_until


def on_http(home: Home, relay: HttpRelay) -> None:
    """The heater's plug is one that takes HTTP requests."""
    table = relay.described()
    words = ", ".join(f"{key} = {_toml(value)}" for key, value in table.items())
    text = home.file.read_text()
    home.file.write_text(text.replace(PLUG.replace("\n", " "), f"{{ {words}, rated_amps = 13 }}"))
    assert relay.address in home.file.read_text()


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_toml(one)}" for key, one in value.items()) + " }"
    return json.dumps(value)


def test_hung_up(tmp_path: Path, broker: Mosquitto) -> None:
    """SIGHUP, as a lost ssh session sends it: OFF is told, and the daemon ends with 0."""
    relay = HttpRelay()
    home = Home(tmp_path / "home", broker.port)
    on_http(home, relay)
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)  # these tests may run under nohup themselves
    try:
        with home:
            broker.publish("study/air", "18")
            assert wait_until(lambda: relay.on, 10), home.log
            assert home.process
            home.process.send_signal(signal.SIGHUP)
            assert home.process.wait(12) == 0, home.log
            home.process = None
            assert not relay.on
    finally:
        signal.signal(signal.SIGHUP, before)
        relay.close()


@pytest.mark.skipif(not Path("/usr/bin/nohup").exists(), reason="needs the nohup command")
def test_under_nohup(tmp_path: Path, broker: Mosquitto) -> None:
    """Who started it with nohup meant it to go on."""
    home = Home(tmp_path / "home", broker.port)
    with open(tmp_path / "home" / "daemon.log", "ab") as log:
        home.process = subprocess.Popen(
            ["nohup", *COMMAND, "run", str(home.file), "--state", str(home.state)],
            cwd=ROOT, env=os.environ, stdin=subprocess.DEVNULL, stdout=log, stderr=log,
        )  # fmt: skip
    try:
        assert wait_until(home.answers, 60, 0.05), home.log
        home.process.send_signal(signal.SIGHUP)
        assert not wait_until(lambda: home.process.poll() is not None, 2.0, 0.1)
        assert home.terminate()[0] == 0
    finally:
        home.kill()
