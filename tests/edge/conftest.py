"""Real brokers for the tests of this folder."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.parts.mosquitto import Mosquitto
from tests.parts.steady import Steady
from thermostatd.edge.embedded_broker import EmbeddedBroker


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """A mosquitto of the test's own, which it may kill and freeze."""
    with Mosquitto(tmp_path / "broker") as broker:
        yield broker


@pytest.fixture
def embedded() -> Iterator[EmbeddedBroker]:
    """The demo's broker, which knows no MQTT 5 and says nothing to it."""
    broker = EmbeddedBroker(port=0)
    broker.start()
    yield broker
    broker.stop()


@pytest.fixture
def now() -> Steady:
    """A steady clock."""
    return Steady()
