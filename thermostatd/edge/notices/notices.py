"""Tells the owner of troubles that begin and end: the webhook here, the addresses by letters.py.

Rules: a tick that calls `tell` never waits and never meets an error; a trouble is told once when it begins
and once when it ends; a webhook that fails is tried four times in all, and again later while the trouble holds
(owed.py), also after a restart; its failing is logged once until it works again.
"""

from __future__ import annotations

import json
import logging
import time
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from threading import Thread
from typing import Any

from thermostatd.core.house import House
from thermostatd.core.results import Trouble
from thermostatd.edge.notices.addresses import AddressError, addresses_in
from thermostatd.edge.notices.kept import Holding, plain_trouble, read
from thermostatd.edge.notices.letters import Letters
from thermostatd.edge.notices.outbox import MOST_WAITING, Outbox
from thermostatd.edge.notices.owed import Owed
from thermostatd.edge.notices.webhook import Webhook

WAITS_SECONDS = (5.0, 30.0, 120.0)
Notice = tuple[str, bytes]
"""The trouble that begins or holds (empty for an end), and the body that is posted."""
log = logging.getLogger(__name__)


class Notices:
    """Compares the troubles with what was told before, and posts the differences from a thread of its own."""

    def __init__(
        self,
        house: House,
        *,
        timeout_seconds: float = 5.0,
        waits_seconds: Sequence[float] = WAITS_SECONDS,
        most_waiting: int = MOST_WAITING,
        now: Callable[[], float] = time.monotonic,
        local: Callable[[], datetime] = datetime.now,
        kept: str | None = None,
        keep: Callable[[str], None] | None = None,
    ) -> None:
        """`now` gives steady seconds, `local` the house's own time of day; `kept` is what `keep` was given last."""
        self._now, self._local = now, local
        self._letters = _letters(house)
        address = house.notices.webhook if house.notices else None
        self._webhook = Webhook(address, timeout_seconds) if address else None
        self._waits = tuple(waits_seconds)
        self._keep, self._last_kept = keep, kept
        before = read(kept)
        self._told: dict[str, Trouble] = before.get("told", {})
        self._holding = Holding(self._told, now())
        self._owed = Owed()
        self._resume_owed(before.get("owed", {}))
        self._resume_letters(before.get("letters", {}))
        self._failing = False
        self._outbox = Outbox[Notice]("notices", self._deliver, self._missed, most_waiting)

    def follow(self, house: House) -> Notices:
        """Others in the place of these, which know what was told already; these end in a while."""
        other = Notices(house, waits_seconds=self._waits, now=self._now, local=self._local, keep=self._keep)
        other._told, other._holding, other._last_kept = self._told, self._holding, self._last_kept
        other._owed = self._owed
        if other._letters is not None and self._letters is not None:
            other._letters.take_over(self._letters)
        self._keep = None  # from now on the others'
        Thread(target=self.close, name="old notices", daemon=True).start()
        return other

    @property
    def idle(self) -> bool:
        """Whether all that was to be told was tried."""
        return self._outbox.idle and (self._letters is None or self._letters.idle)

    @property
    def dropped(self) -> int:
        """How many notices to the webhook were too much."""
        return self._outbox.dropped

    @property
    def failing(self) -> bool:
        """Whether the last notice could not be delivered."""
        return self._failing

    def tell(self, troubles: Sequence[Trouble]) -> None:
        """All troubles that hold now; returns at once."""
        steps = (self._tell_letters, self._tell_webhook, self._remember)
        try:
            troubles = self._holding.with_those(troubles, self._now())
            for step in steps:
                step(troubles)
        except Exception:
            log.exception("a notice could not be made")

    def _tell_letters(self, troubles: Sequence[Trouble]) -> None:
        if self._letters is not None:
            self._letters.tell(troubles, self._now(), self._local())

    def _tell_webhook(self, troubles: Sequence[Trouble]) -> None:
        now = {trouble.id: trouble for trouble in troubles}
        begun = [trouble for key, trouble in now.items() if key not in self._told]
        ended = [trouble for key, trouble in self._told.items() if key not in now]
        self._told = now
        if self._webhook is None:
            return
        again = [now[key] for key in self._owed.due(now, self._now())]
        for trouble in (*begun, *again):
            self._owed.handed(trouble.id, self._now())
        notices = [("", _body(trouble, True)) for trouble in ended]
        notices += [(trouble.id, _body(trouble, False)) for trouble in (*begun, *again)]
        if notices:
            self._outbox.hand_over(notices)

    def _remember(self, _: Sequence[Trouble]) -> None:
        """Keep what was told, where it changed and there is anyone to tell."""
        if self._keep is None or (self._webhook is None and self._letters is None):
            return
        told = {key: plain_trouble(trouble) for key, trouble in self._told.items()}
        letters = self._letters.plain() if self._letters is not None else {}
        body = json.dumps({"told": told, "letters": letters, "owed": self._owed.plain()})
        if body != self._last_kept:
            self._last_kept = body
            self._keep(body)

    def _resume_owed(self, kept: Mapping[str, Any]) -> None:
        try:
            self._owed.resume(kept)
        except (TypeError, ValueError, AttributeError):
            log.warning("what the webhook is owed cannot be read; what it was not told stays untold")

    def _resume_letters(self, kept: Mapping[str, Any]) -> None:
        if self._letters is None:
            return
        try:
            self._letters.resume(kept, self._told)
        except (KeyError, TypeError, ValueError, AttributeError):
            log.warning("what was told to addresses cannot be read; it may be told again")

    @property
    def ways(self) -> tuple[str, ...]:
        """By what ways it tells, without their addresses."""
        letters = self._letters.kinds if self._letters is not None else ()
        return (*(("webhook",) if self._webhook is not None else ()), *letters)

    def try_out(self) -> list[tuple[str, bool]]:
        """Send a test notice each way, now; what way it was, and whether it was taken."""
        tried = []
        if self._webhook is not None:
            body = json.dumps({"what": "This is a test notice. Nothing is wrong.", "test": True}).encode(
                "ascii"
            )
            tried.append(("webhook", self._webhook.post(body).sent))
        return tried + (self._letters.try_out() if self._letters is not None else [])

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        if self._letters is not None:
            self._letters.close(wait_seconds)
        self._outbox.close(wait_seconds)
        self._remember(())  # what has arrived since the last tick is owed no more

    def _deliver(self, notice: Notice) -> None:
        assert self._webhook is not None
        key, body = notice
        outcome = self._webhook.post(body)
        for wait in self._waits:
            if outcome.sent or not outcome.again or self._outbox.ended_within(wait):
                break
            outcome = self._webhook.post(body)
        if outcome.sent:
            self._owed.delivered(key)
        else:
            self._owed.missed(key)
        self._note(outcome.sent, outcome.fault)

    def _missed(self, notice: Notice) -> None:
        self._owed.missed(notice[0])

    def _note(self, sent: bool, fault: str) -> None:
        assert self._webhook is not None
        if not sent and not self._failing:
            log.warning("the webhook at %s does not take notices: %s", self._webhook.host, fault)
        elif sent and self._failing:
            log.info("the webhook at %s takes notices again", self._webhook.host)
        self._failing = not sent


def _body(trouble: Trouble, ended: bool) -> bytes:
    notice = {
        "what": trouble.what,
        "since": trouble.since.isoformat(),
        "evidence": trouble.evidence,
        "what_to_do": trouble.what_to_do,
        "ended": ended,
    }
    return json.dumps(notice).encode("ascii")


def _letters(house: House) -> Letters | None:
    """None where there are no addresses, or they cannot be used: the heating goes on, and the log says why."""
    table = house.notices
    if table is None or table.addresses_file is None:
        return None
    try:
        return Letters(house.house.name, table, addresses_in(table.addresses_file))
    except AddressError as fault:
        log.error("notices go to no address: %s", fault)
        return None
