"""A walk over every page that there is, in every state that a person can bring it into: each stop is handed to a check.

`addresses` names those that answer with a page, from the program's own table: a new one cannot be left out.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any

from playwright.sync_api import Page

from tests.browser.served import Served
from tests.edge.pages.conftest import PASSPHRASE
from tests.edge.pages.double import Double
from thermostatd.core.asking import Ask
from thermostatd.core.facts import LevelFact, TripFact
from thermostatd.core.house.tables import Tariff
from thermostatd.core.results import Trouble
from thermostatd.edge.pages.door import FileLook, Role
from thermostatd.edge.pages.who import ROUTES

Check = Callable[[str, Page], None]
PAGES_NOT = {"/live", "/health", "/metrics", "/openapi.json", "/static/{name}", "/favicon.ico", "/join"}
"""No pages for people; joining is walked by a stranger."""


def addresses(served: Served) -> list[str]:
    """Every address of a page, by the table of who may see what: rooms are the study, guides are all there are."""
    guides = [guide.name for guide in served.app.state.site.rendering.guides()]
    paths = [route.removeprefix("GET ") for route in ROUTES if route.startswith("GET ")]
    found = [
        path.replace("{name}", "study")
        for path in paths
        if path not in PAGES_NOT and not path.startswith("/api/")
    ]
    return [path for path in found if "{page}" not in path] + [f"/help/{name}" for name in guides]


def taught(house: Double) -> None:
    """What the owner's pages have to show: levels, an opening, a model, a tariff, faults of the file."""
    facts = house.regulator._memory.heaters["study/column"].facts
    facts.levels, facts.sustained_watts = [LevelFact(588.0, 4.0, 30), LevelFact(1290.0, 7.0, 9)], 588.0
    facts.sustained_spread_watts, facts.trip_count = 6.0, 2
    facts.opens_watts, facts.opens_spread_watts, facts.body_tau_seconds = 588.0, 6.0, 1100.0
    facts.trips = [TripFact(house.wall.timestamp() - 7200, 640.0, 1290.0, 588.0)]
    constants = {"heater_seconds": 900.0, "sensor_seconds": 120.0}
    thermal = {
        "constants": constants, "loss_watts_per_kelvin": 38.0, "loss_spread_watts_per_kelvin": 2.5,
        "settling_hours": 14.0, "settling_spread_hours": 1.5, "held_out_kelvin": 0.11, "hours": 72.0,
    }  # fmt: skip
    simple = {"gain_kelvin": 34.2, "tau_seconds": 43_000.0, "dead_seconds": 600.0, "residual_kelvin": 0.05}
    house.regulator.adopt({"study": simple | {"thermal": thermal}})
    fault = (12, "room.study", "it is wrong", "Mend it.")
    house.file = FileLook("house.toml", (fault,), (replace_line(fault, 14),), True)
    tariff = Tariff.model_validate({"currency": "kr", "per_kwh": 1.5})
    house.house = house.house.model_copy(update={"tariff": tariff})
    house.decide()


def replace_line(fault: tuple[int, str, str, str], line: int) -> tuple[int, str, str, str]:
    """The same at another line."""
    return (line, *fault[1:])


def in_trouble(house: Double) -> None:
    """Both kinds of trouble, one of them latched, a silent sensor, an old view, a broker that is away."""
    loud = Trouble("hall/convector/drawing-while-off", "drawing-while-off", "A plug that should be off carries power.",
                   "588 W.", "Pull the plug out of the wall, now.", house.wall, loud=True, latched=True)  # fmt: skip
    quiet = Trouble("study/battery-low", "battery-low", "A sensor's battery is low.", "It is at 8 %.",
                    "Change the battery soon.", house.wall - timedelta(hours=30))  # fmt: skip
    house.troubles, house.age_seconds, house.broker_up = (
        (loud, replace(quiet, seen=True), quiet),
        400.0,
        False,
    )
    house.silent.add("hall")
    for _ in range(40):
        house.tick()


def walk(house: Double, phone: Callable[..., Page], check: Check, **settings: Any) -> None:
    """Goes everywhere as the owner, then as a stranger, a guest, a room guest and a joined phone."""
    taught(house)
    with Served(house, open_rank="owner", passphrase=PASSPHRASE) as served:
        page = phone(**settings)
        for path in addresses(served):
            page.goto(served.url + path)
            open_all(page)
            check(path, page)
        for label in _household(served, house, page):
            check(label, page)
    with Served(house, open=False, passphrase=PASSPHRASE) as served:
        for label, page in _visitors(served, phone, settings):
            check(label, page)
    with Served(house, open=True) as served:
        page = phone(**settings)
        page.goto(f"{served.url}/owner")
        check("/owner without a passphrase", page)


def open_all(page: Page) -> None:
    """Opens what can be opened, one panel at a time where they overlap."""
    page.evaluate("document.querySelectorAll('main details').forEach(box => { box.open = true; })")


