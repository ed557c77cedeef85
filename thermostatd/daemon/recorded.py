"""Keeps what the rules were given, so that `replay` can decide a day again.

Rules: a stretch of steps begins with the memory just then and the house file, at each midnight of the house and
each start; parts of ten minutes go with the store's own batches; what decided differs from what is kept by
nothing, since it is rounded before; a fault here never touches the heating.
"""

from __future__ import annotations

import hashlib
import json
import logging
import secrets
import zlib
from collections.abc import Iterable, Mapping
from importlib.metadata import version
from typing import Any
from zoneinfo import ZoneInfo

from thermostatd.core.asking import Request
from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Order, Result
from thermostatd.core.values import Moment, Observation
from thermostatd.daemon.asked_plain import plain_request
from thermostatd.daemon.observed import packed_sheet, rounded, sheet_of
from thermostatd.edge.store import InputRow, SegmentRow, Store

log = logging.getLogger(__name__)
PART_SECONDS = 600.0
KEEP_DAYS = 14


class Recorded:
    """The recorder of one running house."""

    def __init__(self, house: House, store: Store) -> None:
        self._store = store
        self._zone = ZoneInfo(house.house.timezone)
        self._described = packed(_decisive(house))
        self._digest = hashlib.sha256(self._described).hexdigest()
        self._mark: int | None = None
        self._day = ""
        self._part = 0
        self._empty()

    def _empty(self) -> None:
        self._steps: list[tuple[Moment, Observation]] = []
        self._between: list[tuple[int, str, Any]] = []
        self._told: list[tuple[int, str, bool, str]] = []
        self._last: dict[str, tuple[bool, str]] = {}
        self._proof = hashlib.sha256()

    def rounded(self, moment: Moment, seen: Observation) -> tuple[Moment, Observation]:
        """What is to be decided upon: the same to the millisecond and the thousandth."""
        return rounded(moment, seen)

    def begin(self, moment: Moment, regulator: Regulator) -> None:
        """To be called before each step: begins a new stretch at a start and at midnight."""
        day = moment.wall.astimezone(self._zone).date().isoformat()
        if self._mark is not None and day == self._day:
            return
        self.end()
        self._day, self._part, self._mark = day, 0, secrets.randbits(62)
        memory = packed(regulator.memory)
        row = SegmentRow(
            self._mark, moment.wall, day, self._digest, self._described, version("thermostatd"), memory
        )
        self._store.add_inputs([row])

    def step(self, moment: Moment, seen: Observation, result: Result) -> None:
        """One decided step, rounded as `rounded` gave it."""
        index = len(self._steps)
        self._steps.append((moment, seen))
        self._proof.update(proof_of(result.orders))
        for key, order in result.orders.items():
            told = (order.on, order.reason.code)
            if self._last.get(key) != told:
                self._last[key] = told
                self._told.append((index, key, *told))
        if moment.steady - self._steps[0][0].steady >= PART_SECONDS:
            self._hand_over()

    def asked(self, moment: Moment, request: Request) -> None:
        """A request that went through the one door, accepted or not."""
        try:
            at = [moment.wall.isoformat(), moment.steady]
            self._between.append((len(self._steps), "asked", [*at, plain_request(request)]))
        except ValueError:
            log.exception("a request could not be kept for replay: the record begins anew after it")
            self.broken()

    def adopted(self, models: Mapping[str, Any]) -> None:
        """What was learned and is now used."""
        self._between.append((len(self._steps), "adopted", json.loads(json.dumps(models))))

    def broken(self) -> None:
        """Something that is not kept changed the memory: the next step begins a new stretch."""
        self.end()

    def end(self) -> None:
        """Hand over what there is; the next step begins a new stretch."""
        if self._mark is not None:
            self._hand_over()
            self._empty()
        self._mark = None

    def _hand_over(self) -> None:
        if self._steps and self._mark is not None:
            body = {
                "between": self._between,
                "told": self._told,
                "proof": self._proof.hexdigest()[:32],
            } | packed_sheet(sheet_of(self._steps))
            row = InputRow(self._mark, self._part, self._steps[0][0].wall, packed(body))
            self._store.add_inputs([row])
            self._part += 1
            self._empty()


def packed(plain: Any) -> bytes:
    """JSON, compressed."""
    return zlib.compress(json.dumps(plain, separators=(",", ":"), ensure_ascii=False).encode(), 9)


def unpacked(body: bytes) -> Any:
    """The JSON of `packed`. ValueError where it is damaged."""
    try:
        return json.loads(zlib.decompress(body))
    except zlib.error as fault:
        raise ValueError(f"a recorded part is damaged: {fault}") from fault


def proof_of(orders: Mapping[str, Order]) -> bytes:
    """All that a step told its plugs, as bytes to be hashed."""
    return repr(list(_told(orders))).encode()


def _told(orders: Mapping[str, Order]) -> Iterable[tuple[object, ...]]:
    for key, order in orders.items():
        yield key, order.on, order.reason.code, order.reason.sentence, order.lapses, order.retell


def _decisive(house: House) -> dict[str, Any]:
    """The house file without what decides nothing and may be private: broker, pages, notices."""
    told = house.model_dump(mode="json", by_alias=True, exclude={"broker", "pages", "notices"})
    return dict(told)
