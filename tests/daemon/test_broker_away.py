"""The broker is gone: what is told, and what is not told besides."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.steady import Steady
from thermostatd.core.house import Broker, House, MqttPlug, Plug
from thermostatd.core.results import Trouble
from thermostatd.daemon import broker_away
from thermostatd.daemon.broker_away import AFTERWARDS_SECONDS, BrokerAway
from thermostatd.daemon.own_troubles import OwnTroubles
from thermostatd.edge.broker import Feed, client_id_of
from thermostatd.edge.plugs import MqttPlug as MqttAdapter
from thermostatd.edge.plugs import PlugAdapter, make_plug

NOON = datetime(2026, 1, 12, 12, tzinfo=UTC)
PLAIN = {"study/plain/may-stay-on": "study/plain"}


def house(broker: Broker) -> House:
    """An invented house: one plug with a timer, one without, one that is no client of the broker."""
    heaters = [
        {"name": "timed", "watts": 600, "plug": _plain(StrangersPlug.described("a"))},
        {"name": "plain", "watts": 600, "plug": _plain(StrangersPlug.described("b", timer=None))},
        {"name": "elsewhere", "watts": 600, "plug": {"kind": "simulated"}},
    ]
    room = {"name": "study", "sensor": {"topic": "study/air"}, "heater": heaters}
    return House.model_validate({"room": [room], "broker": broker.model_dump()})


def _plain(plug: MqttPlug) -> dict[str, object]:
    return plug.model_dump(mode="json", exclude_none=True)


class Running:
    """A feed and plugs on a real broker, and what is told of them."""

    def __init__(self, broker: Mosquitto, now: Steady, left_on: tuple[str, ...] = ()) -> None:
        self.house, self.now = house(broker.house_broker()), now
        self.feed = Feed(self.house.broker, client_id_of("test", "feed"), now)
        self.plugs: dict[str, PlugAdapter] = {
            key: make_plug(key, heater.plug, self.house, now)
            for key, heater, _ in self.house.heaters()
            if heater.plug.kind != "simulated"
        }
        self.away = BrokerAway(now, left_on)

    def start(self) -> None:
        """Begin connecting."""
        self.feed.start()
        for plug in self.plugs.values():
            plug.start()

    def stop(self) -> None:
        """End it."""
        for plug in self.plugs.values():
            plug.stop()
        self.feed.stop()

    def found(self, wall: datetime = NOON) -> dict[str, str]:
        """What is told now."""
        return self.away.found(wall, self.house, self.feed, self.plugs)


@pytest.fixture
def sooner(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(broker_away, "TELL_AFTER_SECONDS", 1.5)
    monkeypatch.setattr(broker_away, "MAY_STAY_ON_AFTER_SECONDS", 0.5)
    monkeypatch.setattr(broker_away, "HIDES_AFTER_SECONDS", 0.5)


@pytest.fixture
def running(broker: Mosquitto, sooner: None) -> Iterator[Running]:
    made = Running(broker, Steady())
    made.start()
    assert wait_until(lambda: made.feed.connected and all(plug.connected for plug in made.plugs.values()), 10)
    yield made
    made.stop()


def test_an_untimed_plug_is_named_first(running: Running, broker: Mosquitto) -> None:
    """Both were told ON: the one without a timer is named within seconds, the broker itself a while later, and both end
    with its return. What was told OFF is not named."""
    for plug in running.plugs.values():
        plug.tell(True, 900.0)
    assert running.found() == {}
    broker.kill()
    assert wait_until(lambda: running.found() == PLAIN, 3)
    place = f"{running.house.broker.host}:{running.house.broker.port}"
    assert wait_until(lambda: running.found() == PLAIN | {"broker-away": place}, 3)
    broker.start()
    assert wait_until(lambda: running.found() == {} and all(map(_told_off, running.plugs.values())), 15)
    broker.kill()
    assert wait_until(lambda: running.found() == {"broker-away": place}, 5), "each came back to OFF"


def test_shown_on_counts(running: Running, broker: Mosquitto) -> None:
    """A contact that showed ON though it was told OFF is named as well."""
    broker.publish("b", '{"on": true}')
    assert wait_until(lambda: (report := running.plugs["study/plain"].news()) is not None and report.on is True, 3)
    broker.kill()
    assert wait_until(lambda: running.found() == PLAIN, 3)


def test_an_off_that_a_frozen_broker_never_had(running: Running, broker: Mosquitto) -> None:
    """Told ON, then OFF while the connection only seems to stand: that OFF is lost with it, and the plug is named."""
    for plug in running.plugs.values():
        plug.tell(True, 900.0)
    time.sleep(0.5)
    broker.freeze()
    for plug in running.plugs.values():
        assert plug.connected
        plug.tell(False, 0.0)
    time.sleep(0.3)
    broker.kill()
    assert wait_until(lambda: running.found() == PLAIN, 3)


def test_what_the_run_before_left_on(broker: Mosquitto, sooner: None) -> None:
    """A start without the broker: a plug without a timer that was on is named, till the broker has an OFF for it."""
    broker.kill()
    begun = Running(broker, Steady(), ("study/plain", "study/timed", "loft/gone"))
    begun.start()
    try:
        assert begun.found() == {}
        assert wait_until(lambda: begun.found() == PLAIN, 3)
        gone = begun.away.found(NOON, begun.house, begun.feed, begun.plugs, {"loft/gone": 1.0})
        assert gone == PLAIN, "it is in no house since"
        broker.start()
        assert wait_until(lambda: begun.found() == {} and _told_off(begun.plugs["study/plain"]), 15)
        broker.kill()
        assert wait_until(lambda: list(begun.found()) == ["broker-away"], 5)
    finally:
        begun.stop()


def test_a_changed_house_forgets_none(running: Running, broker: Mosquitto) -> None:
    """Its adapter is a new one that knows nothing, its name another, or it left the file: named without a pause."""
    running.plugs["study/plain"].tell(True, 900.0)
    assert running.found() == {}
    broker.kill()
    assert wait_until(lambda: running.found() == PLAIN, 3)
    old, key = running.plugs["study/plain"], "study/plain"
    fresh = make_plug(key, _plug(running.house, key), running.house, running.now)
    try:
        running.plugs[key] = fresh
        assert running.found() == PLAIN
        fresh.start()
        assert running.found() == PLAIN
        running.away.follow({key: "study/timed", "study/timed": "loft/x"})
        untold = {"study/timed": 0.0}
        told = running.away.found(NOON, running.house, running.feed, running.plugs, untold)
        assert "study/timed/may-stay-on" in told
    finally:
        fresh.stop()
        old.stop()


def test_each_heater_is_a_trouble_of_its_own() -> None:
    """A notice that was sent for one is not sent again for another: each begins by itself."""
    own, later = OwnTroubles(), NOON + timedelta(seconds=9)
    (first,) = own.holding(NOON, PLAIN)
    second, still, house = own.holding(later, {"loft/b/may-stay-on": "loft/b"} | PLAIN | {"broker-away": "x"})
    assert [one.id for one in (first, still)] == ["study/plain/may-stay-on"] * 2
    assert (still.since, second.since, second.id) == (NOON, later, "loft/b/may-stay-on")
    assert (house.id, house.code, second.code) == ("house/broker-away", "broker-away", "may-stay-on")


def test_a_blink_hides_nothing(
    running: Running, broker: Mosquitto, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However often the connection is lost for a moment, a plug that is silent is told; and what is silent since an
    absence before the latest is."""
    later = NOON + timedelta(minutes=4)
    told = (trouble("study/timed", "silent-plug", later), trouble("study", "reading-missing", later))
    monkeypatch.setattr(broker_away, "HIDES_AFTER_SECONDS", 20.0)
    broker.kill()
    assert wait_until(lambda: bool(running.found()), 5)
    assert running.away.without_what_follows(running.house, told) == told
    monkeypatch.setattr(broker_away, "HIDES_AFTER_SECONDS", 0.5)
    running.found()
    assert running.away.without_what_follows(running.house, told) == ()
    broker.start()
    assert wait_until(lambda: not running.found(later), 15)
    assert running.away.without_what_follows(running.house, told) == ()
    broker.kill()
    assert wait_until(lambda: bool(running.found(later + timedelta(minutes=3))), 5)
    assert running.away.without_what_follows(running.house, told) == told


