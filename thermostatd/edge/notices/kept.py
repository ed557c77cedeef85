"""What the owner was told of troubles, as JSON that the store keeps: a restart tells nothing twice.

Rules: times are steady seconds, which go on over a restart; what cannot be read is as if nothing had been told; a
trouble that held when the program ended holds on for GRACE_SECONDS after its start: checks need time to find it again.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from thermostatd.core.results import Trouble

GRACE_SECONDS = 900.0
log = logging.getLogger(__name__)


def plain_trouble(trouble: Trouble) -> dict[str, Any]:
    """A trouble as JSON, without its evidence: that changes all the time, and would be written as often."""
    return asdict(trouble) | {"since": trouble.since.isoformat(), "evidence": ""}


def trouble_of(plain: Mapping[str, Any]) -> Trouble:
    """The trouble of `plain_trouble`. KeyError, TypeError or ValueError where it is none."""
    return Trouble(**{**plain, "since": datetime.fromisoformat(plain["since"])})


def read(body: str | None) -> dict[str, Any]:
    """What was kept; empty where nothing was, or nothing that can be read."""
    if not body:
        return {}
    try:
        kept = json.loads(body)
        troubles = {key: trouble_of(plain) for key, plain in kept["told"].items()}
        return {"told": troubles, "letters": kept.get("letters") or {}, "owed": kept.get("owed") or {}}
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        log.warning(
            "what was told of troubles cannot be read (%s); they may be told again", type(fault).__name__
        )
        return {}


class Holding:
    """The troubles of the life before, until they are found again or their time of grace is over."""

    def __init__(self, troubles: Mapping[str, Trouble], steady: float) -> None:
        self._left, self._ends = dict(troubles), steady + GRACE_SECONDS

    def with_those(self, troubles: Sequence[Trouble], steady: float) -> Sequence[Trouble]:
        """What holds now, and what must be believed to hold yet."""
        if not self._left:
            return troubles
        for trouble in troubles:
            self._left.pop(trouble.id, None)
        if steady >= self._ends:
            self._left.clear()
        return [*troubles, *self._left.values()]
