"""A heater that is taken out of the house file while its plug cannot be told: it is told until it was."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.home import PLUG, Home, command, house_text
from tests.daemon.test_signals import _toml
from tests.parts.http_plug import HttpRelay
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from tests.parts.steady import Steady
from thermostatd.core.house import House
from thermostatd.daemon.kept_house import keep_house
from thermostatd.daemon.left_plugs import NAME, keep_left, kept_left
from thermostatd.daemon.parts import Parts
from thermostatd.edge.clock import Clock
from thermostatd.edge.house_file import load_house

NO_TIMER = PLUG.replace('timer = { payload = "true {seconds}" },', 'no_self_off = "accepted",')
LOFT = """
[[room]]
name = "loft"
sensor = { topic = "loft/air" }
[[room.heater]]
name = "panel"
watts = 400
plug = { kind = "mqtt", tell = "plug/8/set", timer = { payload = "true {seconds}" } }
"""


def house(folder: Path, port: int, plug: str, *, study: bool = True) -> House:
    """Two rooms; the study's heater on that plug, or without a heater."""
    text = house_text(port, 8420).replace(PLUG.replace("\n", " "), plug.replace("\n", " "))
    if not study:
        text = text[: text.index("[[room.heater]]")]
    file = folder / "house.toml"
    file.write_text(text + LOFT)
    return load_house(file)


@pytest.fixture
def relay() -> Iterator[HttpRelay]:
    made = HttpRelay()
    yield made
    made.close()


def begun(folder: Path, of: House) -> Parts:
    """The parts of a running house."""
    parts = Parts(of, folder / "state")
    parts.start()
    return parts


def look(parts: Parts, done: object, seconds: float) -> bool:
    """Ticks until something holds."""

    def tick() -> bool:
        parts.observe()
        return bool(done())  # type: ignore[operator]

    return wait_until(tick, seconds, 0.1)


def test_a_crash_forgets_none(tmp_path: Path, broker: Mosquitto) -> None:
    """Taken out while its plug is off the network, though the broker took the OFF; the daemon is killed: the next run
    tells it, once it is back, and then the file is gone."""
    home = Home(tmp_path / "home", broker.port)
    text = home.file.read_text().replace(PLUG.replace("\n", " "), NO_TIMER.replace("\n", " "))
    home.file.write_text(text)
    kept = home.state / NAME
    with StrangersPlug(broker.port) as plug, home:
        broker.publish("study/air", "15")
        assert wait_until(lambda: plug.on, 15), home.log
        plug.offline()
        home.file.write_text(text[: text.index("[[room.heater]]")] + LOFT)
        assert wait_until(lambda: "left the house file" in home.log, 15), home.log
        assert plug.on
        home.kill()
        assert kept.stat().st_mode & 0o77 == 0
        told = command("all-off", str(home.file), "--state", str(home.state)).stdout
        assert "2 plugs were told OFF" in told  # the failure unit tells it as well
        home.start()
        time.sleep(2.0)
        plug.online()
        assert wait_until(lambda: not plug.on, 45)
        assert wait_until(lambda: not kept.exists(), 15)


def test_taken_out_between_two_runs(tmp_path: Path, broker: Mosquitto) -> None:
    """Its plug was away when the daemon was killed; at the start its heater is no longer in the file: it is told."""
    first, file, state = house(tmp_path, broker.port, NO_TIMER), tmp_path / "house.toml", tmp_path / "state"
    state.mkdir()
    keep_house(state, file, file.read_text())
    assert first.room("study") is not None
    without = house(tmp_path, broker.port, NO_TIMER, study=False)
    with StrangersPlug(broker.port) as plug:
        plug.press(True)
        parts = Parts(without, state, path=file)
        parts.start()
        try:
            assert parts.leaving.keys == ["study/column"]
            assert look(parts, lambda: not plug.on, 10)
            assert look(parts, lambda: parts.leaving.keys == [], 40)
        finally:
            parts.close()


