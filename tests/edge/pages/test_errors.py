"""Every error that a person can meet: what happened and what to do, as a page, as text and as JSON; once in the log."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

import pytest

from tests.edge.pages.conftest import HOME, PASSPHRASE, Visit
from tests.edge.pages.double import Double
from thermostatd.edge.pages import shield, words
from thermostatd.edge.pages.door import NotStored

JSON = {"content-type": "application/json"}
FORM = {"content-type": "application/x-www-form-urlencoded"}
PAGE = {"accept": "text/html,application/xhtml+xml,*/*;q=0.8"}
INSIDES = ("Traceback", 'File "', ".py", "Error:", "starlette", "fastapi", "pydantic", "sqlite", "0x")
MENDS = (
    "again", "ask ", "Ask ", "begin", "Begin", "Wait", "wait", "Send", "Open", "Give", "Use ", "use ", "Choose",
    "Write", "Look", "Close", "joins", "the owner", "is missing", "stands there twice", "There is no field",
    "should be", "has eight digits", "the warmest that may be asked", "nothing was asked",
)  # fmt: skip
Breaks = Callable[[Visit, Double, pytest.MonkeyPatch], Any]


def broken(*_: object, **__: object) -> Any:
    raise RuntimeError("secret insides")


async def unstored(*_: object, **__: object) -> Any:
    raise NotStored("nothing can be stored: the disk is full: make room on it")


def _asking(phone: Any) -> None:
    for _ in range(31):
        phone.post("/api/ask", json={"room": "study", "celsius": 19.0})


def _guessing(phone: Any) -> None:
    for _ in range(6):
        phone.post("/join", data={"code": "00000000", "name": "x"})


# status -> how a phone comes to it: (what is prepared, method, path, what is sent)
WAYS: dict[str, tuple[int, str | None, str, str, dict[str, Any]]] = {
    "not joined": (403, None, "POST", "/ask", {"data": {"room": "study"}}),
    "not the owner": (403, "household", "POST", "/people/code", {"data": {}}),
    "a guest": (403, "guest", "POST", "/ask", {"data": {"room": "study", "degrees": "20"}}),
    "another site": (403, "household", "POST", "/ask", {"data": {}, "headers": {"origin": "http://evil.example"}}),
    "a wrong code": (403, None, "POST", "/join", {"data": {"code": "12345678", "name": "x"}}),
    "a wrong passphrase": (403, "household", "POST", "/owner", {"data": {"passphrase": "wrong wrong"}}),
    "no such page": (404, "household", "GET", "/nothing", {}),
    "no such page for a stranger": (404, None, "GET", "/nothing", {}),
    "no such guide": (404, "household", "GET", "/help/nothing", {}),
    "no such room": (404, "household", "GET", "/room/attic", {}),
    "no such file": (404, None, "GET", "/static/nothing.css", {}),
    "another method": (405, "household", "DELETE", "/ask", {}),
    "a form's address opened": (405, "household", "GET", "/ask", {}),
    "a conflict": (409, "owner", "POST", "/seen", {"data": {"trouble": "silent-plug study/column"}}),
    "too large": (413, "household", "POST", "/ask", {"data": {"room": "x" * 17000}}),
    "no form": (422, "household", "POST", "/ask", {"json": {"room": "study"}}),
    "a broken form": (422, "household", "POST", "/ask", {"content": b"room=%ff\xff", "headers": FORM}),
    "unknown field": (422, "household", "POST", "/ask", {"data": {"room": "study", "x": "1"}}),
    "doubled field": (422, "household", "POST", "/ask", {"content": "room=a&room=b", "headers": FORM}),
    "missing field": (422, "household", "POST", "/ask", {"data": {"degrees": "20"}}),
    "no number": (422, "household", "POST", "/ask", {"data": {"room": "study", "degrees": "warm"}}),
    "past a limit": (422, "household", "POST", "/ask", {"data": {"room": "study", "degrees": "40"}}),
    "another room": (422, "household", "POST", "/ask", {"data": {"room": "attic", "degrees": "20"}}),
    "a phone that left": (422, "owner", "POST", "/people/forget", {"data": {"device": "x"}}),
    "a bad name": (422, "household", "POST", "/phone", {"data": {"name": ""}}),
    "another host": (421, "household", "GET", "/", {"headers": {"host": "evil.example"}}),
    "an API body of another kind": (415, "household", "POST", "/api/ask", {"data": {"room": "study"}}),
    "an API body that is broken": (422, "household", "POST", "/api/ask", {"content": "{", "headers": JSON}),
    "an API body past a limit": (422, "household", "POST", "/api/ask", {"json": {"room": "study", "celsius": 40.0}}),
    "an API field of another type": (422, "household", "POST", "/api/ask", {"json": {"room": "study", "celsius": "x"}}),
    "an API conflict": (409, "household", "POST", "/api/cancel", {"json": {"what": "all-off"}}),
    "an API without joining": (403, None, "GET", "/api/house", {}),
    "an API address that is none": (404, "household", "GET", "/api/nothing", {}),
    "an API method that is none": (405, "household", "GET", "/api/ask", {}),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("accept", ["a browser", "a script"])
def test_each_error_says_what_happened_and_what_to_do(visit: Visit, way: str, accept: str) -> None:
    """The status fits, the answer is a page with a way on, a sentence or JSON, and shows nothing of the inside."""
    status, role, method, path, sent = WAYS[way]
    sent = dict(sent)
    headers = {**(PAGE if accept == "a browser" else {"accept": "*/*"}), **sent.pop("headers", {})}
    answer = visit(role).request(method, path, headers=headers, **sent)
    assert answer.status_code == status, answer.text[:300]
    told = answer.text
    assert not any(word in told for word in INSIDES), told[:500]
    kind = answer.headers["content-type"].split(";")[0]
    if path.startswith("/api/"):
        assert kind == "application/json"
        assert set(answer.json()) == {"code", "sentence", "limit"}
        told = answer.json()["sentence"]
    elif accept == "a browser" and not path.startswith("/static/"):
        assert kind == "text/html"
        assert any(way in told for way in ('href="/"', 'action="/join"', 'action="/all-off"')), (
            "there is a way on"
        )
        assert "<html lang=" in told
    assert any(word in told for word in MENDS), told
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.headers["cache-control"] == "no-store"
    if status == 405:
        assert answer.headers["allow"]


FLOODS: dict[str, tuple[str | None, Callable[[Any], None], str, dict[str, Any]]] = {
    "asking": ("household", _asking, "/ask", {"data": {"room": "study", "degrees": "19"}}),
    "asking by the API": ("household", _asking, "/api/ask", {"json": {"room": "study", "celsius": 19.0}}),
    "guessing a code": (None, _guessing, "/join", {"data": {"code": "00000000", "name": "x"}}),
}


@pytest.mark.parametrize("way", FLOODS)
def test_too_often_is_told_with_when_to_come_back(visit: Visit, way: str) -> None:
    """429 says to wait, and how long where a script asks."""
    role, flood, path, sent = FLOODS[way]
    phone = visit(role)
    flood(phone)
    answer = phone.post(path, headers=PAGE, **sent)
    assert answer.status_code == 429
    assert "Wait a" in answer.text
    assert path != "/api/ask" or answer.headers["retry-after"] == "5"


@pytest.mark.parametrize("path", ["/", "/api/house", "/owner/heaters", "/room/study"])
@pytest.mark.parametrize("accept", ["text/html", "*/*"])
def test_what_breaks_is_one_line_in_the_log(
    visit: Visit,
    house: Double,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    path: str,
    accept: str,
) -> None:
    """500 is a sentence with a way on, under all policies; the log has it whole, once, with its code."""
    monkeypatch.setattr(house, "view", broken)
    answer = visit("owner").get(path, headers={"accept": accept})
    assert answer.status_code == 500
    assert "secret" not in answer.text
    assert "Something went wrong" in answer.text
    assert "Try again" in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    loud = [one for one in caplog.records if one.levelno >= logging.ERROR]
    assert [one.getMessage() for one in loud] == [f"broken: GET {path!r} failed"]
    assert loud[0].exc_info


@pytest.mark.parametrize(
    ("method", "path", "sent"),
    [
        ("POST", "/people/code", {"data": {"role": "household"}}),
        ("POST", "/join", {"data": {"code": "12345678", "name": "x"}}),
        ("POST", "/phone", {"data": {"name": "Bo"}}),
        ("GET", "/room/study", {}),
    ],
)
def test_a_full_disk_is_told(
    visit: Visit, house: Double, monkeypatch: pytest.MonkeyPatch, method: str, path: str, sent: dict[str, Any]
) -> None:
    """503 says that nothing was changed, why, and that the heating goes on."""
    phone = visit("owner")
    for name in ("add_code", "join", "rename", "forget", "trace", "happened"):
        monkeypatch.setattr(house, name, unstored)
    answer = phone.request(method, path, headers=PAGE, **sent)
    assert answer.status_code == 503
    for part in ("nothing was changed", "the disk is full", "make room", "The heating goes on"):
        assert part in answer.text


def test_health_that_is_not_well_is_503(visit: Visit, house: Double) -> None:
    """A script that watches the house sees it by the status alone."""
    house.result = None
    answer = visit(None).get("/health")
    assert answer.status_code == 503
    assert answer.json() == {"ok": False}


def test_errors_are_told_in_the_visitors_language(visit: Visit) -> None:
    """What never reached a route, too, is told in German to a German phone."""
    phone = visit()
    german = {"accept-language": "de", **PAGE}
    assert "Dieser Rechner" in phone.get("/", headers={**german, "host": "evil.example"}).text
    assert "noch einmal" in phone.post("/ask", headers={**german, "origin": "http://evil.example"}).text
    assert "Das ging nicht" in phone.get("/nothing", headers=german).text


def test_a_script_of_ours_is_told_in_plain_text(visit: Visit) -> None:
    """The page's own script, which takes HTML or text, gets the sentence to show, not a page."""
    answer = visit().get("/nothing", headers={"accept": "text/html,text/plain"})
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.text.strip() == words.NO_SUCH_PAGE_HERE


