"""A changed house file in the running daemon: what it does, how soon, and what it must not do."""

from __future__ import annotations

import os
import time

from tests.daemon.home import Home, house_text, seconds_until
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

SECOND = """
[[room]]
name = "loft"
sensor = { topic = "loft/air" }
household = { lowest = 14, highest = 23 }
[[room.heater]]
name = "panel"
watts = 400
min_on = "1 s"
min_off = "1 s"
plug = { kind = "mqtt", tell = "plug/8/set", timer = { payload = "true {seconds}" }, shows = { topic = "plug/8", pointer = "/on" } }
"""  # noqa: E501


def _save(home: Home, text: str) -> None:
    """As editors do: a new file in the place of the old one."""
    new = home.file.with_suffix(".new")
    new.write_text(text)
    os.replace(new, home.file)


def _text(home: Home, **more: object) -> str:
    return house_text(home.broker_port, home.pages, broker_more="asks = true", **more)


def _rooms(home: Home) -> dict[str, float]:
    return {room["room"]: room["target"]["celsius"] for room in home.house()["rooms"]}


def test_a_change_is_in_force_within_two_seconds(home: Home, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A lower limit holds for a wish made before, and the plug keeps its connection; a faulty file changes nothing.

    Log and page name the fault until the file is sound again, and what needs a restart.
    """
    broker.publish("study/air", "18")
    home.ask(22.5)
    assert wait_until(lambda: plug.on)
    told, lines = len(plug.orders), broker.log.count("New client connected")
    _save(home, _text(home).replace("highest = 23", "highest = 21"))
    assert seconds_until(lambda: "study: target limit 23 → 21" in home.log) < 2.0
    assert wait_until(lambda: "is 21.0° now: the limit" in home.log)
    assert wait_until(lambda: _rooms(home) == {"study": 21.0}, 3.0), home.house()
    assert home.ask(22.0)[0] != 200
    time.sleep(1.2)
    assert plug.on
    assert [order.payload for order in plug.orders[told:] if order.payload == "false"] == []
    assert broker.log.count("New client connected") == lines, "no plug was connected anew"
    _save(home, _text(home).replace("watts = 600", 'watts = "hot"'))
    assert seconds_until(lambda: "watts" in home.log and "is not in force" in home.log) < 2.0
    page = home.call("GET", "/")[1]
    assert "The house file was changed and has a fault" in page
    assert "watts" in page
    assert "is no number. Write a plain number, without quotes and unit" in page, "the mend is told as well"
    home.file.unlink()
    assert wait_until(lambda: "does not exist" in home.log, 4.0)
    page = home.call("GET", "/")[1]
    assert "For the owner: line 1: the file does not exist. Correct the name, or write the file" in page
    assert home.health()["ok"]
    assert plug.on
    _save(home, _text(home, open_pages=False))
    assert wait_until(lambda: "sound again" in home.log, 4.0)
    assert wait_until(lambda: "[pages] changed, and is in force only after a restart" in home.log, 4.0)
    page = home.call("GET", "/")[1]
    assert "has a fault" not in page
    assert "in force only after a restart: [pages]" in page


def test_rooms_and_plugs_come_and_go(home: Home, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A new room heats; taken out it is told OFF and its topics are emptied; back again, its wish is there.

    A heater moved to another plug: the old one goes OFF before the new one may go ON.
    """
    with StrangersPlug(broker.port, "plug/8") as other, broker.listening("thermostatd/#") as heard:
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on)
        _save(home, _text(home, more=SECOND))
        assert wait_until(lambda: "loft: a new room" in home.log, 4.0)
        assert wait_until(lambda: other.orders, 5.0)
        broker.publish("loft/air", "12")
        assert home.call("POST", "/api/ask", {"room": "loft", "celsius": 20, "until": "no-end"})[0] == 200
        assert wait_until(lambda: other.on, 5.0)
        _save(home, _text(home))
        assert seconds_until(lambda: not other.on) < 3.0
        assert wait_until(lambda: heard.payloads("thermostatd/room/loft")[-1:] == [""], 4.0)
        assert _rooms(home) == {"study": 20.0}
        assert plug.on
        _save(home, _text(home, more=SECOND))
        assert wait_until(lambda: _rooms(home) == {"study": 20.0, "loft": 20.0}, 4.0)
    with StrangersPlug(broker.port, "plug/9") as other:
        _save(home, _text(home).replace("plug/7", "plug/9"))
        assert wait_until(lambda: not plug.on, 4.0)
        broker.publish("study/air", "18")
        assert wait_until(lambda: other.on, 6.0)
        assert not plug.on
        assert other.orders[0].payload == "false"
        assert home.terminate()[0] == 0
        assert wait_until(lambda: not other.on)
