"""Decides a recorded day again, with the same setting or another one.

Rules: the same inputs in the same order, from the memory that was kept; with the same setting every order must be
the very same, proven by a digest of all of them; with another one each plug is taken to do what it is now told,
while the air stays as it was: it shows what would have been decided otherwise, not how the room would have been, and
no heater that was told otherwise is asked whether the air answers it; a heater that only one of the two has is named.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from thermostatd.core.house import House
from thermostatd.core.regulator import Regulator
from thermostatd.core.results import Result
from thermostatd.core.values import Moment, Observation, PlugReport
from thermostatd.daemon.asked_plain import request_of
from thermostatd.daemon.observed import steps_of, unpacked_sheet
from thermostatd.daemon.recorded import proof_of, unpacked
from thermostatd.edge.store import StoreError
from thermostatd.edge.store.inputs import days, opened_to_read, segments

LONGEST_STEP_SECONDS = 120.0


@dataclass(frozen=True)
class Part:
    """Ten minutes or so: the steps, what came between them, what was told, and its proof."""

    steps: list[tuple[Moment, Observation]]
    between: Mapping[int, list[tuple[str, Any]]]
    told: Mapping[int, list[tuple[str, bool, str]]]
    proof: str


@dataclass(frozen=True)
class Stretch:
    """From one start, or midnight, to the next: the house then, the memory then, the parts."""

    house: House
    program: str
    memory: dict[str, Any]
    parts: list[Part]


@dataclass
class Span:
    """A time in which a heater was told one thing, and would have been told another."""

    heater: str
    begins: datetime
    ends: datetime
    was_on: bool
    was_code: str
    now_on: bool
    now_code: str


@dataclass
class Tally:
    """One heater's day: hours on and switchings, as it was and as decided now."""

    was_seconds: float = 0.0
    was_switches: int = 0
    now_seconds: float = 0.0
    now_switches: int = 0


@dataclass
class Replay:
    """What came of it. `same` is whether every order of every step was the very same."""

    steps: int = 0
    parts: int = 0
    parts_same: int = 0
    heaters: dict[str, Tally] = field(default_factory=dict)
    spans: list[Span] = field(default_factory=list)
    programs: list[str] = field(default_factory=list)
    gone: set[str] = field(default_factory=set)
    """Heaters of that day that the other setting does not have: there is nothing to compare."""
    new: set[str] = field(default_factory=set)
    """Heaters that only the other setting has: nothing is recorded of them."""

    @property
    def same(self) -> bool:
        """Every order of every step, with its reason and its lapse."""
        return self.parts == self.parts_same


def recorded_days(state: Path) -> list[str]:
    """The days of which the state folder holds inputs. StoreError where there is no record."""
    with opened_to_read(state) as connection:
        return days(connection)


def stretches(state: Path, day: str) -> list[Stretch]:
    """What was recorded of a day of the house. StoreError names the days there are, where it is not among them."""
    with opened_to_read(state) as connection:
        found = segments(connection, day)
        if not any(parts for _, parts in found):
            there = days(connection)
            none = "no day is there as yet; what was decided is kept every ten minutes"
            known = f"the days there are: {', '.join(there)}" if there else none
            raise StoreError(f"what was decided of {day} is not in {state}; {known}")
    try:
        return [
            Stretch(
                House.model_validate(unpacked(row.described)),
                row.program,
                unpacked(row.memory),
                [_part(unpacked(body)) for body in parts],
            )
            for row, parts in found
        ]
    except (KeyError, TypeError, ValueError) as fault:
        raise StoreError(f"the inputs of {day} cannot be read: {fault}") from fault


def _part(plain: Mapping[str, Any]) -> Part:
    between: dict[int, list[tuple[str, Any]]] = {}
    for index, kind, what in plain["between"]:
        between.setdefault(index, []).append((kind, what))
    told: dict[int, list[tuple[str, bool, str]]] = {}
    for index, key, on, code in plain["told"]:
        told.setdefault(index, []).append((key, on, code))
    return Part(steps_of(unpacked_sheet(plain)), between, told, plain["proof"])


def replay(recorded: list[Stretch], change: Callable[[House], House] | None = None) -> Replay:
    """Decide again; `change` makes the other setting out of the house as it was then."""
    found = Replay(programs=sorted({stretch.program for stretch in recorded}))
    for stretch in recorded:
        house = change(stretch.house) if change else stretch.house
        _Deciding(house, stretch, found, echo=house != stretch.house).run()
    return found


