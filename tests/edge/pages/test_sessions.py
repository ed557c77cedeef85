"""Sessions and the owner's passphrase, by OWASP ASVS 5.0 chapters 6 and 7."""

from __future__ import annotations

import asyncio
import re
import time
from pathlib import Path

import pytest

from tests.edge.pages.conftest import PASSPHRASE, Visit
from tests.edge.pages.double import Double
from tests.edge.pages.test_joining import code_for
from thermostatd.edge.house_files import first_line
from thermostatd.edge.pages import keys
from thermostatd.edge.pages.who import MAY, ROUTES

GUIDE = Path(__file__).parents[3] / "web" / "help" / "trust.md"


def test_each_joining_makes_a_new_token_and_ends_the_old(visit: Visit, house: Double) -> None:
    """A phone that joins again has another token, and the one before opens nothing (7.2.4)."""
    phone = visit(name="Cy")
    old = phone.cookies.get("device")
    assert phone.post("/join", data={"code": code_for(visit), "name": "Cy"}).status_code == 303
    new = [one.value for one in phone.cookies.jar if one.name == "device" and one.value != old]
    assert visit(None).get("/api/house", headers={"cookie": f"device={new[0]}"}).status_code == 200
    assert [one.name for one in house.known.values()].count("Cy") == 1
    assert visit(None).get("/api/house", headers={"cookie": f"device={old}"}).status_code == 403


def test_proving_again_ends_the_owners_session_before(visit: Visit) -> None:
    """The passphrase given anew makes a new session; the old cookie is dead at once (7.2.4)."""
    phone = visit()
    phone.post("/owner", data={"passphrase": PASSPHRASE})
    old = phone.cookies.get("owner")
    phone.post("/owner", data={"passphrase": PASSPHRASE})
    new = phone.cookies.get("owner")
    assert new != old
    assert phone.get("/people").status_code == 200
    device = phone.cookies.get("device")
    other = visit(None)
    assert other.get("/people", headers={"cookie": f"device={device}; owner={new}"}).status_code == 200
    assert other.get("/people", headers={"cookie": f"device={device}; owner={old}"}).status_code == 303


def test_a_cookie_that_was_never_given_opens_nothing(visit: Visit) -> None:
    """Tokens count only as the store knows them, whatever is sent in their place (7.2.1, 7.2.2)."""
    for token in ("", "x", "0" * 32, keys.new_token(), "../../etc/passwd", "é" * 20, "a" * 5000):
        stranger = visit(None)
        answer = stranger.get("/api/house", headers={"cookie": f"device={token}; owner={token}".encode()})
        assert answer.status_code == 403, token


def test_a_phone_is_listed_and_forgotten_by_the_owner(visit: Visit, house: Double) -> None:
    """The owner sees every phone with its last visit, and ends any; each page has its way out (7.4.4, 7.4.5, 7.5.2)."""
    phone, owner = visit(name="Cy"), visit("owner", name="Bo")
    page = owner.get("/people").text
    assert "Cy" in page
    assert "Bo" in page
    device = next(one for one in house.known.values() if one.name == "Cy")
    assert f'value="{device.id}"' in page
    assert 'action="/phone/leave"' in phone.get("/phone").text
    owner.post("/people/forget", data={"device": device.id})
    assert phone.get("/", headers={"accept": "text/html"}).headers["location"] == "/join"


PHRASES = ["x" * 64, "y" * 300, "  two spaces  at each end  ", "ÅÄÖ 🔥 føles", "ALL UPPER 1", PASSPHRASE]


@pytest.mark.parametrize("phrase", PHRASES)
def test_a_passphrase_is_taken_as_typed(tmp_path: Path, phrase: str) -> None:
    """Any signs, sixty-four and far more, neither cut, trimmed nor folded (6.2.5, 6.2.8, 6.2.9)."""
    file = tmp_path / "phrase"
    file.write_text(phrase + "\n", encoding="utf-8")
    kept = keys.Passphrase(first_line(file))
    assert asyncio.run(kept.fits(phrase))
    for other in (phrase + " ", phrase[:-1], phrase.swapcase(), phrase.strip() + "x"):
        assert not asyncio.run(kept.fits(other)), other


def test_the_field_of_the_passphrase_hinders_nobody(visit: Visit) -> None:
    """Hidden while typed, open to paste and to a keeper of passwords, of any length (6.2.6, 6.2.7)."""
    field = re.search(r'<input id="passphrase"[^>]*>', visit().get("/owner").text)
    assert field
    assert 'type="password"' in field[0]
    assert 'autocomplete="current-password"' in field[0]
    for word in ("onpaste", "maxlength", "pattern", "readonly"):
        assert word not in field[0]


