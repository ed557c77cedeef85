"""Hears a broker for a while and recognises sensors and plugs by their shape, not by their make."""

from thermostatd.edge.listening.blinking import CAUTION, Blinked, Target, blink
from thermostatd.edge.listening.ear import Ear
from thermostatd.edge.listening.findings import Findings, FoundPlug, FoundSensor, find
from thermostatd.edge.listening.proposing import BrokerWords, house_text, room_names

__all__ = [
    "CAUTION",
    "Blinked",
    "BrokerWords",
    "Ear",
    "Findings",
    "FoundPlug",
    "FoundSensor",
    "Target",
    "blink",
    "find",
    "house_text",
    "room_names",
]
