"""Plain English words in topics and keys, and what they hint at. No maker's words are among them.

Rules: a hint alone proves nothing; it is one piece of evidence beside how the values behave.
"""

from __future__ import annotations

import re

TEMPERATURE = frozenset({"celsius", "temperature", "temp", "fahrenheit", "air", "degrees"})
FAHRENHEIT = frozenset({"fahrenheit", "degf", "f"})
WATTS = frozenset({"watts", "watt", "power", "w", "draws", "load"})
KILOWATTS = frozenset({"kw", "kilowatt", "kilowatts"})
VOLTS = frozenset({"volts", "volt", "voltage", "mains"})
PRESENCE = frozenset(
    {"present", "presence", "online", "alive", "available", "availability", "connected", "status"}
)
HUMIDITY = frozenset({"humidity", "rh", "moisture"})
BATTERY = frozenset({"battery", "batt"})
OUTDOOR = frozenset({"outdoor", "outdoors", "outside", "yard", "garden", "weather"})
STATE = frozenset({"on", "state", "switch", "relay", "contact", "output", "power", "status"})
COMMAND = frozenset(
    {"set", "command", "cmd", "tell", "order", "orders", "control", "do", "request", "switchto"}
)
OTHER = frozenset(
    {"kwh", "wh", "energy", "amps", "ampere", "current", "hz", "frequency", "pressure", "hpa", "signal", "rssi",
     "lux", "co2", "ppm", "time", "timestamp", "uptime", "count", "id", "version", "factor", "percent", "seconds",
     "minutes", "port", "channel", "rain", "wind", "price"}
)  # fmt: skip
PLUGS = frozenset({"plug", "plugs", "socket", "sockets", "outlet", "outlets"})
GONE = frozenset({"unavailable", "unknown", "null", "none", "n/a", "offline", "lost"})
"""What stands in place of a number that is not there just now."""
GENERIC = (
    TEMPERATURE | WATTS | KILOWATTS | VOLTS | PRESENCE | HUMIDITY | BATTERY | STATE | COMMAND | OTHER
    | frozenset({"sensor", "sensors", "meter", "value", "report", "get", "data", "home", "house", "heater"})
)  # fmt: skip

PAIRS = (("true", "false"), ("on", "off"), ("ON", "OFF"), ("On", "Off"), ("1", "0"))
"""What is said of a contact: on, off."""
PRESENCE_PAIRS = (
    ("online", "offline"), ("Online", "Offline"), ("ONLINE", "OFFLINE"), ("connected", "disconnected"),
    ("alive", "dead"), ("ready", "lost"), ("available", "unavailable"), ("yes", "no"),
)  # fmt: skip

_PARTS = re.compile(r"[A-Z]?[a-z]+|[A-Z]+(?![a-z])|[0-9]+|°[CF]")
_NAME_SIGNS = re.compile(r"[^\w\- ]+")


def hints(*texts: str) -> frozenset[str]:
    """The small words in topics and keys: `airTemp/outdoor_1` has air, temp, outdoor and 1."""
    return frozenset(part.lower() for text in texts for part in _PARTS.findall(text))


def stem(topic: str) -> str:
    """What is left of a topic without general words: topics of one device have the same stem.

    `plug/7`, `plug/7/set` and `plug/7/power` are all `plug/7`; `set/plug/7` is too.
    """
    kept = [part for part in topic.split("/") if not (hints(part) and hints(part) <= GENERIC)]
    return "/".join(kept) or topic


def name_from(text: str, fallback: str) -> str:
    """A name that a house file takes, from any text."""
    name = " ".join(_NAME_SIGNS.sub(" ", text.replace("/", " ").replace("_", " ")).split())[:40].strip()
    return name if name and name.isprintable() else fallback


def meaning(word: str) -> bool | None:
    """Whether a word says on or off of a contact; None: neither."""
    for on, off in PAIRS:
        if word in (on, off):
            return word == on
    return None


def opposite(word: str) -> str | None:
    """The other word of the pair."""
    for on, off in PAIRS:
        if word in (on, off):
            return off if word == on else on
    return None
