"""Contacts that were opened without an order: by the broker's last word for their plug, when the way to it was lost.

Rules: such an opening is a switching as any other, counted and paced: after it the shortest rest and the quiet hours
hold; a plug is told ON only by a step that knows of it.
"""

from __future__ import annotations

from thermostatd.core.clock import Now
from thermostatd.core.house import House
from thermostatd.core.memory import Memory
from thermostatd.core.order import switch
from thermostatd.core.reasons import sentence
from thermostatd.core.results import Event
from thermostatd.core.values import Observation, is_finite


def take_openings(house: House, memory: Memory, seen: Observation, now: Now) -> list[Event]:
    """Each plug that was told OFF behind the last order's back counts as told OFF from then on."""
    events = []
    for key, _, place in house.heaters():
        kept, report = memory.heaters[key], seen.plugs.get(key)
        at = report.opened_at if report is not None else None
        if not kept.told_on or not is_finite(at) or (kept.on_since is not None and at < kept.on_since):
            continue
        switch(memory, kept, place, False, now)
        events.append(Event("switched-off", key, sentence("switched-off", why=sentence("way-lost"))))
    return events
