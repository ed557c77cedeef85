"""What all routes share: the door, who is visiting, what they may still ask, who proved to be owner."""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from ipaddress import ip_address
from zoneinfo import ZoneInfo

from fastapi import Request, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from thermostatd.edge.pages import keys, words
from thermostatd.edge.pages.door import Device, Door, View
from thermostatd.edge.pages.kept import Kept
from thermostatd.edge.pages.rendering import Rendering
from thermostatd.edge.pages.speech import (
    TWELVE_HOURS,
    Speech,
    Unit,
    chosen_language,
    now_of,
    region_of,
    speak,
)
from thermostatd.edge.pages.throttle import Asking, Guessing, Warnings
from thermostatd.edge.pages.who import MAY, Rank, Visitor, act_of, may, rank_of

log = logging.getLogger("thermostatd.pages")

PROXIES = ("127.0.0.1", "::1")
FORWARDING = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
OWNER_IDLE_SECONDS = 15 * 60.0
OWNER_LONGEST_SECONDS = 8 * 3600.0
UNDO_SECONDS = 60.0
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


@dataclass(frozen=True, slots=True)
class Offer:
    """An undo that one visitor is offered: the change's number, its place on the page, its end (steady)."""

    change: int
    place: str
    ends: float


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
        self.warnings = Warnings(self.now)
        self.live: dict[str, int] = {}
        self.offers: dict[str, Offer] = {}
        self.kept = Kept()

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
            proved = proved and may(rank_of(device.role), "prove")
            rank = "owner" if proved else rank_of(device.role)
            return Visitor(device.name, rank, f"device {device.id}", device.id, device.room, device.until)
        address = f"address {where(request)}"
        if self.open and not behind_proxy(request):
            return Visitor(words.SOMEONE_HERE, "owner" if proved else self.open_rank, address)
        return Visitor(None, "stranger", address)

    def offer(self, visitor: Visitor, change: int | None, place: str) -> None:
        """That visitor may undo this change for a minute; nobody else is offered it."""
        now = self.door.view().moment.steady  # the house's own time, by which a change becomes final
        self.offers = {key: one for key, one in self.offers.items() if one.ends > now}
        self.offers.pop(visitor.key, None)
        if change is not None:
            self.offers[visitor.key] = Offer(change, place, now + UNDO_SECONDS)

    def offered(self, visitor: Visitor) -> Offer | None:
        """What that visitor may undo now."""
        found = self.offers.get(visitor.key)
        return found if found is not None and found.ends > self.door.view().moment.steady else None

    def may_edit_weeks(self, visitor: Visitor) -> bool:
        """Whether that visitor may change usual weeks."""
        return may(visitor.rank, "week", self.door.house.pages.weeks)

    def speech(self, request: Request) -> Speech:
        """How to speak to this visitor: its own choice, else what the browser and the house's mains suggest."""
        accept, unit = request.headers.get("accept-language", ""), request.cookies.get(self.cookie("degrees"))
        catalogues = self.rendering.catalogues
        language = chosen_language(request.cookies.get(self.cookie("language")), accept, catalogues)
        region = region_of(accept)
        # many phones in 230 V countries are set to US English: that is no wish for °F or for "pm"
        american = region == "us" and self.door.house.house.mains_volts < 150
        shown: Unit = "F" if unit == "F" or (unit is None and american) else "C"
        twelve = language == "en" and (american or (region in TWELVE_HOURS and region != "us"))
        return Speech(
            language, shown, twelve, self.zone, catalogues.of(language), catalogues.recognised(language)
        )

    @property
    def zone(self) -> ZoneInfo:
        """The house's time zone."""
        return ZoneInfo(self.door.house.house.timezone)

    def speak_to(self, request: Request) -> None:
        """From here on this request is answered in the visitor's own way."""
        speak(self.speech(request))

    def local_now(self, view: View) -> datetime:
        """The present wall time of the house; times are told as near or far from it."""
        now = view.moment.wall.astimezone(self.zone)
        now_of.set(now)
        return now


def site_of(request: Request) -> Site:
    """The site that an app serves."""
    site: Site = request.app.state.site
    return site


def visitor_of(request: Request) -> Visitor:
    """Who the gate found."""
    visitor: Visitor = request.state.visitor
    return visitor


def where(request: Request) -> str:
    """The address at the other end. Of what a proxy on this machine passes on, the one that it saw, which is the last
    that it wrote: a guesser behind it must not use up everybody's tries."""
    host = request.client.host if request.client else "nowhere"
    if host in PROXIES:
        seen = request.headers.get("x-forwarded-for", "").rpartition(",")[2].strip()
        return seen if _is_address(seen) else host
    return host


def _is_address(text: str) -> bool:
    try:
        return bool(ip_address(text))
    except ValueError:
        return False


def behind_proxy(request: Request) -> bool:
    """Whether a forwarding header is present: then the address says nothing about who asks."""
    return any(name in request.headers for name in FORWARDING)


async def gate(request: Request) -> None:
    """Consults the table for every route. Raises Shut."""
    site = site_of(request)
    visitor = request.state.visitor = await site.visitor(request)
    path = getattr(request.scope.get("route"), "path", "")
    act = act_of(request.method, path)
    if act is not None and may(visitor.rank, act, site.door.house.pages.weeks):
        return
    shut = _why_shut(site, visitor, request, act)
    site.warnings.tell(
        where(request),
        "%s: %s %.60r refused to %.60r from %s",
        shut.code,
        request.method,
        path,
        visitor.name,
        where(request),
    )
    raise shut


def _why_shut(site: Site, visitor: Visitor, request: Request, act: str | None) -> Shut:
    if visitor.rank == "stranger":
        if site.open and behind_proxy(request):
            return Shut(words.BEHIND_PROXY, "behind-proxy")
        return Shut(words.JOIN_FIRST, "join-first", join=True)
    if act is not None and MAY.get(act) == "owner":
        return Shut(words.OWNER_ONLY, "owner-only")
    return Shut(words.NOT_FOR_GUESTS, "not-for-guests")


class Spoken:
    """ASGI middleware: everything that is answered is said in the visitor's own way."""

    def __init__(self, app: ASGIApp, site: Site) -> None:
        self._app, self._site = app, site

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Passes the request on."""
        if scope["type"] == "http":
            self._site.speak_to(Request(scope))
        await self._app(scope, receive, send)
