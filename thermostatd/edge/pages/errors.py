"""Every refusal and failure, as its caller reads it: JSON at the API, a page with a way back in a browser, a sentence
for a script.

Rules: each says what happened and what to do, in the visitor's language; none shows anything of the inside, and none
tells a stranger more of the house than how to join.
"""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse
from starlette.exceptions import HTTPException
from starlette.types import Scope

from thermostatd.core.said import said
from thermostatd.edge.pages import words
from thermostatd.edge.pages.asks import Malformed, TooOften
from thermostatd.edge.pages.door import NotStored
from thermostatd.edge.pages.site import Shut, Site, site_of, where
from thermostatd.edge.pages.speech import say


def wants_a_page(accept: str) -> bool:
    """Whether a person reads the answer in a browser: one takes HTML, and does not ask for plain text besides."""
    return "text/html" in accept and "text/plain" not in accept


def _is_api(request: Request) -> bool:
    return request.url.path.startswith("/api/")


def error(
    request: Request,
    status: int,
    code: str,
    sentence: str,
    headers: Mapping[str, str] | None = None,
) -> Response:
    """An error as its caller reads it. `sentence` is English, or made by `said`."""
    told = say(sentence)
    if _is_api(request):
        return JSONResponse({"code": code, "sentence": told, "limit": None}, status, headers)
    if wants_a_page(request.headers.get("accept", "")):
        page = site_of(request).rendering.page("error.html", sentence=told)
        return HTMLResponse(page, status, headers)
    return PlainTextResponse(told + "\n", status, headers)


def answered(site: Site, app: FastAPI, scope: Scope, status: int, code: str, sentence: str) -> Response:
    """An error for a request that never came to a route."""
    request = Request(scope)
    site.speak_to(request)
    scope.setdefault("app", app)
    return error(request, status, code, sentence)


def answer_errors(app: FastAPI) -> None:
    """Gives each fault that a route may raise its answer."""

    @app.exception_handler(Shut)
    async def shut(request: Request, fault: Shut) -> Response:
        leads_on = request.method == "GET" and not _is_api(request)
        if leads_on and fault.join and "text/html" in request.headers.get("accept", ""):
            return RedirectResponse("/join", 303)
        if leads_on and fault.code == "owner-only":
            return RedirectResponse("/owner", 303)
        return error(request, 403, fault.code, fault.sentence)

    @app.exception_handler(Malformed)
    async def malformed(request: Request, fault: Malformed) -> Response:
        return error(request, 415 if fault.code == "not-json" else 422, fault.code, fault.sentence)

    @app.exception_handler(TooOften)
    async def too_often(request: Request, fault: TooOften) -> Response:
        site_of(request).warnings.tell(where(request), "too-often: asking held back, from %s", where(request))
        return error(request, 429, "too-often", words.ASKED_TOO_OFTEN, {"retry-after": "5"})

    @app.exception_handler(NotStored)
    async def not_stored(request: Request, fault: NotStored) -> Response:
        return error(request, 503, "not-stored", said(words.NOT_STORED, fault=fault.why))

    _answer_http_errors(app)


def _answer_http_errors(app: FastAPI) -> None:
    @app.exception_handler(RequestValidationError)
    async def invalid(request: Request, fault: RequestValidationError) -> Response:
        broken = fault.errors()[0]["type"] == "json_invalid"
        return error(request, 422, "malformed", words.BROKEN_JSON if broken else validation_sentence(fault))

    @app.exception_handler(HTTPException)
    async def known(request: Request, fault: HTTPException) -> Response:
        if fault.status_code == 400:
            return error(request, 422, "malformed", words.BROKEN_JSON)
        if fault.status_code == 405:
            sentence = said(words.NO_SUCH_METHOD, method=request.method[:20])
            return error(request, 405, "no-such-method", sentence, fault.headers)
        return error(request, fault.status_code, "no-such-page", words.NO_SUCH_PAGE_HERE, fault.headers)


def validation_sentence(fault: RequestValidationError) -> str:
    """The first fault of a body, with the field's name."""
    first = fault.errors()[0]
    field = ".".join(str(part) for part in first["loc"][1:])[:60] or "body"
    if first["type"] == "extra_forbidden":
        return said(words.UNKNOWN, field=field)
    if first["type"] == "missing":
        return said(words.LACKING, field=field)
    return said(words.FIELD_WRONG, field=field, what=f"{first['msg'][:1].lower()}{first['msg'][1:]}")
