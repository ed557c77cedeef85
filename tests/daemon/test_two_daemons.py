"""A second daemon on the same house file, with a state folder of its own: by hand, beside the service."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug


def test_two_daemons(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """They end each other's connections: that switches no contact again and again, and is told loudly."""
    homes = [Home(tmp_path / name, broker.port) for name in ("service", "by hand")]
    for home in homes:
        home.file.write_text(home.file.read_text().replace('min_off = "1 s"', 'min_off = "5 min"'))
    first, second = homes

    def told() -> list[dict[str, object]]:
        broker.publish("study/air", "18")
        found = [one for home in homes for one in home.house()["troubles"]]
        return [one for one in found if one["code"] in ("client-id-taken", "link-breaks")]

    with first, broker.listening("thermostatd/trouble/#") as heard:
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on, 10)
        with second:
            began = len(plug.orders)
            assert wait_until(told, 40, 1.0), first.log + second.log
            assert told()[0]["loud"]
            wait_until(lambda: False, 8)
            contact = [True] + [order.payload.startswith("true") for order in plug.orders[began:]]
            assert sum(a != b for a, b in pairwise(contact)) <= 3, contact
            connections = broker.log.count("New client connected")
            wait_until(lambda: False, 5)
            assert broker.log.count("New client connected") <= connections + 2, "both rest"
        assert not plug.on or wait_until(lambda: not plug.on, 5)
        words = [json.loads(payload) for _, _, payload in heard.heard() if payload]
        assert all(word["loud"] for word in words)
    assert wait_until(lambda: not plug.on, 5)
