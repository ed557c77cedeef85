"""A request as memory keeps it, and as people are told of it.

Rules: who asked, from where and when is kept with it, and what it replaced as plain text.
"""

from __future__ import annotations

from typing import Any

from thermostatd.core.clock import Now
from thermostatd.core.door.refusing import clean
from thermostatd.core.later import until_text
from thermostatd.core.memory import RequestMemory
from thermostatd.core.said import said as text_of


def wish_of(
    ask: Any,
    now: Now,
    ends: float | None,
    *,
    celsius: float | None = None,
    replaces: RequestMemory | None = None,
) -> RequestMemory:
    """What was asked, to be kept until a steady second (None: without an end)."""
    until = now.wall_in(ends - now.steady).timestamp() if ends is not None else None
    return RequestMemory(
        who_of(ask.who),
        clean(ask.origin, "direct"),
        now.best.timestamp(),
        ends,
        until,
        celsius,
        str(_said(replaces, now)) if replaces is not None else None,  # memory keeps plain text
    )


def who_of(who: object) -> str:
    """Who asked, as kept and told."""
    return clean(who, "someone")


def until_of(wish: RequestMemory, now: Now, otherwise: str) -> str:
    """When a request ends, as a time; what ends it otherwise."""
    return now.text(wish.until_wall) if wish.until_wall is not None else otherwise


def told(wish: RequestMemory, now: Now) -> dict[str, float | str]:
    """A wish that waits, as its sentences need it."""
    begins = now.text(wish.begins_wall) if wish.begins_wall is not None else ""
    until = until_of(wish, now, "")
    return {"who": wish.who, "celsius": wish.celsius or 0.0, "begins": begins, "until": until}


def _said(wish: RequestMemory, now: Now) -> str:
    """ "21.0° Ana until 16:40"."""
    until = until_text(wish.until_wall, now)
    if wish.off:
        return text_of("off {who}{until}", who=wish.who, until=until)
    if wish.celsius is None:
        return text_of("{who}{until}", who=wish.who, until=until)
    return text_of("{celsius:.1f}° {who}{until}", celsius=wish.celsius, who=wish.who, until=until)
