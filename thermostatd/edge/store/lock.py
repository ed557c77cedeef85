"""One daemon a state folder: a lock that the kernel drops when its holder dies, however it dies."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from thermostatd.edge.store.rows import StoreError


def take_lock(path: Path) -> int | None:
    """The lock's file descriptor; None where none can be made (a read-only disk).

    Raises StoreError where another process holds it: two connections that write can damage a database.
    """
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as fault:
        os.close(descriptor)
        raise StoreError(
            f"another thermostatd uses the state folder {path.parent}: stop it first, or give another --state"
        ) from fault
    return descriptor


def drop_lock(descriptor: int | None) -> None:
    """Let the next one in."""
    if descriptor is not None:
        os.close(descriptor)
