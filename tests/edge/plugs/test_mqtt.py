"""What an MQTT plug is told and what is heard of it, on a real mosquitto."""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from tests.edge.plugs.worlds import KEY, house_with
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.steady import Steady
from thermostatd.core.house import MqttPlug as Description
from thermostatd.core.values import PlugReport
from thermostatd.edge.broker import heard
from thermostatd.edge.plugs import MqttPlug, mqtt
from thermostatd.edge.plugs.hearing import Hearing


@contextmanager
def started(broker: Mosquitto, now: Steady, plug: Description) -> Iterator[MqttPlug]:
    """A connected adapter."""
    made = MqttPlug(KEY, plug, house_with(plug, broker.house_broker()), now)
    made.start()
    try:
        assert wait_until(lambda: made.connected)
        yield made
    finally:
        made.stop()


def test_timer_on_its_own_topic(mosquitto: Mosquitto, now: Steady) -> None:
    """A timer with a topic of its own gets the seconds there, rounded down; OFF goes to `tell`."""
    plug = StrangersPlug.described(
        timer={"topic": "plug/7/for", "payload": '{"on": 1, "s": {seconds}}'}, on="1", off="0"
    )
    with mosquitto.listening() as listener:
        with started(mosquitto, now, plug) as ours:
            ours.tell(True, 900.9)
            assert listener.wait("plug/7/for", '{"on": 1, "s": 900}')
            assert listener.payloads("plug/7/set") == ["0"]
        assert wait_until(lambda: listener.payloads("plug/7/set") == ["0", "0"])


def test_on_after_the_seconds(mosquitto: Mosquitto, now: Steady) -> None:
    """Where the seconds alone do not switch it on, each ON tells them first and then ON; OFF is one message."""
    plug = StrangersPlug.described(timer={"topic": "plug/7/for", "payload": "{seconds}", "then_on": True})
    with mosquitto.listening() as listener, started(mosquitto, now, plug) as ours:
        for seconds in (900.0, 600.0):
            ours.tell(True, seconds)
        ours.tell(False, 0.0)
        assert listener.wait("plug/7/for", "600")
        assert wait_until(lambda: listener.payloads("plug/7/set")[1:] == ["true", "true", "false"])
        told = [(topic, said) for _, topic, said in listener.heard() if topic in ("plug/7/set", "plug/7/for")]
        assert told[1:] == [
            ("plug/7/for", "900"), ("plug/7/set", "true"), ("plug/7/for", "600"), ("plug/7/set", "true"),
            ("plug/7/set", "false"),
        ]  # fmt: skip


def test_asks_for_the_state(mosquitto: Mosquitto, now: Steady) -> None:
    """A plug that can be asked is asked on connecting, and again while an order has no answer."""
    with mosquitto.listening() as listener, started(mosquitto, now, StrangersPlug.described()) as ours:
        assert wait_until(lambda: len(listener.payloads("plug/7/ask")) == 1)
        ours.tell(True, 900.0)
        now.pass_by(11.0)
        ours.news()
        assert wait_until(lambda: len(listener.payloads("plug/7/ask")) == 2)
        mosquitto.publish("plug/7", '{"on": true}')
        assert wait_until(lambda: ours.news() is not None)
        now.pass_by(11.0)
        ours.news()
        time.sleep(0.3)
        assert len(listener.payloads("plug/7/ask")) == 2


def test_a_retained_state_is_no_answer(mosquitto: Mosquitto, now: Steady) -> None:
    """A retained contact and meter are left out; retained presence counts."""
    mosquitto.publish("plug/7", '{"on": true, "watts": 541}', retain=True)
    mosquitto.publish("plug/7/present", "offline", retain=True)
    with started(mosquitto, now, StrangersPlug.described()) as ours:
        reports: list[PlugReport] = []

        def heard_absence() -> bool:
            report = ours.news()
            reports.extend([report] if report else [])
            return bool(reports) and not reports[-1].reachable

        assert wait_until(heard_absence)
        time.sleep(0.3)
        assert (reports[-1].on, reports[-1].watts, reports[-1].reachable) == (None, None, False)
        assert ours.news() is None


