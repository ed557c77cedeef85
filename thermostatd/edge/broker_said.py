"""What is wrong with the broker is logged once, though each plug has a connection of its own that finds it out."""

from __future__ import annotations

import math
import time

SAME_SECONDS = 30.0
_SAID: dict[str, float] = {}


def said_lately(sentence: str) -> bool:
    """Whether any connection of this process logged this sentence within half a minute; from now on, it did."""
    now = time.monotonic()
    lately = now - _SAID.get(sentence, -math.inf) < SAME_SECONDS
    for old in [old for old, at in list(_SAID.items()) if now - at >= SAME_SECONDS]:
        _SAID.pop(old, None)
    if not lately:
        _SAID[sentence] = now
    return lately
