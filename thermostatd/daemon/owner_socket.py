"""The owner's way in on the machine itself: a socket in the state folder that only its user and root may open.

One JSON line asks, one answers: {"say": "join", "role": "household"} → {"code": …};
{"say": "why", "room": …} → {"text": …, "told": {…}}. A fault is {"fault": …}.
"""

from __future__ import annotations

import asyncio
import json
import os
import socket
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from thermostatd.daemon.house_door import HouseDoor

NAME = "owner.sock"
LONGEST_LINE_BYTES = 4096
WAIT_SECONDS = 10.0


class OwnerSocketError(Exception):
    """The running daemon could not be asked; the sentence says what to do."""


async def listen(door: HouseDoor, state: Path) -> asyncio.Server:
    """Answer on the state folder's socket until the server is closed."""
    path = state / NAME
    path.unlink(missing_ok=True)
    before = os.umask(0o177)
    try:
        return await asyncio.start_unix_server(
            lambda reader, writer: _serve(door, reader, writer), path, limit=LONGEST_LINE_BYTES
        )
    finally:
        os.umask(before)


async def _serve(door: HouseDoor, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    try:
        line = await asyncio.wait_for(reader.readline(), WAIT_SECONDS)
        answer = await _answer(door, json.loads(line))
    except (ValueError, KeyError, TypeError, TimeoutError) as fault:
        answer = {"fault": f"That was not understood: {fault!r:.100}"}
    writer.write(json.dumps(answer).encode() + b"\n")
    try:
        await writer.drain()
        writer.close()
    except ConnectionError:
        return


async def _answer(door: HouseDoor, asked: dict[str, Any]) -> dict[str, Any]:
    # imported here, so that `thermostatd why` need not load the pages only to ask
    from thermostatd.daemon.telling_why import why_answer
    from thermostatd.edge.pages.door import NotStored
    from thermostatd.edge.pages.keys import CODE_MINUTES

    match asked["say"]:
        case "join":
            role = asked["role"]
            if role not in ("household", "owner"):
                return {"fault": "a role is household or owner"}
            try:
                return {"code": await door.add_code(role, CODE_MINUTES), "minutes": CODE_MINUTES}
            except NotStored as fault:
                return {"fault": f"no code could be kept: {fault.why}"}
        case "why":
            return why_answer(door.view(), door.house, str(asked["room"]))
        case other:
            return {"fault": f"{other!r:.40} is not known"}


def ask(state: Path, words: dict[str, Any]) -> dict[str, Any]:
    """Ask the running daemon. OwnerSocketError where there is none, or it may not be asked by this user."""
    path = state / NAME
    try:
        with socket.socket(socket.AF_UNIX) as connection:
            connection.settimeout(WAIT_SECONDS)
            connection.connect(str(path))
            connection.sendall(json.dumps(words).encode() + b"\n")
            answer: dict[str, Any] = json.loads(connection.makefile().readline())
            return answer
    except (FileNotFoundError, ConnectionRefusedError) as fault:
        raise OwnerSocketError(
            f"no thermostatd runs with the state folder {state}: start it first, or give its folder with --state"
        ) from fault
    except PermissionError as fault:
        raise OwnerSocketError(
            f"this user may not ask at {path}: run it as root or as the daemon's user"
        ) from fault
    except (OSError, ValueError) as fault:
        raise OwnerSocketError(f"the running thermostatd gave no answer at {path}: {fault}") from fault
