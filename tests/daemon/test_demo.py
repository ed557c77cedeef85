"""The demo, as a first-time user starts it."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
from pathlib import Path
from typing import Any

from tests.daemon.home import COMMAND, ROOT
from tests.parts.mosquitto import free_port, wait_until


def _call(port: int, method: str, path: str, body: Any = None) -> tuple[int, Any]:
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=8)
    try:
        line.request(method, path, json.dumps(body) if body else None, {"Content-Type": "application/json"})
        got = line.getresponse()
        return got.status, json.loads(got.read())
    except (OSError, ValueError, http.client.HTTPException):
        return 0, {}
    finally:
        line.close()


def test_demo(tmp_path: Path) -> None:
    """It has lived a day and knows a room; prints its address, heats, takes an ask and a change of its file; Ctrl-C
    leaves no trace."""
    port, out = free_port(), tmp_path / "out"
    with open(out, "wb") as said:
        process = subprocess.Popen(
            [*COMMAND, "demo", "--speed", "60", "--port", str(port)],
            cwd=ROOT,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
            stdout=said,
            stderr=said,
            start_new_session=True,
        )
    try:
        assert wait_until(lambda: _call(port, "GET", "/health")[0] == 200, 90, 0.2), out.read_text()
        assert f"http://127.0.0.1:{port}/" in out.read_text()
        assert wait_until(lambda: _heating(port), 20, 0.2), _call(port, "GET", "/api/house")
        assert wait_until(lambda: _foreseen(port), 20, 0.2), "a learned model's course, not a line"
        room = _call(port, "GET", "/api/house")[1]["rooms"][0]
        wish = {"room": room["room"], "celsius": room["highest"] - 0.5, "until": "next-step"}
        status, answer = _call(port, "POST", "/api/ask", wish)
        assert (status, answer.get("celsius")) == (200, wish["celsius"])
        own = Path(re.search(r"house file is (\S+):", out.read_text())[1])  # type: ignore[index]
        own.write_text(own.read_text().replace("highest = 22,", "highest = 21.5,"))
        assert wait_until(lambda: _call(port, "GET", "/api/house")[1]["rooms"][0]["highest"] == 21.5, 10, 0.2)
    finally:
        os.killpg(process.pid, signal.SIGINT)
        try:
            code = process.wait(15)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(5)
            raise
    text = out.read_text()
    assert not own.exists()
    assert code in (0, 130), text
    assert not re.search("Traceback|never retrieved|was destroyed", text), text
    try:
        os.killpg(process.pid, 0)
    except ProcessLookupError:
        return
    raise AssertionError("a process is left")


def _foreseen(port: int) -> bool:
    """Whether a course with its spread is told of a room, which needs a model of it."""
    rooms = _call(port, "GET", "/api/house")[1].get("rooms", [])
    return any(point["low"] < point["celsius"] < point["high"] for room in rooms for point in room["forecast"])


def _heating(port: int) -> bool:
    rooms = _call(port, "GET", "/api/house")[1].get("rooms", [])
    return any(
        heater["shown_on"] and (heater["watts"] or 0) > 100 for room in rooms for heater in room["heaters"]
    )
