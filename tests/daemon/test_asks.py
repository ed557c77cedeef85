"""What people ask, over HTTP and over the broker, through the running daemon."""

from __future__ import annotations

import json
import time
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


def test_broker(broker: Mosquitto, plug: StrangersPlug, home: Home) -> None:
    """An ask over the broker is answered; a retained one is not taken, no name is trusted, and many are throttled."""
    with broker.listening("thermostatd/answer/#") as heard:
        broker.publish(ASK, '{"celsius": 15.5}', retain=True)
        broker.publish(ASK, '{"celsius": 21.5, "until": "no-end", "who": "Ana"}')
        assert wait_until(lambda: heard.payloads(ANSWER))
        answer = json.loads(heard.payloads(ANSWER)[-1])
        assert answer["accepted"] is True and answer["celsius"] == 21.5 and answer["until"]
        target = home.house()["rooms"][0]["target"]
        assert (target["celsius"], target["whose"]) == (21.5, "from the broker")
        said = len(heard.payloads(ANSWER))
        broker.publish(ASK, "nonsense {")
        assert wait_until(lambda: len(heard.payloads(ANSWER)) > said)
        refused = json.loads(heard.payloads(ANSWER)[-1])
        assert refused["accepted"] is False and refused["code"] == "not-understood" and refused["sentence"]
        for number in range(7):
            said = len(heard.payloads(ANSWER))
            broker.publish(ASK, json.dumps({"celsius": 16 + number / 2}))
            assert wait_until(lambda said=said: len(heard.payloads(ANSWER)) > said, 3)
            if "too many" in heard.payloads(ANSWER)[-1]:
                break
        else:
            raise AssertionError("seven asks in a burst were all taken")


def test_retained_at_start(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A retained ask that the broker kept from earlier is neither taken nor answered."""
    broker.publish(ASK, '{"celsius": 22.5}', retain=True)
    with (
        Home(tmp_path / "home", broker.port, broker_more="asks = true") as home,
        broker.listening(ANSWER) as heard,
    ):
        assert wait_until(lambda: home.health().get("ok"), 10, 0.1)
        time.sleep(1.2)
        assert home.house()["rooms"][0]["target"]["celsius"] == 20
        assert heard.payloads(ANSWER) == []


def test_closed(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Asks over the broker stay unheard unless the house file opens them."""
    with Home(tmp_path / "home", broker.port) as home, broker.listening(ANSWER) as heard:
        assert wait_until(lambda: home.health().get("ok"), 10, 0.1)
        broker.publish(ASK, '{"celsius": 22.5}')
        time.sleep(1.5)
        assert home.house()["rooms"][0]["target"]["celsius"] == 20
        assert heard.payloads(ANSWER) == []
