"""Troubles of the daemon itself, beside those that the regulator finds in the house.

Rules: they are told as any other, on the page, the broker and by notices; each ends by itself with its cause.
"""

from __future__ import annotations

import logging
from collections.abc import Collection, Mapping
from datetime import datetime

from thermostatd.core.house import House
from thermostatd.core.reasons import TROUBLES
from thermostatd.core.results import Result, Trouble
from thermostatd.daemon.broker_away import BrokerAway
from thermostatd.daemon.parts import Parts

log = logging.getLogger(__name__)


class OwnTroubles:
    """Since when each holds."""

    def __init__(self, left_on: Collection[str] = ()) -> None:
        """`left_on`: the heaters that an earlier life may have left on."""
        self._since: dict[str, datetime] = {}
        self._away = BrokerAway(left_on=left_on)

    def follow(self, names: Mapping[str, str]) -> None:
        """Heaters bear other names now."""
        self._away.follow(names)

    def beside(
        self, wall: datetime, result: Result, house: House, parts: Parts, file_fault: str | None
    ) -> tuple[Trouble, ...]:
        """The daemon's own, then the regulator's that are not the broker's alone. Never raises: a decision was made."""
        try:
            away = self._away.found(wall, house, parts.feed, parts.plugs, parts.leaving.untold)
            of_file = {"house-file": file_fault} if file_fault is not None else {}
            own = self.holding(wall, parts.breaks() | away | of_file)
            return own + self._away.without_what_follows(house, result.troubles)
        except Exception:
            log.exception("the program's own troubles could not be told: those of the house are")
            return result.troubles

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
