"""Who may do what: every route stands in the one table, and the table holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.edge.pages.conftest import PASSPHRASE, Visit
from tests.edge.pages.double import Double
from thermostatd.edge.pages import create_app
from thermostatd.edge.pages.site import OWNER_IDLE_SECONDS, OWNER_LONGEST_SECONDS
from thermostatd.edge.pages.who import MAY, ROUTES, may

FORM = {"content-type": "application/x-www-form-urlencoded"}
BODIES: dict[str, Any] = {
    "POST /api/ask": {"room": "study", "celsius": 20},
    "POST /api/warm-me": {"spot": "sewing table", "minutes": 20},
    "POST /api/out": {},
    "POST /api/all-off": {},
    "POST /api/cancel": {"what": "study"},
    "POST /api/seen": {"trouble": "x"},
    "POST /api/stands": {"heater": "study/column", "room": "study"},
    "POST /api/set-to": {"heater": "study/column", "watts": 600},
    "POST /api/undo": {"change": 1},
    "POST /api/week": {"room": "study", "steps": None},
}


def served_routes(app: Any) -> Iterator[str]:
    """Every method and path that the app answers."""
    waiting = list(app.routes)
    while waiting:
        route = waiting.pop()
        inner = getattr(route, "original_router", None)
        if inner is not None:
            waiting += inner.routes
        elif hasattr(route, "methods"):
            yield from (f"{method} {route.path}" for method in route.methods if method != "HEAD")


def test_every_route_is_in_the_table(house: Double) -> None:
    """The app serves exactly the routes of the table, and each act there has a least rank."""
    app = create_app(house, now=lambda: 0.0)
    assert set(served_routes(app)) == set(ROUTES)
    assert set(ROUTES.values()) == set(MAY)


@pytest.mark.parametrize("route", sorted(set(ROUTES) - {"GET /live"}))
@pytest.mark.parametrize("role", [None, "guest", "room-guest", "household", "owner"])
def test_each_rank_passes_exactly_its_routes(visit: Visit, route: str, role: Any) -> None:
    """A visitor is let through where the table says so and nowhere else."""
    method, _, path = route.partition(" ")
    path = path.format(name="study", page="index").replace("/static/study", "/static/page.css")
    body = {"json": BODIES[route]} if route in BODIES else {"content": "", "headers": FORM}
    answer = visit(role, room="study").request(method, path, **({} if method == "GET" else body))
    shut = answer.status_code == 403 or answer.headers.get("location") in ("/join", "/owner")
    shut = shut and not (route == "POST /owner" and role in ("household", "owner"))  # a wrong passphrase is 403 too
    shut = shut and not (route == "GET /join" and role)
    assert shut == (not may(role or "stranger", ROUTES[route])), (answer.status_code, answer.text[:200])


def test_a_stranger_learns_nothing_of_the_house(visit: Visit) -> None:
    """A stranger sees how to join; no room, spot, name of the house or guide."""
    stranger = visit(None)
    page = stranger.get("/join").text
    for word in ("Quay", "study", "Study", "sewing", "°"):
        assert word not in page
    assert stranger.get("/", headers={"accept": "text/html"}).headers["location"] == "/join"
    assert stranger.get("/health").json() == {"ok": True}


def test_a_forgotten_phone_is_a_stranger_at_once(visit: Visit, house: Double) -> None:
    """A token of a device that was forgotten opens nothing."""
    phone, owner = visit(), visit("owner", name="Bo")
    assert phone.get("/api/house").status_code == 200
    device = next(one for one in house.known.values() if one.name == "Ana")
    assert owner.post("/people/forget", data={"device": device.id}).status_code == 303
    assert phone.get("/api/house").status_code == 403


def test_open_lets_anyone_ask_but_not_through_a_proxy(visit: Visit, house: Double) -> None:
    """With `open` anyone may ask as "Someone here"; with a forwarding header nobody may, and is told why."""
    anyone = visit(None, open=True)
    assert anyone.post("/api/ask", json={"room": "study", "celsius": 19.0}).status_code == 200
    assert house.asked[-1].who == "Someone here"
    for header in ("x-forwarded-for", "forwarded"):
        refused = anyone.post(
            "/api/ask", json={"room": "study", "celsius": 19.0}, headers={header: "for=203.0.113.9"}
        )
        assert refused.status_code == 403
        assert refused.json()["code"] == "behind-proxy"
        assert "proxy" in anyone.get("/", headers={header: "203.0.113.9"}).text
    joined = visit(open=True)
    assert joined.get("/api/house", headers={"x-forwarded-for": "203.0.113.9"}).status_code == 200


def test_the_passphrase_makes_an_owner_for_a_while(visit: Visit) -> None:
    """The owner's passphrase opens the owner's pages; a quarter of an hour unused, or eight hours, end that."""
    steady = visit.steady  # type: ignore[attr-defined]
    phone = visit()
    assert phone.get("/people").headers["location"] == "/owner"
    assert phone.post("/owner", data={"passphrase": "wrong wrong"}).status_code == 403
    assert phone.post("/owner", data={"passphrase": PASSPHRASE}).status_code == 303
    assert phone.get("/people").status_code == 200
    steady.seconds += OWNER_IDLE_SECONDS + 1
    assert phone.get("/people").status_code == 303
    assert phone.post("/owner", data={"passphrase": PASSPHRASE}).status_code == 303
    for _ in range(int(OWNER_LONGEST_SECONDS // 600)):
        steady.seconds += 600
        phone.get("/people")
    steady.seconds += 1
    assert phone.get("/people").status_code == 303


def test_an_owner_may_stop_being_one(visit: Visit) -> None:
    """Leaving ends the owner's session on the server, not only the cookie."""
    phone = visit()
    phone.post("/owner", data={"passphrase": PASSPHRASE})
    kept = phone.cookies.get("owner")
    phone.post("/owner/leave")
    phone.cookies.set("owner", kept or "")
    assert phone.get("/people").status_code == 303
