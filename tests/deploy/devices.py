"""A stranger's house on a broker: an invented study whose sensor and plug a new owner has to find.

`python -m tests.deploy.devices PORT USER PASSWORD` until it is ended. Life's own pace.
"""

from __future__ import annotations

import signal
import sys
import time
from datetime import UTC, datetime

from thermostatd.core.house import House
from thermostatd.rehearsal.house import SimulatedHouse
from thermostatd.rehearsal.mqtt_face import MqttHouse

START_CELSIUS = 18.6
PLUG = {
    "kind": "mqtt",
    "tell": "sockets/desk/set",
    "shows": {"topic": "sockets/desk", "pointer": "/on"},
    "draws": {"topic": "sockets/desk", "pointer": "/watts"},
    "timer": {"payload": "true {seconds}"},
}
STUDY = {
    "name": "study",
    "sensor": {"topic": "study/air", "pointer": "/celsius"},
    "heater": [{"name": "column", "kind": "convector", "watts": 900, "plug": PLUG}],
}


def main(port: int, user: str, password: str) -> None:
    """Live until told to end."""
    house = House.model_validate({"house": {"timezone": "UTC"}, "room": [STUDY]})
    simulated = SimulatedHouse(house, seed=7, start=datetime.now(UTC), start_celsius=START_CELSIUS)
    devices = MqttHouse(simulated, "127.0.0.1", port, 1.0, user, password)
    devices.start()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        while True:
            time.sleep(1)
    finally:
        devices.stop()


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2], sys.argv[3])
