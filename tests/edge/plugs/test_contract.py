"""One contract for every plug adapter."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.edge.plugs.worlds import (
    HomieWorld,
    MqttWorld,
    RehearsedWorld,
    World,
    file_world,
    http_world,
    program_plug,
)
from tests.parts.plug import StrangersPlug
from thermostatd.core.house import AddedPlug, House, SimulatedPlug
from thermostatd.edge.plugs import make_plug

# The last three go through the same code as mqtt or http: as a whole at night, each for itself in a file of its own.
KINDS = ["mqtt", "simulated", "http"] + [
    pytest.param(kind, marks=pytest.mark.night) for kind in ("homie", "program", "added")
]


@pytest.fixture(params=KINDS)
def world(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[World]:
    """Each adapter with a plug behind it."""
    world, close = _world(request, tmp_path)
    yield world
    world.end()
    close()


def _world(request: pytest.FixtureRequest, folder: Path) -> tuple[World, Callable[[], None]]:
    match request.param:
        case "mqtt":
            return MqttWorld(request.getfixturevalue("mosquitto")), _nothing
        case "homie":
            return HomieWorld(request.getfixturevalue("mosquitto")), _nothing
        case "http":
            return http_world()
        case "program":
            return file_world(program_plug(folder / "relay"), folder / "relay", None), _nothing
        case "added":
            request.getfixturevalue("example_package")
            plug = AddedPlug(
                adapter="relay-file", settings={"file": str(folder / "relay")}, has_timer=True, every="0.2 s"
            )
            return file_world(plug, folder / "relay", "until"), _nothing
        case _:
            return RehearsedWorld(), _nothing


def _nothing() -> None:
    """Nothing is left to close."""


def test_start_tells_off(world: World) -> None:
    """A plug that someone left on is switched off by starting."""
    world.press()
    assert world.contact()
    world.adapter.start()
    assert world.see(lambda report: report.on is False)
    assert not world.contact()


def test_on_is_shown_with_its_moments(world: World) -> None:
    """An ON is answered with the contact and the power, each with a steady second after the order."""
    world.begin()
    told = world.now()
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True and (report.watts or 0) > 300)
    assert world.last is not None
    assert world.last.reachable
    assert world.last.on_at is not None
    assert told <= world.last.on_at <= world.now()
    assert world.last.watts_at is not None
    assert told <= world.last.watts_at <= world.now()
    assert world.last.volts == pytest.approx(230, abs=15)


def test_on_ends_by_itself(world: World) -> None:
    """An ON that nobody renews ends when its seconds are over, and not before."""
    world.begin()
    told = world.now()
    world.adapter.tell(True, 1.0)
    assert world.see(lambda report: report.on is True)
    assert world.see(lambda report: report.on is False)
    assert 0.9 <= world.now() - told <= 3.0
    assert not world.contact()


def test_renewing_prolongs(world: World) -> None:
    """A renewed ON ends by the last order."""
    world.begin()
    world.adapter.tell(True, 2.0)
    assert world.see(lambda report: report.on is True)
    renewed = world.now()
    world.adapter.tell(True, 3.0)
    assert world.let(lambda: not world.contact(), 8)
    assert 2.8 <= world.now() - renewed <= 5.0


def test_off(world: World) -> None:
    """OFF ends an ON."""
    world.begin()
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True)
    world.adapter.tell(False, 0.0)
    assert world.see(lambda report: report.on is False)
    assert not world.contact()


@pytest.mark.parametrize("seconds", [0.0, 0.9, -5.0])
def test_an_on_for_less_than_a_second_is_off(world: World, seconds: float) -> None:
    """An ON without a whole second left is OFF."""
    world.begin()
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True)
    world.adapter.tell(True, seconds)
    assert world.see(lambda report: report.on is False)


def test_the_button_is_seen(world: World) -> None:
    """Someone who presses the plug's own button is seen in the report."""
    world.begin()
    world.press()
    assert world.see(lambda report: report.on is True)


def test_no_news_is_none(world: World) -> None:
    """Where nothing was heard since the last call, there is no report."""
    world.begin()
    while world.adapter.news() is not None:
        pass
    assert world.adapter.news() is None


def test_stop_leaves_it_off(world: World) -> None:
    """Stopping leaves the contact open."""
    world.begin()
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True)
    world.adapter.stop()
    assert world.let(lambda: not world.contact(), 2)


def test_a_simulated_plug_needs_its_rehearsal() -> None:
    """A house file with a simulated plug cannot drive real rooms: the error names the plug."""
    with pytest.raises(ValueError, match="study/column"):
        make_plug("study/column", SimulatedPlug(), House(), lambda: 0.0)


def test_start_does_not_wait_for_a_broker() -> None:
    """With no broker at all, starting, telling and stopping return at once and raise nothing."""
    from tests.edge.plugs.worlds import KEY, house_with
    from tests.parts.mosquitto import free_port
    from tests.parts.steady import Steady
    from thermostatd.core.house import Broker

    described, now = StrangersPlug.described(), Steady()
    plug = make_plug(KEY, described, house_with(described, Broker(port=free_port())), now)
    began = now()
    plug.start()
    plug.tell(True, 900.0)
    assert plug.news() is None
    assert now() - began < 0.5
    plug.stop()