def test_nobody_is_there_before_someone_was_let_in(house: Double, visit: Visit) -> None:
    """No phone, no code and no passphrase comes with the program (6.3.2)."""
    assert house.known == {}
    assert house.codes == {}
    bare = visit("owner", passphrase=None)
    answer = visit(passphrase=None).post("/owner", data={"passphrase": ""})
    assert answer.status_code == 403
    assert bare.get("/people").status_code == 200


def test_codes_are_kept_salted_and_compared_whole() -> None:
    """Two keepings of one code differ; only that code fits; a plain digest of it is not what is kept (6.4.1, 6.5.2)."""
    one, other = keys.code_digest("12345678"), keys.code_digest("12345678")
    assert one != other
    assert keys.code_fits("12345678", one)
    assert keys.code_fits("12345678", other)
    assert not keys.code_fits("12345679", one)
    assert not keys.code_fits("12345678", keys.digest_of("12345678"))
    assert keys.digest_of("12345678") not in one
    assert len({keys.new_code() for _ in range(200)}) > 195


def test_a_wrong_code_takes_as_long_as_a_good_one() -> None:
    """A code that shares its first digits takes no longer than one that shares none (derived: within a half)."""

    def took(guess: str) -> float:
        began = time.thread_time()
        for _ in range(6):
            keys.code_fits(guess, stored)
        return time.thread_time() - began

    stored = keys.code_digest("12345678")
    guesses = ("12345670", "99999999", "12345678")
    least = dict.fromkeys(guesses, float("inf"))
    for _ in range(20):  # side by side, so that a machine that slows down meanwhile slows all of them
        for guess in guesses:
            least[guess] = min(least[guess], took(guess))
        if max(least.values()) < 1.5 * min(least.values()):
            return
    raise AssertionError(least)


@pytest.mark.parametrize(
    "referer",
    ["http://evil.example/owner", "//evil.example/help", "http://quay.local//evil.example/help", "javascript:alert(1)",
     "http://quay.local/help\\..\\evil", "http://quay.local/help%0d%0aset-cookie:x=1", "data:text/html,x"],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/degrees", "/language"])
def test_redirects_stay_home(visit: Visit, referer: str, path: str) -> None:
    """However a form was reached, its answer leads to a page of ours (3.7.2)."""
    phone = visit()
    answer = phone.post(
        path, data={"unit": "F"} if "deg" in path else {"language": "de"}, headers={"referer": referer}
    )
    assert answer.status_code == 303
    leads = answer.headers["location"]
    assert re.fullmatch(r"/([a-z][\w/%:=.-]*)?", leads), leads
    assert "\r" not in leads
    assert "set-cookie" not in {k for k in answer.headers if k != "set-cookie"}


def test_what_a_device_said_is_shown_as_text(visit: Visit, house: Double) -> None:
    """Markup in a device's words, or in a page's address, never becomes markup (1.2.1, 3.2.2)."""
    house.notes = ("plug 7 says <img src=x onerror=alert(1)>",)
    page = visit().get("/").text
    assert "<img src=x" not in page
    assert "&lt;img src=x" in page
    for path in ("/room/%3Cimg%20src=x%3E", "/help/%3Cimg%3E", "/%3Cimg%3E"):
        assert "<img" not in visit().get(path, headers={"accept": "text/html"}).text


def test_what_is_private_is_kept_nowhere(visit: Visit) -> None:
    """No page of the house, and no refusal, may be kept by a browser or proxy; no address carries a secret (14.3.2)."""
    owner = visit("owner")
    token = owner.cookies.get("device") or "none"
    for route in ROUTES:
        method, _, path = route.partition(" ")
        if method != "GET" or path.startswith(("/static", "/live", "/favicon")):
            continue
        answer = owner.get(path.format(name="study", page="safety"))
        assert answer.headers["cache-control"] == "no-store", path
        assert token not in answer.text
        assert token not in str(answer.url)


def test_the_guide_tells_the_table() -> None:
    """Who may do what stands in a guide: each rank of the table, and what only it may (8.1.1)."""
    text = GUIDE.read_text()
    rows = {row.split("|")[1].strip(): row.split("|")[2] for row in text.splitlines() if row.startswith("| ")}
    told = {
        "stranger": rows["anyone"], "guest": rows["a guest, until its day"], "room-guest": rows["a guest in one room"],
        "household": rows["the household"], "owner": rows["the owner"],
    }  # fmt: skip
    words = {
        "join": "try a code", "health": "/health", "file": "style, script and icon", "look": "look",
        "own phone": "this phone's", "ask in a room": "undo", "ask": "all off", "week": "usual weeks",
        "measure": "/metrics", "prove": "passphrase", "seen": "have looked at it", "place": "where heaters stand",
        "people": "phones and codes", "own": "owner's pages",
    }  # fmt: skip
    assert set(words) == set(MAY)
    for act, rank in MAY.items():
        assert words[act] in told[rank], (act, rank)
