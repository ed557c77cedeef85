"""The JSON API: what it takes, what it refuses, and how."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.edge.pages.conftest import Visit
from tests.edge.pages.double import Double
from thermostatd.core.asking import NEXT_STEP, AllOff, Ask, Out

JSON = {"content-type": "application/json"}


def test_the_house_as_json(visit: Visit) -> None:
    """GET /api/house tells air, target, whose, until when and why of each room."""
    house = visit().get("/api/house").json()
    study = next(room for room in house["rooms"] if room["room"] == "study")
    assert study["air"] == pytest.approx(20.0, abs=0.6)
    assert study["target"] == {
        "celsius": 20.5, "whose": "Ana", "code": "asked", "until": "2026-01-12T18:00:00+01:00",
    }  # fmt: skip
    assert study["why"]
    assert [heater["key"] for heater in study["heaters"]] == ["study/column"]
    assert house["spots"][0]["longest_minutes"] == 90


def test_before_the_first_tick_it_says_so(visit: Visit, house: Double) -> None:
    """Until something was decided there are no rooms, and the page says why."""
    house.result, house.age_seconds = None, float("inf")
    phone = visit()
    assert phone.get("/api/house").json()["decided"] is False
    assert phone.get("/api/house").json()["age_seconds"] is None
    assert "Nothing has been decided yet" in phone.get("/").text
    assert phone.get("/health").status_code == 503


def test_an_ask_goes_through_the_one_door(visit: Visit, house: Double) -> None:
    """A good ask is answered with what now holds, and the room shows it."""
    answer = visit().post(
        "/api/ask", json={"room": "study", "celsius": 21, "until": "2026-01-12T19:00:00+01:00"}
    )
    assert answer.status_code == 200
    told = answer.json()
    assert (told["celsius"], told["until"]) == (21.0, "2026-01-12T19:00:00+01:00")
    assert "20.5" in told["replaced"]
    assert isinstance(house.asked[-1], Ask)
    assert house.result is not None
    assert house.result.rooms["study"].target.celsius == 21


def test_all_off_and_back(visit: Visit, house: Double) -> None:
    """Everything off by one request; taking it back once is enough, twice is a conflict."""
    phone = visit()
    assert phone.post("/api/all-off", json={}).status_code == 200
    assert isinstance(house.asked[-1], AllOff)
    assert phone.get("/api/house").json()["all_off_who"] == "Ana"
    assert (
        phone.post("/api/warm-me", json={"spot": "sewing table", "minutes": 20}).json()["code"]
        == "everything-off"
    )
    assert phone.post("/api/cancel", json={"what": "all-off"}).status_code == 200
    assert phone.post("/api/cancel", json={"what": "all-off"}).status_code == 409


def test_out_and_warm_me(visit: Visit, house: Double) -> None:
    """Everyone out until a time; an ask meanwhile is a conflict; warmth on a spot counts down."""
    phone = visit()
    assert phone.post("/api/warm-me", json={"spot": "sewing table", "minutes": 20}).status_code == 200
    assert phone.get("/api/house").json()["spots"][0]["remaining_seconds"] == 1200
    assert phone.post("/api/out", json={"until": "2026-01-12T19:00:00+01:00"}).status_code == 200
    assert isinstance(house.asked[-1], Out)
    assert phone.post("/api/ask", json={"room": "study", "celsius": 20}).status_code == 409


def test_a_room_is_off_alone(visit: Visit) -> None:
    """Until somebody turns it on, and with cancel it is on again; bad ends are refused."""
    phone = visit()
    answer = phone.post("/api/room-off", json={"room": "study"}).json()
    assert answer["sentence"] == "Ana turned this room off until someone turns it on again."
    assert (answer["until"], answer["celsius"]) == (None, None)
    past = phone.post("/api/room-off", json={"room": "study", "until": "2026-01-12T10:00:00+01:00"})
    assert (past.status_code, past.json()["code"]) == (422, "in-the-past")
    assert phone.post("/api/room-off", json={"room": "attic"}).status_code == 422
    assert phone.post("/api/cancel", json={"what": "study"}).json()["sentence"] == "Ana turned the room on again."


def test_a_wish_for_later_waits(visit: Visit, house: Double) -> None:
    """It is among the room's, and is taken back by when it begins; what cannot be is refused."""
    phone = visit()
    times = {"begins": "2026-01-12T19:00:00+01:00", "until": "2026-01-12T21:00:00+01:00"}
    body = {"room": "study", "celsius": 21.0, **times}
    assert phone.post("/api/ask", json=body).json()["until"] == body["until"]
    house.tick(10.0)
    waits = {key: body[key] for key in ("celsius", "begins", "until")} | {"who": "Ana"}
    assert phone.get("/api/house").json()["rooms"][0]["later"] == [waits]
    again = phone.post("/api/ask", json=body)
    assert (again.status_code, again.json()["code"]) == (409, "asked-then")
    for wrong in ({"begins": "19:00"}, {"begins": "2026-01-12T19:00:00"}, {"begins": "2026-01-30T19:00:00+01:00"}):
        assert phone.post("/api/ask", json=body | wrong).status_code == 422
    taken = {"what": "study", "begins": body["begins"]}
    assert phone.post("/api/cancel", json=taken).status_code == 200
    assert phone.post("/api/cancel", json=taken).status_code == 409
    assert phone.post("/api/cancel", json=taken | {"what": "out"}).status_code == 422


