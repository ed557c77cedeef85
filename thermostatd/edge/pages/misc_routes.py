"""Help, health, metrics, files that are the same for every house, and the API's description."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse

from thermostatd.edge.pages import words
from thermostatd.edge.pages.house_page import common
from thermostatd.edge.pages.room_page import no_such_page
from thermostatd.edge.pages.site import site_of
from thermostatd.edge.pages.speech import t

OPENMETRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"
router = APIRouter(include_in_schema=False)


@router.get("/help")
async def guides(request: Request) -> HTMLResponse:
    """The guides: their own first page, else a list of them."""
    rendering = site_of(request).rendering
    listed = rendering.guide("index")
    guides = [] if listed else rendering.guides()
    return HTMLResponse(rendering.page("help.html", **common(request), guides=guides, guide=listed))


@router.get("/help/{page}")
async def guide(request: Request, page: str) -> HTMLResponse:
    """One guide."""
    rendering = site_of(request).rendering
    found = rendering.guide(page)
    if found is None:
        return no_such_page(request)
    return HTMLResponse(rendering.page("help.html", **common(request), guides=[], guide=found))


@router.get("/health")
async def health(request: Request) -> JSONResponse:
    """Whether it decides: 200, else 503."""
    told = dict(site_of(request).door.health())
    return JSONResponse(told, 200 if told.get("ok") else 503)


@router.get("/metrics")
async def metrics(request: Request) -> Response:
    """OpenMetrics."""
    return Response(site_of(request).door.metrics(), media_type=OPENMETRICS)


@router.get("/openapi.json")
async def openapi(request: Request) -> JSONResponse:
    """The API's description."""
    return JSONResponse(request.app.openapi())


@router.get("/static/{name}")
async def static_file(request: Request, name: str) -> Response:
    """A style sheet, script or drawing. The address changes with the content, so it may be kept for long."""
    found = site_of(request).rendering.files.get(name)
    if found is None:
        return Response(t(words.NO_SUCH_PAGE_HERE), 404, media_type="text/plain; charset=utf-8")
    age = "public, max-age=31536000, immutable" if request.url.query == found.version else "no-cache"
    return Response(found.content, headers={"cache-control": age, "content-type": found.kind})


@router.get("/favicon.ico")
async def icon(request: Request) -> Response:
    """The icon, for browsers that ask without being told."""
    return await static_file(request, "icon.svg")
