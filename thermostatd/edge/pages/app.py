"""Puts the pages together: routes, the gate before each, errors in plain words, the shield around all."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path

import uvicorn
from fastapi import Depends, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, PlainTextResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from thermostatd.core.house.tables import PagesTls
from thermostatd.core.said import said
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
    words,
)
from thermostatd.edge.pages.asks import Malformed, TooOften
from thermostatd.edge.pages.door import Door
from thermostatd.edge.pages.keys import Passphrase
from thermostatd.edge.pages.rendering import Rendering
from thermostatd.edge.pages.site import Shut, Site, Spoken, gate, log
from thermostatd.edge.pages.speech import say
from thermostatd.edge.pages.who import Rank

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
        dependencies=[Depends(gate)],
    )
    app.state.site = Site(
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
    _answer_errors(app)
    app.add_middleware(GZipMiddleware, minimum_size=400, compresslevel=6)
    pages = door.house.pages
    app.add_middleware(Spoken, site=app.state.site)
    app.add_middleware(shield.Shield, hosts=shield.own_hosts(listen or pages.listen, pages.hosts), tls=tls)
    return app


def _error(request: Request, status: int, code: str, sentence: str) -> Response:
    """An error as the caller reads it: JSON for the API, a sentence for a browser."""
    sentence = say(sentence)
    if request.url.path.startswith("/api/"):
        return JSONResponse({"code": code, "sentence": sentence, "limit": None}, status)
    return PlainTextResponse(sentence + "\n", status)


def _answer_errors(app: FastAPI) -> None:
    @app.exception_handler(Shut)
    async def shut(request: Request, fault: Shut) -> Response:
        if fault.join and request.method == "GET" and "text/html" in request.headers.get("accept", ""):
            return RedirectResponse("/join", 303)
        if fault.code == "owner-only" and request.method == "GET":
            return RedirectResponse("/owner", 303)
        return _error(request, 403, fault.code, fault.sentence)

    @app.exception_handler(Malformed)
    async def malformed(request: Request, fault: Malformed) -> Response:
        return _error(request, 415 if fault.code == "not-json" else 422, fault.code, fault.sentence)

    @app.exception_handler(TooOften)
    async def too_often(request: Request, fault: TooOften) -> Response:
        return _error(request, 429, "too-often", words.ASKED_TOO_OFTEN)

    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, fault: RequestValidationError) -> Response:
        return _error(request, 422, "malformed", validation_sentence(fault))

    @app.exception_handler(HTTPException)
    async def known(request: Request, fault: HTTPException) -> Response:
        if fault.status_code == 400:
            return _error(request, 422, "malformed", words.BROKEN_JSON)
        sentence = words.NO_SUCH_PAGE if fault.status_code in (404, 405) else str(fault.detail)
        return _error(request, fault.status_code, "no-such-page", sentence)

    @app.exception_handler(Exception)
    async def broken(request: Request, fault: Exception) -> Response:
        log.error("%s %.100r failed", request.method, request.url.path, exc_info=fault)
        return _error(request, 500, "broken", words.BROKEN)


def validation_sentence(fault: RequestValidationError) -> str:
    """The first fault of a body, with the field's name."""
    first = fault.errors()[0]
    field = ".".join(str(part) for part in first["loc"][1:])[:60] or "body"
    if first["type"] == "extra_forbidden":
        return said(words.UNKNOWN, field=field)
    if first["type"] == "missing":
        return said(words.LACKING, field=field)
    return f"“{field}”: {first['msg'][:1].lower()}{first['msg'][1:]}."


class _Server(uvicorn.Server):
    """A server that leaves the signals to the daemon."""

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
            host=host.strip("[]"),
            port=int(port),
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=2,
            timeout_keep_alive=15,
            limit_concurrency=120,
            h11_max_incomplete_event_size=16 * 1024,
            ssl_certfile=tls.cert if tls else None,
            ssl_keyfile=tls.key if tls else None,
            lifespan="off",
            ws="none",
        )
    )
