"""Plugs that go OFF in one moment: the power of the sockets blinked, and nobody pressed a button.

Rules: two within three seconds are no hand's; they are told ON again as after an order that was not answered.
"""

from __future__ import annotations

from collections.abc import Sequence

from thermostatd.core.memory import HeaterMemory, Memory
from thermostatd.core.results import Event

TOGETHER_SECONDS = 3.0


def forget_blinks(memory: Memory, events: Sequence[Event], steady: float) -> list[Event]:
    """The events of this step without those that were no press."""
    pressed = {key: kept for key, kept in memory.heaters.items() if _is_off_by_hand(kept)}
    blinked = [key for key, kept in pressed.items() if _not_alone(kept, pressed)]
    for key in blinked:
        kept = pressed[key]
        kept.hand = None
        if kept.told_on:
            kept.answered, kept.unanswered_since = False, steady
    return [one for one in events if not (one.code == "pressed-off" and one.about in blinked)]


def _is_off_by_hand(kept: HeaterMemory) -> bool:
    return kept.hand is not None and not kept.hand.on and kept.settled_at is not None


def _not_alone(kept: HeaterMemory, pressed: dict[str, HeaterMemory]) -> bool:
    times = [other.settled_at for other in pressed.values() if other is not kept]
    return any(abs((at or 0.0) - (kept.settled_at or 0.0)) <= TOGETHER_SECONDS for at in times)
