"""The real daemon as a child process, in an invented house of one room, beside a real broker.

Rules: ports are picked free; the tick is one second; whoever starts a daemon ends it; what it said is kept.

    with Home(folder, broker.port) as home:     # home.ask(celsius=21.0), home.get("/health"), home.kill()
"""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from tests.parts.mosquitto import free_port, wait_until

ROOT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, "-c", "from thermostatd.cli import main; main(prog_name='thermostatd')"]
PLUG = """{ kind = "mqtt", tell = "plug/7/set", timer = { payload = "true {seconds}" },
  shows = { topic = "plug/7", pointer = "/on" }, draws = { topic = "plug/7", pointer = "/watts" },
  ask_state = { topic = "plug/7/ask" }, rated_amps = 13 }"""


def house_text(
    broker: int,
    pages: int,
    *,
    broker_more: str = "",
    open_pages: bool = True,
    more: str = "",
    sensor_more: str = "",
) -> str:
    """The file of the invented house."""
    return f"""
[house]
name = "Tern House"
timezone = "UTC"
tick = "1 s"
[broker]
port = {broker}
{broker_more}
[pages]
listen = "127.0.0.1:{pages}"
open = {str(open_pages).lower()}
[[room]]
name = "study"
sensor = {{ topic = "study/air"{sensor_more} }}
household = {{ lowest = 14, highest = 23, longest = "12 h" }}
usual = [{{ days = "daily", at = "00:00", celsius = 20 }}]
[[room.heater]]
name = "column"
kind = "oil-filled"
watts = 600
min_on = "1 s"
min_off = "1 s"
may_run = ["awake"]
plug = {PLUG.replace(chr(10), " ")}
{more}
"""


def command(
    *words: str, env: dict[str, str] | None = None, seconds: float = 40.0
) -> subprocess.CompletedProcess[str]:
    """One command to its end."""
    return subprocess.run(
        [*COMMAND, *words],
        cwd=ROOT,
        env=os.environ | (env or {}),
        capture_output=True,
        text=True,
        timeout=seconds,
        check=False,
    )


class Home:
    """One house file, one state folder, and the daemon that runs them."""

    def __init__(
        self,
        folder: Path,
        broker: int,
        *,
        pages: int | None = None,
        env: dict[str, str] | None = None,
        **house: Any,
    ) -> None:
        self.folder, self.pages, self.env = folder, pages or free_port(), env or {}
        self.broker_port = broker
        folder.mkdir(parents=True, exist_ok=True)
        self.file, self.state = folder / "house.toml", folder / "state"
        self.file.write_text(house_text(broker, self.pages, **house))
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, *, wait: bool = True) -> Home:
        """Start it, and wait until its pages answer."""
        with open(self.folder / "daemon.log", "ab") as log:
            self.process = subprocess.Popen(
                [*COMMAND, "run", str(self.file), "--state", str(self.state)],
                cwd=ROOT,
                env=os.environ | self.env,
                stdout=log,
                stderr=log,
            )
        if wait and not wait_until(self.answers, 60, 0.05):
            raise RuntimeError(f"the daemon's pages do not answer: {self.log}")
        return self

    @property
    def log(self) -> str:
        """All that it said."""
        return (self.folder / "daemon.log").read_text(errors="replace")

    def answers(self) -> bool:
        """Whether its pages answer at all."""
        try:
            return self.call("GET", "/health")[0] in (200, 503)
        except (OSError, http.client.HTTPException):
            return False

    def call(
        self, method: str, path: str, body: Any = None, headers: dict[str, str] | None = None
    ) -> tuple[int, Any, dict[str, str]]:
        """One request: status, JSON (else text), headers."""
        line = http.client.HTTPConnection("127.0.0.1", self.pages, timeout=8)
        try:
            sent = dict(headers or {})
            if body is not None and not isinstance(body, str):
                body, sent = json.dumps(body), {"Content-Type": "application/json"} | sent
            line.request(method, path, body, sent)
            got = line.getresponse()
            text = got.read().decode()
            with contextlib.suppress(ValueError):
                text = json.loads(text)
            return got.status, text, {key.lower(): value for key, value in got.getheaders()}
        finally:
            line.close()

    def ask(self, celsius: float = 21.0, until: str = "no-end") -> tuple[int, Any]:
        """Ask the study."""
        return self.call("POST", "/api/ask", {"room": "study", "celsius": celsius, "until": until})[:2]

    def house(self) -> Any:
        """/api/house."""
        return self.call("GET", "/api/house")[1]

    def health(self) -> Any:
        """/health, empty while nobody answers."""
        try:
            return self.call("GET", "/health")[1]
        except (OSError, http.client.HTTPException):
            return {}

    def say(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A command about this daemon."""
        return command(*words, "--state", str(self.state))

    def kill(self) -> None:
        """kill -9."""
        if self.process:
            self.process.kill()
            self.process.wait(5)
            self.process = None

    def terminate(self, seconds: float = 12.0) -> tuple[int, float]:
        """SIGTERM: exit code and seconds until the end."""
        assert self.process
        started = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(seconds)
        self.process = None
        return code, time.monotonic() - started

    def __enter__(self) -> Home:
        return self.start()

    def __exit__(self, *_: object) -> None:
        if self.process is None:
            return
        try:
            self.terminate()
        except subprocess.TimeoutExpired:
            self.kill()


def seconds_until(done: Any, seconds: float = 8.0) -> float:
    """Seconds of life until `done()` came true. AssertionError where it did not."""
    started = time.monotonic()
    assert wait_until(done, seconds, 0.01), f"not within {seconds} s"
    return time.monotonic() - started
