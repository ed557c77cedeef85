"""The address that people type is one that they can reach."""

from __future__ import annotations

import ipaddress
import socket

import pytest

from thermostatd.core.house.tables import Pages
from thermostatd.edge.own_address import only_here, page_address


@pytest.mark.parametrize(
    ("listen", "address", "alone"),
    [("127.0.0.1:8420", "http://127.0.0.1:8420", True), ("localhost:80", "http://localhost:80", True),
     ("192.0.2.7:8420", "http://192.0.2.7:8420", False), ("[::1]:8420", "http://[::1]:8420", True)],
)  # fmt: skip
def test_an_address_stays_as_it_is(listen: str, address: str, alone: bool) -> None:
    """A page on one address is there, and it is known whether only this machine reaches it."""
    pages = Pages(listen=listen)
    assert (page_address(pages), only_here(pages)) == (address, alone)


@pytest.mark.parametrize("listen", ["0.0.0.0:8420", "[::]:8420"])
def test_all_addresses_are_told_as_one(listen: str) -> None:
    """Nobody can type 0.0.0.0: this machine's own address stands there, or its name."""
    host = page_address(Pages(listen=listen)).removeprefix("http://").removesuffix(":8420")
    assert not only_here(Pages(listen=listen))
    if host != socket.gethostname():
        assert not ipaddress.ip_address(host).is_unspecified
