"""The API's own description against the running house: whatever the description allows or forbids is sent.

Rules: the service, its store and its broker are real; the visitor is an owner; the throttle's clock runs fast, so that
what is looked at is the door and not the throttle. The generator is schemathesis, by the served /openapi.json.
"""

from __future__ import annotations

import asyncio
import itertools
import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    negative_data_rejection,
    response_schema_conformance,
    status_code_conformance,
)

from tests.daemon.home import house_text
from tests.parts.mosquitto import Mosquitto, wait_until
from thermostatd.daemon.house_door import HouseDoor
from thermostatd.daemon.parts import Parts
from thermostatd.daemon.service import Service
from thermostatd.edge.clock import Clock
from thermostatd.edge.house_file import load_house
from thermostatd.edge.pages import create_app, serve
from thermostatd.edge.pages.who import ROUTES

MORE = """
[[room]]
name = "box room"
sensor = { topic = "box/air" }
[[spot]]
name = "sewing table"
longest = "90 min"
[spot.heater]
name = "panel"
kind = "infrared"
watts = 900
plug = { kind = "mqtt", tell = "plug/9/set", timer = { payload = "true {seconds}" } }
"""
CHECKS = (
    not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance,
)  # fmt: skip
QUIET = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
FEW = settings(
    max_examples=12, phases=[Phase.explicit, Phase.generate], suppress_health_check=QUIET
)
MANY = settings(FEW, max_examples=1200)


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The description, as served by a house that runs."""
    folder = tmp_path_factory.mktemp("api")
    with Mosquitto(folder / "broker") as broker:
        file = folder / "house.toml"
        file.write_text(house_text(broker.port, 8420, more=MORE))
        loop = asyncio.new_event_loop()
        door = socket.create_server(("127.0.0.1", 0))
        address = f"127.0.0.1:{door.getsockname()[1]}"
        made: list[Any] = []

        async def run() -> None:
            service = Service(Parts(load_house(file), folder / "state", Clock(20.0)))
            seconds = itertools.count(0.0, 10.0)
            app = create_app(
                HouseDoor(service), now=lambda: next(seconds), open=True, open_rank="owner", listen=address
            )
            server = serve(app, address)
            made.extend((service, server))
            pages = asyncio.create_task(server.serve(sockets=[door]))
            await service.run()
            server.should_exit = True
            await pages

        thread = threading.Thread(target=loop.run_until_complete, args=(run(),))
        thread.start()
        try:
            assert wait_until(lambda: len(made) == 2 and made[0].parts.broker_up and made[1].started, 15)
            yield schemathesis.openapi.from_url(f"http://{address}/openapi.json")
        finally:
            loop.call_soon_threadsafe(made[0].stop)
            thread.join(20)
            assert not thread.is_alive()
            loop.close()


POSTS = sorted(route for route in ROUTES if route.startswith("POST /api/"))


def keep(api: Any, route: str, mode: GenerationMode, chosen: settings) -> None:
    """Sends many requests of one kind to one address, and looks at each answer."""
    method, _, path = route.partition(" ")

    @chosen
    @given(api[path][method].as_strategy(generation_mode=mode))
    def one(case: Any) -> None:
        answer = case.call()
        large = answer.status_code == 413  # refused before anyone read whether it fits
        case.validate_response(answer, checks=CHECKS if large else (*CHECKS, negative_data_rejection))

    one()


def test_the_description_holds_every_route(api: Any) -> None:
    """Each route of the API is in what is served, and nothing else is."""
    described = {f"{one.ok().method.upper()} {one.ok().path}" for one in api.get_all_operations()}
    assert described == {route for route in ROUTES if " /api/" in route}


@pytest.mark.parametrize("route", ["GET /api/house", *POSTS])
def test_what_the_description_allows(api: Any, route: str) -> None:
    """What fits the description breaks nothing; each answer is one that the description names, in its form."""
    keep(api, route, GenerationMode.POSITIVE, FEW)


@pytest.mark.parametrize("route", POSTS)
def test_what_the_description_forbids(api: Any, route: str) -> None:
    """What does not fit is refused, in words and in the form that is described."""
    keep(api, route, GenerationMode.NEGATIVE, FEW)


@pytest.mark.night
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("mode", list(GenerationMode))
@pytest.mark.parametrize("route", POSTS)
def test_both_for_long(api: Any, route: str, mode: GenerationMode) -> None:
    """The same, a thousand times each."""
    keep(api, route, mode, MANY)
