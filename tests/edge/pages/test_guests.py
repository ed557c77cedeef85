"""Guests: one looks, another asks in one room, both until a day; the table alone decides."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.asking import NO_END, AllOff, Ask, Cancel, Out, RoomOff, Undo, UsualWeek, WarmMe
from thermostatd.edge.pages.who import Visitor, may, may_put, sees_room

LODGER = Visitor("Eve", "room-guest", "k", "id", "study")


def code_from(page: str) -> str:
    """The code on the owner's page."""
    return page.partition('class="code">')[2].partition("<")[0]


def guest_form(role: str, room: str = "study", until: str = "2026-01-15") -> dict[str, str]:
    """The owner's form for a guest."""
    return {"role": role, "room": room, "until": until}


def test_a_guest_looks_and_changes_nothing(visit: Visit, house: Double) -> None:
    """A guest sees the rooms without any button that asks; whatever it sends is refused."""
    guest = visit("guest", name="Eve")
    page = guest.get("/").text
    assert "Study" in page
    assert "Hall" in page
    for word in ("Cooler", "Warmer", "All off", "Everyone out", ">Usual<", "20 min"):
        assert word not in page
    for path, body in (
        ("ask", {"room": "study", "celsius": 19}), ("all-off", {}), ("out", {}), ("cancel", {"what": "study"}),
        ("warm-me", {"spot": "sewing table", "minutes": 20}), ("week", {"room": "study", "steps": None}),
        ("undo", {"change": 1}), ("room-off", {"room": "study"}),
    ):  # fmt: skip
        answer = guest.post(f"/api/{path}", json=body)
        assert (answer.status_code, answer.json()["code"]) == (
            403,
            "owner-only" if path == "week" else "not-for-guests",
        )
    assert house.asked == []
    assert guest.get("/metrics").status_code == 403
    assert guest.get("/owner").status_code == 403


def test_a_room_guest_asks_in_its_room_and_sees_only_that(visit: Visit, house: Double) -> None:
    """One room on the page and in the API; asks there are taken, anywhere else refused."""
    guest = visit("room-guest", name="Eve", room="study")
    page = guest.get("/").text
    assert "Warmer in the study" in page
    for word in ("Hall", "Long room", "Sewing table", "All off"):
        assert word not in page
    told = guest.get("/api/house").json()
    assert [room["room"] for room in told["rooms"]] == ["study"]
    assert told["spots"] == []
    assert guest.post("/api/ask", json={"room": "study", "celsius": 19.0}).status_code == 200
    refused = guest.post("/api/ask", json={"room": "hall", "celsius": 15.0})
    assert (refused.status_code, refused.json()["code"]) == (403, "not-for-guests")
    assert guest.post("/ask", data={"room": "hall", "degrees": "15"}).status_code == 403
    assert guest.post("/api/cancel", json={"what": "out"}).status_code == 403
    assert guest.get("/room/hall").status_code == guest.get("/room/hall/week").status_code == 404
    assert [one for one in house.asked if isinstance(one, Ask)][-1].room == "study"


def test_the_table_of_a_room_guests_requests() -> None:
    """Its own room's target, taking that back, and undoing its own change; nothing else."""
    allowed = [Ask("study", 19.0), RoomOff("study"), Cancel("study"), Undo(3)]
    others = [Ask("hall", 19.0), RoomOff("hall"), Cancel("hall"), Cancel(Out), Cancel(AllOff),
              WarmMe("sewing table", 20), Out(NO_END), AllOff(), UsualWeek("study", None)]  # fmt: skip
    assert [may_put(LODGER, one) for one in allowed] == [True] * 4
    assert [may_put(LODGER, one) for one in others] == [False] * len(others)
    assert sees_room(LODGER, "study")
    assert not sees_room(LODGER, "hall")
    assert may("household", "week", "household")
    assert not may("household", "week", "owner")
    assert not may("room-guest", "week", "household")


def test_a_guest_is_welcome_until_its_day_is_over(visit: Visit, house: Double) -> None:
    """The code carries rank, room and last day to the phone; after that day it is a stranger."""
    page = visit("owner").post("/people/code", data=guest_form("room-guest")).text
    assert "guest in study" in page
    phone = visit(None)
    assert phone.post("/join", data={"code": code_from(page), "name": "Eve"}).status_code == 303
    assert "one room: study" in phone.get("/phone").text
    house.wall += timedelta(days=3)
    assert phone.get("/api/house").status_code == 200
    house.wall += timedelta(days=1)
    assert phone.get("/api/house").status_code == 403


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        (guest_form("room-guest", room="attic"), "Choose the guest"),
        (guest_form("room-guest", room=""), "Choose the guest"),
        (guest_form("guest", until="2026-01-11"), "still to come"),
        (guest_form("guest", until=""), "still to come"),
        (guest_form("guest", until="9999-12-31"), "still to come"),
    ],
)
def test_a_malformed_invitation_is_refused(
    visit: Visit, house: Double, fields: dict[str, str], said: str
) -> None:
    """A guest has a day, and a room guest a room of the house; else no code is made."""
    answer = visit("owner").post("/people/code", data=fields)
    assert answer.status_code == 422
    assert said in answer.text
    assert not house.codes


def test_an_unknown_role_gives_no_more_than_household(visit: Visit, house: Double) -> None:
    """A role that is not in the table makes a household code, never an owner's."""
    visit("owner").post("/people/code", data={"role": "king"})
    assert {role for role, _, _ in house.codes.values()} == {"household"}


def test_a_guest_never_becomes_owner_by_an_old_cookie(visit: Visit) -> None:
    """Owner's rank by passphrase is for the household; a guest with such a cookie stays a guest."""
    phone = visit()
    phone.post("/owner", data={"passphrase": "seven grey herons"})
    guest = visit("guest", name="Eve")
    guest.cookies.set("owner", phone.cookies.get("owner") or "")
    assert guest.get("/people").headers["location"] == "/owner"


def test_phones_are_named_and_leave(visit: Visit, house: Double) -> None:
    """A phone names itself and leaves; the owner names any; a bad name is told beside its field."""
    phone, owner = visit(name="Ana"), visit("owner", name="Bo")
    assert phone.post("/phone", data={"name": "  Ana  at home "}).status_code == 303
    phone.post("/api/ask", json={"room": "study", "celsius": 19.0})
    assert house.asked[-1].who == "Ana at home"
    assert "one to thirty" in phone.post("/phone", data={"name": "x" * 31}).text
    device = next(one for one in house.known.values() if one.name == "Ana at home")
    assert owner.post("/people/name", data={"device": device.id, "name": "Ana"}).status_code == 303
    assert owner.post("/people/name", data={"device": device.id, "name": ""}).status_code == 422
    assert owner.post("/people/name", data={"device": "nobody", "name": "x"}).status_code == 422
    assert "Ana" in owner.get("/people").text
    assert phone.post("/phone/leave").status_code == 303
    assert phone.get("/api/house").status_code == 403
