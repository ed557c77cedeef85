"""kill -9, the broker's ways to fail, and what comes back."""

from __future__ import annotations

import http.client
import re
import time
from pathlib import Path

import pytest

from tests.daemon.home import Home, seconds_until
from tests.parts.mosquitto import Mosquitto, free_port, wait_until
from tests.parts.plug import StrangersPlug


def _operations(home: Home) -> float:
    text = home.call("GET", "/metrics")[1]
    found = re.search(r'^thermostatd_relay_operations_total\{heater="study/column"\} (\S+)', text, re.M)
    assert found, text
    return float(found[1])


def test_kill(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """When the daemon is killed the broker tells OFF and alive=false; the next one goes on with request and counts."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on)
    assert home.ask(22.5)[0] == 200
    before, counted = home.house()["rooms"][0]["target"], _operations(home)
    assert counted >= 1
    with broker.listening("thermostatd/alive") as alive:
        assert alive.wait("thermostatd/alive", "true")
        assert plug.on
        killed = time.monotonic()
        home.kill()
        seconds_until(lambda: not plug.on)
        took = time.monotonic() - killed
        print(f"kill to OFF {took:.3f} s")
        assert took < 2
        assert plug.orders[-1].payload == "false"
        assert alive.wait("thermostatd/alive", "false")
        home.start()
        assert alive.wait("thermostatd/alive", "true")
        assert wait_until(lambda: alive.payloads("thermostatd/alive")[-1] == "true")
    assert wait_until(lambda: home.health().get("ok"), 10, 0.1)
    target = home.house()["rooms"][0]["target"]
    assert (target["celsius"], target["whose"]) == (before["celsius"], before["whose"])
    assert target["until"][:16] == before["until"][:16]
    assert _operations(home) >= counted
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on, 6)


def test_acknowledged_survives(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A request that was answered is there after a kill -9 at once."""
    home, asked = Home(tmp_path / "home", broker.port), None
    for celsius in (15.0, 18.0, 21.0, 22.5, None):
        home.start()
        try:
            if asked is not None:
                assert wait_until(lambda: home.house()["decided"], 5, 0.05)
                assert home.house()["rooms"][0]["target"]["celsius"] == asked
            if celsius is not None:
                assert home.ask(celsius)[0] == 200
        finally:
            home.kill()
        asked = celsius


def test_broker_comes_and_goes(tmp_path: Path) -> None:
    """Started without a broker it heats when one comes, and after its kill -9 and return it tells everything anew."""
    port = free_port()
    broker = Mosquitto(tmp_path / "broker", port=port)
    with Home(tmp_path / "home", port) as home:
        assert home.health()["broker"] is False
        broker.start()
        try:
            with StrangersPlug(port) as plug:
                assert wait_until(lambda: home.health()["broker"], 10, 0.1)
                broker.publish("study/air", "18")
                assert wait_until(lambda: plug.on, 12)
                broker.kill()
                assert wait_until(lambda: not home.health()["broker"], 5, 0.1)
                (tmp_path / "broker" / "mosquitto.db").unlink(missing_ok=True)  # it forgets what it retained
                broker.start()
                assert wait_until(lambda: home.health()["broker"], 10, 0.1)
                with broker.listening("thermostatd/#") as heard:
                    assert wait_until(
                        lambda: (
                            {"thermostatd/room/study", "thermostatd/heater/study/column", "thermostatd/alive"}
                            <= {topic for _, topic, _ in heard.heard()}
                        ),
                        5,
                    ), heard.heard()
                assert wait_until(lambda: plug.orders[-1].payload.startswith("true"), 8)
        finally:
            broker.stop()


@pytest.mark.night  # half a minute of waiting for the keepalive (MQTT 3.1.1, 3.1.2.10) to find out
def test_broker_frozen(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """A broker that freezes is said to be away, the pages go on, and a thaw mends it."""
    assert wait_until(lambda: home.health().get("broker"), 10, 0.1)
    broker.freeze()
    frozen = time.monotonic()
    assert wait_until(lambda: home.health().get("broker") is False, 45, 0.2)
    print(f"freeze to broker_up False {time.monotonic() - frozen:.1f} s")
    assert home.house()["broker_up"] is False
    broker.thaw()
    assert wait_until(lambda: home.health().get("broker") is True, 20, 0.2)
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on, 35, 0.1)


def test_stop(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """SIGTERM tells every plug OFF and alive=false, and ends with 0 in ten seconds though a page listens on."""
    broker.publish("study/air", "18")
    assert wait_until(lambda: plug.on)
    line = http.client.HTTPConnection("127.0.0.1", home.pages, timeout=8)
    line.request("GET", "/live")
    answer = line.getresponse()
    assert answer.status == 200
    assert b"retry" in answer.readline()
    with broker.listening("thermostatd/alive") as alive:
        code, took = home.terminate()
        print(f"SIGTERM to end {took:.1f} s")
        assert code == 0, home.log
        assert took < 10
        assert alive.wait("thermostatd/alive", "false")
    assert wait_until(lambda: not plug.on)
    assert plug.orders[-1].payload == "false"
    line.close()
    assert "Traceback" not in home.log, home.log


def test_no_old_on(tmp_path: Path, broker: Mosquitto) -> None:
    """A plug that was away while the daemon died gets no old ON from its session, only OFF."""
    with (
        StrangersPlug(broker.port, session_seconds=3600) as plug,
        Home(tmp_path / "home", broker.port) as home,
    ):
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        plug.offline()
        heard = len(plug.orders)
        home.kill()
        time.sleep(0.3)
        plug.on = False
        plug.online()
        assert wait_until(lambda: len(plug.orders) > heard, 5)
        time.sleep(0.3)
        assert plug.orders[-1].payload == "false"
        assert not plug.on
