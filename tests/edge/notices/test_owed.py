"""A notice is told only once it was delivered: while its trouble holds it is tried again, also after a restart."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest

from tests.edge.notices.test_letters import HOUR, NIGHT, NOON, Sink, _trouble, sink
from tests.edge.notices.test_notices import Owner, serving
from tests.parts.mosquitto import free_port, wait_until
from thermostatd.core.house import House
from thermostatd.edge.notices import Notices
from thermostatd.edge.notices.notices import WAITS_SECONDS
from thermostatd.edge.notices.owed import SOON_SECONDS
from thermostatd.edge.store import Store

__all__ = ["sink"]
MINUTE = 60.0


class Life:
    """One life of the program, its notices over a store; the test moves its steady second."""

    def __init__(self, folder: Path, steady: float, **table: object) -> None:
        self.store, self.steady, self.local = Store.open(folder, lambda: 0.0), steady, NOON
        self.notices = Notices(
            House.model_validate({"notices": table}), waits_seconds=(0.02, 0.04), timeout_seconds=1.0,
            now=lambda: self.steady, local=lambda: self.local,
            kept=self.store.load_told(), keep=self.store.keep_told,
        )  # fmt: skip
        if self.notices._letters is not None:
            self.notices._letters._post._waits = (0.02, 0.04)

    def tell(self, *troubles: object, at: float, local: datetime = NOON) -> None:
        """One tick."""
        self.steady, self.local = at, local
        self.notices.tell(troubles)  # type: ignore[arg-type]

    def quietly(self) -> None:
        """Wait until all that was handed over was tried."""
        assert wait_until(lambda: self.notices.idle)


@contextlib.contextmanager
def life(folder: Path, steady: float = 0.0, **table: object) -> Iterator[Life]:
    """A life, ended in good order."""
    found = Life(folder, steady, **table)
    try:
        yield found
    finally:
        found.notices.close()
        found.store.close()


@pytest.fixture
def port() -> int:
    """Where the owner's server will be, and nobody listens yet."""
    return free_port()


def test_the_four_tries_are_over_before_the_next() -> None:
    """A try again never meets the one before it."""
    assert sum(WAITS_SECONDS) + 4 * 5.0 < SOON_SECONDS


def test_a_webhook_that_comes_back(tmp_path: Path, port: int) -> None:
    """Away past its tries: told within ten minutes of its return, once."""
    with life(tmp_path, webhook=f"http://127.0.0.1:{port}/told") as one:
        one.tell(_trouble(loud=True), at=0.0)
        one.quietly()
        for minutes in (10.0, 20.0):
            one.tell(_trouble(loud=True), at=minutes * MINUTE)
            one.quietly()
        with serving(Owner(port)) as owner:
            one.tell(_trouble(loud=True), at=29 * MINUTE)
            one.quietly()
            assert owner.heard == []
            one.tell(_trouble(loud=True), at=30 * MINUTE)
            owner.wait_for(1)
            one.quietly()
            for hours in range(1, 30):
                one.tell(_trouble(loud=True), at=hours * HOUR)
            one.quietly()
            assert [body["ended"] for _, body in owner.heard] == [False]
            one.tell(at=31 * HOUR)
            assert owner.wait_for(2)[1]["ended"]


def test_after_an_hour_it_is_tried_hourly(tmp_path: Path) -> None:
    """A server that refuses for long is asked less often, and never given up while the trouble holds."""
    with serving(Owner()) as owner:
        owner.statuses = [400] * 1000
        with life(tmp_path, webhook=owner.address) as one:
            for minutes in range(0, 5 * 60, 5):
                one.tell(_trouble(loud=True), at=minutes * MINUTE)
                one.quietly()
    assert 7 + 3 <= len(owner.heard) <= 7 + 4


def test_after_a_restart(tmp_path: Path, port: int) -> None:
    """What was not delivered in one life is told in the next, and then no more."""
    hook = f"http://127.0.0.1:{port}/told"
    with life(tmp_path, webhook=hook) as one:
        one.tell(_trouble(loud=True), at=0.0)
        one.quietly()
        one.tell(_trouble(loud=True), at=1.0)
    with serving(Owner(port)) as owner:
        with life(tmp_path, 100.0, webhook=hook) as other:
            other.tell(_trouble(loud=True), at=100.0)
            owner.wait_for(1)
            other.quietly()
        with life(tmp_path, 200.0, webhook=hook) as third:
            third.tell(_trouble(loud=True), at=200.0)
            third.tell(_trouble(loud=True), at=3 * HOUR)
            third.quietly()
        assert len(owner.heard) == 1


def test_an_address_that_comes_back(tmp_path: Path, sink: Sink, port: int) -> None:
    """Of two addresses, one away: it alone is told later; the other has it once."""
    addresses = tmp_path / "addresses"
    addresses.write_text(f"{sink.address}\njson://127.0.0.1:{port}\n")
    with life(tmp_path, addresses_file=str(addresses)) as one:
        one.tell(_trouble(loud=True), at=0.0)
        one.quietly()
        assert len(sink.titles) == 1
        with serving(Owner(port)) as owner:
            one.tell(_trouble(loud=True), at=10 * MINUTE)
            owner.wait_for(1)
            one.quietly()
            for hours in range(1, 5):
                one.tell(_trouble(loud=True), at=hours * HOUR)
            one.quietly()
            assert len(owner.heard) == 1
        assert len(sink.titles) == 1


def test_quiet_hours_hold(tmp_path: Path, sink: Sink) -> None:
    """What is not loud is not tried in the night, and is in the morning."""
    addresses = tmp_path / "addresses"
    addresses.write_text(sink.address + "\n")
    sink.status = 500
    quiet = {"from": "22:00", "to": "07:00"}
    with life(tmp_path, addresses_file=str(addresses), quiet=quiet) as one:
        one.tell(_trouble(), at=0.0)
        one.quietly()
        tries = len(sink.titles)
        sink.status = 200
        for hours in range(1, 6):
            one.tell(_trouble(), at=hours * HOUR, local=NIGHT)
        one.quietly()
        assert len(sink.titles) == tries
        one.tell(_trouble(), at=6 * HOUR)
        one.quietly()
        assert len(sink.titles) == tries + 1


def test_what_is_over_is_owed_no_more(tmp_path: Path, port: int) -> None:
    """A trouble that ended is not told as one that holds."""
    with life(tmp_path, webhook=f"http://127.0.0.1:{port}/told") as one:
        one.tell(_trouble(loud=True), at=0.0)
        one.quietly()
        one.tell(at=5 * MINUTE)
        one.quietly()
        with serving(Owner(port)) as owner:
            one.tell(at=20 * MINUTE)
            one.tell(at=2 * HOUR)
            one.quietly()
            assert owner.heard == []
