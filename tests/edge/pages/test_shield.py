"""The shield: Host, Origin, size, headers. Numbers in brackets are of OWASP ASVS 5.0."""

from __future__ import annotations

import pytest

from tests.edge.pages.conftest import HOME, Visit
from tests.edge.pages.double import Double
from thermostatd.edge.pages.shield import host_of, own_hosts

FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.mark.parametrize(
    "host", ["evil.example", "quay.local.evil.example", "", "evil.example:8420", "[", "a b"]
)
def test_a_name_that_is_not_ours_is_refused(visit: Visit, host: str) -> None:
    """A Host that someone else's DNS may point here opens nothing (rebinding)."""
    assert visit().get("/", headers={"host": host}).status_code == 421


def test_our_names() -> None:
    """We answer to the address listened on, localhost, this machine's name and the owner's further names."""
    names = own_hosts("192.0.2.5:8420", ("warm.home", "Quay.Lan:8420", "fd00::5"))
    assert {"192.0.2.5", "localhost", "127.0.0.1", "::1", "warm.home", "quay.lan", "fd00::5"} <= names
    assert "0.0.0.0" not in own_hosts("0.0.0.0:8420", ())
    assert host_of("[::1]:8420") == "::1"


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "http://quay.local:9999",
        "https://",
        "http://quay.local.evil.example",
        "[",
    ],
)
@pytest.mark.parametrize("path", ["/all-off", "/api/all-off"])
def test_a_post_from_elsewhere_changes_nothing(visit: Visit, house: Double, origin: str, path: str) -> None:
    """A POST that another site made the browser send is refused (3.5.1)."""
    kind = {"content-type": "application/json"} if path.startswith("/api") else FORM
    answer = visit().post(path, content="{}" if "api" in path else "", headers={"origin": origin, **kind})
    assert answer.status_code == 403
    assert house.asked == []


def test_a_post_without_origin(visit: Visit, house: Double) -> None:
    """Without Origin the Referer counts; without both only JSON passes, which no foreign page can send."""
    phone = visit()
    del phone.headers["origin"]
    assert phone.post("/all-off", content="", headers=FORM).status_code == 403
    assert (
        phone.post("/all-off", content="", headers={**FORM, "referer": "http://evil.example/x"}).status_code
        == 403
    )
    assert (
        phone.post("/api/all-off", json={}, headers={"referer": "http://evil.example/x"}).status_code == 403
    )
    assert house.asked == []
    assert phone.post("/all-off", content="", headers={**FORM, "referer": f"{HOME}/"}).status_code == 303
    assert phone.post("/api/cancel", json={"what": "all-off"}).status_code == 200


@pytest.mark.parametrize(
    "path", ["/", "/owner", "/api/house", "/help/safety", "/nothing", "/static/page.css", "/health"]
)
def test_every_answer_carries_the_policies(visit: Visit, path: str) -> None:
    """CSP without inline script, nosniff, referrer policy, no framing, no CORS, right types (3.4.2-3.4.6)."""
    answer = visit().get(path)
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert "access-control-allow-origin" not in answer.headers
    assert answer.headers["content-type"].split(";")[0] in (
        "text/html", "application/json", "text/css", "text/plain",
    )  # fmt: skip
    assert ("no-store" in answer.headers["cache-control"]) != path.startswith("/static")
    assert "server" not in answer.headers


def test_pages_have_no_inline_script_or_style_and_nothing_from_elsewhere(visit: Visit) -> None:
    """All script and style come from this house's own files."""
    owner = visit("owner")
    for path in ("/", "/room/study", "/people", "/owner", "/help"):
        page = owner.get(path).text
        assert " style=" not in page
        assert "<style" not in page
        assert " onclick" not in page
        assert 'src="http' not in page
        assert page.count("<script") == page.count('<script src="/static/')


def test_hsts_with_tls_only(visit: Visit) -> None:
    """Under TLS browsers are told to stay with it (3.4.1)."""
    assert "strict-transport-security" in visit(tls=True).get("/join").headers
    assert "strict-transport-security" not in visit().get("/join").headers


def test_a_large_body_is_refused(visit: Visit) -> None:
    """A body over 16 KiB is not read to its end."""
    assert visit().post("/api/ask", json={"room": "x" * 17000, "celsius": 20}).status_code == 413
    assert visit().post("/ask", data={"room": "x" * 17000}).status_code == 413


@pytest.mark.parametrize("method", ["TRACE", "PUT", "DELETE", "CONNECT"])
def test_other_methods_do_nothing(visit: Visit, method: str) -> None:
    """No method but GET and POST is served (13.4.4)."""
    assert visit().request(method, "/").status_code in (403, 405)


def test_a_failure_is_plain_for_people(visit: Visit, house: Double, monkeypatch: pytest.MonkeyPatch) -> None:
    """What breaks is told in one sentence, without insides (16.5.1)."""

    def broken(*_: object) -> None:
        raise RuntimeError("secret insides")

    monkeypatch.setattr(house, "view", broken)
    for path in ("/", "/api/house"):
        answer = visit().get(path)
        assert answer.status_code == 500
        assert "secret" not in answer.text
        assert "Something went wrong" in answer.text


@pytest.mark.parametrize(
    "path",
    [
        "/static/../templates/base.html", "/static/%2e%2e/templates/base.html", "/help/..%2f..%2fx",
        "/help/%2e%2e", "/static/", "/room/attic", "/room/%3Cscript%3E",
    ],
)  # fmt: skip
def test_no_path_leads_out(visit: Visit, path: str) -> None:
    """Files outside `web/static` and guides outside `web/help` are not served."""
    answer = visit().get(path)
    assert answer.status_code in (404, 307)
    assert "<script>" not in answer.text
