"""A broker, a stranger's plug and a running house for each test that wants them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto
from tests.parts.plug import StrangersPlug


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with Mosquitto(tmp_path / "broker") as running:
        yield running


@pytest.fixture
def plug(broker: Mosquitto) -> Iterator[StrangersPlug]:
    with StrangersPlug(broker.port) as online:
        yield online


@pytest.fixture
def home(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> Iterator[Home]:
    with Home(tmp_path / "home", broker.port, broker_more="asks = true") as running:
        yield running
