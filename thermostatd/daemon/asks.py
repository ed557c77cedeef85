"""Requests from the broker: `ask/<room>` is answered at `answer/<room>`.

Rules: closed unless the house file opens it; taken as "from the broker" whatever name the payload gives;
throttled as one device; a retained request is old and not taken; an unknown key is refused.
"""

from __future__ import annotations

import json
from collections.abc import Awaitable, Callable
from datetime import datetime
from typing import Any

from thermostatd.core.asking import NEXT_STEP, NO_END, Accepted, Answer, Ask, Until
from thermostatd.core.door import refuse
from thermostatd.core.house import House

ASKS, ANSWERS = "thermostatd/ask/", "thermostatd/answer/"
WHO = "from the broker"
ORIGIN = "broker"
AT_ONCE, PER_SECOND = 6.0, 0.5
LONGEST_PAYLOAD_BYTES = 1024

Do = Callable[[Ask], Awaitable[Answer]]


class BrokerAsks:
    """Takes `ask/…` messages, puts them through the one door, and publishes each answer."""

    def __init__(
        self, house: House, do: Do, publish: Callable[[str, str, bool], bool], now: Callable[[], float]
    ) -> None:
        self._do, self._publish, self._now = do, publish, now
        self.topics = tuple(f"{ASKS}{room.name}" for room in house.rooms) if house.broker.asks else ()
        self._left, self._counted_at = AT_ONCE, now()

    async def take(self, topic: str, payload: bytes, retained: bool) -> None:
        """One message. What is no request topic of this house, or retained, is left alone."""
        if topic not in self.topics or retained or not payload:
            return
        room = topic.removeprefix(ASKS)
        answer = await self._answer(room, payload)
        self._publish(ANSWERS + room, json.dumps(_plain(answer), ensure_ascii=False), False)

    async def _answer(self, room: str, payload: bytes) -> Answer:
        if not self._may():
            return refuse("not-understood", what="too many requests in a short time; wait a few seconds")
        try:
            ask = ask_from(room, payload)
        except ValueError as fault:
            return refuse("not-understood", what=str(fault))
        return await self._do(ask)

    def _may(self) -> bool:
        now = self._now()
        self._left = min(AT_ONCE, self._left + (now - self._counted_at) * PER_SECOND)
        self._counted_at = now
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True


def ask_from(room: str, payload: bytes) -> Ask:
    """The request in a payload. ValueError says what is wrong with it."""
    if len(payload) > LONGEST_PAYLOAD_BYTES:
        raise ValueError(f"a request is at most {LONGEST_PAYLOAD_BYTES} bytes")
    try:
        said = json.loads(payload, object_pairs_hook=_no_doubles)
    except (ValueError, RecursionError) as fault:
        raise ValueError('write JSON such as {"celsius": 21, "until": "next-step"}') from fault
    if not isinstance(said, dict) or "celsius" not in said:
        raise ValueError('write an object with "celsius"')
    unknown = set(said) - {"celsius", "until", "who"}
    if unknown:
        raise ValueError(f'"{min(unknown)[:40]}" is not known; "celsius" and "until" are')
    return Ask(room, said["celsius"], _until(said.get("until", "next-step")), WHO, origin=ORIGIN)


def _until(said: object) -> datetime | Until:
    ends = {"next-step": NEXT_STEP, "no-end": NO_END}
    if isinstance(said, str) and said in ends:
        return ends[said]
    try:
        until = datetime.fromisoformat(said) if isinstance(said, str) else None
    except ValueError:
        until = None
    if until is None or until.tzinfo is None:
        raise ValueError(
            '"until" is "next-step", "no-end" or a time with its offset, such as 2026-01-12T22:00+01:00'
        )
    return until


def _no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


def _plain(answer: Answer) -> dict[str, Any]:
    if isinstance(answer, Accepted):
        until = answer.until.isoformat(timespec="seconds") if answer.until else None
        return {"accepted": True, "sentence": answer.sentence, "celsius": answer.celsius, "until": until}
    return {"accepted": False, "code": answer.code, "sentence": answer.sentence, "limit": answer.limit}