def test_what_cannot_be_read(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    """A damaged list is said and passed over; an empty one is no file."""
    (tmp_path / NAME).write_text('[{"key": 1}]')
    assert kept_left(tmp_path) == []
    assert "cannot be read" in caplog.text
    keep_left(tmp_path, [])
    assert list(tmp_path.iterdir()) == []
    assert kept_left(tmp_path) == []


@pytest.mark.parametrize("plug_text", [NO_TIMER, PLUG], ids=["without a timer", "with one"])
def test_the_broker_is_away(tmp_path: Path, broker: Mosquitto, plug_text: str) -> None:
    """Taken out while the broker is down: OFF comes once the plug is back too, and then nothing of it is left."""
    parts = begun(tmp_path, house(tmp_path, broker.port, plug_text))
    try:
        with StrangersPlug(broker.port) as plug:
            assert wait_until(lambda: parts.plugs["study/column"].connected, 10)
            parts.plugs["study/column"].tell(True, 1200.0)
            assert wait_until(lambda: plug.on)
            plug.offline()
            broker.kill()
            parts.rehouse(house(tmp_path, broker.port, plug_text, study=False))
            assert look(parts, lambda: parts.leaving.keys == ["study/column"], 12)
            assert list(parts.plugs) == ["loft/panel"]
            assert plug.on
            broker.start()
            look(parts, lambda: False, 6)
            assert parts.leaving.keys == ["study/column"], "the broker has it, the plug has not"
            plug.online()
            assert look(parts, lambda: not plug.on, 45)
            assert look(parts, lambda: parts.leaving.keys == [], 5)
    finally:
        parts.close()


def test_a_plug_that_is_busy(tmp_path: Path, broker: Mosquitto, relay: HttpRelay) -> None:
    """An HTTP plug that answers 503 once, or for long: told until it takes it."""
    described = relay.described(timer=None, no_self_off="accepted", rated_amps=13)
    table = {key: value for key, value in described.items() if value is not None}
    text = "{ " + ", ".join(f"{key} = {_toml(value)}" for key, value in table.items()) + " }"
    parts = begun(tmp_path, house(tmp_path, broker.port, text))
    try:
        assert wait_until(lambda: parts.plugs["study/column"].connected, 10)
        parts.plugs["study/column"].tell(True, 1200.0)
        assert wait_until(lambda: relay.on, 5)
        relay.status = 503
        parts.rehouse(house(tmp_path, broker.port, text, study=False))
        assert look(parts, lambda: parts.leaving.keys == ["study/column"], 15)
        assert relay.on
        relay.status = 200
        assert look(parts, lambda: not relay.on, 15)
        assert look(parts, lambda: parts.leaving.keys == [], 5)
    finally:
        parts.close()


def test_one_that_came_back_is_its_new_adapters(tmp_path: Path, broker: Mosquitto) -> None:
    """Taken out and put back while the broker is down: nothing tells OFF behind the house's back later."""
    both = house(tmp_path, broker.port, PLUG)
    parts = begun(tmp_path, both)
    try:
        assert wait_until(lambda: parts.plugs["study/column"].connected, 10)
        broker.kill()
        parts.rehouse(house(tmp_path, broker.port, PLUG, study=False))
        assert look(parts, lambda: parts.leaving.keys == ["study/column"], 12)
        parts.rehouse(both)
        assert parts.leaving.keys == []
        broker.start()
        with StrangersPlug(broker.port) as plug:
            assert look(parts, lambda: parts.plugs["study/column"].connected, 40)
            parts.plugs["study/column"].tell(True, 1200.0)
            assert wait_until(lambda: plug.on)
            look(parts, lambda: False, 4)
            assert plug.on
    finally:
        parts.close()


def test_its_timer_ends_it(tmp_path: Path, broker: Mosquitto, monkeypatch: pytest.MonkeyPatch) -> None:
    """One with a timer is given up once its last ON must have lapsed; one without is not."""
    now = Steady()
    for text, left in ((PLUG, []), (NO_TIMER, ["study/column"])):
        folder = tmp_path / str(len(left))
        folder.mkdir()
        clock = Clock()
        monkeypatch.setattr(clock, "now", now)
        parts = Parts(house(folder, broker.port, text), folder / "state", clock)
        parts.start()
        try:
            assert wait_until(lambda parts=parts: parts.plugs["study/column"].connected, 10)
            broker.kill()
            parts.rehouse(house(folder, broker.port, text, study=False))
            assert look(parts, lambda parts=parts: parts.leaving.keys == ["study/column"], 12)
            now.pass_by(1300.0)
            time.sleep(0.2)
            parts.observe()
            assert parts.leaving.keys == left
        finally:
            parts.close()
            broker.start()


def test_a_stop_tries_again(broker: Mosquitto, relay: HttpRelay) -> None:
    """One busy answer to a stop's OFF is not the last word."""
    from tests.edge.plugs.worlds import KEY, house_with
    from thermostatd.core.house import HttpPlug
    from thermostatd.edge.plugs import make_plug

    described = HttpPlug.model_validate(relay.described(every="100 s", timeout="1 s"))
    plug = make_plug(KEY, described, house_with(described), Steady())
    plug.start()
    assert wait_until(lambda: plug.connected)
    plug.tell(True, 900.0)
    assert wait_until(lambda: relay.on)
    time.sleep(0.3)
    relay.status, asked = 503, len(relay.asked)
    import threading

    def free() -> None:
        wait_until(lambda: len(relay.asked) > asked, 5)
        relay.status = 200

    threading.Thread(target=free, daemon=True).start()
    assert plug.stop()
    assert not relay.on
