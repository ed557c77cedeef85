"""The daemon over TLS with a password from a file, and over a link that keeps breaking."""

from __future__ import annotations

import time
from pathlib import Path

from tests.daemon.home import Home, seconds_until
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.proxy import Proxy


def test_tls_and_a_password(tmp_path: Path) -> None:
    """Over TLS, with user and password from the house file, a cold reading switches the plug on."""
    with Mosquitto(tmp_path / "broker", users={"house": "a long secret"}, tls=True) as broker:
        secret = broker.password_file("a long secret")
        more = f'user = "house"\npassword_file = "{secret}"\ntls = {{ ca = "{broker.ca}" }}'
        with Home(tmp_path / "home", broker.port, broker_more=more) as home, broker.listening("plug/7/set") as told:
            assert wait_until(lambda: home.health().get("broker"), 10)
            broker.publish("plug/7", '{"on": false, "watts": 0}')
            broker.publish("study/air", "17.0")
            assert wait_until(lambda: any(p.startswith("true ") for p in told.payloads("plug/7/set")), 8)
            assert "a long secret" not in home.log


def test_a_flapping_link(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A link that is reset twice leaves no press and no stale order, and the house heats on afterwards; one that is
    reset again and again rests, with every plug OFF, and is told."""
    with Proxy(broker.port) as link, Home(tmp_path / "home", link.port) as home:
        broker.publish("study/air", "17.0")
        seconds_until(lambda: plug.on)
        for _ in range(2):
            link.reset()
            time.sleep(1.5)
        broker.publish("study/air", "17.0")
        assert wait_until(lambda: home.health().get("ok") is True, 20)
        broker.publish("study/air", "17.1")
        assert wait_until(lambda: plug.on, 10)
        assert "pressed-off" not in home.log
        broker.publish("study/air", "22.0")
        assert wait_until(lambda: not plug.on, 5)
        broker.publish("study/air", "17.0")
        assert wait_until(lambda: plug.on, 10)
        for _ in range(2):
            link.reset()
            time.sleep(1.5)
        assert wait_until(lambda: any(one["code"] == "link-breaks" for one in home.house()["troubles"]), 5)
        assert not wait_until(lambda: plug.on, 5)