def test_a_stranger_fills_no_log(visit: Visit, caplog: pytest.LogCaptureFixture) -> None:
    """Five hundred refusals make a dozen lines and a count of what was left out; each line has its code and address."""
    stranger = visit(None, address="192.0.2.66")
    with caplog.at_level(logging.INFO, "thermostatd.pages"):
        for _ in range(250):
            stranger.get("/api/house")
            stranger.get("/", headers={"host": "evil.example"})
        visit.steady.seconds += 60  # type: ignore[attr-defined]
        stranger.get("/api/house")
    lines = [one.getMessage() for one in caplog.records]
    assert len(lines) == 12
    assert lines[0].startswith("join-first: GET '/api/house' refused to None from 192.0.2.66")
    assert lines[1].startswith("wrong-host: GET '/' refused, from 192.0.2.66")
    assert lines[-2] == "not-told: 490 refusals more were left out of this log"


def test_joins_refusals_and_forgetting_are_logged(
    visit: Visit, house: Double, caplog: pytest.LogCaptureFixture
) -> None:
    """Who, from where, what: one line each, which begins with its code (ASVS 16.2.1, 16.3.1, 16.3.2)."""
    caplog.set_level(logging.INFO, "thermostatd.pages")
    owner = visit("owner", name="Bo", address="192.0.2.8")
    page = owner.post("/people/code", data={"role": "household"}).text
    code = page.partition('class="code">')[2].partition("<")[0]
    phone = visit(None, address="192.0.2.9")
    phone.post("/join", data={"code": "00000000", "name": "Eve"})
    phone.post("/join", data={"code": code, "name": "Cy"})
    phone.post("/owner", data={"passphrase": "wrong wrong"})
    phone.post("/owner", data={"passphrase": PASSPHRASE})
    phone.post("/phone", data={"name": "Cyra"})
    device = next(one for one in house.known.values() if one.name == "Cyra")
    owner.post("/people/forget", data={"device": device.id})
    phone.get("/api/house")
    phone.post("/ask", headers={"origin": "http://evil.example"})
    lines = [one.getMessage() for one in caplog.records]
    assert [line.partition(":")[0] for line in lines] == [
        *("code", "code-wrong", "joined", "passphrase-wrong", "owner", "renamed", "forgotten"),
        *("join-first", "wrong-origin"),
    ]
    assert all("192.0.2.9" in lines[k] for k in (1, 2, 3, 4, 7, 8))
    assert all(code.replace(" ", "") not in line and PASSPHRASE not in line for line in lines)


def test_a_slow_body_is_408(visit: Visit, monkeypatch: pytest.MonkeyPatch) -> None:
    """A body that never ends is told that it took too long."""
    import asyncio

    monkeypatch.setattr(shield, "BODY_SECONDS", 0.05)

    async def never() -> Any:
        await asyncio.sleep(60)

    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {
        "type": "http", "method": "POST", "path": "/ask", "raw_path": b"/ask", "query_string": b"", "scheme": "http",
        "headers": [(b"host", b"quay.local"), (b"origin", HOME.encode())], "client": ("192.0.2.7", 1),
        "server": ("quay.local", 80), "http_version": "1.1",
    }  # fmt: skip
    asyncio.run(visit().app(scope, never, send))
    assert sent[0]["status"] == 408
    assert b"took too long" in sent[1]["body"]
