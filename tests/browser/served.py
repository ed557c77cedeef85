"""The pages on a real port, over the double's house, in a thread with its own loop."""

from __future__ import annotations

import asyncio
import socket
import threading
import time
from collections.abc import Callable
from typing import Any, TypeVar

from tests.edge.pages.double import Double
from thermostatd.edge.pages import create_app, serve

T = TypeVar("T")


class Served:
    """A running server. `call` runs something in its loop, where the house lives."""

    def __init__(self, double: Double, **settings: Any) -> None:
        self.double = double
        double.ended = False
        self.socket = socket.socket()
        self.socket.bind(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{self.socket.getsockname()[1]}"
        settings.setdefault("open", True)
        self.app = create_app(double, now=time.monotonic, listen=self.address, **settings)
        self.server = serve(self.app, self.address)
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://{self.address}"

    def _run(self) -> None:
        self.loop.run_until_complete(self.server.serve(sockets=[self.socket]))
        # what the end of a process does by itself
        for connection in list(self.server.server_state.connections):
            connection.transport.abort()  # type: ignore[union-attr]
        self.loop.run_until_complete(asyncio.sleep(0.05))
        self.loop.close()

    def __enter__(self) -> Served:
        self._thread.start()
        while not self.server.started:
            time.sleep(0.01)
        return self

    def __exit__(self, *_: object) -> None:
        self.call(self.double.end)
        self.server.should_exit = True
        self._thread.join(10)
        self.socket.close()

    def call(self, work: Callable[[], T]) -> T:
        """Runs `work` in the server's loop and returns what it gives."""
        done: list[T] = []
        rung = threading.Event()

        def run() -> None:
            done.append(work())
            rung.set()

        self.loop.call_soon_threadsafe(run)
        assert rung.wait(5)
        return done[0]
