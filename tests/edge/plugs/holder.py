"""A process that holds one plug ON, to be killed by a test.

`python -m tests.edge.plugs.holder PORT KEEPALIVE [serve]`
"""

from __future__ import annotations

import sys
import time

from tests.edge.plugs.worlds import KEY, house_with
from tests.parts.mosquitto import wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.core.house import Broker
from thermostatd.edge.plugs import MqttPlug


def main(port: int, keepalive_seconds: int, serve: bool) -> None:
    """Connect, tell ON for 15 minutes, say so, and hold."""
    described = StrangersPlug.described()
    house = house_with(described, Broker(port=port, serve=serve))
    plug = MqttPlug(KEY, described, house, time.monotonic, keepalive_seconds=keepalive_seconds)
    plug.start()
    if not wait_until(lambda: plug.connected, 10):
        sys.exit("no connection")
    plug.tell(True, 900.0)
    print("holding", flush=True)
    time.sleep(120)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), "serve" in sys.argv)
