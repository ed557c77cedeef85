"""One connection of a phone, and how long and how many of them are borne.

Rules: whoever connects must have asked within ten seconds, and again within ten of each beginning; one address holds
few connections, so that nobody uses up everyone's (a proxy on this machine speaks for many, and is exempt); few are
taken at a time, and each costs the same however many there are, or a flood of them would hold the tick up; what is
refused here is told in words, and logged sparingly.
"""

from __future__ import annotations

import asyncio
import logging
from collections import Counter

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from thermostatd.edge.pages import words
from thermostatd.edge.pages.throttle import Warnings, neighbourhood

HEAD_SECONDS = 10.0
MOST_OF_ONE_ADDRESS = 32
MOST = 120
AT_A_TIME = 32
"""Connections that are taken before anything else has its turn."""
_PROXIES = ("127.0.0.1", "::1")


class Line(H11Protocol):
    """uvicorn's connection, with an end to patience. `line_of` makes the subclass that a house's lines share."""

    warnings: Warnings
    held: Counter[str]
    """Connections that were taken and not lost yet, by address."""
    _taken = False
    _patience: asyncio.TimerHandle | None = None
    address = "nowhere"

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Takes the connection, or tells why not and ends it."""
        super().connection_made(transport)
        self.address = neighbourhood(self.client[0]) if self.client else "nowhere"
        many = self.held[self.address] >= MOST_OF_ONE_ADDRESS and self.address not in _PROXIES
        if many or self.held.total() >= MOST:
            self.warnings.tell(self.address, "too-busy: a connection was refused, from %s", self.address)
            self._end(503, "Service Unavailable", words.TOO_BUSY, "Retry-After: 5\r\n")
            return
        self._taken = True
        self.held[self.address] += 1
        self._patience = self.loop.call_later(HEAD_SECONDS, self._too_slow)

    def data_received(self, data: bytes) -> None:
        """Reads on; the time for a request's head runs from its first byte."""
        if self.transport.is_closing():
            return
        super().data_received(data)
        waits_for_head = self.conn.their_state is h11.IDLE and bool(self.conn.trailing_data[0])
        if not waits_for_head:
            self._calm()
        elif self._patience is None:
            self._patience = self.loop.call_later(HEAD_SECONDS, self._too_slow)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forgets it."""
        self._calm()
        if self._taken:
            self._taken = False
            self.held[self.address] -= 1
            if not self.held[self.address]:
                del self.held[self.address]
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """What is no HTTP is told so."""
        self.warnings.tell(self.address, "not-http: a request could not be read, from %s", self.address)
        if self.cycle is None or self.cycle.response_complete:
            self._end(400, "Bad Request", words.NOT_HTTP)
        else:
            self.transport.close()

    def _too_slow(self) -> None:
        self._patience = None
        self._end(408, "Request Timeout", words.TOO_SLOW)

    def _calm(self) -> None:
        if self._patience is not None:
            self._patience.cancel()
            self._patience = None

    def _end(self, status: int, phrase: str, sentence: str, more: str = "") -> None:
        if self.transport.is_closing():
            return
        body = sentence.encode() + b"\n"
        head = (
            f"HTTP/1.1 {status} {phrase}\r\nContent-Type: text/plain; charset=utf-8\r\nContent-Length: {len(body)}\r\n"
            f"X-Content-Type-Options: nosniff\r\nCache-Control: no-store\r\n{more}Connection: close\r\n\r\n"
        )
        self.transport.write(head.encode() + body)
        self.transport.close()


def line_of(warnings: Warnings) -> type[Line]:
    """The connections of one house's pages."""
    # its own lines about strangers come without end; ours are counted
    logging.getLogger("uvicorn.error").setLevel(logging.ERROR)
    return type("HouseLine", (Line,), {"warnings": warnings, "held": Counter()})
