"""A TCP proxy on loopback that can hang, reset, refuse or delay: a bad network in front of a real broker.

Rules: `hang` keeps every connection open and silent, `resume` lets what waited go on; `reset` cuts all
connections at once (RST); `refuse` takes no new ones; `delay_seconds` holds each piece back that long;
`trickle` sends one byte at a time; `corrupt_next` flips the bits of the next piece.
"""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from types import TracebackType


class Proxy:
    """From `port` to the target's port, both on 127.0.0.1."""

    def __init__(self, target_port: int) -> None:
        self.target_port = target_port
        self.delay_seconds = 0.0
        self.trickle = False
        self._corrupt = 0
        self._open = threading.Event()
        self._open.set()
        self._refusing = False
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self.taken = 0
        """Connections taken so far."""
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def hang(self) -> None:
        """Nothing passes any more; connections stay open, and new ones are taken and stay silent."""
        self._open.clear()

    def resume(self) -> None:
        """What waited goes on."""
        self._refusing = False
        self._open.set()

    def refuse(self) -> None:
        """New connections are reset at once."""
        self._refusing = True

    def corrupt_next(self) -> None:
        """Flip the bits of the next piece that passes, either way."""
        self._corrupt += 1

    def reset(self) -> None:
        """Cut every connection with RST; what waited is lost."""
        with self._lock:
            pairs, self._pairs = self._pairs, []
        for pair in pairs:
            for end in pair:
                _cut(end)

    def close(self) -> None:
        """End it."""
        self._open.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self.reset()
        self._thread.join(2)

    def __enter__(self) -> Proxy:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            self.taken += 1
            try:
                if self._refusing:
                    raise ConnectionRefusedError
                far = socket.create_connection(("127.0.0.1", self.target_port), 2)
                far.settimeout(None)
            except OSError:
                _cut(near)
                continue
            with self._lock:
                self._pairs.append((near, far))
            for ends in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=ends, daemon=True).start()

    def _carry(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while piece := source.recv(65536):
                self._open.wait()
                if self.delay_seconds:
                    time.sleep(self.delay_seconds)
                if self._corrupt:
                    self._corrupt -= 1
                    piece = bytes(byte ^ 0xFF for byte in piece)
                for part in (piece[n : n + 1] for n in range(len(piece))) if self.trickle else (piece,):
                    sink.sendall(part)
        self._open.wait()
        for end in (source, sink):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()


def _cut(end: socket.socket) -> None:
    with contextlib.suppress(OSError):
        end.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        end.shutdown(socket.SHUT_RD)
        end.close()
