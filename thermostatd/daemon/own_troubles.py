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
        """What holds now, all of it loud. `found` are their codes, after a heater's key where it is about one, with
        what shows them: each heater is a trouble of its own, since a notice is not sent again for a second one."""
        about = {key: TROUBLES[key.rpartition("/")[2]] for key in found}
        for key in found.keys() - self._since.keys():
            log.error("%s (%s) %s", about[key][0], found[key], about[key][1])
        self._since = {key: self._since.get(key, wall) for key in found}
        return tuple(
            Trouble(
                key if "/" in key else f"house/{key}", key.rpartition("/")[2], what, found[key], to_do,
                self._since[key], loud=True,
            )
            for key, (what, to_do) in about.items()
        )  # fmt: skip
