"""A house after a day of life, and visitors to its pages."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.edge.pages.double import Double, lived_a_day
from thermostatd.edge.pages import create_app
from thermostatd.edge.pages.door import Role

PASSPHRASE = "seven grey herons"
HOME = "http://quay.local"


@pytest.fixture
def house() -> Double:
    """The invented house."""
    return lived_a_day()


Visit = Callable[..., TestClient]


class Steady:
    """A steady clock that stands until it is moved."""

    seconds = 1000.0

    def __call__(self) -> float:
        """Now."""
        return self.seconds


@pytest.fixture
def visit(house: Double) -> Visit:
    """Makes a visitor; by default a joined household phone called "Ana's phone"."""
    steady = Steady()
    apps: dict[str, Any] = {}

    def make(
        role: Role | None = "household",
        address: str = "192.0.2.7",
        name: str = "Ana",
        room: str | None = None,
        until: datetime | None = None,
        **settings: Any,
    ) -> TestClient:
        key = repr(settings)
        settings.setdefault("passphrase", PASSPHRASE)
        if key not in apps:
            apps[key] = create_app(house, now=steady, listen="127.0.0.1:8420", **settings)
        client = TestClient(
            apps[key],
            base_url=HOME,
            client=(address, 4711),
            follow_redirects=False,
            raise_server_exceptions=False,
        )
        client.headers.update({"origin": HOME, "accept-language": "en-GB"})
        if role is not None:
            client.cookies.set("device", joined(house, role, name, room, until))
        return client

    make.steady = steady  # type: ignore[attr-defined]
    return make


def joined(
    house: Double, role: Role, name: str, room: str | None = None, until: datetime | None = None
) -> str:
    """A device token, got the way phones get it."""

    async def get() -> str | None:
        return await house.join(await house.add_code(role, 10, room, until), name)

    token = asyncio.run(get())
    assert token
    return token
