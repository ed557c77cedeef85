"""Troubles reach a real web server once each, and no server, however bad, reaches the tick."""

from __future__ import annotations

import contextlib
import json
import logging
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest

from thermostatd.core.house import House
from thermostatd.core.house import Notices as NoticesTable
from thermostatd.core.results import Trouble
from thermostatd.edge.notices import Notices

SINCE = datetime(2026, 1, 15, 12, 0, tzinfo=UTC)  # invented


class Owner(ThreadingHTTPServer):
    """The owner's web server on loopback: answers with the statuses it is given, then 204."""

    daemon_threads = True

    def __init__(self, port: int = 0) -> None:
        super().__init__(("127.0.0.1", port), Handler)
        self.statuses: list[int] = []
        self.heard: list[tuple[str, dict[str, Any]]] = []
        self.headers_heard: list[dict[str, str]] = []
        self.slow_seconds = 0.0
        self.dribble = False
        self.came = threading.Condition()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/hook?key=secret-word"

    def wait_for(self, count: int, seconds: float = 5.0) -> list[dict[str, Any]]:
        """What was heard once `count` posts came."""
        with self.came:
            assert self.came.wait_for(lambda: len(self.heard) >= count, seconds), self.heard
            return [body for _, body in self.heard]


class Handler(BaseHTTPRequestHandler):
    server: Owner

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        with self.server.came:
            self.server.heard.append((self.path, body))
            self.server.headers_heard.append(dict(self.headers))
            status = self.server.statuses.pop(0) if self.server.statuses else 204
            self.server.came.notify_all()
        if self.server.dribble:
            self._dribble()
            return
        time.sleep(self.server.slow_seconds)
        self.send_response(status)
        if 300 <= status < 400:
            self.send_header("Location", f"http://127.0.0.1:{self.server.server_address[1]}/elsewhere")
        self.send_header("Content-Length", "0")
        self.end_headers()

    do_GET = do_POST

    def _dribble(self) -> None:
        try:
            for _ in range(100):
                self.wfile.write(b"H")
                time.sleep(0.05)
        except OSError:
            return

    def log_message(self, *words: object) -> None:
        return


@contextlib.contextmanager
def serving(server: Owner) -> Iterator[Owner]:
    """The owner's server is up."""
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture
def owner() -> Iterator[Owner]:
    with serving(Owner()) as server:
        yield server


Made = Callable[..., Notices]


@pytest.fixture
def made() -> Iterator[Made]:
    """Makes notices with short waits, and closes them."""
    all_made: list[Notices] = []

    def make(address: str | None, **how: Any) -> Notices:
        house = House(notices=NoticesTable(webhook=address) if address else None)
        all_made.append(Notices(house, **{"timeout_seconds": 1.0, "waits_seconds": (0.02, 0.04, 0.08)} | how))
        return all_made[-1]

    yield make
    for notices in all_made:
        notices.close(0.2)


def trouble(name: str, evidence: str = "12 W while off") -> Trouble:
    """An invented trouble."""
    return Trouble(
        name, "drawing-while-off", f"{name} draws while off", evidence, "Pull the plug out.", SINCE
    )


def test_begin_and_end_are_told_once(owner: Owner, made: Made) -> None:
    """A trouble is told when it begins and when it ends, not while it lasts, and again when it comes back."""
    notices = made(owner.address)
    for troubles in (
        [trouble("a")],
        [trouble("a", "13 W while off")],
        [trouble("a"), trouble("b")],
        [trouble("b")],
    ):
        notices.tell(troubles)
    notices.tell([trouble("a"), trouble("b")])
    heard = owner.wait_for(4)
    notices.close()
    assert [(body["what"][0], body["ended"]) for body in heard] == [
        ("a", False),
        ("b", False),
        ("a", True),
        ("a", False),
    ]
    assert len(owner.heard) == 4
    assert heard[0] == {
        "what": "a draws while off",
        "since": "2026-01-15T12:00:00+00:00",
        "evidence": "12 W while off",
        "what_to_do": "Pull the plug out.",
        "ended": False,
    }
    assert owner.heard[0][0] == "/hook?key=secret-word"
    assert owner.headers_heard[0]["Content-Type"] == "application/json"


