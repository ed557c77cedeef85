"""Where people find the page: the address to type on a phone, made from the house file's `listen`."""

from __future__ import annotations

import socket
from ipaddress import ip_address

from thermostatd.core.house.tables import Pages

ANYWHERE = ("0.0.0.0", "::", "")
_FAR = ("192.0.2.1", 9)
"""An address for documentation (RFC 5737): choosing a road there sends nothing."""


def page_address(pages: Pages) -> str:
    """ "http://192.168.1.7:8420"; a page on all addresses is named by the one that the home network reaches."""
    host, _, port = pages.listen.rpartition(":")
    host = host.strip("[]")
    if host in ANYWHERE:
        host = _own()
    shown = f"[{host}]" if ":" in host else host
    return f"{'https' if pages.tls else 'http'}://{shown}:{port}"


def only_here(pages: Pages) -> bool:
    """Whether no other machine reaches the page."""
    host = pages.listen.rpartition(":")[0].strip("[]")
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _own() -> str:
    """This machine's address on the home network, else its name."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as road:
        try:
            road.connect(_FAR)
            return str(road.getsockname()[0])
        except OSError:
            return socket.gethostname()
