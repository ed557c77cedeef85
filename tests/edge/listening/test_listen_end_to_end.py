"""`thermostatd listen` on a real mosquitto: what it proposes, that `check` takes it, and that a blink ends in OFF."""

from __future__ import annotations

import json
import subprocess
import threading
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.daemon.home import COMMAND, ROOT, command
from tests.edge.listening.broker_world import HomieDevice, Publisher
from tests.parts.mosquitto import Mosquitto, free_port
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main
from thermostatd.core.house import Broker
from thermostatd.edge.embedded_broker import EmbeddedBroker
from thermostatd.edge.house_file import inspect_house
from thermostatd.edge.listening import Target, blink


@pytest.fixture
def talking(mosquitto: Mosquitto) -> Iterator[Publisher]:
    """Two sensors that speak several times a second, indoors and out."""
    said = Publisher(mosquitto.port)
    over = threading.Event()

    def talk() -> None:
        turn = 0
        while not over.wait(0.1):
            said.say("study/air", {"celsius": 18.2 + 0.1 * (turn % 5), "battery": 91})
            said.say("yard/air", f"{-2.0 + 0.1 * (turn % 3):.1f}")
            turn += 1

    thread = threading.Thread(target=talk)
    thread.start()
    yield said
    over.set()
    thread.join(5)
    said.close()


def _listen(port: int, *words: str, typed: str | None = None, seconds: float = 1.5):
    return CliRunner().invoke(
        main, ["listen", "--port", str(port), "--minutes", str(seconds / 60), *words], input=typed
    )


def test_a_sensor_and_a_plug_that_nobody_told(
    mosquitto: Mosquitto, talking: Publisher, tmp_path: Path
) -> None:
    """A room is proposed ready; the plug's orders, never seen, stand as a comment that says so; `check` takes it."""
    with StrangersPlug(mosquitto.port) as plug:
        ticking = threading.Timer(0.7, plug.tell_state)
        ticking.start()
        out = tmp_path / "new.toml"
        answer = _listen(mosquitto.port, "--out", str(out))
        assert plug.orders == [], "listening tells nobody anything"
    assert answer.exit_code == 0, answer.output
    text = out.read_text()
    seen = inspect_house(out)
    assert seen.house is not None, seen.faults
    assert [room.name for room in seen.house.rooms] == ["study"]
    assert seen.house.rooms[0].sensor.pointer == "/celsius"
    assert seen.house.house.outdoor.topic == "yard/air"
    assert "temperature-like, every 0.1 s, 18.2–18.6" in text
    assert seen.house.rooms[0].heaters == ()
    assert "# A GUESS at its orders: plug/7/set; nobody gave an order while listening" in text
    assert "# NOT READY: nobody saw this plug obey" in text
    assert command("check", str(out)).returncode == 0


def test_a_broker_that_knows_only_the_older_version_is_heard_at_once(embedded: EmbeddedBroker) -> None:
    """Listening begins with what every broker speaks: no half minute of silence before the first word."""
    said = Publisher(embedded.port, five=False)
    over = threading.Event()

    def talk() -> None:
        while not over.wait(0.2):
            said.say("study/air", {"celsius": 18.4})

    thread = threading.Thread(target=talk)
    thread.start()
    try:
        answer = _listen(embedded.port, "--json", seconds=3.0)
    finally:
        over.set()
        thread.join(5)
        said.close()
    assert answer.exit_code == 0, answer.output
    assert [one["topic"] for one in json.loads(answer.stdout)["sensors"]] == ["study/air"]


@pytest.mark.night
def test_a_plug_is_blinked_on_a_broker_that_knows_only_the_older_version(
    embedded: EmbeddedBroker,
) -> None:
    """Orders go by the newer version where the broker has it; the older one's turn is waited for."""
    target = Target("plug/7/set", "true", "false", "plug/7", "/on", "true", "false")
    with StrangersPlug(embedded.port, five=False) as plug:
        seen = blink(Broker(host="127.0.0.1", port=embedded.port), target, 0.5)
        assert seen.proven
        assert not plug.on


def test_orders_that_were_obeyed_are_proposed_ready(
    mosquitto: Mosquitto, talking: Publisher, tmp_path: Path
) -> None:
    """Orders with seconds, given by someone else and obeyed, make a heater with a timer that `check` takes."""
    with StrangersPlug(mosquitto.port) as plug:
        plug.tell_state()

        def orders() -> None:
            for word in ("true 60", "false", "true 90", "false"):
                time.sleep(0.3)
                talking.say("plug/7/set", word)

        thread = threading.Thread(target=orders)
        thread.start()
        out = tmp_path / "new.toml"
        answer = _listen(mosquitto.port, "--out", str(out), seconds=1.9)
        thread.join()
    assert answer.exit_code == 0, answer.output
    seen = inspect_house(out)
    assert seen.house is not None, seen.faults
    heater = seen.house.rooms[0].heaters[0]
    assert heater.plug.tell == "plug/7/set"
    assert heater.plug.timer.payload == "true {seconds}"
    assert heater.plug.draws.pointer == "/watts"
    assert heater.plug.volts.pointer == "/volts"
    assert heater.watts == 541


