"""Runs inside the tree: a plug with a timer and a meter, and a sensor of a cold room. Part of a test, no demo.

Each order is written to /tmp/orders as "seconds payload" the moment it comes; seconds of the steady clock.
"""

import json
import sys
import threading
import time

import paho.mqtt.client as paho

state = {"on": False, "watts": 0.0}
ends = 0.0


def on_message(client, _data, message):
    """Take an order as the plug would."""
    global ends
    said = message.payload.decode()
    with open("/tmp/orders", "a") as file:
        file.write(f"{time.monotonic():.3f} {said}\n")
    words = said.split()
    state["on"] = words[0] == "true"
    ends = time.monotonic() + float(words[1]) if len(words) > 1 else 0.0
    tell(client)


def tell(client):
    """Show contact and meter."""
    state["watts"] = 600.0 if state["on"] else 0.0
    client.publish("plug/7", json.dumps(state))


client = paho.Client(paho.CallbackAPIVersion.VERSION2, "stranger")
client.username_pw_set("thermostatd", sys.stdin.readline().strip())
client.on_message = on_message
client.on_connect = lambda c, *rest: c.subscribe("plug/7/set", qos=1)
client.reconnect_delay_set(1, 2)
client.connect_async("127.0.0.1", 1883, keepalive=10)
client.loop_start()
while True:
    if state["on"] and ends and time.monotonic() > ends:
        state["on"] = False
    client.publish("study/air", json.dumps({"celsius": round(15 + time.monotonic() % 7 / 100, 2)}))
    tell(client)
    threading.Event().wait(1)
