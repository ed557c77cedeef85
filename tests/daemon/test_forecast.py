"""A forecast from a stranger's script to the daemon's memory, through a real broker, in a running house."""

from __future__ import annotations

import json
import time

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from thermostatd.edge.store import Store

FRONT = [4.0, 2.0, -6.5]


def test_a_forecast_is_heard_kept_and_survives_nonsense_and_a_restart(broker: Mosquitto, home: Home) -> None:
    """Written into the file of a running house it is heard; what makes no sense is logged, and the good one stays."""
    text = home.file.read_text()
    home.file.write_text(
        text.replace('tick = "1 s"', 'tick = "1 s"\nforecast = { topic = "hours", pointer = "/hourly" }')
    )

    def nonsense() -> bool:
        broker.publish("hours", json.dumps({"hourly": [4.0, None]}))
        return "forecast: hours/hourly: " in home.log

    assert wait_until(nonsense, 10, 0.3), home.log
    assert '"None", at place 1, is no number' in home.log
    broker.publish("hours", json.dumps({"hourly": FRONT}))
    time.sleep(2.5)
    assert nonsense()
    time.sleep(1.5)
    home.terminate()
    home.start()
    time.sleep(2.0)
    home.terminate()
    store = Store.open(home.state, lambda: 0.0)
    try:
        remembered = store.load_memory()
    finally:
        store.close()
    assert remembered is not None
    assert remembered[0]["forecast"]["celsius"] == FRONT
