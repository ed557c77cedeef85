"""A broker inside the process, for trying things out: `[broker] serve = true`.

Rules: loopback only, since it lets anyone in; MQTT 3.1.1; it keeps nothing over a restart and never
notices a frozen client. A home wants a real broker.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import threading
from ipaddress import ip_address
from typing import Any

START_SECONDS = 15.0


class EmbeddedBrokerError(RuntimeError):
    """The embedded broker cannot run, and what to do about it."""


class EmbeddedBroker:
    """An amqtt broker on its own thread and event loop. Port 0 picks a free one; `port` tells which."""

    def __init__(self, host: str = "127.0.0.1", port: int = 1883) -> None:
        self.host, self.port = _loopback(host), port
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop: asyncio.Event | None = None
        self._ready = threading.Event()
        self._fault: BaseException | None = None

    def start(self) -> None:
        """Start it and wait until it takes connections. Raises EmbeddedBrokerError if it cannot."""
        self.port = _free(self.host, self.port)
        for name in ("amqtt", "transitions"):
            logging.getLogger(name).setLevel(logging.CRITICAL)
        self._ready.clear()
        self._thread = threading.Thread(target=self._run, name="embedded broker", daemon=True)
        self._thread.start()
        if not self._ready.wait(START_SECONDS):
            raise EmbeddedBrokerError(f"The embedded broker did not start within {START_SECONDS:g} s.")
        if self._fault is not None:
            raise EmbeddedBrokerError(f"The embedded broker did not start: {self._fault}") from self._fault

    def stop(self) -> None:
        """End it and wait for its thread."""
        if self._thread is None:
            return
        if self._loop is not None and self._stop is not None and self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._stop.set)
        self._thread.join(10)
        self._thread = None

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except Exception as fault:
            self._fault = fault
        finally:
            self._ready.set()

    async def _serve(self) -> None:
        from amqtt.broker import Broker  # 0.3 s to import, and needed by few

        self._loop, self._stop = asyncio.get_running_loop(), asyncio.Event()
        self._loop.set_exception_handler(_ignore)
        broker = Broker(_config(self.host, self.port))
        await broker.start()
        self._ready.set()
        await self._stop.wait()
        await broker.shutdown()


def _config(host: str, port: int) -> dict[str, Any]:
    place = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
    return {
        "listeners": {"default": {"type": "tcp", "bind": place}},
        "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
    }


def _loopback(host: str) -> str:
    address = "127.0.0.1" if host == "localhost" else host
    try:
        if ip_address(address).is_loopback:
            return address
    except ValueError:
        pass
    raise EmbeddedBrokerError(
        f'[broker] serve = true lets anyone in, so it listens on this machine only, not on "{host}": '
        'write host = "127.0.0.1", or run a broker with passwords.'
    )


def _free(host: str, port: int) -> int:
    """The port, or a free one for 0. Raises EmbeddedBrokerError where it is taken."""
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as fault:
            raise EmbeddedBrokerError(
                f"Port {port} on {host} is taken: another broker runs there. "
                "Set [broker] port to another one, or use that broker with serve = false."
            ) from fault
        return int(probe.getsockname()[1])


def _ignore(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """A client that drops its connection in mid-word is no news."""
