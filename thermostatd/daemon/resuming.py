"""How a newly started process goes on from the memory that the last one stored.

Rules: time down is known within one boot, or where the wall clock has gone on; a spot goes on only after a short while
in which the computer stayed on; a memory that cannot be used is left, and said.
"""

from __future__ import annotations

import logging
from datetime import datetime
from typing import Any

from thermostatd.core.regulator import Regulator
from thermostatd.core.remembering import awaken, from_plain
from thermostatd.daemon.parts import Parts
from thermostatd.edge.clock import LONGEST_GAP_SECONDS, Stamp

log = logging.getLogger(__name__)
BRIEF_SECONDS = 180.0  # two minutes, and the one for which the memory may not have been stored


def resumed(parts: Parts) -> Regulator:
    """The house's regulator, which goes on from the stored memory where there is one that can be used."""
    if parts.remembered is None:
        return Regulator(parts.house)
    try:
        return Regulator(parts.house, _woken(*parts.remembered, parts.clock.stamp()))
    except ValueError as fault:
        log.error("the stored memory cannot be used (%s): starting without it", fault)
        return Regulator(parts.house)


def left_on(parts: Parts) -> set[str]:
    """The heaters that the run before may have left on: they were told ON last, or were never shown OFF since."""
    try:
        heaters = from_plain(parts.remembered[0]).heaters if parts.remembered else {}
    except ValueError:
        return set()
    return {key for key, kept in heaters.items() if kept.told_on or kept.maybe_on or kept.shown_on is True}


def _woken(memory: dict[str, Any], before: Stamp, now: Stamp) -> dict[str, Any]:
    return awaken(
        memory,
        elapsed_known=_elapsed_known(before, now),
        brief=_is_brief(before, now),
        by_wall=not _is_same_boot(before, now),
        gap_seconds=now.steady - before.steady,
    )


def _elapsed_known(before: Stamp, now: Stamp) -> bool:
    """Whether the time down is known: the same boot, or a wall clock that has gone on."""
    same_boot = _is_same_boot(before, now)
    try:
        down = datetime.fromisoformat(now.wall_iso) - datetime.fromisoformat(before.wall_iso)
    except (TypeError, ValueError):
        return same_boot
    return same_boot or 0.0 <= down.total_seconds() < LONGEST_GAP_SECONDS


def _is_same_boot(before: Stamp, now: Stamp) -> bool:
    return bool(before.boot_id) and before.boot_id == now.boot_id


def _is_brief(before: Stamp, now: Stamp) -> bool:
    """Whether the time down was short, and the computer stayed on: who sits before a heater sits there yet."""
    return _is_same_boot(before, now) and 0.0 <= now.boot_seconds - before.boot_seconds <= BRIEF_SECONDS
