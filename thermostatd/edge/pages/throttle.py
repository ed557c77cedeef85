"""How often someone may ask or guess.

Rules: each device and each address has its own allowance, so that one who floods never locks out another; tables are
bounded; time is steady seconds. Guessing is also bounded in all, yet each address keeps its first tries.
"""

from __future__ import annotations

import logging
from collections import OrderedDict
from collections.abc import Callable
from ipaddress import IPv6Address, ip_address

_MOST_KEPT = 1024
log = logging.getLogger("thermostatd.pages")


class Allowance:
    """For each key `burst` at once, and one more every `seconds`."""

    def __init__(self, burst: int, seconds: float, now: Callable[[], float]) -> None:
        self._burst, self._seconds, self._now = float(burst), seconds, now
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, key: str) -> bool:
        """Uses one up; False where none is left."""
        moment = self._now()
        left, at = self._left.pop(key, (self._burst, moment))
        left = min(self._burst, left + max(0.0, moment - at) / self._seconds)
        granted = left >= 1.0
        self._left[key] = (left - 1.0 if granted else left, moment)
        while len(self._left) > _MOST_KEPT:
            self._left.popitem(last=False)
        return granted


class Guessing:
    """Guesses at codes and the passphrase: five at once an address and one a minute; sixty at once in all and one
    each 5 s, of which an address's first three in ten minutes use none."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._own = Allowance(5, 60.0, now)
        self._first = Allowance(3, 200.0, now)
        self._all = Allowance(60, 5.0, now)

    def may(self, address: str) -> bool:
        """Whether this address may guess once more."""
        key = neighbourhood(address)
        if not self._own.take(key):
            return False
        return self._first.take(key) or self._all.take("all")


class Asking:
    """Requests: thirty at once a device and one each 2 s; ninety at once in all and two a second."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._own = Allowance(30, 2.0, now)
        self._all = Allowance(90, 0.5, now)

    def may(self, device: str) -> bool:
        """Whether this device may ask once more."""
        return self._own.take(device) and self._all.take("all")


class Warnings:
    """What the log says of strangers: ten lines at once an address and one a minute; sixty at once in all and one
    each 10 s. What is left out is counted, so that nobody can fill a disk by knocking."""

    def __init__(self, now: Callable[[], float]) -> None:
        self._own = Allowance(10, 60.0, now)
        self._all = Allowance(60, 10.0, now)
        self._left_out = 0

    def tell(self, address: str, words: str, *values: object) -> None:
        """One line, if this address may still cause one."""
        if not (self._own.take(neighbourhood(address)) and self._all.take("all")):
            self._left_out += 1
            return
        if self._left_out:
            log.warning("not-told: %d refusals more were left out of this log", self._left_out)
            self._left_out = 0
        log.warning(words, *values)


def neighbourhood(address: str) -> str:
    """The address, or for IPv6 its /64: one machine has all of that."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    return str(IPv6Address(int(known) >> 64 << 64)) if isinstance(known, IPv6Address) else str(known)
