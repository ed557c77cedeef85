"""The least process that serves a page and hears a broker: one route, one connection. The daemon is compared with it.

`python -m tests.bench.bare BROKER_PORT PAGE_PORT`
"""

from __future__ import annotations

import sys

import paho.mqtt.client as paho
import uvicorn
from fastapi import FastAPI, Response

app = FastAPI()
client = paho.Client(paho.CallbackAPIVersion.VERSION2)


@app.get("/health")
def health() -> Response:
    """200 once the broker is there, else 503."""
    return Response("ok", 200 if client.is_connected() else 503)


if __name__ == "__main__":
    client.connect("127.0.0.1", int(sys.argv[1]))
    client.loop_start()
    uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[2]), log_level="warning")
