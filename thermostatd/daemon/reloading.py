"""Takes a changed house file into the running house, without a restart.

Rules: a file with any fault changes nothing: the last good one holds, and page and log say so; people's wishes and
what was learned go on; a plug whose lines did not change keeps its connection; one that left or changed is told OFF
and closed before anything else happens to it; what cannot change while running is named.
"""

from __future__ import annotations

import asyncio
import logging
from pathlib import Path
from typing import TYPE_CHECKING

from thermostatd.core.house import House
from thermostatd.core.house.changes import changes
from thermostatd.core.regulator import Regulator
from thermostatd.core.rehousing import Aside, taken_over
from thermostatd.core.said import said
from thermostatd.daemon.kept_house import keep_house
from thermostatd.edge.house_faults import Fault
from thermostatd.edge.house_file import Inspection, inspect_house
from thermostatd.edge.house_watch import changes_of
from thermostatd.edge.pages import words

if TYPE_CHECKING:
    from thermostatd.daemon.service import Service

log = logging.getLogger(__name__)


class Reloading:
    """Watches the house file of a service. `notes` are sentences for the page."""

    def __init__(self, service: Service, path: Path, seen: Inspection | None = None) -> None:
        """`seen` is how the file was found at the start; with faults, the last good one that was kept is in force."""
        self._service, self._path = service, path
        self._text = seen.text if seen is not None else ""
        self._stop = asyncio.Event()
        self._aside: Aside = {}
        self.faults: tuple[Fault, ...] = ()
        if seen is not None and seen.house is None:
            self._refuse(seen.faults)
        self.waiting: tuple[str, ...] = ()
        """What was changed and holds only after a restart."""

    @property
    def notes(self) -> tuple[str, ...]:
        """What the page says of the file, nothing while it is in force."""
        told = []
        if self.faults:
            first, more = self.faults[0], len(self.faults) - 1
            what = f"{first.key}: {first.what}" if first.key else first.what
            others = f" (+ {more})" if more else ""
            told.append(said(words.FILE_FAULT, told=f"line {first.line}{others}: {what}. {first.mend}"))
        if self.waiting:
            told.append(said(words.FILE_WAITS, names=", ".join(self.waiting)))
        return tuple(told)

    async def watch(self) -> None:
        """Until `stop`: take each change in."""
        async for _ in changes_of(self._path, self._stop):
            try:
                await self.look()
            except Exception:
                log.exception("the changed house file could not be taken in: the last good one holds")

    def stop(self) -> None:
        """End watching."""
        self._stop.set()

    async def look(self) -> None:
        """Read the file, and take it in where it is sound and says something new."""
        seen = await asyncio.to_thread(inspect_house, self._path)
        if seen.house is None:
            self._refuse(seen.faults)
            self._service.count_change()
            return
        if self.faults:
            log.info("the house file is sound again")
        self.faults, self._text = (), seen.text
        self._service.take_house(seen.house)

    def _refuse(self, faults: tuple[Fault, ...]) -> None:
        if faults != self.faults:
            for fault in faults:
                log.error("house file: %s", fault)
            log.error("the changed house file is not in force: the house goes on with the last good one")
        self.faults = faults

    def keep(self) -> None:
        """Keep the text that is in force for a start that finds a faulty file; quick, and not on the loop's thread."""
        if self._text:
            keep_house(self._service.parts.state, self._path, self._text)

    def take(self, new: House) -> None:
        """Put a house in force; to be called between two ticks, from the loop's own thread."""
        service, old = self._service, self._service.house
        settled, self.waiting = self.with_what_may_change(new)
        for name in self.waiting:
            log.warning("house file: %s changed, and is in force only after a restart", name)
        told = changes(old, settled)
        if not told:
            asyncio.get_running_loop().run_in_executor(None, self.keep)
            service.count_change()
            return
        renewed = service.parts.renewed(settled)
        memory, found = taken_over(service.regulator.memory, settled, renewed, self._aside)
        regulator = Regulator(settled, memory)  # what may fail comes before what changes anything
        service.parts.rehouse(settled)
        service.rehouse(settled, regulator, found)
        asyncio.get_running_loop().run_in_executor(None, self.keep)
        for sentence in told:
            log.info("house file: %s", sentence)
        service.count_change()

    def with_what_may_change(self, new: House) -> tuple[House, tuple[str, ...]]:
        """The new house with what only a restart changes left as it is, and the names of that."""
        old, waiting = self._service.house, []
        keep: dict[str, object] = {}
        if new.pages != old.pages:
            waiting.append("[pages]")
            keep["pages"] = old.pages
        if new.broker.serve != old.broker.serve or (old.broker.serve and new.broker != old.broker):
            waiting.append("[broker]")
            keep["broker"] = old.broker
        return (new.model_copy(update=keep) if keep else new), tuple(waiting)
