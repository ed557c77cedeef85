"""Joining: codes, tokens, cookies, guessing."""

from __future__ import annotations

import math

import pytest
from starlette.testclient import TestClient

from tests.edge.pages.conftest import HOME, Visit
from tests.edge.pages.double import Double
from thermostatd.edge.pages import keys
from thermostatd.edge.pages.throttle import Asking, Guessing, neighbourhood


def code_for(visit: Visit, role: str = "household") -> str:
    """A code as the owner's page shows it."""
    page = visit("owner", name="Bo").post("/people/code", data={"role": role}).text
    return page.partition('class="code">')[2].partition("<")[0]


def test_a_phone_joins_by_a_code_once(visit: Visit, house: Double) -> None:
    """A code makes one phone a device of the household; it is no good again."""
    code = code_for(visit)
    phone = visit(None)
    assert phone.post("/join", data={"code": code, "name": "Ana"}).headers["location"] == "/"
    assert phone.get("/").status_code == 200
    assert phone.post("/api/ask", json={"room": "study", "celsius": 19.0}).status_code == 200
    assert (house.asked[-1].who, house.asked[-1].origin) == ("Ana", "phone Ana")
    again = visit(None).post("/join", data={"code": code, "name": "Eve"})
    assert again.status_code == 403
    assert "no" in again.text


def test_the_cookie_is_out_of_reach(visit: Visit) -> None:
    """The device's cookie is HttpOnly and SameSite=Strict; under TLS also Secure, with the host prefix."""
    told = visit(None).post("/join", data={"code": code_for(visit), "name": "Ana"}).headers["set-cookie"]
    assert told.startswith("device=")
    assert "HttpOnly" in told
    assert "samesite=strict" in told.lower()
    told = (
        visit(None, tls=True)
        .post("/join", data={"code": code_for(visit), "name": "Ana"})
        .headers["set-cookie"]
    )
    assert told.startswith("__Host-device=")
    assert "Secure" in told
    assert "Path=/" in told
    assert "domain" not in told.lower()


def test_codes_and_tokens_are_long_enough_and_kept_as_digests(house: Double) -> None:
    """Codes carry over 20 bits, tokens over 128 (ASVS 5.0: 6.5.4, 7.2.3); neither is stored as it is."""
    assert math.log2(10 ** len(keys.new_code())) > 20
    assert len(keys.new_token()) * 6 >= 128
    assert keys.new_token() != keys.new_token()
    assert keys.digest_of("12345678") != "12345678"
    assert keys.same(keys.digest_of("a"), keys.digest_of("a"))
    assert not keys.same(keys.digest_of("a"), keys.digest_of("b"))


def test_guessing_is_throttled_without_locking_others_out(visit: Visit) -> None:
    """One address gets five guesses and then one a minute; another address still joins with its good code."""
    guesser = visit(None, address="192.0.2.66")
    told = [guesser.post("/join", data={"code": f"{k:08d}", "name": "x"}).status_code for k in range(8)]
    assert told == [403] * 5 + [429] * 3
    assert visit(None).post("/join", data={"code": code_for(visit), "name": "Ana"}).status_code == 303
    visit.steady.seconds += 60  # type: ignore[attr-defined]
    assert guesser.post("/join", data={"code": "00000001", "name": "x"}).status_code == 403


def test_behind_a_proxy_each_address_is_its_own(visit: Visit) -> None:
    """From this machine's own proxy the last forwarded address counts, and nothing else; from others none does."""
    proxy, stranger = visit(None, address="127.0.0.1"), visit(None, address="192.0.2.66")

    def tries(phone: TestClient, forwarded: str) -> int:
        sent = {"code": "00000000", "name": "x"}
        return phone.post("/join", data=sent, headers={"x-forwarded-for": forwarded}).status_code

    assert [tries(proxy, f"10.0.0.{k}, 192.0.2.5") for k in range(6)] == [403] * 5 + [429]
    assert tries(proxy, "192.0.2.5, 192.0.2.6") == 403
    assert [tries(stranger, f"192.0.2.{k}") for k in range(6)] == [403] * 5 + [429]
    assert tries(proxy, "not an address") == 403


def test_many_guessers_are_bounded_and_a_first_try_is_kept() -> None:
    """However many addresses guess, an address that has not guessed lately may."""
    guessing = Guessing(lambda: 0.0)
    for k in range(40):
        for _ in range(9):
            guessing.may(f"192.0.2.{k}")
    assert sum(guessing.may(f"198.51.100.{k}") for k in range(20) for _ in range(5)) == 60
    assert guessing.may("203.0.113.1")


def test_one_machine_is_one_guesser_on_ipv6() -> None:
    """All addresses of one IPv6 /64 share an allowance."""
    assert (
        neighbourhood("2001:db8::1") == neighbourhood("2001:db8::ffff:1") != neighbourhood("2001:db8:0:1::1")
    )


def test_one_device_cannot_use_up_anothers_asking() -> None:
    """A device that floods is held back; another still asks."""
    asking = Asking(lambda: 0.0)
    assert sum(asking.may("a") for _ in range(200)) == 30
    assert asking.may("b")


@pytest.mark.parametrize(
    ("code", "name", "said"),
    [
        ("1234", "Ana", "eight digits"),
        ("1234567٣", "Ana", "eight digits"),
        ("12345678", "", "Give this phone a name"),
        ("12345678", "x" * 31, "one to thirty"),
        ("12345678", "a\u202eb", "one to thirty"),
    ],
)
def test_a_malformed_joining_says_what_is_wrong(visit: Visit, code: str, name: str, said: str) -> None:
    """Beside the field stands what it should be, and what was typed is kept."""
    answer = visit(None).post("/join", data={"code": code, "name": name})
    assert answer.status_code == 422
    assert said in answer.text


def test_a_name_is_shown_as_text(visit: Visit) -> None:
    """A name with markup in it stays text wherever it is shown (ASVS 5.0: 1.2.1)."""
    phone = visit(name="<b>x</b>")
    phone.post("/api/ask", json={"room": "study", "celsius": 19.0})
    page = phone.get("/").text
    assert "&lt;b&gt;x&lt;/b&gt;" in page
    assert "<b>x</b>" not in page


def test_the_code_is_in_no_address(visit: Visit) -> None:
    """The QR code's address keeps the code behind "#", which browsers do not send."""
    owner = visit("owner")
    answer = owner.post("/people/code", data={"role": "household"})
    assert "data:image/svg+xml" in answer.text
    assert answer.headers["cache-control"] == "no-store"
    assert HOME not in answer.headers.get("location", "")


def test_a_short_passphrase_is_refused() -> None:
    """The owner's passphrase has eight characters or more, of any kind (ASVS 5.0: 6.2.1)."""
    with pytest.raises(ValueError, match="eight"):
        keys.Passphrase("short")
    keys.Passphrase("ååååååå å" * 8)