@pytest.mark.parametrize(("celsius", "code", "limit"), [(22.1, "too-warm", 22.0), (14.9, "too-cold", 15.0)])
def test_an_ask_past_a_limit_names_it(visit: Visit, celsius: float, code: str, limit: float) -> None:
    """Past the owner's limit: 422 with the code, a sentence and the limit."""
    answer = visit().post("/api/ask", json={"room": "study", "celsius": celsius})
    assert answer.status_code == 422
    told = answer.json()
    assert (told["code"], told["limit"]) == (code, limit)
    assert told["sentence"]


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("ask", '{"room": "study", "celsius": 20, "celsius": 21}'),
        ("ask", '{"room": "study", "celsius": 20, "who": "Bo"}'),
        ("ask", '{"room": "study", "celsius": NaN}'),
        ("ask", '{"room": "study", "celsius": 1e999}'),
        ("ask", '{"room": "study", "celsius": "20"}'),
        ("ask", '{"room": "study", "celsius": true}'),
        ("ask", '{"room": "study"}'),
        ("ask", '{"room": "attic", "celsius": 20}'),
        ("ask", '{"room": "study", "celsius": 20, "until": "18:00"}'),
        ("ask", '{"room": "study", "celsius": 20, "until": "2026-01-12T18:00:00"}'),
        ("ask", '{"room": "study", "celsius": 20, "until": "2026-01-11T18:00:00+01:00"}'),
        ("ask", '["study", 20]'),
        ("ask", '"' + "[" * 5000),
        ("ask", "[" * 15000),
        ("ask", '{"room": "study", "celsius": 20'),
        ("warm-me", '{"spot": "study", "minutes": 20}'),
        ("warm-me", '{"spot": "sewing table", "minutes": 0}'),
        ("warm-me", '{"spot": "sewing table", "minutes": 91}'),
        ("out", '{"until": 5}'),
        ("all-off", '{"now": true}'),
        ("cancel", '{"what": "attic"}'),
        ("cancel", "{}"),
    ],
)
def test_what_is_malformed_is_refused_and_changes_nothing(
    visit: Visit, house: Double, path: str, body: str
) -> None:
    """Unknown, doubled, missing and wrongly typed fields are refused with code, sentence and limit."""
    memory = json.dumps(house.regulator.memory)
    answer = visit().post(f"/api/{path}", content=body, headers=JSON)
    assert answer.status_code == 422, answer.text
    assert set(answer.json()) == {"code", "sentence", "limit"}
    assert json.dumps(house.regulator.memory) == memory


def test_only_json_is_taken(visit: Visit) -> None:
    """A form or plain text at the API is refused: a foreign page could send those."""
    for kind in ("text/plain", "application/x-www-form-urlencoded", ""):
        answer = visit().post("/api/all-off", content="{}", headers={"content-type": kind})
        assert answer.status_code == 415
        assert answer.json()["code"] == "not-json"


def test_asking_too_often_is_told(visit: Visit, house: Double) -> None:
    """A device that floods gets 429; all off still works, and so does another phone."""
    flood, calm = visit(name="Flood"), visit(name="Calm")
    ask: dict[str, Any] = {"room": "study", "celsius": 20}
    told = [flood.post("/api/ask", json=ask).status_code for _ in range(32)]
    assert told == [200] * 30 + [429] * 2
    assert flood.post("/api/ask", json=ask).json()["code"] == "too-often"
    assert flood.post("/api/all-off", json={}).status_code == 200
    assert calm.post("/api/ask", json=ask).status_code == 200


def test_seen_is_the_owners(visit: Visit) -> None:
    """Only the owner may say that a trouble was looked at; an unknown one is a conflict."""
    assert visit().post("/api/seen", json={"trouble": "x"}).status_code == 403
    answer = visit("owner").post("/api/seen", json={"trouble": "x"})
    assert (answer.status_code, answer.json()["code"]) == (409, "no-such-trouble")


def test_moved_by_hand_is_the_owners(visit: Visit, house: Double) -> None:
    """Only the owner says where a heater stands or what it is set to; it reaches the one door as said."""
    told = {
        "stands": {"heater": "study/column", "room": "study"},
        "set-to": {"heater": "study/column", "watts": 600},
    }
    for name, body in told.items():
        assert visit().post(f"/api/{name}", json=body).status_code == 403
        visit("owner").post(f"/api/{name}", json=body)
    assert [type(one).__name__ for one in house.asked[-2:]] == ["Stands", "SetTo"]
    assert house.asked[-1].watts == 600.0
    assert visit("owner").post("/api/set-to", json={"heater": "study/column", "watts": -1}).status_code == 422


def test_openapi_describes_the_api(visit: Visit) -> None:
    """The description names every API route, typed, with examples and errors; no viewer page is served."""
    phone = visit()
    told = phone.get("/openapi.json").json()
    names = (
        "house",
        "ask",
        "room-off",
        "warm-me",
        "out",
        "all-off",
        "cancel",
        "seen",
        "undo",
        "week",
        "stands",
        "set-to",
    )
    assert set(told["paths"]) == {f"/api/{name}" for name in names}
    post = told["paths"]["/api/ask"]["post"]
    assert {"200", "403", "409", "415", "422", "429"} <= set(post["responses"])
    assert told["components"]["schemas"]["AskBody"]["examples"]
    assert told["components"]["schemas"]["AskBody"]["additionalProperties"] is False
    assert phone.get("/docs").status_code == phone.get("/redoc").status_code == 404


def test_next_step_is_the_default_end(visit: Visit, house: Double) -> None:
    """An ask without an end holds until the week's next step."""
    told = visit().post("/api/ask", json={"room": "study", "celsius": 19}).json()
    assert house.asked[-1] == Ask("study", 19.0, NEXT_STEP, "Ana", origin="phone Ana")
    assert told["until"] == "2026-01-12T22:00:00+01:00"