def test_one_line_in_the_log(
    running: Running, broker: Mosquitto, caplog: pytest.LogCaptureFixture
) -> None:
    """Every connection finds the loss out; the log says it once."""
    broker.kill()
    assert wait_until(lambda: "broker-away" in running.found(), 5)
    lost = [record.getMessage() for record in caplog.records if "was lost" in record.getMessage()]
    assert len(lost) == 1


def trouble(name: str, code: str, since: datetime, *, loud: bool = False) -> Trouble:
    """One of the regulator's."""
    return Trouble(f"{name}/{code}", code, "what", "evidence", "to do", since, loud=loud)


def test_what_only_follows_is_not_told(running: Running, broker: Mosquitto) -> None:
    """Silent plugs on the broker and unheard sensors are the broker's while it is away and for minutes after; what was
    there before, what is loud, and plugs elsewhere are told all the same."""
    later = NOON + timedelta(minutes=4)
    follow = (trouble("study/timed", "silent-plug", later), trouble("study", "reading-missing", later))
    told = (
        trouble("study/elsewhere", "silent-plug", later),
        trouble("study/timed", "cut-out", later),
        trouble("study/timed", "silent-plug", later, loud=True),
        replace(follow[1], since=NOON - timedelta(minutes=1)),
    )
    assert running.away.without_what_follows(running.house, follow + told) == follow + told
    broker.kill()
    assert wait_until(lambda: bool(running.found()), 5)
    assert running.away.without_what_follows(running.house, follow + told) == told
    broker.start()
    assert wait_until(lambda: not running.found(later), 15)
    assert running.away.without_what_follows(running.house, follow + told) == told
    running.now.pass_by(AFTERWARDS_SECONDS + 1.0)
    running.found(later)
    assert running.away.without_what_follows(running.house, follow + told) == follow + told