class _Deciding:
    """One stretch, decided again."""

    def __init__(self, house: House, stretch: Stretch, found: Replay, *, echo: bool) -> None:
        self._regulator = Regulator(house, stretch.memory)
        self._house, self._stretch, self._found, self._echo = house, stretch, found, echo
        self._was: dict[str, tuple[bool, str]] = {}
        self._open: dict[str, Span] = {}
        self._now_on: dict[str, bool] = {}
        self._parted: set[str] = set()
        self._last: Moment | None = None
        self._watts = {key: heater.watts for key, heater, _ in house.heaters()}
        then, now = ({key for key, _, _ in each.heaters()} for each in (stretch.house, house))
        found.gone |= then - now
        found.new |= now - then

    def run(self) -> None:
        for part in self._stretch.parts:
            proof = hashlib.sha256()
            for index, (moment, seen) in enumerate(part.steps):
                self._between(part.between.get(index, ()))
                for key in self._parted:
                    self._regulator.ask_anew(key)
                result = self._regulator.step(moment, self._obeyed(seen) if self._echo else seen)
                proof.update(proof_of(result.orders))
                self._compare(moment, result, part.told.get(index, ()))
            self._between(
                what for at, whats in part.between.items() if at >= len(part.steps) for what in whats
            )
            self._found.parts += 1
            self._found.parts_same += proof.hexdigest()[:32] == part.proof
        self._found.spans += self._open.values()
        self._found.spans.sort(key=lambda span: span.begins)

    def _between(self, whats: Any) -> None:
        for kind, what in whats:
            if kind == "adopted":
                self._regulator.adopt(what)
            else:
                wall, steady, plain = what
                self._regulator.do(Moment(datetime.fromisoformat(wall), steady), request_of(plain))

    def _obeyed(self, seen: Observation) -> Observation:
        """What the plugs would have shown: what they are now told."""
        return replace(seen, plugs=dict(self._reports(seen.plugs)))

    def _reports(self, plugs: Mapping[str, PlugReport]) -> Iterator[tuple[str, PlugReport]]:
        for key, report in plugs.items():
            was, now = self._was.get(key, (False, ""))[0], self._now_on.get(key, False)
            if report.on is None and report.watts is None:
                yield key, report
                continue
            drawn = report.watts
            if drawn is not None and was and now:
                self._watts[key] = drawn if drawn > 15.0 else self._watts[key]
            elif drawn is not None and was != now:
                drawn = self._watts[key] if now else 0.0
            shown = now if report.on is was else report.on  # a press, or a plug that disobeyed, stays one
            yield key, replace(report, on=shown, watts=drawn)

    def _compare(self, moment: Moment, result: Result, told: Any) -> None:
        seconds = min(moment.steady - self._last.steady, LONGEST_STEP_SECONDS) if self._last else 0.0
        self._last = moment
        self._found.steps += 1
        for key, tally in ((key, self._found.heaters.setdefault(key, Tally())) for key in self._was):
            tally.was_seconds += seconds if self._was[key][0] else 0.0
            tally.now_seconds += seconds if self._now_on.get(key) else 0.0
        for key, on, code in (one for one in told if one[0] in self._watts):
            tally = self._found.heaters.setdefault(key, Tally())
            tally.was_switches += self._was.get(key, (on, ""))[0] != on
            self._was[key] = (on, code)
        for key, order in result.orders.items():
            if key in self._was:
                tally = self._found.heaters.setdefault(key, Tally())
                tally.now_switches += self._now_on.get(key, order.on) != order.on
                self._now_on[key] = order.on
                self._span(moment, key, order.on, order.reason.code)

    def _span(self, moment: Moment, key: str, on: bool, code: str) -> None:
        was_on, was_code = self._was[key]
        span = self._open.get(key)
        if span is not None and (was_on == on or span.now_on != on):
            self._found.spans.append(self._open.pop(key))
            span = None
        if was_on != on:
            self._parted.add(key)
            if span is None:
                self._open[key] = Span(key, moment.wall, moment.wall, was_on, was_code, on, code)
            else:
                span.ends = moment.wall
