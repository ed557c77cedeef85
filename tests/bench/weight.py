"""Resident memory and start time of the daemon with twenty rooms, against the bare process, side by side."""

from __future__ import annotations

import re
import sys
from pathlib import Path

from tests.bench.processes import COMMAND, ROOT, running
from tests.bench.row import Row
from tests.parts.mosquitto import Mosquitto, free_port

MOST_MEMORY = 1.25


def measure(folder: Path) -> list[Row]:
    """Twice in turn for the start, of which the better counts; memory with both running and both asked a page."""
    starts: dict[str, list[float]] = {"bare": [], "daemon": []}
    weights: dict[str, list[int]] = {}
    with Mosquitto(folder / "broker") as broker:
        for turn in range(2):
            page, own = free_port(), free_port()
            bare = [sys.executable, "-m", "tests.bench.bare", str(broker.port), str(page)]
            daemon = [
                *COMMAND,
                "run",
                str(_house(folder, broker.port, own)),
                "--state",
                str(folder / f"state{turn}"),
            ]
            with (
                running(bare, page, folder / "bare.log") as one,
                running(daemon, own, folder / "daemon.log") as other,
            ):
                starts["bare"].append(one.start_seconds)
                starts["daemon"].append(other.start_seconds)
                other.get("/")
                weights = {kind: [one.kilobytes(kind), other.kilobytes(kind)] for kind in ("Rss", "Pss")}
    bare_start, daemon_start = min(starts["bare"]), min(starts["daemon"])
    return [
        *(
            Row(
                f"memory, 20 rooms / bare process ({name})",
                heavy / light,
                MOST_MEMORY,
                note=f"{heavy / 1024:.1f} / {light / 1024:.1f} MiB",
            )
            for name, (light, heavy) in (("resident", weights["Rss"]), ("proportional", weights["Pss"]))
        ),
        Row(
            "start until healthy, 20 rooms / bare process",
            daemon_start / bare_start,
            note=f"{daemon_start:.2f} / {bare_start:.2f} s",
        ),
    ]


def _house(folder: Path, broker_port: int, page_port: int) -> Path:
    """The large example on our own broker and a free page port, with open pages."""
    text = (ROOT / "config" / "large-house.toml").read_text()
    text = text.replace('host = "127.0.0.1"', f'host = "127.0.0.1"\nport = {broker_port}')
    text = re.sub(r'listen = ".*"', f'listen = "127.0.0.1:{page_port}"\nopen = true', text)
    path = folder / "large-house.toml"
    path.write_text(text)
    return path
