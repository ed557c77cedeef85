"""Troubles of the daemon itself, beside those that the regulator finds in the house.

Rules: they are told as any other, on the page, the broker and by notices; each ends by itself with its cause.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import datetime

from thermostatd.core.reasons import TROUBLES
from thermostatd.core.results import Trouble

log = logging.getLogger(__name__)


class OwnTroubles:
    """Since when each holds."""

    def __init__(self) -> None:
        self._since: dict[str, datetime] = {}

    def holding(self, wall: datetime, found: Mapping[str, str]) -> tuple[Trouble, ...]:
        """What holds now, all of it loud. `found` are their codes with what shows them."""
        for code in found.keys() - self._since.keys():
            log.error("%s (%s) %s", TROUBLES[code][0], found[code], TROUBLES[code][1])
        self._since = {code: self._since.get(code, wall) for code in found}
        return tuple(
            Trouble(f"house/{code}", code, what, evidence, to_do, self._since[code], loud=True)
            for code, evidence in found.items()
            for what, to_do in [TROUBLES[code]]
        )
