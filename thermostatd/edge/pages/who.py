"""Who may do what: the one table. Every route is in it; a route that is not stays shut.

Ranks: *stranger* < *guest* (looks) < *room-guest* (asks in one room, and sees only that) < *household* < *owner*. A
device joined by a code of its rank; an owner also by the owner's passphrase. `open` makes every stranger household.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from thermostatd.core.asking import Ask, Cancel, Request, RoomOff, Undo
from thermostatd.edge.pages.door import Role

Rank = Literal["stranger", "guest", "room-guest", "household", "owner"]
_ORDER: dict[Rank, int] = {"stranger": 0, "guest": 1, "room-guest": 2, "household": 3, "owner": 4}

MAY: dict[str, Rank] = {
    "join": "stranger",  # see how to join, and guess a code (throttled)
    "health": "stranger",  # whether it decides, nothing more
    "file": "stranger",  # the page's style, script and icon: the same for every house
    "look": "guest",  # rooms, traces, weeks, troubles, help, live updates, the API's description
    "own phone": "guest",  # this phone's degrees, language and name; leaving the house
    "ask in a room": "room-guest",  # warmer, cooler, off, usual, undo; a room guest in its own room alone
    "ask": "household",  # warm me, out, all off: within the owner's limits
    "week": "owner",  # a room's usual week; household too where the house file says so
    "measure": "household",  # metrics
    "prove": "household",  # give the owner's passphrase (throttled), or stop being owner
    "seen": "owner",  # "I have looked at it": reopens what latched
    "place": "owner",  # where a heater stands now, and what its selector is set to
    "people": "owner",  # codes for new phones, naming and forgetting phones
    "own": "owner",  # heaters, circuits, energy, sensors, what is believed of rooms, the house file
}

ROUTES: dict[str, str] = {
    "GET /": "look",
    "GET /room/{name}": "look",
    "GET /room/{name}/week": "look",
    "POST /room/{name}/week": "week",
    "POST /room/{name}/week/back": "week",
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
    "GET /phone": "own phone",
    "POST /phone": "own phone",
    "POST /phone/leave": "own phone",
    "POST /degrees": "own phone",
    "POST /language": "own phone",
    "POST /ask": "ask in a room",
    "POST /ask-later": "ask in a room",
    "POST /room-off": "ask in a room",
    "POST /cancel": "ask in a room",
    "POST /undo": "ask in a room",
    "POST /warm-me": "ask",
    "POST /out": "ask",
    "POST /all-off": "ask",
    "POST /seen": "seen",
    "POST /api/ask": "ask in a room",
    "POST /api/room-off": "ask in a room",
    "POST /api/cancel": "ask in a room",
    "POST /api/undo": "ask in a room",
    "POST /api/warm-me": "ask",
    "POST /api/out": "ask",
    "POST /api/all-off": "ask",
    "POST /api/week": "week",
    "POST /api/seen": "seen",
    "POST /owner/stands": "place",
    "POST /owner/set-to": "place",
    "POST /api/stands": "place",
    "POST /api/set-to": "place",
    "GET /owner": "prove",
    "POST /owner": "prove",
    "POST /owner/leave": "prove",
    "GET /owner/heaters": "own",
    "GET /owner/circuits": "own",
    "GET /owner/troubles": "own",
    "GET /owner/energy": "own",
    "GET /owner/sensors": "own",
    "GET /owner/rooms": "own",
    "GET /owner/file": "own",
    "GET /people": "people",
    "POST /people/code": "people",
    "POST /people/name": "people",
    "POST /people/forget": "people",
}


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who is at the door. `key` names the device for throttling; `device_id` is None where none joined.

    `room` is the one room of a room guest; `until` ends the device's joining.
    """

    name: str | None
    rank: Rank
    key: str
    device_id: str | None = None
    room: str | None = None
    until: datetime | None = None

    @property
    def origin(self) -> str:
        """The road this request came by, for the record."""
        return f"phone {self.name}" if self.device_id else "open page"


def rank_of(role: Role) -> Rank:
    """A device's role as a rank."""
    return role


def may(rank: Rank, act: str, weeks: str = "owner") -> bool:
    """Whether that rank may do this act. `weeks` is who changes usual weeks, as the house file says.

    False for an act that nobody wrote down.
    """
    least = MAY.get(act)
    if act == "week" and weeks == "household":
        least = "household"
    return least is not None and _ORDER[rank] >= _ORDER[least]


def may_put(visitor: Visitor, request: Request) -> bool:
    """Whether this visitor may make this very request: a room guest asks in its own room alone."""
    if visitor.rank != "room-guest":
        return True
    match request:
        case Ask(room=place) | RoomOff(room=place) | Cancel(what=place):
            return isinstance(place, str) and place == visitor.room
        case _:
            return isinstance(request, Undo)  # of its own last change: the site knows no other


def sees_room(visitor: Visitor, room: str) -> bool:
    """Whether this visitor is shown that room."""
    return visitor.rank != "room-guest" or visitor.room == room


def act_of(method: str, path: str) -> str | None:
    """The act behind a route's method and path template; None where the table has none."""
    return ROUTES.get(f"{'GET' if method == 'HEAD' else method} {path}")
