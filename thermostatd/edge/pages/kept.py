"""What is kept between requests, so that a page that was just made need not be made again.

Rules: a whole page holds for one decision of the house and one minute, for one kind of visitor; what the store
told of a room's past holds for its minute; nothing here is ever older than what would be made anew.
"""

from __future__ import annotations

import gzip
from collections.abc import Awaitable, Callable, Hashable
from typing import Any

_MOST_PAGES = 24


class Kept:
    """Pages of the present decision, and the past of this minute."""

    def __init__(self) -> None:
        self._of: object = None
        self._pages: dict[Hashable, tuple[bytes, bytes]] = {}
        self._minute = -1
        self._past: dict[Hashable, Any] = {}

    def page(self, decision: object, key: Hashable) -> tuple[bytes, bytes] | None:
        """The page of that decision, plain and compressed; None where there is none yet."""
        return self._pages.get(key) if decision is self._of else None

    def keep(self, decision: object, key: Hashable, page: str) -> tuple[bytes, bytes]:
        """Keeps a page; gives it plain and compressed."""
        if decision is not self._of or len(self._pages) >= _MOST_PAGES:
            self._of, self._pages = decision, {}
        plain = page.encode()
        self._pages[key] = (plain, gzip.compress(plain, 6, mtime=0))
        return self._pages[key]

    async def past(self, minute: int, key: Hashable, make: Callable[[], Awaitable[Any]]) -> Any:
        """What was made in this minute under this key, else made now."""
        if minute != self._minute:
            self._minute, self._past = minute, {}
        if key not in self._past:
            made = await make()
            if minute != self._minute:
                return made
            self._past[key] = made
        return self._past[key]

    def drawn(self, minute: int, key: Hashable, draw: Callable[[], Any]) -> Any:
        """What was drawn in this minute under this key, else drawn now."""
        if minute != self._minute:
            self._minute, self._past = minute, {}
        if key not in self._past:
            self._past[key] = draw()
        return self._past[key]
