"""A broker, a stranger's plug and a running house for each test that wants them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.home import Home
from tests.parts import fixtures
from tests.parts.mosquitto import Mosquitto
from tests.parts.plug import StrangersPlug

broker, plug = fixtures.broker, fixtures.plug


@pytest.fixture
def home(tmp_path: Path, broker: Mosquitto, plug: StrangersPlug) -> Iterator[Home]:
    with Home(tmp_path / "home", broker.port, broker_more="asks = true") as running:
        yield running
