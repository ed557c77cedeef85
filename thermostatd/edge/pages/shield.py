"""What every answer and every request passes, whoever sends it.

Rules: the Host must be one of ours (a name that someone else's DNS points here is not); a POST comes from our own
pages (Origin, else Referer) or carries JSON, which a foreign page cannot send; bodies are small and whole; every
answer carries the policy headers, and only files that are the same for every house may be kept.
"""

from __future__ import annotations

import asyncio
import logging
import socket
from collections.abc import Callable, Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from thermostatd.edge.pages import words
from thermostatd.edge.pages.throttle import Warnings

log = logging.getLogger("thermostatd.pages")
Answered = Callable[[Scope, int, str, str], ASGIApp]
"""Makes an error's answer: the request's scope, status, code, sentence."""
BODY_BYTES = 16 * 1024
BODY_SECONDS = 10.0
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    # not "no-referrer": with that, browsers send "Origin: null" with our own forms
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}


def own_hosts(listen: str, hosts: Iterable[str]) -> frozenset[str]:
    """The names this machine answers to, lower case, without ports."""
    machine = socket.gethostname().lower()
    names = {"localhost", "127.0.0.1", "::1", machine, machine.split(".")[0] + ".local", host_of(listen)}
    names |= {host_of(name) if not name.count(":") > 1 else name.lower() for name in hosts}
    return frozenset(names - {"0.0.0.0", "::", ""})


def host_of(netloc: str) -> str:
    """ "quay.local" of "quay.local:8420", "::1" of "[::1]:8420"; empty where it is no host."""
    try:
        return (urlsplit(f"//{netloc}").hostname or "").lower()
    except ValueError:
        return ""


class Shield:
    """ASGI middleware: Host, Origin, body, headers; what breaks further in is answered here, and logged once."""

    def __init__(
        self, app: ASGIApp, hosts: frozenset[str], tls: bool, answered: Answered, warnings: Warnings
    ) -> None:
        self._app, self._hosts, self._tls = app, hosts, tls
        self._answered, self._warnings = answered, warnings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Passes the request on, or answers it with a refusal."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        started = False
        outside = self._with_headers(scope, send)

        async def sending(message: Message) -> None:
            nonlocal started
            started = True
            await outside(message)

        try:
            await self._checked(scope, receive, sending)
        except Exception as fault:
            log.error("broken: %s %.100r failed", scope["method"], scope["path"], exc_info=fault)
            if started:  # half an answer cannot be mended: the connection ends
                raise
            await self._answered(scope, 500, "broken", words.BROKEN)(scope, receive, sending)

    async def _checked(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        if not self._host_is_ours(scope, headers):
            await self._refuse(scope, receive, send, 421, "wrong-host", words.WRONG_HOST)
        elif scope["method"] not in ("GET", "HEAD", "OPTIONS") and not self._from_our_pages(headers):
            await self._refuse(scope, receive, send, 403, "wrong-origin", words.WRONG_ORIGIN)
        else:
            await self._with_body(scope, receive, send)

    async def _refuse(
        self, scope: Scope, receive: Receive, send: Send, status: int, code: str, sentence: str
    ) -> None:
        where = scope["client"][0] if scope.get("client") else "nowhere"
        self._warnings.tell(
            where, "%s: %s %.60r refused, from %s", code, scope["method"], scope["path"], where
        )
        await self._answered(scope, status, code, sentence)(scope, receive, send)

    async def _with_body(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Reads the whole body first, so that no handler waits for a slow or endless one."""
        if scope["method"] in ("GET", "HEAD"):
            await self._app(scope, receive, send)
            return
        try:
            body = await asyncio.wait_for(_whole(receive), BODY_SECONDS)
        except TimeoutError:
            await self._refuse(scope, receive, send, 408, "too-slow", words.TOO_SLOW)
            return
        if body is None:
            await self._refuse(scope, receive, send, 413, "too-large", words.TOO_LARGE)
            return
        await self._app(scope, _replay(body, receive), send)

    def _host_is_ours(self, scope: Scope, headers: Headers) -> bool:
        host = host_of(headers.get("host", ""))
        server = scope.get("server")
        return bool(host) and (host in self._hosts or (server is not None and host == str(server[0]).lower()))

    def _from_our_pages(self, headers: Headers) -> bool:
        origin = headers.get("origin") or headers.get("referer")
        if origin is None:
            return headers.get("content-type", "").split(";")[0].strip().lower() == "application/json"
        try:
            netloc = urlsplit(origin).netloc.lower()
        except ValueError:
            return False
        # the same port too: another program on this machine is another origin
        return bool(netloc) and netloc == headers.get("host", "").lower()

    def _with_headers(self, scope: Scope, send: Send) -> Send:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in _HEADERS.items():
                    headers[name] = value
                headers.setdefault("cache-control", "no-store")
                if self._tls:
                    headers["strict-transport-security"] = "max-age=31536000"
            await send(message)

        return sending


async def _whole(receive: Receive) -> bytes | None:
    body: bytes = b""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return b""
        body += bytes(message.get("body", b""))
        if len(body) > BODY_BYTES:
            return None
        if not message.get("more_body"):
            return body


def _replay(body: bytes, receive: Receive) -> Receive:
    told = False

    async def replaying() -> Message:
        nonlocal told
        if told:
            return await receive()
        told = True
        return {"type": "http.request", "body": body, "more_body": False}

    return replaying
