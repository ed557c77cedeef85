"""A smart plug that takes HTTP requests, on loopback: /on?for=SECONDS, /off, /state. Invented, for the tests."""

from __future__ import annotations

import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class HttpRelay:
    """Its contact, its timer and what it was asked."""

    def __init__(self) -> None:
        self.until, self.asked, self.hangs, self.status = 0.0, [], 0.0, 200
        relay = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                self.rfile.read(int(self.headers.get("Content-Length") or 0))
                relay.asked.append((self.path, self.headers.get("Authorization")))
                time.sleep(relay.hangs)
                path, _, query = self.path.partition("?for=")
                if relay.status == 200 and path in ("/on", "/off"):
                    relay.until = time.time() + float(query or 1e9) if path == "/on" else 0.0
                said = json.dumps({"relay": "closed" if relay.on else "open", "kilowatts": 0.541 if relay.on else 0.0,
                                   "mains": 231.0}).encode()  # fmt: skip
                self.send_response(relay.status)
                self.send_header("Content-Length", str(len(said)))
                if relay.status in (301, 302):
                    self.send_header("Location", "/on")
                self.end_headers()
                self.wfile.write(said)

            do_GET = do_POST

            def log_message(self, *_: object) -> None:
                return

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.address = f"http://127.0.0.1:{self._server.server_port}"
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)
        self._thread.start()

    @property
    def on(self) -> bool:
        return time.time() < self.until

    def described(self, **more: object) -> dict[str, object]:
        return {
            "kind": "http",
            "on": {"url": f"{self.address}/on"},
            "off": {"url": f"{self.address}/off"},
            "timer": {"url": f"{self.address}/on?for={{seconds}}"},
            "state": {"url": f"{self.address}/state", "method": "GET"},
            "shows": {"pointer": "/relay", "on": "closed", "off": "open"},
            "draws": {"pointer": "/kilowatts", "scale": 1000.0},
            "volts": {"pointer": "/mains"},
            "every": "0.2 s",
            "timeout": "0.5 s",
        } | more

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(2)
