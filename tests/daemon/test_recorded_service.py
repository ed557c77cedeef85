"""The real daemon on a real broker, replayed: what it was given comes out of its store as the very same orders."""

from __future__ import annotations

import asyncio
from pathlib import Path

from click.testing import CliRunner

from tests.daemon.test_service import serving
from tests.parts.mosquitto import Mosquitto, wait_until
from tests.parts.plug import StrangersPlug
from thermostatd.cli import main
from thermostatd.core.asking import Ask
from thermostatd.daemon.replaying import replay, stretches


def test_a_life_on_real_parts_replays(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """Readings over MQTT, a request, something learned and a stop: replayed from the store, all orders are the same."""
    with serving(tmp_path, broker.port) as (service, loop):
        heats = wait_until(lambda: broker.publish("study/air", "18.0") or plug.on, 10, 1.0)
        assert heats, "the plug was never switched on: the life proves nothing"
        asyncio.run_coroutine_threadsafe(service.do(Ask("study", 15.0, who="Ana")), loop).result(10)
        loop.call_soon_threadsafe(service.adopt, {"study": {"gain_kelvin": 20.0}})
        assert wait_until(lambda: not plug.on, 10)
        asyncio.run_coroutine_threadsafe(service.do(Ask("study", 21.0, who="Bo")), loop).result(10)
        assert wait_until(lambda: plug.on, 10)
    day = service.decided_at.wall.date().isoformat()
    recorded = stretches(tmp_path / "state", day)
    found = replay(recorded)
    assert found.same
    assert found.steps >= 5
    assert found.heaters["study/column"].was_switches >= 3
    kinds = [kind for s in recorded for part in s.parts for whats in part.between.values() for kind, _ in whats]
    assert sorted(kinds) == ["adopted", "asked", "asked"]
    told = CliRunner().invoke(main, ["replay", day, "--state", str(tmp_path / "state")])
    assert told.exit_code == 0, told.output


def test_what_is_learned_by_survives_the_end(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> None:
    """A daemon that ended well and starts again goes on with the history that it had."""
    with serving(tmp_path, broker.port, speed=600.0) as (service, _):
        learned = service.learning.history.rooms
        assert wait_until(lambda: broker.publish("study/air", "18.0") or len(learned["study"]) >= 5, 20, 1.0)
    before = len(service.learning.history.rooms["study"])
    with serving(tmp_path, broker.port) as (again, _):
        assert len(again.learning.history.rooms["study"]) >= before
