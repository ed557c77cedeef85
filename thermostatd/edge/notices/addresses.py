"""The owner's addresses (mail, chat, push): read from a file, understood and reached by the apprise library.

Rules: an address is a secret: it is never shown or logged, only the word before its ://; the library and what it uses
are kept from naming one.
"""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

log = logging.getLogger(__name__)
MIGHT_NAME_ONE = ("apprise", "urllib3", "requests")


class AddressError(ValueError):
    """The addresses cannot be used; the sentence says why, without them."""


def addresses_in(file: str) -> list[str]:
    """The addresses of a file, one a line; lines that begin with # are none. AddressError where there is none."""
    try:
        lines = [line.strip() for line in Path(file).read_text(encoding="utf-8").splitlines()]
    except (OSError, UnicodeDecodeError) as fault:
        raise AddressError(f"{file} cannot be read ({type(fault).__name__})") from fault
    found = [line for line in lines if line and not line.startswith("#")]
    if not found:
        raise AddressError(f"{file} names no address: write one a line")
    return found


def kind_of(address: str) -> str:
    """What may be shown of an address: the word before its ://."""
    return address.partition("://")[0][:20]


def target_of(address: str) -> Any:
    """What the library makes of an address. AddressError where it knows no such."""
    try:
        import apprise
    except ImportError:
        raise AddressError(
            "addresses need apprise, which is not installed: pip install 'thermostatd[notices]'"
        ) from None
    for library in MIGHT_NAME_ONE:
        logging.getLogger(library).setLevel(logging.CRITICAL + 1)
    target = apprise.Apprise.instantiate(address, suppress_exceptions=True)
    if target is None:
        raise AddressError(f'an address that begins with "{kind_of(address)}" is none that the library knows')
    return target


def taken(target: Any, title: str, body: str, *, good: bool) -> bool:
    """Whether an address took a notice just now."""
    import apprise

    kind = apprise.NotifyType.SUCCESS if good else apprise.NotifyType.FAILURE
    try:
        return bool(target.notify(title=title, body=body, notify_type=kind))
    except Exception as fault:
        log.debug("an address failed: %s", type(fault).__name__)
        return False
