"""deploy/'s example for nginx, as it stands, on a real nginx before a real daemon (night: nginx-light)."""

from __future__ import annotations

import http.client
import re
import shutil
import ssl
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.daemon.home import Home
from tests.parts import fixtures
from tests.parts.mosquitto import Authority, Mosquitto, free_port, wait_until

pytestmark = [pytest.mark.night, pytest.mark.timeout(180)]
EXAMPLE = Path(__file__).parents[2] / "deploy" / "reverse-proxy.nginx.conf"
NAME = "heating.example.org"
broker = fixtures.broker


class Proxy:
    """nginx with the example, its marked places changed, on free ports of loopback."""

    def __init__(self, folder: Path, pages: int) -> None:
        self.folder, self.tls, self.plain = folder, free_port(), free_port()
        self.authority = Authority(folder)
        text = EXAMPLE.read_text()
        assert text.count("# change") == 5
        text = text.replace("listen 443 ssl", f"listen 127.0.0.1:{self.tls} ssl")
        text = text.replace("listen 80;", f"listen 127.0.0.1:{self.plain};")
        text = text.replace("http://127.0.0.1:8420", f"http://127.0.0.1:{pages}")
        text = re.sub(r"ssl_certificate  .*;", f"ssl_certificate {self.authority.cert};", text)
        text = re.sub(r"ssl_certificate_key .*;", f"ssl_certificate_key {self.authority.key};", text)
        (folder / "site.conf").write_text(text)
        whole = f"pid {folder}/pid;\nerror_log {folder}/error.log;\ndaemon off;\nworker_processes 1;\nuser root;\n"
        whole += f"events {{}}\nhttp {{ access_log off; include {folder}/site.conf; }}\n"
        (folder / "nginx.conf").write_text(whole)
        program = shutil.which("nginx")
        assert program, "nginx is not installed: apt-get install nginx-light"
        self.command = [program, "-p", str(folder), "-c", str(folder / "nginx.conf")]

    def __enter__(self) -> Proxy:
        subprocess.run([*self.command, "-t"], check=True, capture_output=True)
        self.process = subprocess.Popen(self.command, stderr=subprocess.DEVNULL)
        assert wait_until(lambda: self.answers(), 10)
        return self

    def __exit__(self, *_: object) -> None:
        self.process.terminate()
        self.process.wait(10)

    def answers(self) -> bool:
        """Whether it is there."""
        try:
            return self.call("GET", "/health")[0] > 0
        except OSError:
            return False

    def call(self, method: str, path: str, body: str | None = None, **headers: str) -> tuple[int, str, Any]:
        """As a phone that checks certificates."""
        trusting = ssl.create_default_context(cafile=str(self.authority.ca))
        line = http.client.HTTPSConnection("localhost", self.tls, timeout=8, context=trusting)
        sent = {"Host": NAME, "Origin": f"https://{NAME}"} | {
            k.replace("_", "-"): v for k, v in headers.items()
        }
        if body is not None:
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            line.request(method, path, body, sent)
            answer = line.getresponse()
            return answer.status, answer.read().decode(), answer.headers
        finally:
            line.close()


@pytest.fixture
def home(tmp_path: Path, broker: Mosquitto) -> Iterator[Home]:
    made = Home(tmp_path / "home", broker.port, open_pages=False)
    made.file.write_text(made.file.read_text().replace("open = false", f'hosts = ["{NAME}"]'))
    with made as running:
        yield running


@pytest.fixture
def proxy(tmp_path: Path, home: Home) -> Iterator[Proxy]:
    folder = tmp_path / "nginx"
    folder.mkdir()
    with Proxy(folder, home.pages) as running:
        yield running


def code_of(home: Home) -> str:
    """A code, as `thermostatd join` shows it."""
    said = home.say("join", str(home.file))
    found = re.search(r"\b(\d{4}) (\d{4})\b", said.stdout)
    assert found, said.stdout + said.stderr
    return found[1] + found[2]


def test_a_phone_joins_and_asks_through_it(home: Home, proxy: Proxy) -> None:
    """Over TLS a phone joins by its code, its cookie is for TLS alone, it asks, and hears live changes at once."""
    status, _, headers = proxy.call("POST", "/join", f"code={code_of(home)}&name=Ana")
    assert status == 303
    cookie = headers["set-cookie"]
    for word in ("Secure", "HttpOnly", "SameSite=Strict"):
        assert word.lower() in cookie.lower(), cookie
    assert headers["strict-transport-security"] == "max-age=31536000"
    token = cookie.partition(";")[0]
    assert proxy.call("GET", "/", Cookie=token)[0] == 200
    trusting = ssl.create_default_context(cafile=str(proxy.authority.ca))
    live = http.client.HTTPSConnection("localhost", proxy.tls, timeout=8, context=trusting)
    live.request("GET", "/live", headers={"Host": NAME, "Cookie": token})
    stream = live.getresponse()
    assert b"retry" in stream.readline()
    began = time.monotonic()
    assert proxy.call("POST", "/ask", "room=study&degrees=21&until=no-end", Cookie=token)[0] == 303
    while b"event: change" not in stream.readline():
        assert time.monotonic() - began < 5
    live.close()
    assert home.call("GET", "/api/house", None, {"Cookie": token})[1]["rooms"][0]["target"]["celsius"] == 21.0


def test_nobody_else_gets_further(home: Home, proxy: Proxy) -> None:
    """A stranger, another site's form, another name, and a body that is too large are refused; HTTP leads to TLS."""
    assert proxy.call("GET", "/api/house")[0] == 403
    assert proxy.call("POST", "/all-off", "", Origin="https://evil.example")[0] == 403
    assert proxy.call("GET", "/join", Host="evil.example")[0] == 421
    assert proxy.call("POST", "/join", "x" * 20_000)[0] == 413
    line = http.client.HTTPConnection("127.0.0.1", proxy.plain, timeout=8)
    line.request("GET", "/join", headers={"Host": NAME})
    answer = line.getresponse()
    assert (answer.status, answer.headers["location"]) == (301, f"https://{NAME}/join")
    line.close()


def test_a_guesser_behind_it_locks_nobody_out(home: Home, proxy: Proxy) -> None:
    """Guesses count by the address that the proxy saw, whatever address a guesser writes itself."""
    told = [
        proxy.call("POST", "/join", f"code={k:08d}&name=x", X_Forwarded_For=f"192.0.2.{k}")[0]
        for k in range(7)
    ]
    assert told == [403] * 5 + [429] * 2
    form = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"http://127.0.0.1:{home.pages}"}
    other = form | {"X-Forwarded-For": "127.0.0.1, 192.0.2.77"}
    assert home.call("POST", "/join", f"code={code_of(home)}&name=Bo", other)[0] == 303


def test_open_stays_shut_behind_it(home: Home, proxy: Proxy) -> None:
    """`open` is refused to whoever comes through the proxy, in words that say why."""
    home.terminate()
    home.file.write_text(home.file.read_text().replace("hosts =", "open = true\nhosts ="))
    home.start()
    assert home.house()["rooms"]
    status, said, _ = proxy.call("GET", "/api/house")
    assert status == 403
    assert "through a proxy" in said
