"""A Homie plug on a real mosquitto: what is its own beside the contract."""

from __future__ import annotations

from tests.edge.listening.broker_world import HomieDevice
from tests.edge.plugs.worlds import KEY, HomieWorld, house_with
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.steady import Steady
from thermostatd.core.house import HomiePlug
from thermostatd.edge.plugs import make_plug


def test_a_device_that_died_is_not_reachable(mosquitto: Mosquitto) -> None:
    """The last will says `lost`: the plug is not reachable, and what it said before is no answer when it comes back."""
    world = HomieWorld(mosquitto)
    world.begin()
    world.device.die()
    assert world.see(lambda report: not report.reachable)
    world.device = HomieDevice(mosquitto.port)
    assert world.see(lambda report: report.reachable)
    assert world.last is not None
    assert world.last.back_at is not None
    world.adapter.tell(True, 900.0)
    assert world.see(lambda report: report.on is True)
    world.end()


def test_the_seconds_come_before_the_on(mosquitto: Mosquitto) -> None:
    """Each ON is preceded by its seconds; nothing is retained."""
    world = HomieWorld(mosquitto)
    world.begin()
    assert wait_until(lambda: bool(world.device.heard))
    world.adapter.tell(True, 900.0)
    assert wait_until(lambda: len(world.device.heard) >= 3)
    assert world.device.heard[-2:] == [
        ("homie/5/plug-3/relay/off-after/set", "900"), ("homie/5/plug-3/relay/on/set", "true")
    ]  # fmt: skip
    with mosquitto.listening("homie/#") as late:
        assert wait_until(lambda: late.heard("homie/5/plug-3/relay/on"))
        assert late.heard("homie/5/plug-3/relay/on/set") == []
    world.end()


def test_a_kept_value_of_a_lost_device_is_no_answer(mosquitto: Mosquitto) -> None:
    """Started while the device is lost, its retained contact counts for nothing."""
    device = HomieDevice(mosquitto.port)
    device.die()
    with mosquitto.listening("homie/5/plug-3/$state") as heard:
        assert heard.wait("homie/5/plug-3/$state", "lost")
    plug = HomiePlug(device="plug-3", switch="relay/on")
    adapter = make_plug(KEY, plug, house_with(plug, mosquitto.house_broker()), Steady())
    adapter.start()
    reports = []
    assert wait_until(
        lambda: reports.append(adapter.news()) or any(one and not one.reachable for one in reports)
    )
    assert all(one is None or one.on is None for one in reports)
    adapter.stop()
