"""Connections on a real socket: slow ones, many, broken ones, and TLS by the owner's certificate."""

from __future__ import annotations

import contextlib
import http.client
import logging
import socket
import ssl
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.served import Served
from tests.edge.pages.double import Double
from tests.parts.mosquitto import Authority
from thermostatd.core.house.tables import PagesTls
from thermostatd.edge.pages import app as pages_app
from thermostatd.edge.pages import line, serve


@pytest.fixture
def served(house: Double, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    """The pages on a port of their own, with little patience."""
    monkeypatch.setattr(line, "HEAD_SECONDS", 1.5)
    with Served(house) as running:
        yield running


@pytest.fixture
def patient(house: Double) -> Iterator[Served]:
    """The same, with the patience that it really has."""
    with Served(house) as running:
        yield running


def knock(served: Served, address: str = "127.0.0.1") -> socket.socket:
    """A connection from an address of this machine."""
    host, _, port = served.address.partition(":")
    return socket.create_connection((host, int(port)), 5, (address, 0))


def well(connection: socket.socket) -> bool:
    """Whether a whole answer of `/health` comes, in however many pieces."""
    came = b""
    while b"\r\n\r\n{" not in came or not came.endswith(b"}"):
        piece = connection.recv(65536)
        if not piece:
            return False
        came += piece
    return came.startswith(b"HTTP/1.1 200 ")


def rest_of(connection: socket.socket) -> bytes:
    """All that comes until the other end closes."""
    connection.settimeout(5)
    came = b""
    with contextlib.suppress(ConnectionError):
        while piece := connection.recv(65536):
            came += piece
    connection.close()
    return came


@pytest.mark.parametrize(
    "sent", [b"", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"], ids=["nothing", "half a head"]
)
def test_who_says_nothing_is_ended(served: Served, sent: bytes) -> None:
    """A connection that does not ask in time is ended, and told why, however it dribbles on."""
    connection = knock(served)
    began = time.monotonic()
    connection.sendall(sent)
    for _ in range(5):
        time.sleep(0.1)
        if sent:
            connection.sendall(b"X-Slow: 1\r\n")
    answer = rest_of(connection)
    assert time.monotonic() - began < 5.0
    assert answer.startswith(b"HTTP/1.1 408 ")
    assert b"took too long" in answer


def test_a_second_request_must_come_whole_too(served: Served) -> None:
    """Patience is counted anew for each request of a connection; a connection at rest is left alone meanwhile."""
    connection = knock(served)
    connection.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    assert well(connection)
    time.sleep(1.8)
    connection.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    assert well(connection)
    connection.sendall(b"GET /hea")
    assert b" 408 " in rest_of(connection)


def test_one_address_holds_few_connections(patient: Served, caplog: pytest.LogCaptureFixture) -> None:
    """Who opens many is told to wait, once in the log and not a hundred times; another address is served."""
    held = [knock(patient, "127.0.0.66") for _ in range(line.MOST_OF_ONE_ADDRESS)]
    with caplog.at_level(logging.WARNING, "thermostatd.pages"):
        for _ in range(60):
            assert rest_of(knock(patient, "127.0.0.66")).startswith(b"HTTP/1.1 503 ")
    assert 1 <= len([one for one in caplog.records if "too-busy" in one.getMessage()]) <= 12
    other = http.client.HTTPConnection(patient.address, timeout=5, source_address=("127.0.0.67", 0))
    other.request("GET", "/health")
    assert other.getresponse().status == 200
    other.close()
    for one in held:
        one.close()
    with contextlib.closing(knock(patient, "127.0.0.66")) as again:
        again.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert again.recv(65536).startswith(b"HTTP/1.1 200 "), "a place that is free again is given again"


def test_all_together_are_bounded(patient: Served) -> None:
    """However many addresses come, no more connections are held than files can be open for."""
    held = [knock(patient, f"127.0.1.{k // 30 + 1}") for k in range(line.MOST)]
    answer = rest_of(knock(patient, "127.0.2.1"))
    assert answer.startswith(b"HTTP/1.1 503 ")
    assert b"Retry-After" in answer
    assert b"Close other pages" in answer
    for one in held:
        one.close()


@pytest.mark.parametrize(
    "rubbish", [b"\x16\x03\x01\x02\x00\x01", b"GET /\r\n\r\n", b"\x00" * 50 + b"\r\n\r\n"]
)
def test_what_is_no_http_is_told_so(served: Served, rubbish: bytes) -> None:
    """Rubbish is answered in words, and the next is served."""
    connection = knock(served)
    connection.sendall(rubbish + b"\r\n\r\n")
    answer = rest_of(connection)
    assert answer.startswith((b"HTTP/1.1 400 ", b"HTTP/1.1 408 "))
    assert b"Traceback" not in answer
    with contextlib.closing(knock(served)) as again:
        again.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert again.recv(65536).startswith(b"HTTP/1.1 200 ")


def test_a_head_over_16_kib_is_refused(served: Served) -> None:
    """A head without end is cut off, not kept in memory."""
    connection = knock(served)
    with contextlib.suppress(ConnectionError):
        for _ in range(40):
            connection.sendall(b"X-Long: " + b"x" * 1000 + b"\r\n")
    assert rest_of(connection)[:13] in (b"HTTP/1.1 400 ", b""), "answered, or cut while still being sent"


@pytest.fixture
def secured(house: Double, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Served, Path]]:
    """The pages by an owner's certificate, and the authority that signed it."""
    monkeypatch.setattr(pages_app, "HANDSHAKE_SECONDS", 0.7)
    authority = Authority(tmp_path)
    running = Served(house, tls=True)
    own = PagesTls(cert=str(authority.cert), key=str(authority.key))
    running.server = serve(running.server.config.app, running.address, own)
    with running:
        yield running, authority.ca


def by_tls(served: Served, ca: Path) -> http.client.HTTPSConnection:
    """A browser that checks the certificate."""
    return http.client.HTTPSConnection(
        served.address, timeout=5, context=ssl.create_default_context(cafile=str(ca))
    )


def test_tls_by_the_owners_certificate(secured: tuple[Served, Path]) -> None:
    """A client that checks certificates is served over TLS 1.2 or newer, and told to stay with it (ASVS 12.2.1)."""
    served, ca = secured
    browser = by_tls(served, ca)
    browser.request("GET", "/join")
    answer = browser.getresponse()
    assert answer.status == 200
    assert answer.headers["strict-transport-security"] == "max-age=31536000"
    assert isinstance(browser.sock, ssl.SSLSocket)
    assert browser.sock.version() in ("TLSv1.2", "TLSv1.3")
    form = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"https://{served.address}"}
    browser.request("POST", "/degrees", "unit=F", form)
    answer.read()
    told = browser.getresponse().headers["set-cookie"]
    assert told.startswith("__Host-degrees=F")
    assert "Secure" in told
    browser.close()


def test_old_tls_and_no_tls_are_refused(secured: tuple[Served, Path]) -> None:
    """TLS 1.1 is not spoken (RFC 8996; ASVS 12.1.1), nor plain HTTP on the same port."""
    served, _ = secured
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    old.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1"):
        old.minimum_version, old.maximum_version = ssl.TLSVersion.TLSv1, ssl.TLSVersion.TLSv1_1
    with pytest.raises((ssl.SSLError, ConnectionError)), knock(served) as plain:
        old.wrap_socket(plain)
    connection = knock(served)
    connection.sendall(b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    assert b"200" not in rest_of(connection)


def test_greetings_that_never_end_hold_nobody_up(secured: tuple[Served, Path]) -> None:
    """Two hundred half TLS greetings are ended soon, and a phone is served meanwhile."""
    served, ca = secured
    held = [knock(served, "127.0.0.66") for _ in range(200)]
    browser = by_tls(served, ca)
    browser.request("GET", "/health")
    assert browser.getresponse().status == 200
    browser.close()
    began = time.monotonic()
    assert all(not rest_of(one) for one in held)
    assert time.monotonic() - began < 4.0
