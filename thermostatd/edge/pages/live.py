"""`/live`: server-sent events. One `change` event for each change of the house; the page then fetches itself anew.

Rules: few streams a device and in all; a stream ends when its device is forgotten; a beat
every 20 s keeps the road open and shows that someone is still there.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from fastapi import APIRouter, Request, Response
from fastapi.responses import PlainTextResponse, StreamingResponse

from thermostatd.edge.pages import words
from thermostatd.edge.pages.site import Site, site_of, visitor_of
from thermostatd.edge.pages.speech import t
from thermostatd.edge.pages.who import may

STREAMS_A_DEVICE = 4
STREAMS = 40
BEAT_SECONDS = 20.0
router = APIRouter()


@router.get("/live", include_in_schema=False)
async def live(request: Request) -> Response:
    """The stream of changes."""
    site, key = site_of(request), visitor_of(request).key
    if site.live.get(key, 0) >= STREAMS_A_DEVICE or sum(site.live.values()) >= STREAMS:
        return PlainTextResponse(t(words.TOO_MANY_LIVE), 429)
    return _Counted(site, key, request)


class _Counted(StreamingResponse):
    """Holds its place in the count exactly as long as it is being sent."""

    def __init__(self, site: Site, key: str, request: Request) -> None:
        super().__init__(
            _events(site, request), media_type="text/event-stream", headers={"x-accel-buffering": "no"}
        )
        self._site, self._key = site, key

    async def __call__(self, scope, receive, send) -> None:  # type: ignore[no-untyped-def]
        """Sends the stream."""
        counts = self._site.live
        counts[self._key] = counts.get(self._key, 0) + 1
        try:
            await super().__call__(scope, receive, send)
        finally:
            counts[self._key] -= 1
            if not counts[self._key]:
                del counts[self._key]


async def _events(site: Site, request: Request) -> AsyncIterator[str]:
    """The first counter at once, then each change."""
    seen = await site.door.changed(-1)
    yield f"retry: 3000\nevent: hello\ndata: {seen}\n\n"
    while True:
        try:
            seen = await asyncio.wait_for(site.door.changed(seen), BEAT_SECONDS)
            beat = f"event: change\ndata: {seen}\n\n"
        except TimeoutError:
            beat = f"event: beat\ndata: {seen}\n\n"
        if seen < 0 or not may((await site.visitor(request)).rank, "look"):
            return
        yield beat