def test_a_homie_device_end_to_end(mosquitto: Mosquitto, talking: Publisher, tmp_path: Path) -> None:
    """A device of the convention is read from its own description, with its meter, and needs no guess."""
    device = HomieDevice(mosquitto.port)
    try:
        answer = _listen(mosquitto.port, "--json")
        assert answer.exit_code == 0, answer.output
        found = json.loads(answer.stdout)
        plug = next(one for one in found["plugs"] if one["homie"])
        assert plug["settled"]
        assert plug["name"] == "Sewing plug"
        text = _listen(mosquitto.port).output
        assert (
            'plug = { kind = "homie", device = "plug-3", switch = "relay/on", power = "meter/power"' in text
        )
        assert 'timer = "relay/off-after"' in text
        assert "NOT READY: nobody saw relay/off-after end an ON by itself" in text
    finally:
        device.close()


@pytest.mark.night
def test_a_homie_device_is_blinked(mosquitto: Mosquitto, talking: Publisher, tmp_path: Path) -> None:
    """Its off-after is tried too, and then stands in the file; it ends OFF."""
    device = HomieDevice(mosquitto.port)
    try:
        out = tmp_path / "tried.toml"
        assert _listen(mosquitto.port, "--blink", "--out", str(out), typed="y\n1\n").exit_code == 0
        house = inspect_house(out).house
        assert house is not None
        assert house.rooms[0].heaters[0].plug.kind == "homie"
        assert not device.on
    finally:
        device.close()


def test_a_blink_is_asked_for_proves_and_ends_in_off(
    mosquitto: Mosquitto, talking: Publisher, tmp_path: Path
) -> None:
    """A yes tells ON for seconds only, proves orders and timer, and leaves OFF; a no tells nothing."""
    with StrangersPlug(mosquitto.port) as plug:
        plug.tell_state()
        threading.Timer(0.7, plug.tell_state).start()
        words = ("--blink", "--timer", "true {seconds}")
        answer = _listen(mosquitto.port, *words, typed="n\n", seconds=1.5)
        assert "Pull the heater out" in answer.output
        assert "and before that ON for three seconds by its own timer" in answer.output
        assert plug.orders == []
        threading.Timer(0.7, plug.tell_state).start()
        out = tmp_path / "new.toml"
        answer = _listen(mosquitto.port, *words, "--out", str(out), typed="y\n1\n", seconds=1.5)
        assert answer.exit_code == 0, answer.output
        assert "it went on and off as told" in answer.output
        assert "it ends by itself" in answer.output
        assert plug.orders[0].payload == "false"
        assert plug.orders[-1].payload == "false"
        assert "true 3" in [order.payload for order in plug.orders]
        assert not plug.on
    house = inspect_house(out).house
    assert house is not None
    assert house.rooms[0].heaters[0].plug.timer.payload == "true {seconds}"


@pytest.mark.night
def test_killed_while_it_blinks(mosquitto: Mosquitto, talking: Publisher, tmp_path: Path) -> None:
    """kill -9 in the middle of a blink: the broker tells OFF."""
    with StrangersPlug(mosquitto.port) as plug:
        plug.tell_state(retain=True)
        words = ["listen", "--port", str(mosquitto.port), "--minutes", "0.03", "--blink"]
        process = subprocess.Popen([*COMMAND, *words], cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL)  # fmt: skip
        try:
            threading.Timer(1.5, plug.tell_state).start()
            assert process.stdin
            process.stdin.write(b"y\n0\n")
            process.stdin.flush()
            end = time.monotonic() + 12
            while not plug.on and time.monotonic() < end:
                time.sleep(0.02)
            assert plug.on
        finally:
            process.kill()
            process.wait(5)
            process.stdin.close()
        end = time.monotonic() + 3
        while plug.on and time.monotonic() < end:
            time.sleep(0.02)
        assert not plug.on


def test_never_over_a_file(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """A file that is there stays as it is."""
    out = tmp_path / "mine.toml"
    out.write_text("mine")
    answer = _listen(mosquitto.port, "--out", str(out), seconds=1.2)
    assert answer.exit_code == 1
    assert "is there already" in answer.output
    assert out.read_text() == "mine"


def test_nothing_heard_and_no_broker(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """Silence and a missing broker are a sentence and exit code 1; nothing is written."""
    out = tmp_path / "new.toml"
    answer = _listen(mosquitto.port, "--out", str(out), seconds=1.2)
    assert answer.exit_code == 1
    assert "nothing was heard that looks like a room's temperature" in answer.output
    answer = _listen(free_port(), "--out", str(out), seconds=1.5)
    assert answer.exit_code == 1
    assert "Nobody listens at" in answer.output
    assert not out.exists()


def test_hostile_payloads_are_bounded(mosquitto: Mosquitto, talking: Publisher, tmp_path: Path) -> None:
    """10 MB, NaN, deep JSON and a flood of topics change nothing of what is found; what was not read is told."""
    bad = Publisher(mosquitto.port)
    out = tmp_path / "new.toml"

    def attack() -> None:
        time.sleep(0.5)
        bad.say("study/air", b"9" * 10_000_000)
        bad.say("hall/air", b"NaN")
        bad.say("loft/air", b"[" * 15_000)
        bad.say("cellar/air", '{"celsius": 1e999}')
        for number in range(2500):
            bad.client.publish(f"flood/{number}/count", "19")

    attacking = threading.Thread(target=attack)
    attacking.start()
    answer = _listen(mosquitto.port, "--out", str(out), seconds=2.5)
    attacking.join()
    bad.close()
    assert answer.exit_code == 0, answer.output
    assert [room["name"] for room in tomllib.loads(out.read_text())["room"]] == ["study"]
    assert "1 payloads over 16 KiB were not read" in out.read_text()
    assert inspect_house(out).house is not None, inspect_house(out).faults
