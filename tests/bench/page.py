"""Bytes of a first visit to the demo's page, as they are sent compressed, and its server time against a bare route."""

from __future__ import annotations

import http.client
import re
import statistics
import sys
import time
from pathlib import Path

from tests.bench.processes import COMMAND, running
from tests.bench.row import Row
from tests.parts.mosquitto import Mosquitto, free_port

MOST_BYTES = 25_000
MOST_TIMES, REQUESTS = 4.0, 200
SPEED = 600
RUN_SECONDS = 12.0
"""Of life: two hours of the demo's house, so that the day's trace is there to be drawn."""


def measure(folder: Path) -> list[Row]:
    """The real demo, four rooms and a spot, two hours after it began."""
    port = free_port()
    command = [*COMMAND, "demo", "--speed", str(SPEED), "--port", str(port)]
    with running(command, port, folder / "demo.log") as demo:
        time.sleep(RUN_SECONDS)
        plain, _ = demo.get("/")
        assert all(name in plain.decode() for name in ("study", "kitchen end", "sewing table"))
        linked = sorted(set(re.findall(r'(?:src|href)="(/static/[^"]+)"', plain.decode())))
        sizes = {path: _sent_bytes(demo.get(path, **{"Accept-Encoding": "gzip"})) for path in ("/", *linked)}
    kinds = {path.partition("?")[0].rpartition("/")[2] or "page": size for path, size in sizes.items()}
    assert {"page", "page.css", "page.js"} <= set(kinds), f"a file of the page was not found: {kinds}"
    note = ", ".join(f"{name} {size}" for name, size in kinds.items())
    return [
        Row("first visit, 4 rooms and a spot / 25 kB", sum(sizes.values()) / MOST_BYTES, 1.0, note=note),
        _server_time(folder),
    ]


def _server_time(folder: Path) -> Row:
    """The demo at life's pace, decided anew each ten seconds, and the bare process, asked in turn on open lines."""
    own, other = free_port(), free_port()
    demo = [*COMMAND, "demo", "--port", str(own)]
    with Mosquitto(folder / "broker") as broker:
        bare = [sys.executable, "-m", "tests.bench.bare", str(broker.port), str(other)]
        with running(demo, own, folder / "paced.log"), running(bare, other, folder / "bare.log"):
            page, route = _times([(own, "/"), (other, "/health")])
    note = f"medians of {REQUESTS}: {1e3 * page:.2f} / {1e3 * route:.2f} ms"
    return Row("the page's server time / a bare route's", page / route, MOST_TIMES, note=note)


def _times(asked: list[tuple[int, str]]) -> list[float]:
    """Median seconds of each, asked in turn so that the machine's other work falls on all alike."""
    lines = [http.client.HTTPConnection("127.0.0.1", port, timeout=20) for port, _ in asked]
    taken: list[list[float]] = [[] for _ in asked]
    for _ in range(REQUESTS):
        for line, (_, path), kept in zip(lines, asked, taken, strict=True):
            begun = time.perf_counter()
            line.request("GET", path, headers={"accept-encoding": "gzip"})
            answer = line.getresponse()
            answer.read()
            kept.append(time.perf_counter() - begun)
            assert answer.status == 200
    return [statistics.median(kept) for kept in taken]


def _sent_bytes(answer: tuple[bytes, dict[str, str]]) -> int:
    """Body bytes on the wire; larger than a packet, they must have been compressed."""
    body, headers = answer
    assert headers.get("content-encoding") == "gzip" or len(body) < 1000, "it was sent uncompressed"
    return len(body)
