"""A real broker and a stranger's plug on it, for each test that wants them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

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