def test_two_rooms_have_two_connections(mosquitto: Mosquitto, now: Steady) -> None:
    """Each plug of a house has a client id of its own, so that neither pushes the other out."""
    plug = StrangersPlug.described()
    house = house_with(plug, mosquitto.house_broker())
    both = [MqttPlug(key, plug, house, now) for key in ("study/column", "hall/panel")]
    for each in both:
        each.start()
    assert wait_until(lambda: all(each.connected for each in both))
    time.sleep(0.5)
    assert all(each.connected for each in both)
    for each in both:
        each.stop()


class Ear:
    """A hearing that is fed by hand."""

    def __init__(self, **described: object) -> None:
        self.hearing = Hearing(KEY, StrangersPlug.described(**described))  # type: ignore[arg-type]

    def say(self, payload: object, topic: str = "plug/7", at: float = 5.0, retained: bool = False) -> None:
        """A message."""
        body = payload if isinstance(payload, bytes) else str(payload).encode()
        self.hearing.take(heard(topic, body, retained, at))

    def report(self) -> PlugReport:
        """What is known."""
        report = self.hearing.news()
        assert report is not None
        return report


def test_all_pointers_of_one_topic_are_read() -> None:
    """Contact, power, voltage and warmth may come in one payload."""
    ear = Ear(draws={"topic": "plug/7", "pointer": "/kw", "scale": 1000})
    ear.say(json.dumps({"on": True, "kw": 0.541, "volts": 229.5, "warm": 85.0}))
    assert ear.report() == PlugReport(
        on=True, watts=541.0, volts=229.5, on_at=5.0, watts_at=5.0, warm_celsius=85.0, warm_at=5.0
    )


def test_each_value_keeps_its_own_moment() -> None:
    """A meter value that comes later does not renew the contact's moment."""
    ear = Ear(draws={"topic": "w"})
    ear.say('{"on": true}', at=5.0)
    ear.say("541", topic="w", at=9.0)
    report = ear.report()
    assert (report.on_at, report.watts_at) == (5.0, 9.0)


@pytest.mark.parametrize(
    ("words", "payload", "on"),
    [
        ({}, '{"on": true}', True),
        ({}, '{"on": "false"}', False),
        ({"on": "1", "off": "0"}, '{"on": 1}', True),
        ({"on": "1", "off": "0"}, '{"on": 0}', False),
        ({"on": "ON", "off": "OFF", "shows": {"topic": "plug/7"}}, "OFF", False),
        ({"on": "ON", "off": "OFF", "shows": {"topic": "plug/7"}}, '"ON"', True),
    ],
)
def test_words_of_the_contact(words: dict[str, object], payload: str, on: bool) -> None:
    """The contact speaks the plug's own words; JSON true and 1 are `true` and `1`."""
    ear = Ear(**words)
    ear.say(payload)
    assert ear.report().on is on


@pytest.mark.parametrize(
    "payload", ['{"on": "ON"}', '{"on": "True"}', '{"on": null}', "{}", "x", b"\xff", b"[" * 20_000]
)
def test_other_words_are_no_contact(payload: object) -> None:
    """What is neither word, in its very letters, says nothing of the contact."""
    ear = Ear(draws=None, volts=None, warm=None)
    ear.say(payload)
    assert ear.hearing.news() is None


@pytest.mark.parametrize("watts", ["NaN", "true", "null", '"much"', "1e9", "-400"])
def test_broken_watts_are_no_watts(watts: str) -> None:
    """A broken meter value never becomes a number, and the contact beside it is still read."""
    ear = Ear()
    ear.say(f'{{"on": true, "watts": {watts}}}')
    report = ear.report()
    assert report.watts is None
    assert report.on is True


