"""A plug that was hot and waits for a person goes on waiting, however soon the daemon is killed after."""

from __future__ import annotations

import time
from pathlib import Path

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

HOT = '{"on": false, "watts": 0.0, "volts": 231.0, "warm": 95.0}'


def test_killed_just_after(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """kill -9 as soon as the trouble is told, long before the store's next batch: it holds after the restart."""
    home = Home(tmp_path / "home", broker.port)
    text = home.file.read_text()
    home.file.write_text(text.replace("ask_state =", 'warm = { topic = "plug/7", pointer = "/warm" }, ask_state ='))

    def latched() -> bool:
        found = home.house()["troubles"]
        return any(one["code"] == "warm-plug" and one["latched"] for one in found)

    with home:
        assert wait_until(lambda: home.house()["decided"], 8)

        def hot() -> bool:
            broker.publish("plug/7", HOT)
            return latched()

        assert wait_until(hot, 30, 0.5), home.house()
        time.sleep(0.5)
        home.kill()
        home.start()
        broker.publish("study/air", "15")
        assert wait_until(lambda: home.house()["decided"], 8)
        plug.tell_state()
        time.sleep(3.0)
        assert latched()
        assert not plug.on
