"""Real processes for the measurements: started, timed until they are healthy, weighed, and ended by their own id."""

from __future__ import annotations

import contextlib
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
START_SECONDS = 60.0
COMMAND = [sys.executable, "-c", "from thermostatd.cli import main; main()"]
"""The `thermostatd` command, as its entry point calls it."""


@dataclass(frozen=True, slots=True)
class Running:
    """A process that answered `/health` with 200, `start_seconds` after it was started."""

    process: subprocess.Popen[bytes]
    address: str
    start_seconds: float

    def kilobytes(self, what: str) -> int:
        """`Rss` or `Pss` of /proc/PID/smaps_rollup, kB."""
        rollup = Path(f"/proc/{self.process.pid}/smaps_rollup").read_text().splitlines()
        return next(int(line.split()[1]) for line in rollup if line.startswith(what + ":"))

    def get(self, path: str, **headers: str) -> tuple[bytes, dict[str, str]]:
        """A page's body as it was served, and its headers."""
        asked = urllib.request.Request(self.address + path, headers=headers)
        with urllib.request.urlopen(asked, timeout=10) as answer:
            return answer.read(), {name.lower(): value for name, value in answer.headers.items()}


@contextlib.contextmanager
def running(command: list[str], page_port: int, log: Path) -> Iterator[Running]:
    """Start, wait until healthy, and end it with SIGTERM. RuntimeError with its words if it never answers."""
    address, begun = f"http://127.0.0.1:{page_port}", time.perf_counter()
    with open(log, "wb") as out:
        process = subprocess.Popen(command, cwd=ROOT, stdout=out, stderr=out)
    try:
        while not _healthy(address):
            if process.poll() is not None or time.perf_counter() - begun > START_SECONDS:
                raise RuntimeError(f"{command[-3:]} did not answer: {log.read_text()[-2000:]}")
            time.sleep(0.02)
        yield Running(process, address, time.perf_counter() - begun)
    finally:
        process.terminate()
        try:
            process.wait(20)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(5)


def _healthy(address: str) -> bool:
    try:
        with urllib.request.urlopen(address + "/health", timeout=2):
            return True
    except (OSError, urllib.error.HTTPError):
        return False
