"""The owner's pages, guests, weeks and undo on the real daemon, whose store keeps them."""

from __future__ import annotations

import re
from urllib.parse import urlencode

from tests.daemon.home import Home
from tests.parts.mosquitto import Mosquitto, wait_until

PAGES = ["heaters", "circuits", "troubles", "energy", "sensors", "rooms", "file"]
WEEK = {"day": "0", "unit": "C", "at-0": "05:15", "degrees-0": "19.5", "at-1": "22:00", "degrees-1": "18"}


class Phone:
    """A browser that keeps its cookies."""

    def __init__(self, home: Home) -> None:
        self.home, self.cookies = home, {}  # type: Home, dict[str, str]

    def call(self, method: str, path: str, **fields: str) -> tuple[int, str]:
        """One request, as a form where it is a POST."""
        origin = f"http://127.0.0.1:{self.home.pages}"
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items()),
                   "Origin": origin, "Accept": "text/html", "Accept-Language": "en-GB",
                   "Content-Type": "application/x-www-form-urlencoded"}  # fmt: skip
        status, text, told = self.home.call(
            method, path, urlencode(fields) if method == "POST" else None, headers
        )
        found = re.match(r"(\w+)=([^;]*)", told.get("set-cookie", ""))
        if found:
            self.cookies[found[1]] = found[2]
        return status, text

    def join(self, code: str, name: str) -> int:
        """Joins with a code."""
        return self.call("POST", "/join", code=code, name=name)[0]


def test_an_owners_evening(broker: Mosquitto, home: Home) -> None:
    """An owner joins, sees each page, invites a guest, changes a week, undoes an ask; kill -9 loses none of it."""
    broker.publish("study/air", "20.5")
    assert wait_until(lambda: home.house()["rooms"] and home.house()["rooms"][0]["air"] == 20.5)
    owner, guest = Phone(home), Phone(home)
    told = home.say("join", "--owner").stdout
    assert owner.join("".join(re.findall(r"\d{4}", told)[:2]), "Bo") == 303
    for page in PAGES:
        assert owner.call("GET", f"/owner/{page}")[0] == 200, page
    assert "house.toml" in owner.call("GET", "/owner/file")[1]
    invited = owner.call("POST", "/people/code", role="room-guest", room="study", until="2099-12-30")[1]
    assert guest.join(invited.partition('class="code">')[2].partition("<")[0], "Eve") == 303
    assert owner.call("POST", "/room/study/week", **WEEK)[0] == 303
    assert guest.call("POST", "/ask", room="study", degrees="21.5", until="no-end")[0] == 303
    assert guest.call("POST", "/warm-me", spot="sewing table", minutes="20")[0] == 403
    assert owner.call("POST", "/ask", room="study", degrees="19.0", until="no-end")[0] == 303
    assert owner.call("POST", "/undo")[0] == 303
    assert wait_until(lambda: home.house()["rooms"][0]["target"]["whose"] == "Eve")
    home.kill()
    home.start()
    assert "Changed on the page by Bo" in owner.call("GET", "/room/study/week?day=0")[1]
    assert "19.5° from 05:15" in owner.call("GET", "/room/study/week?day=0")[1]
    assert guest.call("GET", "/owner/heaters")[0] == 303
    assert "one room: study" in guest.call("GET", "/phone")[1]
    assert wait_until(lambda: home.house()["rooms"] and home.house()["rooms"][0]["target"]["whose"] == "Eve")
    assert "Eve asked for 21.5°" in owner.call("GET", "/room/study")[1]
