"""deploy/'s broker settings on a real mosquitto: names, passwords, the ACL, what a power cut leaves."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.parts.mosquitto import PROGRAM, free_port, wait_until

DEPLOY = Path(__file__).parents[2] / "deploy" / "mosquitto"


class Broker:
    """mosquitto as install.sh sets it up, on a free port and with its files in a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        settings = (DEPLOY / "thermostatd.conf").read_text()
        settings = settings.replace("listener 1883 ", f"listener {self.port} ")
        settings = settings.replace("/etc/mosquitto", str(folder))
        # What Debian's own mosquitto.conf says besides.
        own = f"persistence true\npersistence_location {folder}/\nuser root\n"
        (folder / "mosquitto.conf").write_text(own + settings)
        acl = (DEPLOY / "acl.example").read_text()
        (folder / "thermostatd.acl").write_text(acl.replace("#user", "user").replace("#topic", "topic"))
        names = folder / "thermostatd.passwords"
        names.write_text("thermostatd:secret-1\nyard-sensor:secret-2\nplug-7:secret-3\n")
        subprocess.run(["mosquitto_passwd", "-U", str(names)], check=True)
        self.start()

    def start(self) -> None:
        """Start it and wait until it answers."""
        command = [PROGRAM, "-c", str(self.folder / "mosquitto.conf")]
        self.process = subprocess.Popen(command, stderr=subprocess.DEVNULL)
        if not wait_until(lambda: self.publish("thermostatd", "secret-1", "here", "true"), 10):
            self.stop()
            raise RuntimeError("mosquitto did not take the settings")

    def stop(self) -> None:
        """kill -9."""
        self.process.kill()
        self.process.wait()

    def publish(self, user: str, password: str, topic: str, payload: str) -> bool:
        """Whether a retained message was taken in (QoS 1)."""
        done = self._client("mosquitto_pub", user, password, "-t", topic, "-m", payload, "-r", "-q", "1")
        return done.returncode == 0

    def hears(self, user: str, password: str, topic: str) -> str:
        """The retained message of a topic, as that name hears it; empty: none within a second."""
        return self._client("mosquitto_sub", user, password, "-t", topic, "-C", "1", "-W", "1").stdout.strip()

    def _client(self, tool: str, user: str, password: str, *rest: str) -> subprocess.CompletedProcess[str]:
        names = ["-u", user, "-P", password] if user else []
        command = [tool, "-h", "127.0.0.1", "-p", str(self.port), "-V", "mqttv5", *names, *rest]
        return subprocess.run(command, capture_output=True, text=True, timeout=10)


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    """The broker as installed."""
    broker = Broker(tmp_path_factory.mktemp("broker"))
    yield broker
    broker.stop()


def test_nobody_without_a_name(broker: Broker) -> None:
    """Neither a nameless client nor a wrong password gets in."""
    assert not broker.publish("", "", "study/air", "99")
    assert not broker.publish("thermostatd", "wrong", "study/air", "99")
    assert broker.hears("thermostatd", "secret-1", "study/air") == ""


def test_the_daemon_reaches_plugs_and_sensors(broker: Broker) -> None:
    """The daemon hears a sensor, and its order reaches the plug."""
    broker.publish("yard-sensor", "secret-2", "yard/air", "-2.5")
    assert broker.hears("thermostatd", "secret-1", "yard/air") == "-2.5"
    broker.publish("thermostatd", "secret-1", "plug/7/set", "false")
    assert broker.hears("plug-7", "secret-3", "plug/7/set") == "false"


def test_a_device_reaches_only_its_own_topics(broker: Broker) -> None:
    """A sensor that turned hostile can neither tell a plug nor hear one."""
    broker.publish("yard-sensor", "secret-2", "plug/9/set", "true")
    assert broker.hears("thermostatd", "secret-1", "plug/9/set") == ""
    broker.publish("thermostatd", "secret-1", "plug/8/set", "false")
    assert broker.hears("yard-sensor", "secret-2", "plug/8/set") == ""


def test_a_huge_message_is_dropped(broker: Broker) -> None:
    """A message longer than any reading does not reach the daemon."""
    broker.publish("yard-sensor", "secret-2", "yard/air", "-1.5")
    broker.publish("yard-sensor", "secret-2", "yard/air", "9" * 100_000)
    assert broker.hears("thermostatd", "secret-1", "yard/air") == "-1.5"


def test_retained_values_outlive_a_power_cut(broker: Broker) -> None:
    """A broker killed two seconds after a value was retained still has it when it is back."""
    broker.publish("yard-sensor", "secret-2", "yard/air", "-3.5")
    saved = broker.folder / "mosquitto.db"
    assert wait_until(lambda: saved.exists() and b"-3.5" in saved.read_bytes(), 2)
    broker.stop()
    broker.start()
    assert broker.hears("thermostatd", "secret-1", "yard/air") == "-3.5"
