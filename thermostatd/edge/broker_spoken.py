"""Which version of MQTT a broker speaks, as one link found out: the others, and each later connection, begin with it.

Rules: only a prompt answer tells; one that came late may be a broker that was stopped for a while, and speaks more.
"""

from __future__ import annotations

from thermostatd.core.house import Broker

PROMPT_SECONDS = 2.0
_five: dict[tuple[str, int], bool] = {}


def spoken(broker: Broker) -> bool | None:
    """Whether it speaks MQTT 5, or 3.1.1; None where nobody knows yet."""
    return False if broker.serve else _five.get((broker.host, broker.port))


def heard_speak(broker: Broker, *, five: bool, after_seconds: float) -> None:
    """It let us in, so many seconds after it took the connection."""
    if after_seconds <= PROMPT_SECONDS:
        _five[broker.host, broker.port] = five
