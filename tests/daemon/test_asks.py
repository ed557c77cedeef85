"""What people ask, over HTTP and over the broker, through the running daemon."""

from __future__ import annotations

import json
import sqlite3
import time
from contextlib import closing
from pathlib import Path

from tests.daemon.home import Home, seconds_until
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug

ASK, ANSWER = "thermostatd/ask/study", "thermostatd/answer/study"


def test_http(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """An ask over HTTP acts within one tick; one past a limit is refused with a code, a sentence and the limit."""
    broker.publish("study/air", "20.5")
    assert wait_until(lambda: home.house()["rooms"] and home.house()["rooms"][0]["air"] == 20.5)
    assert wait_until(lambda: home.house()["rooms"][0]["heaters"][0]["shown_on"] is False)
    assert not plug.on
    asked = time.monotonic()
    status, answer = home.ask(22.0)
    assert (status, answer["celsius"]) == (200, 22.0)
    seconds_until(lambda: plug.on)
    took = time.monotonic() - asked
    print(f"ask to ON {took:.3f} s")
    assert took <= 1.0
    status, refused = home.ask(26.0)
    assert status == 422
    assert set(refused) == {"code", "sentence", "limit"}
    assert refused["limit"] == 23
    assert home.house()["rooms"][0]["target"]["celsius"] == 22


def test_broker(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """An ask over the broker is answered whatever it says; a retained one is not taken, and no name is trusted."""
    broker.publish(ASK, '{"celsius": 22.5}', retain=True)
    home = Home(tmp_path / "home", broker.port, broker_more="asks = true")
    with home, broker.listening("thermostatd/answer/#") as heard:
        assert wait_until(lambda: home.health().get("ok"), 10, 0.1)
        time.sleep(1.2)
        assert home.house()["rooms"][0]["target"]["celsius"] == 20
        assert heard.payloads(ANSWER) == []
        broker.publish(ASK, '{"celsius": 21.5, "until": "no-end", "who": "Ana"}')
        assert wait_until(lambda: heard.payloads(ANSWER))
        answer = json.loads(heard.payloads(ANSWER)[-1])
        assert answer["accepted"] is True
        assert answer["celsius"] == 21.5
        assert answer["until"]
        target = home.house()["rooms"][0]["target"]
        assert (target["celsius"], target["whose"]) == (21.5, "from the broker")
        said = len(heard.payloads(ANSWER))
        broker.publish(ASK, "nonsense {")
        assert wait_until(lambda: len(heard.payloads(ANSWER)) > said)
        refused = json.loads(heard.payloads(ANSWER)[-1])
        assert refused["accepted"] is False
        assert refused["code"] == "not-understood"
        assert refused["sentence"]


def test_closed(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Asks over the broker stay unheard unless the house file opens them."""
    with Home(tmp_path / "home", broker.port) as home, broker.listening(ANSWER) as heard:
        assert wait_until(lambda: home.health().get("ok"), 10, 0.1)
        broker.publish(ASK, '{"celsius": 22.5}')
        time.sleep(1.5)
        assert home.house()["rooms"][0]["target"]["celsius"] == 20
        assert heard.payloads(ANSWER) == []


def test_a_disk_that_waits_holds_no_tick_up(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Requests while another process holds the database: ticks go on, a warm reading ends in OFF, and the last request
    is answered in the end."""
    home = Home(tmp_path / "home", broker.port, broker_more="asks = true")
    with home, broker.listening(ANSWER) as heard:
        broker.publish("study/air", "18")
        assert wait_until(lambda: plug.on, 10)
        with closing(sqlite3.connect(home.state / "thermostatd.db", isolation_level=None)) as held:
            held.execute("BEGIN IMMEDIATE")
            for number in range(3):
                broker.publish(ASK, json.dumps({"celsius": 20 + number / 10}))
                time.sleep(1.2)
            broker.publish("study/air", "23.0")
            took = seconds_until(lambda: not plug.on, 20)
            print(f"a warm reading to OFF {took:.1f} s")
            assert took < 3.0
            assert home.health()["deciding"]
            held.execute("ROLLBACK")
        assert wait_until(lambda: len(heard.payloads(ANSWER)) == 3, 40), heard.payloads(ANSWER)
        assert all(json.loads(payload)["accepted"] for payload in heard.payloads(ANSWER))
        assert home.house()["rooms"][0]["target"]["celsius"] == 20.2
