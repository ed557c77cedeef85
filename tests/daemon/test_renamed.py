"""A renamed heater in the real daemon: latch and record follow its plug over a restart; `check` says so before."""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from tests.daemon.home import Home, command
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

HOT = '{"on": false, "watts": 0.0, "volts": 231.0, "warm": 95.0}'


def _renamed(home: Home) -> None:
    text = home.file.read_text()
    home.file.write_text(text.replace('name = "study"', 'name = "office"').replace('name = "column"', 'name = "oil"'))


def _waits(home: Home, name: str) -> bool:
    return any(one["id"] == name and one["latched"] for one in home.house()["troubles"])


def _abouts(home: Home) -> set[str]:
    with closing(sqlite3.connect(home.state / "thermostatd.db")) as record:
        return {row[0] for row in record.execute("SELECT about FROM event")}


def test_over_a_kill(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Hot, killed, renamed, started, killed at once, started: it waits yet, and may not heat a cold room."""
    home = Home(tmp_path / "home", broker.port)
    text = home.file.read_text()
    home.file.write_text(text.replace("ask_state =", 'warm = { topic = "plug/7", pointer = "/warm" }, ask_state ='))
    with home:
        assert wait_until(lambda: home.house()["decided"], 8)

        def hot() -> bool:
            broker.publish("study/air", "15")
            broker.publish("plug/7", HOT)
            return _waits(home, "study/column/warm-plug")

        assert wait_until(hot, 30, 0.5), home.house()
        home.ask(21.0)  # and all that happened is on the disk
        assert wait_until(lambda: "study" in _abouts(home), 5)
        home.kill()
        _renamed(home)
        said = command("check", str(home.file), "--state", str(home.state)).stdout
        assert "study becomes office" in said
        assert "study/column becomes office/oil" in said
        told = json.loads(command("check", str(home.file), "--state", str(home.state), "--json").stdout)
        assert len(told["names"]) == 2
        home.start()
        home.kill()
        home.start()
        broker.publish("study/air", "15")
        assert wait_until(lambda: home.house()["decided"], 8)
        assert wait_until(lambda: _waits(home, "office/oil/warm-plug"), 8), home.house()
        plug.tell_state()
        assert not wait_until(lambda: plug.on, 3.0)
        assert "becomes" not in command("check", str(home.file), "--state", str(home.state)).stdout
    abouts = _abouts(home)
    assert {"office", "office/oil/warm-plug"} <= abouts
    assert not any(about.startswith("study") for about in abouts)


def test_while_running(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Its wish goes on under the new name, and another house's state folder is not spoken of."""
    with Home(tmp_path / "home", broker.port) as home:
        broker.publish("study/air", "18")
        home.ask(22.5)
        assert wait_until(lambda: plug.on)
        other = tmp_path / "other.toml"
        other.write_text(
            home.file.read_text().replace("study", "attic").replace("column", "oil").replace("plug/7", "plug/9")
        )
        assert "\nname " not in command("check", str(other), "--state", str(home.state)).stdout
        _renamed(home)
        rooms = lambda: {one["room"]: one["target"]["celsius"] for one in home.house()["rooms"]}  # noqa: E731
        assert wait_until(lambda: rooms() == {"office": 22.5}, 6), home.log
        assert "study/column" in home.log
        assert "what is known of it follows" in home.log


def test_what_the_broker_kept_of_the_old_names_is_emptied(
    tmp_path: Path, broker: Mosquitto, plug: StrangersPlug
) -> None:
    """By the first start after it that is not killed before it has told anything."""

    def kept() -> set[str]:
        with broker.listening("thermostatd/#") as ear:
            time.sleep(0.4)
            return {topic for _, topic, told in ear.heard() if told}

    home = Home(tmp_path / "home", broker.port)
    with home:
        assert wait_until(lambda: home.house()["decided"], 8)
        broker.publish("study/air", "15")
        assert wait_until(lambda: "thermostatd/room/study" in kept(), 10)
        home.ask(21.0)
        assert wait_until(lambda: "study" in _abouts(home), 5)
        home.kill()
        _renamed(home)
        home.start()
        assert wait_until(lambda: home.house()["decided"], 8)
        assert wait_until(lambda: "thermostatd/room/office" in kept(), 10)
        assert wait_until(lambda: not any("study" in topic for topic in kept()), 10)
