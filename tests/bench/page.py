"""Bytes of a first visit to the demo's page: HTML, style, script and icon, as they are sent compressed."""

from __future__ import annotations

import re
import time
from pathlib import Path

from tests.bench.processes import COMMAND, running
from tests.bench.row import Row
from tests.parts.mosquitto import free_port

MOST_BYTES = 25_000
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
    return [Row("first visit, 4 rooms and a spot / 25 kB", sum(sizes.values()) / MOST_BYTES, 1.0, note=note)]


def _sent_bytes(answer: tuple[bytes, dict[str, str]]) -> int:
    """Body bytes on the wire; larger than a packet, they must have been compressed."""
    body, headers = answer
    assert headers.get("content-encoding") == "gzip" or len(body) < 1000, "it was sent uncompressed"
    return len(body)
