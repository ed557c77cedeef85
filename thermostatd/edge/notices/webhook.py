"""One POST to the owner's webhook, and how it ended.

Rules: only to the address in the owner's file: no redirect is followed, no proxy is taken from the
environment; TLS certificates are checked; nothing of the answer is read but its status; the whole of it,
name look-up apart, ends within the timeout; the address is never logged, since it may hold a secret.
"""

from __future__ import annotations

import base64
import http.client
import socket
from contextlib import suppress
from dataclasses import dataclass
from threading import Timer
from urllib.parse import SplitResult, unquote, urlsplit


@dataclass(frozen=True, slots=True)
class Outcome:
    """`sent`, or what was wrong in `fault`, and whether trying again may help."""

    sent: bool
    fault: str = ""
    again: bool = False


class Webhook:
    """The owner's address. ValueError if it is no http or https address with a host."""

    def __init__(self, address: str, timeout_seconds: float = 5.0) -> None:
        parts = urlsplit(address)
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise ValueError('the webhook is no address: write one such as "https://example.org/notices"')
        self.host = parts.hostname
        self._port = parts.port
        self._tls = parts.scheme == "https"
        self._target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
        self._headers = {
            "Content-Type": "application/json",
            "User-Agent": "thermostatd",
            "Connection": "close",
        }
        self._headers |= _authorization(parts)
        self._timeout = timeout_seconds

    def post(self, body: bytes) -> Outcome:
        """Send once; never raises."""
        connection = self._connection()
        # A socket's own timeout starts anew at each byte: a host that dribbles is cut off here.
        cut = Timer(self._timeout, _cut, (connection,))
        cut.daemon = True
        cut.start()
        try:
            connection.request("POST", self._target, body, self._headers)
            return _judged(connection.getresponse().status)
        except (OSError, http.client.HTTPException, ValueError) as fault:
            return Outcome(False, f"{type(fault).__name__}: {fault}", again=not isinstance(fault, ValueError))
        finally:
            cut.cancel()
            connection.close()

    def _connection(self) -> http.client.HTTPConnection:
        kind = http.client.HTTPSConnection if self._tls else http.client.HTTPConnection
        return kind(self.host, self._port, timeout=self._timeout)


def _authorization(parts: SplitResult) -> dict[str, str]:
    if parts.username is None:
        return {}
    pair = f"{unquote(parts.username)}:{unquote(parts.password or '')}"
    return {"Authorization": "Basic " + base64.b64encode(pair.encode()).decode("ascii")}


def _cut(connection: http.client.HTTPConnection) -> None:
    if connection.sock is not None:
        with suppress(OSError):  # it may have ended by itself
            connection.sock.shutdown(socket.SHUT_RDWR)


def _judged(status: int) -> Outcome:
    if 200 <= status < 300:
        return Outcome(True)
    if 300 <= status < 400:
        return Outcome(
            False, f"answered {status}, a redirect, which is not followed: write the final address"
        )
    return Outcome(False, f"answered {status}", again=status >= 500 or status in (408, 429))
