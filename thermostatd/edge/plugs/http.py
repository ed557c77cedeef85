"""A plug that takes HTTP requests on the home network.

Rules: only the addresses in the owner's file: no redirect is followed, no proxy taken from the environment; a
request ends within its timeout as a whole; of an answer 16 KiB are read; a timed ON names its seconds.
"""

from __future__ import annotations

import base64
import http.client
import socket
from contextlib import suppress
from threading import Timer
from urllib.parse import unquote, urlsplit

from thermostatd.core.house import HttpPlug as Description
from thermostatd.core.house.plug_kinds import Call
from thermostatd.core.values import PlugReport
from thermostatd.edge.broker_payload import LARGEST_PAYLOAD_BYTES
from thermostatd.edge.plugs.answers import report_from
from thermostatd.edge.plugs.errands import ErrandError


class HttpSwitch:
    """The requests of one plug."""

    def __init__(self, plug: Description) -> None:
        self._plug = plug

    def on(self, seconds: int) -> None:
        """The timed request, else the plain one."""
        if self._plug.timer is None:
            call(self._plug.on, self._plug.timeout)
        else:
            call(self._plug.timer, self._plug.timeout, str(seconds))

    def off(self) -> None:
        """The request for OFF."""
        call(self._plug.off, self._plug.timeout)

    def state(self) -> PlugReport | None:
        """Its answer, read."""
        if self._plug.state is None:
            return None
        return report_from(call(self._plug.state, self._plug.timeout), self._plug)


def call(said: Call, timeout_seconds: float, seconds: str = "{seconds}") -> bytes:
    """One request; the answer's body. ErrandError where it failed, without its address: that may hold a secret."""
    parts = urlsplit(said.url.replace("{seconds}", seconds))
    kind = http.client.HTTPSConnection if parts.scheme == "https" else http.client.HTTPConnection
    line = kind(parts.hostname or "", parts.port, timeout=timeout_seconds)
    cut = Timer(timeout_seconds, _cut, (line,))
    cut.daemon = True
    cut.start()
    try:
        target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        line.request(said.method, target, said.body.replace("{seconds}", seconds).encode(), _headers(said))
        answer = line.getresponse()
        body = answer.read(LARGEST_PAYLOAD_BYTES + 1)
    except (OSError, http.client.HTTPException, ValueError) as fault:
        raise ErrandError(f"{type(fault).__name__} at {parts.hostname}") from fault
    finally:
        cut.cancel()
        line.close()
    if not 200 <= answer.status < 300:
        raise ErrandError(f"{parts.hostname} answered {answer.status}")
    return body


def _headers(said: Call) -> dict[str, str]:
    parts = urlsplit(said.url)
    headers = {"User-Agent": "thermostatd", "Connection": "close"}
    if said.body:
        headers["Content-Type"] = said.content_type
    if parts.username is not None:
        pair = f"{unquote(parts.username)}:{unquote(parts.password or '')}"
        headers["Authorization"] = "Basic " + base64.b64encode(pair.encode()).decode("ascii")
    return headers


def _cut(line: http.client.HTTPConnection) -> None:
    if line.sock is not None:
        with suppress(OSError):  # it may have ended by itself
            line.sock.shutdown(socket.SHUT_RDWR)
