"""Puts the pages together: routes, the gate before each, errors in plain words, the shield around all."""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections.abc import Callable
from functools import partial
from pathlib import Path

import uvicorn
from fastapi import Depends, FastAPI
from starlette.middleware.gzip import GZipMiddleware

from thermostatd.core.house.tables import PagesTls
from thermostatd.edge.pages import (
    api_routes,
    form_routes,
    house_page,
    live,
    misc_routes,
    owner_pages,
    people,
    phone,
    room_page,
    shield,
    week_page,
)
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.errors import answer_errors, answered
from thermostatd.edge.pages.keys import Passphrase
from thermostatd.edge.pages.line import AT_A_TIME, line_of
from thermostatd.edge.pages.rendering import Rendering
from thermostatd.edge.pages.site import Site, Spoken, gate
from thermostatd.edge.pages.who import Rank

HANDSHAKE_SECONDS = 8.0
_HERE = Path(__file__).resolve()


def web_folder() -> Path:
    """Where `web/` lies: inside the installed package, or beside it in a source tree."""
    installed = _HERE.parents[2] / "_shared" / "web"
    return installed if installed.is_dir() else _HERE.parents[3] / "web"


def create_app(
    door: Door,
    *,
    now: Callable[[], float],
    open: bool = False,
    open_rank: Rank = "household",
    passphrase: str | None = None,
    listen: str | None = None,
    tls: bool = False,
) -> FastAPI:
    """The pages of one house.

    `now` gives steady seconds. `open` lets anyone on the network ask without joining, as `open_rank`.
    `passphrase` is the owner's (ValueError under eight characters). `listen` is the address:port served
    (left out: the house file's).
    """
    app = FastAPI(
        title="thermostatd",
        version="1",
        description="Rooms, targets and reasons of one house.",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        redirect_slashes=False,
        dependencies=[Depends(gate)],
    )
    site = app.state.site = Site(
        door,
        open,
        open_rank,
        tls,
        now,
        Passphrase(passphrase) if passphrase else None,
        Rendering(web_folder()),
    )
    parts = (api_routes, form_routes, house_page, room_page, week_page, live, people, phone, owner_pages)
    for part in (*parts, misc_routes):
        app.include_router(part.router)
    answer_errors(app)
    app.add_middleware(GZipMiddleware, minimum_size=400, compresslevel=6)
    pages = door.house.pages
    app.add_middleware(Spoken, site=site)
    hosts = shield.own_hosts(listen or pages.listen, pages.hosts)
    answer = partial(answered, site, app)
    app.add_middleware(shield.Shield, hosts=hosts, tls=tls, answered=answer, warnings=site.warnings)
    return app


class _Server(uvicorn.Server):
    """A server that leaves the signals to the daemon."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Listens. Whoever begins TLS must have ended its greeting soon: a minute, asyncio's own, is long."""
        loop = asyncio.get_running_loop()
        if self.config.is_ssl:
            begin = partial(loop.create_server, ssl_handshake_timeout=HANDSHAKE_SECONDS)
            loop.create_server = begin  # type: ignore[method-assign]
        try:
            await super().startup(sockets)
        finally:
            loop.__dict__.pop("create_server", None)

    @contextlib.contextmanager
    def capture_signals(self):  # type: ignore[no-untyped-def]
        """Takes no signal: set `should_exit` to stop."""
        yield


def serve(app: FastAPI, listen: str, tls: PagesTls | None = None) -> uvicorn.Server:
    """A server for the app: `await server.serve()`, then `server.should_exit = True` ends it within 3 s."""
    host, _, port = listen.rpartition(":")
    return _Server(
        uvicorn.Config(
            app,
            http=line_of(app.state.site.warnings),
            host=host.strip("[]"),
            port=int(port),
            log_config=None,
            access_log=False,
            backlog=AT_A_TIME,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=2,
            timeout_keep_alive=15,
            h11_max_incomplete_event_size=16 * 1024,
            ssl_certfile=tls.cert if tls else None,
            ssl_keyfile=tls.key if tls else None,
            lifespan="off",
            ws="none",
        )
    )
