"""Who may do what: the one table. Every route is in it; a route that is not stays shut.

Ranks: *stranger* < *household* < *owner*. A household device joined by a code; an owner's device joined by an owner's
code, or someone gave the owner's passphrase. `open` makes every stranger household.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from thermostatd.edge.pages.door import Role

Rank = Literal["stranger", "household", "owner"]
_ORDER: dict[Rank, int] = {"stranger": 0, "household": 1, "owner": 2}

MAY: dict[str, Rank] = {
    "join": "stranger",  # see how to join, and guess a code (throttled)
    "health": "stranger",  # whether it decides, nothing more
    "file": "stranger",  # the page's style, script and icon: the same for every house
    "look": "household",  # rooms, traces, troubles, help, live updates, the API's description
    "ask": "household",  # warmer, cooler, warm me, out, all off, cancel: within the owner's limits
    "measure": "household",  # metrics
    "seen": "owner",  # "I have looked at it": reopens what latched
    "people": "owner",  # codes for new phones, forgetting phones
    "prove": "household",  # give the owner's passphrase (throttled), or stop being owner
}

ROUTES: dict[str, str] = {
    "GET /": "look",
    "GET /room/{name}": "look",
    "GET /help": "look",
    "GET /help/{page}": "look",
    "GET /live": "look",
    "GET /api/house": "look",
    "GET /openapi.json": "look",
    "GET /metrics": "measure",
    "GET /health": "health",
    "GET /static/{name}": "file",
    "GET /favicon.ico": "file",
    "GET /join": "join",
    "POST /join": "join",
    "POST /degrees": "look",
    "POST /ask": "ask",
    "POST /warm-me": "ask",
    "POST /out": "ask",
    "POST /all-off": "ask",
    "POST /cancel": "ask",
    "POST /seen": "seen",
    "POST /api/ask": "ask",
    "POST /api/warm-me": "ask",
    "POST /api/out": "ask",
    "POST /api/all-off": "ask",
    "POST /api/cancel": "ask",
    "POST /api/seen": "seen",
    "GET /owner": "prove",
    "POST /owner": "prove",
    "POST /owner/leave": "prove",
    "GET /people": "people",
    "POST /people/code": "people",
    "POST /people/forget": "people",
}


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who is at the door. `key` names the device for throttling; `device_id` is None where none joined."""

    name: str | None
    rank: Rank
    key: str
    device_id: str | None = None

    @property
    def origin(self) -> str:
        """The road this request came by, for the record."""
        return f"phone {self.name}" if self.device_id else "open page"


def rank_of(role: Role) -> Rank:
    """A device's role as a rank."""
    return role


def may(rank: Rank, act: str) -> bool:
    """Whether that rank may do this act. False for an act that nobody wrote down."""
    least = MAY.get(act)
    return least is not None and _ORDER[rank] >= _ORDER[least]


def act_of(method: str, path: str) -> str | None:
    """The act behind a route's method and path template; None where the table has none."""
    return ROUTES.get(f"{'GET' if method == 'HEAD' else method} {path}")
