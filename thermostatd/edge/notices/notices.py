"""Tells the owner's webhook of troubles that begin and end.

Rules: a tick that calls `tell` never waits and never meets an error; a trouble is told once when it begins
and once when it ends; a webhook that fails is tried four times in all, then that notice is given up; its
failing is logged once until it works again.
"""

from __future__ import annotations

import json
import logging
from collections import deque
from collections.abc import Sequence
from threading import Condition, Thread

from thermostatd.core.house import House
from thermostatd.core.results import Trouble
from thermostatd.edge.notices.webhook import Webhook

MOST_WAITING = 64
WAITS_SECONDS = (5.0, 30.0, 120.0)
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
    ) -> None:
        address = house.notices.webhook if house.notices else None
        self._webhook = Webhook(address, timeout_seconds) if address else None
        self._waits = tuple(waits_seconds)
        self._waiting: deque[bytes] = deque(maxlen=most_waiting)
        self._changed = Condition()
        self._told: dict[str, Trouble] = {}
        self._thread: Thread | None = None
        self._busy = False
        self._closed = False
        self._failing = False
        self.dropped = 0

    def follow(self, house: House) -> Notices:
        """Others in the place of these, which know what was told already; these end in a while."""
        other = Notices(house, waits_seconds=self._waits)
        other._told = self._told
        Thread(target=self.close, name="old notices", daemon=True).start()
        return other

    @property
    def failing(self) -> bool:
        """Whether the last notice could not be delivered."""
        return self._failing

    def tell(self, troubles: Sequence[Trouble]) -> None:
        """All troubles that hold now; returns at once."""
        if self._webhook is None:
            return
        try:
            now = {trouble.id: trouble for trouble in troubles}
            begun = [trouble for key, trouble in now.items() if key not in self._told]
            ended = [trouble for key, trouble in self._told.items() if key not in now]
            self._told = now
            notices = [_body(trouble, True) for trouble in ended] + [
                _body(trouble, False) for trouble in begun
            ]
            if notices:
                self._hand_over(notices)
        except Exception:
            log.exception("a notice could not be made")

    def close(self, wait_seconds: float = 2.0) -> None:
        """Give what waits a little time, then end the thread."""
        with self._changed:
            self._changed.wait_for(lambda: not self._waiting and not self._busy, wait_seconds)
            self._closed = True
            self._changed.notify_all()
        if self._thread is not None:
            self._thread.join(wait_seconds)

    def _hand_over(self, notices: list[bytes]) -> None:
        with self._changed:
            self.dropped += max(0, len(self._waiting) + len(notices) - (self._waiting.maxlen or 0))
            self._waiting.extend(notices)
            self._changed.notify_all()
        if self._thread is None and not self._closed:
            self._thread = Thread(target=self._run, name="notices", daemon=True)
            self._thread.start()

    def _run(self) -> None:
        while (body := self._next()) is not None:
            try:
                self._deliver(body)
            except Exception:
                log.exception("a notice could not be sent")

    def _next(self) -> bytes | None:
        with self._changed:
            self._busy = False
            self._changed.notify_all()
            self._changed.wait_for(lambda: self._closed or self._waiting)
            if self._closed:
                return None
            self._busy = True
            return self._waiting.popleft()

    def _deliver(self, body: bytes) -> None:
        assert self._webhook is not None
        outcome = self._webhook.post(body)
        for wait in self._waits:
            if outcome.sent or not outcome.again or self._ended_within(wait):
                break
            outcome = self._webhook.post(body)
        self._note(outcome.sent, outcome.fault)

    def _ended_within(self, seconds: float) -> bool:
        with self._changed:
            return self._changed.wait_for(lambda: self._closed, seconds)

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