def test_a_whole_house(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """The daemon with a plug that has no timer: told loud within 20 s of the broker's death, its heater ordered OFF
    once the way is lost for half a minute, and all of it over when the broker is back."""
    home = Home(tmp_path / "home", broker.port)
    text = home.file.read_text()
    home.file.write_text(text.replace('timer = { payload = "true {seconds}" }', 'no_self_off = "accepted"'))
    assert home.file.read_text() != text
    with home:
        broker.publish("study/air", "17.0")
        assert wait_until(lambda: plug.on, 10)
        broker.kill()
        began = time.monotonic()
        assert wait_until(lambda: bool(_may_stay_on(home)), 20, 0.3)
        (told,) = home.house()["troubles"]
        assert (told["loud"], told["id"]) == (True, "study/column/may-stay-on")
        assert plug.on
        assert wait_until(lambda: _order(home) == (False, "silent-plug"), 45 - (time.monotonic() - began), 0.3)
        home.file.write_text(home.file.read_text().replace("rated_amps = 13", "rated_amps = 16"))
        assert wait_until(lambda: "plug changed" in home.log, 10), home.log
        assert not wait_until(lambda: not _may_stay_on(home), 8, 0.1), "its adapter is another now"
        home.terminate()
        home.start()
        assert wait_until(lambda: bool(_may_stay_on(home)), 25, 0.3), "the broker is still away"
        broker.start()
        assert wait_until(lambda: home.health().get("broker"), 35)
        plug.offline()
        plug.online()
        broker.publish("study/air", "17.0")
        assert wait_until(lambda: not home.house()["troubles"] and _order(home)[0], 20, 0.3)


def _told_off(plug: PlugAdapter) -> bool:
    assert isinstance(plug, MqttAdapter)
    return plug.was_told_off


def _plug(house: House, key: str) -> Plug:
    return next(heater.plug for name, heater, _ in house.heaters() if name == key)


def _may_stay_on(home: Home) -> list[dict[str, object]]:
    return [one for one in home.house()["troubles"] if one["code"] == "may-stay-on"]


def _order(home: Home) -> tuple[bool, str]:
    (heater,) = home.house()["rooms"][0]["heaters"]
    return heater["on"], heater["code"]
