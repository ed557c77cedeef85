"""Says when the house file may have changed.

Rules: the folder is watched, not the file, since editors and tools put a new file in the old one's place; beside
that the file's stamp is looked at each second, for links to elsewhere and disks that tell nothing; a folder that
is gone is waited for.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator
from pathlib import Path

LOOK_MILLISECONDS = 1000
SETTLE_MILLISECONDS = 150
Stamp = tuple[int, int, int] | None


async def changes_of(file: Path, stop: asyncio.Event) -> AsyncIterator[None]:
    """One value for each change, until `stop` is set."""
    seen = stamp_of(file)
    while not stop.is_set():
        async for _ in _looks(file.parent, stop):
            now = stamp_of(file)
            if now != seen:
                seen = now
                yield


async def _looks(folder: Path, stop: asyncio.Event) -> AsyncIterator[None]:
    """A look at once, at each change in the folder, and each second; ends where the folder is gone."""
    from watchfiles import awatch

    yield
    try:
        async for _ in awatch(
            folder,
            recursive=False,
            debounce=SETTLE_MILLISECONDS,
            step=50,
            rust_timeout=LOOK_MILLISECONDS,
            yield_on_timeout=True,
            stop_event=stop,
        ):
            yield
            if not folder.is_dir():
                return
    except (OSError, RuntimeError):
        pass
    await asyncio.sleep(LOOK_MILLISECONDS / 1000)


def stamp_of(file: Path) -> Stamp:
    """What tells one state of a file from another; None where it is not there."""
    try:
        status = os.stat(file)
    except OSError:
        return None
    return status.st_mtime_ns, status.st_size, status.st_ino