def _household(served: Served, house: Double, page: Page) -> Iterator[str]:
    """What people bring the page into."""
    page.goto(served.url)
    page.locator("#out summary").click()
    yield "everyone out, choosing"
    page.locator("#out button[value=at]").click()
    page.locator("#out .msg").wait_for()
    yield "everyone out, refused"
    page.locator("#out button[value='in-180']").click()
    page.locator("button[value=out]").wait_for()
    yield "everyone out"
    page.locator("#return summary").click()
    yield "everyone out, another return"
    page.locator("button[value=out]").click()
    page.locator("header #out").wait_for()
    page.locator("#at-study summary").click()
    page.locator("#at-study input[name=degrees]").fill("99")
    page.locator("#at-study button[value=in-60]").click()
    page.locator("#at-study .msg").wait_for()
    yield "an ask, refused"
    page.locator("#at-sewing-table button[value='20']").click()
    page.locator("#at-sewing-table button[name=what]").wait_for()
    yield "a spot, on"
    page.goto(f"{served.url}/room/hall")
    page.locator("#later summary").click()
    yield "a room, for later"
    page.locator("#later button.go").click()
    page.locator("#later .msg").wait_for()
    yield "a room, for later refused"
    page.locator("#later input[name=degrees]").fill("17")
    page.locator("#later select").select_option("3")
    page.locator("#later input[name=at]").fill("18:30")
    page.locator("#later button.go").click()
    served.call(lambda: house.tick(10.0))
    page.goto(f"{served.url}/room/hall")
    page.locator(".waits").wait_for()
    yield "a room, for later asked"
    page.locator("#off summary").click()
    yield "a room, to be off"
    page.locator("#off button[value=at]").click()
    page.locator("#off .msg").wait_for()
    yield "a room, off refused"
    page.locator("#off button[value=no-end]").click()
    page.locator("#at-hall .still").wait_for()
    yield "a room, off"
    page.goto(f"{served.url}/room/hall")
    page.locator("button[value=hall]").click()
    page.locator("#at-hall summary").wait_for()
    page.goto(f"{served.url}/room/study/week?day=2")
    page.locator("input[name=degrees-0]").fill("99")
    page.locator("button.go").click()
    page.locator(".msg").wait_for()
    yield "a week, refused"
    page.locator("input[name=degrees-0]").fill("19")
    page.locator("button.go").click()
    page.locator("form[action$='/week/back']").wait_for()
    yield "a week, changed"
    page.goto(f"{served.url}/people")
    page.locator("button[value=household]").click()
    page.locator(".code").wait_for()
    yield "people, a code"
    page.locator("#guest summary").click()
    page.locator("button[value=room-guest]").click()
    page.locator(".msg").wait_for()
    yield "people, a guest refused"
    yield from _troubled(served, house, page)


def _troubled(served: Served, house: Double, page: Page) -> Iterator[str]:
    """What the house brings it into."""
    served.call(lambda: house.regulator.do(house.moment(), Ask("study", 21.0, who="Bo")))
    served.call(lambda: in_trouble(house))
    for path in ("/", "/room/hall", "/owner/troubles", "/owner/sensors"):
        page.goto(served.url + path)
        yield f"{path} in trouble"
    page.goto(served.url)
    page.locator("form.off button").click()
    page.locator("button[value=all-off]").wait_for()
    yield "all off"
    for path in ("/nothing-here", "/room/attic", "/help/nothing"):
        page.goto(served.url + path)
        yield f"{path}, no such page"


def _visitors(
    served: Served, phone: Callable[..., Page], settings: dict[str, Any]
) -> Iterator[tuple[str, Page]]:
    """A stranger, guests, and a phone of the household."""
    page = phone(**settings)
    page.goto(served.url)
    yield "joining", page
    page.locator("#code").fill("11112222")
    page.locator("#name").fill("Ana")
    page.locator("form[action='/join'] button").click()
    page.locator(".msg").wait_for()
    yield "joining, refused", page
    roles: tuple[tuple[Role, str | None], ...] = (
        ("guest", None),
        ("room-guest", "hall"),
        ("household", None),
    )
    for role, room in roles:
        page = phone(**settings)
        as_joined(served, page, role, "Ana", room)
        for path in ("/", "/phone"):
            page.goto(served.url + path)
            yield f"{path} of a {role}", page
    page.locator("#name").evaluate(
        "field => { field.required = false; field.value = ''; field.form.submit(); }"
    )
    page.locator(".msg").wait_for()
    yield "a name, refused", page
    page.goto(f"{served.url}/owner")
    yield "/owner of a household", page
    page.locator("#passphrase").fill("wrong words")
    page.locator("button.go").click()
    page.locator(".msg").wait_for()
    yield "a passphrase, refused", page


def as_joined(served: Served, page: Page, role: Role, name: str, room: str | None = None) -> None:
    """Makes this phone a joined device."""

    async def get() -> str | None:
        return await served.double.join(await served.double.add_code(role, 10, room), name)

    token = asyncio.run_coroutine_threadsafe(get(), served.loop).result(5)
    page.context.add_cookies([{"name": "device", "value": token or "", "url": served.url}])