def test_broken_values_are_logged_once(caplog: pytest.LogCaptureFixture) -> None:
    """A broken value is logged once until a good one came, not with each message."""
    ear = Ear(volts=None, warm=None, draws=None)
    with caplog.at_level(logging.WARNING):
        for payload in ('{"on": 7}', '{"on": 8}', '{"on": true}', '{"on": 9}'):
            ear.say(payload)
    assert len(caplog.records) == 2
    assert KEY in caplog.text
    assert '"7" is neither of its words' in caplog.text


def test_presence() -> None:
    """A plug that says it is away is not reachable; its last contact keeps its old moment."""
    ear = Ear()
    ear.say('{"on": true}', at=5.0)
    ear.say("offline", topic="plug/7/present", at=9.0)
    report = ear.report()
    assert (report.reachable, report.on, report.on_at) == (False, True, 5.0)
    ear.say("online", topic="plug/7/present", at=12.0)
    assert ear.report().reachable


def test_the_report_is_told_once() -> None:
    """After a report there is none until something is heard."""
    ear = Ear()
    ear.say('{"on": true}')
    assert ear.report().on
    assert ear.hearing.news() is None


def test_a_lost_way_is_a_plug_away(
    mosquitto: Mosquitto, now: Steady, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once the broker has been away for a while its plug counts as away, told once; back, it is there again at once,
    and what it says then is within its return. What it said of its own presence holds on."""
    monkeypatch.setattr(mqtt, "WAY_LOST_SECONDS", 1.0)
    with StrangersPlug(mosquitto.port) as stranger, started(mosquitto, now, StrangersPlug.described()) as ours:
        stranger.tell_state()
        assert wait_until(lambda: (report := ours.news()) is not None and report.on is False)
        time.sleep(0.3)
        ours.news()
        mosquitto.kill()
        lost = time.monotonic()
        reports: list[PlugReport] = []
        assert wait_until(lambda: bool(reports.extend([one] if (one := ours.news()) else []) or reports), 5)
        assert time.monotonic() - lost > 0.9
        assert (reports[-1].reachable, reports[-1].on) == (False, False)
        time.sleep(0.2)
        assert ours.news() is None
        assert ours.away_seconds > 1.0
        began = now()
        mosquitto.start()
        assert wait_until(lambda: bool((one := ours.news()) and one.reachable and one.back_at >= began), 15)
        assert ours.away_seconds == 0.0
        mosquitto.publish("plug/7/present", "offline")
        assert wait_until(lambda: (report := ours.news()) is not None and not report.reachable)


def test_a_way_is_not_lost_after_it_came_back(
    mosquitto: Mosquitto, now: Steady, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It comes back in the very moment in which it is found lost: the plug does not count as away for good."""
    monkeypatch.setattr(mqtt, "WAY_LOST_SECONDS", 0.5)
    with started(mosquitto, now, StrangersPlug.described()) as ours:
        time.sleep(0.3)
        lose = ours._hearing.lost_the_way

        def lost_as_it_comes_back() -> None:
            mosquitto.start()
            assert wait_until(lambda: ours.connected, 10)
            time.sleep(0.5)
            lose()

        monkeypatch.setattr(ours._hearing, "lost_the_way", lost_as_it_comes_back)
        mosquitto.kill()
        assert wait_until(lambda: ours.away_seconds > 0.6, 5)
        ours.news()
        assert ours.connected
        monkeypatch.undo()
        assert wait_until(lambda: (report := ours.news()) is not None and report.reachable)


def test_the_first_connection_is_news(mosquitto: Mosquitto, now: Steady) -> None:
    """A plug that never speaks may have counted as away when the life before ended: that it can be told is said."""
    plug = StrangersPlug.described(shows=None, draws=None, volts=None, warm=None, present=None, ask_state=None)
    with started(mosquitto, now, plug) as ours:
        assert wait_until(lambda: (report := ours.news()) is not None and report.reachable)
        assert ours.news() is None
