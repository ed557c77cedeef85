"""What twenty rooms cost a machine while nobody asks: processor seconds beside the bare process, bytes to disk.

Rules: both processes live through the same minutes; sensors and plugs speak every half minute; the day's bytes are the
kernel's own count (/proc/PID/io) of a window after the start, scaled to a day. The nightly backup comes on top.
"""

from __future__ import annotations

import json
import math
import os
import sys
import threading
import time
from pathlib import Path

import paho.mqtt.client as paho

from tests.bench.processes import COMMAND, Running, running
from tests.bench.row import Row
from tests.bench.weight import _house
from tests.parts.mosquitto import Mosquitto, free_port
from thermostatd.edge.house_file import load_house

SETTLE_SECONDS, WINDOW_SECONDS, SPEAKS_SECONDS = 40.0, 180.0, 30.0
MOST_MEGABYTES_A_DAY = 150.0


class Estate:
    """Every sensor and plug of the large house, on one connection."""

    def __init__(self, port: int, rooms: list[str]) -> None:
        self.rooms, self.on = rooms, dict.fromkeys(rooms, False)
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2)
        self.client.on_connect = lambda client, *_: client.subscribe("court/+/plug/set", 1)
        self.client.on_message = lambda _c, _d, message: self._told(message)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._speak)
        self._thread.start()

    def _told(self, message: paho.MQTTMessage) -> None:
        room = message.topic.split("/")[1]
        self.on[room] = message.payload.startswith(b"true")
        self._state(room)

    def _state(self, room: str) -> None:
        state = {"on": self.on[room], "watts": 600.0 if self.on[room] else 0.3, "volts": 230.0}
        self.client.publish(f"court/{room}/plug", json.dumps(state))

    def _speak(self) -> None:
        turn = 0
        while not self._ended.wait(SPEAKS_SECONDS if turn else 2.0):
            turn += 1
            for number, room in enumerate(self.rooms):
                celsius = round(19.0 + 1.2 * math.sin(turn / 3.0 + number), 1)
                self.client.publish(f"court/{room}/air", json.dumps({"celsius": celsius}))
                self._state(room)

    def close(self) -> None:
        """All fall silent."""
        self._ended.set()
        self._thread.join()
        self.client.loop_stop()


def measure(folder: Path) -> list[Row]:
    """Both beside each other through the same window."""
    page, own = free_port(), free_port()
    with Mosquitto(folder / "broker") as broker:
        house = _house(folder, broker.port, own)
        topics = [sensor.topic for room in load_house(house).rooms for sensor in room.all_sensors]
        estate = Estate(broker.port, sorted({topic.split("/")[1] for topic in topics}))
        bare = [sys.executable, "-m", "tests.bench.bare", str(broker.port), str(page)]
        daemon = [*COMMAND, "run", str(house), "--state", str(folder / "state")]
        try:
            with (
                running(bare, page, folder / "bare.log") as one,
                running(daemon, own, folder / "daemon.log") as other,
            ):
                time.sleep(SETTLE_SECONDS)
                light, heavy = _spent(one), _spent(other)
                before = _written(other)
                time.sleep(WINDOW_SECONDS)
                light, heavy = _spent(one) - light, _spent(other) - heavy
                megabytes = (_written(other) - before) * 86_400 / WINDOW_SECONDS / 1e6
        finally:
            estate.close()
    shares = f"{100 * heavy / WINDOW_SECONDS:.2f} / {100 * light / WINDOW_SECONDS:.2f} % of a core"
    return [
        Row("idle processor time, 20 rooms / bare process", heavy / light, note=shares),
        Row("written a day, 20 rooms, without the backup", megabytes, MOST_MEGABYTES_A_DAY, "MB"),
    ]


def _spent(process: Running) -> float:
    """Processor seconds so far, of all its threads (proc(5): utime and stime)."""
    fields = Path(f"/proc/{process.process.pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _written(process: Running) -> int:
    told = dict(line.split(": ") for line in Path(f"/proc/{process.process.pid}/io").read_text().splitlines())
    return int(told["write_bytes"])
