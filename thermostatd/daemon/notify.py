"""Words to the service manager (sd_notify(3)): READY, WATCHDOG, STATUS, STOPPING, over its datagram socket."""

from __future__ import annotations

import os
import socket


def notify(*words: str) -> None:
    """Send words such as "READY=1"; does nothing where no service manager listens."""
    address = os.environ.get("NOTIFY_SOCKET", "")
    if not address:
        return
    target = "\0" + address[1:] if address.startswith("@") else address
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as connection:
        try:
            connection.sendto("\n".join(words).encode(), target)
        except OSError:
            return
