"""What all routes share: the door, who is visiting, what they may still ask, who proved to be owner."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from fastapi import Request, Response

from thermostatd.edge.pages import keys, words
from thermostatd.edge.pages.amounts import Unit
from thermostatd.edge.pages.door import Device, Door, View
from thermostatd.edge.pages.rendering import Rendering
from thermostatd.edge.pages.throttle import Asking, Guessing
from thermostatd.edge.pages.who import Rank, Visitor, act_of, may, rank_of

log = logging.getLogger("thermostatd.pages")

FORWARDING = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
OWNER_IDLE_SECONDS = 15 * 60.0
OWNER_LONGEST_SECONDS = 8 * 3600.0
_YEAR = 400 * 86400


class Shut(Exception):
    """A visitor may not do this. `join` where joining would mend it."""

    def __init__(self, sentence: str, code: str = "not-allowed", join: bool = False) -> None:
        super().__init__(sentence)
        self.sentence, self.code, self.join = sentence, code, join


@dataclass
class Owners:
    """Who gave the passphrase: digests of their owner cookies, with (began, last seen), steady seconds."""

    now: Callable[[], float]
    since: dict[str, tuple[float, float]] = field(default_factory=dict)

    def begin(self) -> str:
        """A new token for the owner cookie."""
        token = keys.new_token()
        while len(self.since) >= 16:
            self.since.pop(min(self.since, key=lambda one: self.since[one][1]))
        self.since[keys.digest_of(token)] = (self.now(), self.now())
        return token

    def holds(self, token: str | None) -> bool:
        """Whether that owner is still one: seen within 15 minutes, begun within 8 hours."""
        digest = keys.digest_of(token) if token else ""
        if digest not in self.since:
            return False
        began, seen = self.since[digest]
        if self.now() - seen > OWNER_IDLE_SECONDS or self.now() - began > OWNER_LONGEST_SECONDS:
            del self.since[digest]
            return False
        self.since[digest] = (began, self.now())
        return True

    def end(self, token: str | None) -> None:
        """Stops being owner."""
        self.since.pop(keys.digest_of(token or ""), None)


@dataclass
class Site:
    """The pages of one house."""

    door: Door
    open: bool
    open_rank: Rank
    tls: bool
    now: Callable[[], float]
    passphrase: keys.Passphrase | None
    rendering: Rendering

    def __post_init__(self) -> None:
        """Begins with nobody known and all allowances full."""
        self.owners = Owners(self.now)
        self.asking = Asking(self.now)
        self.guessing = Guessing(self.now)
        self.live: dict[str, int] = {}

    def cookie(self, name: str) -> str:
        """The cookie's full name. Under TLS the prefix binds it to this host; plain HTTP cannot have that."""
        return f"__Host-{name}" if self.tls else name

    def keep(self, response: Response, name: str, value: str, seconds: int | None = _YEAR) -> None:
        """Sets a cookie that no script and no other site can use."""
        response.set_cookie(
            self.cookie(name),
            value,
            max_age=seconds,
            path="/",
            secure=self.tls,
            httponly=True,
            samesite="strict",
        )

    def drop(self, response: Response, name: str) -> None:
        """Clears a cookie."""
        response.delete_cookie(self.cookie(name), path="/", secure=self.tls, httponly=True, samesite="strict")

    async def device(self, request: Request) -> Device | None:
        """The joined device that this request comes from."""
        token = request.cookies.get(self.cookie("device"))
        return await self.door.device(token) if token and len(token) <= 200 else None

    async def visitor(self, request: Request) -> Visitor:
        """Who this is, and what rank."""
        device = await self.device(request)
        proved = self.owners.holds(request.cookies.get(self.cookie("owner")))
        if device is not None:
            rank = "owner" if proved else rank_of(device.role)
            return Visitor(device.name, rank, f"device {device.id}", device.id)
        address = f"address {where(request)}"
        if self.open and not behind_proxy(request):
            return Visitor(words.SOMEONE_HERE, "owner" if proved else self.open_rank, address)
        return Visitor(None, "stranger", address)

    def unit(self, request: Request) -> Unit:
        """This device's choice of degrees."""
        return "F" if request.cookies.get(self.cookie("degrees")) == "F" else "C"

    @property
    def zone(self) -> ZoneInfo:
        """The house's time zone."""
        return ZoneInfo(self.door.house.house.timezone)

    def local_now(self, view: View) -> datetime:
        """The present wall time of the house."""
        return view.moment.wall.astimezone(self.zone)


def site_of(request: Request) -> Site:
    """The site that an app serves."""
    site: Site = request.app.state.site
    return site


def visitor_of(request: Request) -> Visitor:
    """Who the gate found."""
    visitor: Visitor = request.state.visitor
    return visitor


def where(request: Request) -> str:
    """The address at the other end."""
    return request.client.host if request.client else "nowhere"


def behind_proxy(request: Request) -> bool:
    """Whether a forwarding header is present: then the address says nothing about who asks."""
    return any(name in request.headers for name in FORWARDING)


async def gate(request: Request) -> None:
    """Consults the table for every route. Raises Shut."""
    site = site_of(request)
    visitor = request.state.visitor = await site.visitor(request)
    path = getattr(request.scope.get("route"), "path", "")
    act = act_of(request.method, path)
    if act is not None and may(visitor.rank, act):
        return
    log.warning("refused %s %s to %.60r from %s", request.method, path, visitor.name, where(request))
    if visitor.rank == "stranger":
        if site.open and behind_proxy(request):
            raise Shut(words.BEHIND_PROXY, "behind-proxy")
        raise Shut(words.JOIN_FIRST, "join-first", join=True)
    raise Shut(words.OWNER_ONLY, "owner-only")