def test_a_slow_server_never_holds_the_tick(owner: Owner, made: Made) -> None:
    """While the server takes its time, telling takes milliseconds, and what waits is bounded: the oldest goes."""
    owner.slow_seconds = 0.3
    notices = made(owner.address, most_waiting=4)
    began = time.monotonic()
    for number in range(50):
        notices.tell([trouble(f"{number:02d}")])
    assert time.monotonic() - began < 0.25
    assert notices.dropped > 0
    owner.slow_seconds = 0.0
    heard = owner.wait_for(5)
    assert heard[-1]["what"].startswith("49")


def test_a_server_that_dribbles_is_cut_off(owner: Owner, made: Made) -> None:
    """An answer that comes byte by byte does not outlast the timeout."""
    owner.dribble = True
    notices = made(owner.address, timeout_seconds=0.2, waits_seconds=())
    notices.tell([trouble("a")])
    owner.wait_for(1)
    began = time.monotonic()
    while not notices.failing and time.monotonic() - began < 3.0:
        time.sleep(0.02)
    assert notices.failing
    assert time.monotonic() - began < 1.0


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_no_redirect_is_followed(
    owner: Owner, made: Made, caplog: pytest.LogCaptureFixture, status: int
) -> None:
    """A redirect is a fault that is logged, followed nowhere and not tried again."""
    owner.statuses = [status]
    notices = made(owner.address)
    with caplog.at_level(logging.WARNING):
        notices.tell([trouble("a")])
        owner.wait_for(1)
        notices.close()
    assert [path for path, _ in owner.heard] == ["/hook?key=secret-word"]
    assert "redirect" in caplog.text
    assert "secret-word" not in caplog.text


def test_failures_are_tried_again_and_logged_once(
    owner: Owner, made: Made, caplog: pytest.LogCaptureFixture
) -> None:
    """A failing server is tried four times a notice, logged once however often it fails, and once when it recovers."""
    owner.statuses = [500] * 8
    notices = made(owner.address)
    with caplog.at_level(logging.INFO):
        notices.tell([trouble("a")])
        notices.tell([trouble("a"), trouble("b")])
        owner.wait_for(8)
        notices.tell([])
        heard = owner.wait_for(10)
        notices.close()
    assert [body["what"][0] for body in heard[:8]] == ["a"] * 4 + ["b"] * 4
    assert [record.levelname for record in caplog.records] == ["WARNING", "INFO"]
    assert not notices.failing


def test_recovery_within_the_tries(owner: Owner, made: Made, caplog: pytest.LogCaptureFixture) -> None:
    """A server that takes the third try has the notice once, and nothing is logged."""
    owner.statuses = [503, 429]
    notices = made(owner.address)
    notices.tell([trouble("a")])
    owner.wait_for(3)
    notices.close()
    assert len(owner.heard) == 3
    assert caplog.records == []


def test_nobody_listens(owner: Owner, made: Made, caplog: pytest.LogCaptureFixture) -> None:
    """A refused connection raises nothing into the tick and is logged once, without the address's secret."""
    address = owner.address
    owner.shutdown()
    owner.server_close()
    notices = made(address)
    for number in range(3):
        notices.tell([trouble(str(number))])
    notices.close(5.0)
    assert len(caplog.records) == 1
    assert "127.0.0.1" in caplog.text
    assert "secret-word" not in caplog.text


def test_no_webhook_no_thread(made: Made) -> None:
    """A house without a webhook tells nobody and starts nothing."""
    before = set(threading.enumerate())  # one of an earlier test may still end meanwhile
    notices = made(None)
    notices.tell([trouble("a")])
    assert set(threading.enumerate()) <= before


def test_proxies_of_the_environment_are_not_taken(
    owner: Owner, made: Made, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A proxy named in the environment does not get the household's troubles."""
    monkeypatch.setenv("http_proxy", "http://127.0.0.1:9/")
    made(owner.address).tell([trouble("a")])
    assert owner.wait_for(1)[0]["what"].startswith("a")
