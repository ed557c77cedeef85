"""Faults 4 and 5: a plug that ignores its orders, restarts into ON, or whose button is pressed."""

from __future__ import annotations

import time

from tests.daemon.home import Home
from tests.faults.bounds import CHAIN
from tests.faults.conftest import Measure, room, warm_up
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug


def test_deaf(broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure) -> None:
    """A plug that ignores OFF is told again and again, the room says so, and it obeys once it hears."""
    warm_up(broker, plug)
    assert wait_until(lambda: room(home)["heaters"][0]["shown_on"] is True, 5)
    plug.deaf = True
    broker.publish("study/air", "23.0")
    measure(4, "plug ignores OFF: told the first time", 3.0, lambda: plug.orders[-1].payload == "false")
    told = len(plug.orders)
    measure(4, "plug ignores OFF: told again (every 30 s)", 34.0, lambda: len(plug.orders) > told)
    assert home.house()["rooms"][0]["heaters"][0]["shown_on"] is True
    plug.deaf = False
    measure(4, "plug hears again: OFF", 34.0, lambda: not plug.on)
    broker.publish("study/air", "17.0")
    assert wait_until(lambda: plug.on, 8), "an OFF that was obeyed late leaves nothing behind"


def test_pressed_on(broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure) -> None:
    """A button pressed to ON is told OFF again within two ticks, and the record says who did it."""
    broker.publish("study/air", "22.5")
    assert wait_until(lambda: home.house()["decided"] and any(o.payload == "false" for o in plug.orders), 8)
    time.sleep(1.5)
    plug.press(True)
    measure(5, "button pressed to ON: OFF", CHAIN["someone presses the plug's button"], lambda: not plug.on)


def test_restart_into_on(broker: Mosquitto, plug: StrangersPlug, home: Home, measure: Measure) -> None:
    """A plug that comes back from a power cut switched ON is told OFF within two ticks."""
    broker.publish("study/air", "22.5")
    assert wait_until(lambda: home.house()["decided"], 8)
    plug.offline()
    time.sleep(1)
    plug.on = True
    plug.online()
    plug.tell_state()
    measure(5, "plug restarts into ON: OFF", CHAIN["the plug restarts into ON"], lambda: not plug.on)
