"""Troubles are told everywhere, and untold when they end."""

from __future__ import annotations

import html
import json
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

STALE = "thermostatd/trouble/an old one"


@pytest.fixture
def posted() -> Iterator[tuple[int, list[dict]]]:
    """A webhook of someone's own: its port, and what was posted to it."""
    bodies: list[dict] = []

    class Hook(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            bodies.append(json.loads(self.rfile.read(int(self.headers["content-length"]))))
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Says nothing."""

    server = HTTPServer(("127.0.0.1", 0), Hook)
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    yield server.server_port, bodies
    server.shutdown()
    thread.join()
    server.server_close()


def test_silent_sensor(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug, posted) -> None:
    """A silent sensor is told on the broker, to the webhook and by the API, and untold when it speaks again."""
    port, bodies = posted
    broker.publish(STALE, '{"what": "of an earlier life"}', retain=True)
    home = Home(
        tmp_path / "home",
        broker.port,
        sensor_more=', stale_after = "10 s"',
        more=f'[notices]\nwebhook = "http://127.0.0.1:{port}/told"',
    )
    with broker.listening("thermostatd/trouble/#") as heard, home:
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        assert wait_until(lambda: not plug.on, 14, 0.1), "no reading, no heat"
        assert wait_until(lambda: any(topic != STALE for _, topic, _ in heard.heard()))
        topic, payload = next((t, p) for _, t, p in heard.heard() if t != STALE)
        told = json.loads(payload)
        assert set(told) >= {"what", "since", "evidence", "what to do"}
        assert topic.startswith("thermostatd/trouble/study/")
        assert told["evidence"]
        assert told["what to do"]
        assert wait_until(
            lambda: any("study" in body["what"] and told["what"] in body["what"] for body in bodies)
        )
        assert not bodies[0]["ended"]
        troubles = home.house()["troubles"]
        assert [trouble["code"] for trouble in troubles] == ["reading-missing"]
        assert troubles[0]["what"] in html.unescape(home.call("GET", "/")[1])
        assert wait_until(lambda: heard.payloads(STALE)[-1:] == [""]), "a trouble of an earlier life is emptied"

        broker.publish("study/air", "18.1")
        assert heard.wait(topic, "")
        assert wait_until(lambda: any(body["ended"] for body in bodies))
        assert home.house()["troubles"] == []
    with broker.listening("thermostatd/trouble/#") as later:
        assert later.heard() == []
